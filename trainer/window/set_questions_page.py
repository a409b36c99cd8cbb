"""The questions of a set, one a line, each to be heard and seen with its truth.

For the teacher before it is handed out, and for whoever took it afterwards.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Final

import pygame

from exercises.errors import NamefirstError
from trainer.backstage import Backstage
from trainer.record import KeptAnswer
from trainer.round import Round
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head
from trainer.window.keys import HELP, UP_DOWN, KeyWords, beside, key_words
from trainer.window.look import (
    HAIRLINE,
    INK,
    MARGIN,
    SHADE,
    SMALL,
    SOFT_INK,
)
from trainer.window.page import Page
from trainer.window.shortening import shortened
from trainer.words import answer_sentence, truth_sentence

_ROW: Final = 34.0


def answered_lines(answers: Sequence[KeptAnswer]) -> tuple[str, ...]:
    """A line for each answer: the truth, and what was said."""
    return tuple(
        f"{kept.id}. {truth_sentence(kept.recipe)} "
        f"{answer_sentence(kept.recipe, kept.answer, kept.verdict)}"
        for kept in answers
    )


class SetQuestionsPage(Page):
    """``make`` makes the question of a line again, its review open; ``leave`` goes back.

    ``preview``: they have not been answered.
    """

    def __init__(
        self,
        desk: Desk,
        heading: str,
        lines: Sequence[str],
        make: Callable[[int], Round],
        leave: Callable[[], Screen],
        *,
        preview: bool = False,
    ) -> None:
        self._desk = desk
        self._heading = heading
        self._lines = lines
        self._make = make
        self._leave = leave
        self._preview = preview
        self._place = 0
        self._rows = 1
        self._making: Backstage[Round] = Backstage()

    @property
    def title(self) -> str:
        return "questions of a set"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words(UP_DOWN, "choose"),
            key_words("Enter", "hear and see it"),
            HELP,
            key_words("Esc", "back"),
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(
            self.keys,
            key_words(f"Page {UP_DOWN}", "a page of them"),
            key_words("Home End", "the first, the last"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            self._making.close()
            return self._leave()
        steps = {
            pygame.K_UP: -1,
            pygame.K_DOWN: 1,
            pygame.K_PAGEUP: -self._rows,
            pygame.K_PAGEDOWN: self._rows,
            pygame.K_HOME: -len(self._lines),
            pygame.K_END: len(self._lines),
        }
        if event.key in steps:
            self._place = max(0, min(len(self._lines) - 1, self._place + steps[event.key]))
        elif event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            self._open()
        return self

    def tick(self) -> Screen | None:
        from trainer.window.review_page import Reopened, ReviewPage

        if not self._making.ready:
            return self
        try:
            round_ = self._making.take()
        except NamefirstError as error:
            self._desk.say(str(error))
            return self
        assert round_.review is not None
        question = round_.question
        self._desk.sound.take({"B": question.b, "A": question.a})
        heading = f"{self._place + 1} of {len(self._lines)}  \N{MIDDLE DOT}  {self._heading}"
        reopened = Reopened(heading, self._back, self._preview)
        page = ReviewPage(self._desk, round_, round_.review, reopened)
        self._desk.sound.choose("B")
        return page

    def _state(self) -> object:
        return self._place, self._making.begun

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, self._heading, "getting it ready" if self._making.begun else "")
        self._rows = max(1, int((canvas.height - 200) // _ROW))
        top = self._place - self._place % self._rows
        for row, line in enumerate(self._lines[top : top + self._rows]):
            box = Box(MARGIN, 84 + row * _ROW, canvas.width - 2 * MARGIN, _ROW)
            if top + row == self._place:
                canvas.box(box, fill=SHADE)
                canvas.box(Box(box.x, box.y + 6, 3, box.height - 12), fill=INK)
            canvas.line((box.x, box.bottom), (box.right, box.bottom), HAIRLINE)
            canvas.text(
                box.x + 14,
                box.y + 23,
                shortened(canvas, line, box.width - 28, size=SMALL),
                size=SMALL,
            )
            canvas.hot(box, partial(self._choose, top + row))
        if len(self._lines) > self._rows:
            shown = f"{top + 1} to {min(len(self._lines), top + self._rows)} of {len(self._lines)}"
            canvas.text(
                canvas.width - MARGIN, canvas.height - 96, shown, colour=SOFT_INK, side="right"
            )

    def _choose(self, place: int) -> None:
        """A click marks a line, and opens the one that is marked."""
        if place == self._place:
            self._open()
        self._place = place

    def _open(self) -> None:
        if not self._making.begun and self._lines:
            self._making.begin(partial(self._make, self._place))

    def _back(self) -> Screen:
        self._desk.sound.playhead.stop()
        return self
