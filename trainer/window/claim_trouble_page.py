"""Why there is no claim to be tested."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pygame

from trainer.window.canvas import Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_waiting
from trainer.window.keys import HELP, KeyWords, key_words
from trainer.window.page import Page


class ClaimTroublePage(Page):
    """``trouble`` says what, where, and how to mend it; ``back`` gives the page to mend it on."""

    def __init__(self, desk: Desk, trouble: str, back: Callable[[], Screen]) -> None:
        self._desk = desk
        self._back = back
        self._trouble = trouble

    @property
    def title(self) -> str:
        return "claim: no claim"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return key_words("Enter", "back"), HELP, key_words("Esc", "back")

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key in (pygame.K_ESCAPE, pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._back()
        return self

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Claim", self._desk.record.learner)
        draw_waiting(canvas, self._trouble, "This cannot be tested.")
