"""A page on which it is said where a file lies: typed, pasted, or dropped on the window.

What is typed is text. What the file is opened for is the page's own (``open``).
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import pygame

from trainer.window.canvas import Box, Canvas
from trainer.window.clipboard import clipboard_line
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import KeyWords, beside, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    INK,
    MARGIN,
    SMALL,
    SOFT_INK,
    TITLE_STEP,
    UNIT,
    Face,
)
from trainer.window.page import Page


class FilePage(Page):
    """A line to type in, where ``typed`` stands already; ``what`` is asked for, ``about`` says
    more, ``goes`` is what Enter does."""

    typing = True
    head: str
    what: str
    about: str
    goes: str

    def __init__(self, desk: Desk, typed: str = "") -> None:
        self._desk = desk
        self._typed = typed
        desk.sound.playhead.stop()

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("Ctrl V"),
            key_words("Enter", self.goes.lower()),
            key_words("F1"),
            key_words("Esc", "back"),
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(
            self.keys,
            key_words("Backspace", "take back a letter"),
            key_words("Delete", "empty the line"),
        )

    def open(self, path: Path) -> Screen:
        """The page that ``path`` leads to: typed, or dropped on the window.

        Raises:
            NamefirstError: it cannot be opened.
        """
        raise NotImplementedError

    def back(self) -> Screen:
        """The page that Esc leads to."""
        raise NotImplementedError

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            return self.back()
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._go()
        if event.key == pygame.K_BACKSPACE:
            self._typed = self._typed[:-1]
        elif event.key == pygame.K_DELETE:
            self._typed = ""
        elif event.key == pygame.K_v and event.mod & (pygame.KMOD_CTRL | pygame.KMOD_META):
            self._typed += clipboard_line()
        elif event.unicode and event.unicode.isprintable():
            self._typed += event.unicode
        return self

    def _state(self) -> object:
        return self._typed

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, self.head, self._desk.record.learner)
        baseline = float(DISPLAY_LINE)
        for line in (f"Drop {self.what} on this window,", "or type or paste where it lies."):
            canvas.text(MARGIN, baseline, line, face=Face.SERIF, size=DISPLAY)
            baseline += TITLE_STEP
        width = canvas.width - 2 * MARGIN
        box = Box(MARGIN, baseline - 2 * UNIT, width, 6 * UNIT)
        self._draw_typed(canvas, box)
        canvas.paragraph(
            MARGIN, box.bottom + TITLE_STEP, self.about, width=width, size=SMALL, colour=SOFT_INK
        )
        draw_plate(canvas, foot_box(canvas, 300), self.goes, "Enter", main=bool(self._typed))

    def _draw_typed(self, canvas: Canvas, box: Box) -> None:
        canvas.box(box, edge=INK, edge_width=2)
        words = self._typed
        while words and canvas.text_width(words, size=BODY) > box.width - 5 * UNIT:
            words = words[1:]  # the end is what is being typed
        wide = canvas.text(box.x + 2 * UNIT, box.y + 4 * UNIT, words, size=BODY)
        x = box.x + 2 * UNIT + wide + 2
        canvas.line((x, box.y + UNIT), (x, box.bottom - UNIT), INK, 1.5)

    def _go(self) -> Screen:
        typed = self._typed.strip().strip("'\"")
        if not typed:
            self._desk.say(f"Type where {self.what} lies, or drop it on this window.")
            return self
        return self.open(Path(os.path.expanduser(typed)))
