"""Making a set: what it is called, what it is drawn from, and its terms.

A form of rows: Up and Down go from row to row, Left and Right along the choices of one, Space (or
a click) chooses. While it is open, what is typed is text. What is filled in is not let go of
without asking once.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Final

import pygame

from exercises.errors import NamefirstError
from trainer.assignments.known_sets import remember
from trainer.assignments.practice_set import PracticeSet
from trainer.assignments.set_archive import write_set
from trainer.assignments.set_form import FORM_ROWS, Form, Row, begun_form
from trainer.assignments.taking import open_set
from trainer.backstage import Backstage
from trainer.home import results_folder, sets_folder
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import ALONG, HELP, UP_DOWN, KeyWords, beside, key_words
from trainer.window.keys_page import KeysPage
from trainer.window.look import (
    BODY,
    HAIRLINE,
    INK,
    MARGIN,
    SHADE,
    SMALL,
    SOFT_INK,
    Face,
)
from trainer.window.page import Page

_LABEL: Final = 150.0
_TOP: Final = 84.0
_LINE: Final = 31.0
_GAP: Final = 8.0


class SetBuildPage(Page):
    """The form, and the making of the set behind it."""

    typing = True

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._form: Form = begun_form(desk.shelf, desk.record.learner)
        self._empty = self._form.state()
        self._asked = False
        self._at = 0
        self._choice = 0
        self._told = ""
        self._making: Backstage[tuple[PracticeSet, Path]] = Backstage()
        self._left = False

    @property
    def title(self) -> str:
        return "make a set"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words(UP_DOWN, "row"),
            key_words(ALONG, "along it"),
            key_words("Space", "choose"),
            key_words("Enter", "make the set"),
            key_words("F1") if self._row.is_text else HELP,
            key_words("Esc", "back"),
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(
            self.keys,
            key_words("Tab", "the next row"),
            key_words("Backspace", "take back a letter"),
        )

    @property
    def _row(self) -> Row:
        return FORM_ROWS[self._at]

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            return self._back()
        self._told, self._asked = "", False
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            self._make()
        elif event.key in (pygame.K_UP, pygame.K_DOWN, pygame.K_TAB):
            step = -1 if event.key == pygame.K_UP else 1
            self._go((self._at + step) % len(FORM_ROWS))
        elif self._row.is_text:
            self._type(event)
        elif event.unicode == "?":
            return KeysPage(self)
        elif event.key in (pygame.K_LEFT, pygame.K_RIGHT):
            step = 1 if event.key == pygame.K_RIGHT else -1
            self._choice = (self._choice + step) % len(self._form.choices(self._row))
        elif event.key == pygame.K_SPACE:
            self._form.choose(self._row, self._choice)
        return self

    def tick(self) -> Screen | None:
        from trainer.window.set_page import SetPage

        if not self._making.ready:
            return self
        try:
            made, path = self._making.take()
        except NamefirstError as error:
            self._told = str(error)
            return self
        self._desk.say(f"Written to {path}. Hand that file out; 2 shows and plays its questions.")
        return SetPage(self._desk, made)

    def _state(self) -> object:
        return (self._form.state(), self._at, self._choice, self._told, self._making.begun)

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Make a set", self._desk.record.learner)
        y = _TOP
        for place, row in enumerate(FORM_ROWS):
            here = place == self._at
            wide = canvas.text(MARGIN, y + 21, row.value, face=Face.SERIF, size=BODY)
            if here:
                canvas.line((MARGIN, y + 27), (MARGIN + wide, y + 27), INK, 2)
            if row.is_text:
                self._draw_text(canvas, row, place, y)
                y += _LINE + _GAP
            else:
                y = self._draw_choices(canvas, row, place, y) + _GAP
        told = "Drawing the questions \N{HORIZONTAL ELLIPSIS}" if self._making.begun else self._told
        width = canvas.width - 2 * MARGIN - 280
        canvas.paragraph(MARGIN + 280, canvas.height - 112, told, width=width, size=SMALL)
        box = foot_box(canvas, 256)
        draw_plate(canvas, box, "Make the set", "Enter", main=True)

    def _draw_text(self, canvas: Canvas, row: Row, place: int, y: float) -> None:
        box = Box(MARGIN + _LABEL, y, canvas.width - 2 * MARGIN - _LABEL, 29)
        here = place == self._at
        canvas.box(box, edge=INK if here else HAIRLINE, edge_width=2 if here else 1)
        words = self._form.text(row)
        while words and canvas.text_width(words, size=SMALL) > box.width - 30:
            words = words[1:]  # the end is what is being typed
        wide = canvas.text(box.x + 10, y + 20, words, size=SMALL)
        if here:
            canvas.line((box.x + 12 + wide, y + 6), (box.x + 12 + wide, y + 24), INK, 1.5)
        canvas.hot(box, partial(self._go, place))

    def _draw_choices(self, canvas: Canvas, row: Row, place: int, y: float) -> float:
        x = MARGIN + _LABEL
        for number, words in enumerate(self._form.choices(row)):
            wide = canvas.text_width(words, Face.SANS_SEMIBOLD, SMALL) + 22
            if x + wide > canvas.width - MARGIN:
                x, y = MARGIN + _LABEL, y + _LINE
            box = Box(x, y, wide, 27)
            chosen = self._form.chosen(row, number)
            here = place == self._at and number == self._choice
            canvas.box(
                box,
                fill=SHADE if chosen else None,
                edge=INK if chosen else HAIRLINE,
                edge_width=2 if chosen else 1,
            )
            face = Face.SANS_SEMIBOLD if chosen else Face.SANS
            ink = INK if chosen else SOFT_INK
            canvas.text(x + 11, y + 19, words, face=face, size=SMALL, colour=ink)
            if here:
                canvas.line((x + 8, y + 24), (x + wide - 8, y + 24), INK, 2)
            canvas.hot(box, partial(self._click, place, number))
            x += wide + 7
        return y + _LINE

    def _back(self) -> Screen:
        """To the sets, at once where nothing was filled in; else at the second time of asking."""
        from trainer.window.sets_page import SetsPage

        if self._form.state() != self._empty and not self._asked:
            self._asked = True
            self._desk.say(
                "Esc once more lets go of all that is filled in; any other key keeps it."
            )
            return self
        self._left = True
        self._making.close()
        return SetsPage(self._desk)

    def _go(self, place: int) -> None:
        self._at, self._asked = place, False
        row = FORM_ROWS[place]
        # Where one thing is chosen, the arrows start from it.
        self._choice = 0 if row.is_text else min(self._form.marked[row], default=0)

    def _click(self, place: int, number: int) -> None:
        self._at, self._choice, self._asked = place, number, False
        self._form.choose(FORM_ROWS[place], number)

    def _type(self, event: pygame.event.Event) -> None:
        words = self._form.text(self._row)
        if event.key == pygame.K_BACKSPACE:
            self._form.write(self._row, words[:-1])
        elif event.unicode and event.unicode.isprintable():
            self._form.write(self._row, words + event.unicode)

    def _make(self) -> None:
        if self._making.begun:
            return
        problem = self._form.problem
        if problem:
            self._told = problem
            return
        wanted = self._form.wanted(secrets.randbelow(2**31))
        shelf = self._desk.shelf

        def make() -> tuple[PracticeSet, Path]:
            made = wanted(shelf)
            if self._left:
                raise NamefirstError("left while its questions were drawn: no set was made")
            path = _free_path(made)
            write_set(made, path, shelf.folder)
            open_set(path, sets_folder())  # its own loops too, so that it can be taken here
            remember(made, sets_folder(), made_here=True)
            return made, path

        self._making.begin(make)


def _free_path(made: PracticeSet) -> Path:
    from exercises.loop_writing import slug

    folder = results_folder()
    folder.mkdir(parents=True, exist_ok=True)
    ending = ".zip" if made.own_loops else ".toml"
    path, number = folder / f"{slug(made.title)}{ending}", 2
    while path.exists():
        path, number = folder / f"{slug(made.title)}-{number}{ending}", number + 1
    return path
