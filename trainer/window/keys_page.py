"""The ``?`` page: every key of the screen beneath it, and the cautions for the ears."""

from __future__ import annotations

from collections.abc import Sequence

import pygame

from trainer.window.canvas import Canvas
from trainer.window.frame import Screen, draw_head
from trainer.window.keys import KeyWords, key_words
from trainer.window.look import (
    FIRST_LINE,
    HEADING,
    HEADING_STEP,
    MARGIN,
    SMALL,
    SOFT_INK,
    TITLE,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.words import CAUTION


class KeysPage(Page):
    """Lies over ``beneath`` until any key is pressed."""

    def __init__(self, beneath: Screen) -> None:
        self._beneath = beneath

    @property
    def title(self) -> str:
        return "all keys"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (key_words("Esc", "back"),)

    def key(self, event: pygame.event.Event) -> Screen | None:
        return self._beneath

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "All keys")
        canvas.text(MARGIN, FIRST_LINE, "Keys", face=Face.SERIF, size=TITLE)
        half = (len(self._beneath.all_keys) + 1) // 2
        for index, (cap, does) in enumerate(self._beneath.all_keys):
            column, row = divmod(index, max(half, 8))
            canvas.key(MARGIN + column * 580, 18 * UNIT + row * 36, cap, does)
        canvas.text(MARGIN, canvas.height - 28 * UNIT, "Your ears", face=Face.SERIF, size=HEADING)
        canvas.paragraph(
            MARGIN,
            canvas.height - 28 * UNIT + HEADING_STEP,
            CAUTION,
            width=canvas.width - 2 * MARGIN,
            size=SMALL,
            colour=SOFT_INK,
        )
