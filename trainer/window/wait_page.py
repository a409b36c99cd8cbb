"""A moment's wait while a question is made; seen only at the start, or on a slow machine.

A question that is made is kept until it is shown, whatever hinders that.
"""

from __future__ import annotations

from collections.abc import Sequence

import pygame

from exercises.errors import NamefirstError
from trainer.round import Round
from trainer.window.canvas import Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_waiting
from trainer.window.keys import HELP, KeyWords, key_words
from trainer.window.page import Page


class WaitPage(Page):
    """Goes on to the question by itself; says what is wrong if it cannot be made."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._round: Round | None = None
        self._trouble = ""

    @property
    def title(self) -> str:
        return "getting the loop ready"

    @property
    def keys(self) -> Sequence[KeyWords]:
        again = (key_words("Enter", "try again"),) if self._trouble else ()
        return (*again, HELP, key_words("Esc", "back"))

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            return self._desk.leave_drill()
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            self._trouble = ""
        return self

    def tick(self) -> Screen | None:
        if self._trouble or not self._desk.drill_is_open():
            return self
        try:
            if self._round is None:
                drill = self._desk.open_drill()
                if not drill.begun:
                    drill.begin_next()
                if not drill.ready:
                    return self
                self._round = drill.next_round()
            return self._desk.question_or_study(self._round)
        except NamefirstError as error:
            self._trouble = str(error)
            return self

    def _state(self) -> object:
        return self._trouble

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Today")
        said = "The question waits." if self._round else "No question can be made."
        draw_waiting(canvas, self._trouble, said)
