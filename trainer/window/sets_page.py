"""Sets: those made or opened here, and the way to make one."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Final

import pygame

from trainer.assignments.known_sets import known_sets
from trainer.assignments.set_words import moment_words
from trainer.home import sets_folder
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate
from trainer.window.keys import HELP, UP_DOWN, KeyWords, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    FOOT_HIGH,
    HAIRLINE,
    HEADING,
    HEADING_STEP,
    INK,
    MARGIN,
    PLATE_GAP,
    SHADE,
    SMALL,
    SOFT_INK,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.window.shortening import shortened

_LIST_TOP: Final = 23.0 * UNIT
_LIST_FOOT: Final = 14.0 * UNIT
"""How far over the lower edge the list ends."""
_ROW: Final = 5.0 * UNIT
_DUE: Final = 74.0 * UNIT
_PLATES_TOP: Final = 10.0 * UNIT
_PLATE: Final = 28.0 * UNIT


class SetsPage(Page):
    """A line for each set, the newest first."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._sets = known_sets(sets_folder(), desk.record.learner)
        self._place = 0
        self._pressed: int | None = None

    @property
    def title(self) -> str:
        return "sets"

    @property
    def keys(self) -> Sequence[KeyWords]:
        listed = (key_words(UP_DOWN, "choose"), key_words("Enter", "open"))
        return (
            *(listed if self._sets else ()),
            key_words("I"),
            key_words("N", "new set"),
            HELP,
            key_words("Esc", "back"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            return self._desk.leave_drill()
        if event.key == pygame.K_n:
            from trainer.window.set_build_page import SetBuildPage

            return SetBuildPage(self._desk)
        if event.key == pygame.K_i:
            from trainer.window.set_open_page import SetOpenPage

            return SetOpenPage(self._desk)
        if event.key in (pygame.K_UP, pygame.K_DOWN) and self._sets:
            step = 1 if event.key == pygame.K_DOWN else -1
            self._place = max(0, min(len(self._sets) - 1, self._place + step))
        elif event.key in (pygame.K_RETURN, pygame.K_KP_ENTER) and self._sets:
            self._pressed = self._place
        return self

    def tick(self) -> Screen | None:
        from trainer.window.set_page import SetPage

        if self._pressed is None:
            return self
        place, self._pressed = self._pressed, None
        return SetPage(self._desk, self._sets[place].set)

    def _state(self) -> object:
        return self._place

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Sets", self._desk.record.learner)
        canvas.text(MARGIN, DISPLAY_LINE, "Sets of questions", face=Face.SERIF, size=DISPLAY)
        canvas.text(
            MARGIN,
            DISPLAY_LINE + HEADING_STEP,
            "To take one, drop its file on this window. A class's results: namefirst class FOLDER",
            size=SMALL,
            colour=SOFT_INK,
        )
        right = canvas.width - MARGIN
        new = Box(right - _PLATE, _PLATES_TOP, _PLATE, FOOT_HIGH)
        draw_plate(canvas, new, "New set", "N")
        beside = Box(new.x - PLATE_GAP - _PLATE, _PLATES_TOP, _PLATE, FOOT_HIGH)
        draw_plate(canvas, beside, "From a file", "I")
        rows = max(1, int((canvas.height - _LIST_TOP - _LIST_FOOT) // _ROW))
        top = max(0, min(self._place - rows // 2, len(self._sets) - rows))
        if not self._sets:
            empty = _LIST_TOP + _ROW
            canvas.text(MARGIN, empty, "None yet.", face=Face.SERIF_ITALIC, size=HEADING)
        for row, known in enumerate(self._sets[top : top + rows]):
            box = Box(MARGIN, _LIST_TOP + row * _ROW, canvas.width - 2 * MARGIN, _ROW)
            if top + row == self._place:
                canvas.box(box, fill=SHADE)
                canvas.box(Box(box.x, box.y + 6, 3, box.height - 12), fill=INK)
            canvas.line((box.x, box.bottom), (box.right, box.bottom), HAIRLINE)
            baseline = box.y + 26
            title = shortened(canvas, known.set.title, _DUE - 5 * UNIT, Face.SERIF, BODY)
            canvas.text(box.x + 14, baseline, title, face=Face.SERIF, size=BODY)
            due = known.set.terms.due
            words = "" if due is None else f"due {moment_words(due.astimezone())}"
            canvas.text(box.x + _DUE, baseline, words, colour=SOFT_INK)
            canvas.text(box.right - 14, baseline, known.state, side="right")
            canvas.hot(box, partial(self._choose, top + row))

    def _choose(self, place: int) -> None:
        """A click opens a set."""
        self._place = self._pressed = place
