"""Between two questions of a set: goes on by itself when the next one is made."""

from __future__ import annotations

from collections.abc import Sequence

import pygame

from exercises.errors import NamefirstError
from trainer.assignments.taking import Taking
from trainer.window.canvas import Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_waiting
from trainer.window.keys import HELP, KeyWords, key_words
from trainer.window.page import Page


class SetWaitPage(Page):
    """Says what is wrong if the question cannot be made."""

    def __init__(self, desk: Desk, taking: Taking) -> None:
        self._desk = desk
        self._taking = taking
        self._trouble = ""

    @property
    def title(self) -> str:
        return "getting the loop ready"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return HELP, key_words("Esc", "back")

    def key(self, event: pygame.event.Event) -> Screen | None:
        return self._desk.leave_drill() if event.key == pygame.K_ESCAPE else self

    def tick(self) -> Screen | None:
        from trainer.window.question_page import QuestionPage

        if self._trouble:
            return self
        try:
            if not self._taking.begun:
                self._taking.begin_next()
            if not self._taking.ready:
                return self
            return QuestionPage(self._desk, self._taking.next_round())
        except NamefirstError as error:
            self._trouble = str(error)
            return self

    def _state(self) -> object:
        return self._trouble

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, self._taking.set.title)
        draw_waiting(canvas, self._trouble, "No question can be made.")
