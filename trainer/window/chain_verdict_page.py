"""What reached the ear, band by band; it is kept by output."""

from __future__ import annotations

from collections.abc import Sequence

import pygame

from exercises.bands import BANDS
from trainer.chain import Reach
from trainer.chain_words import NO_HEARING_TEST, check_sentence
from trainer.kept_chains import KeptCheck
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, draw_waiting, foot_box
from trainer.window.keys import HELP, KeyWords, key_words
from trainer.window.look import (
    BODY,
    FIRST_LINE,
    INK,
    MARGIN,
    SMALL,
    SOFT_INK,
    TITLE,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule


class ChainVerdictPage(Page):
    """How each band came out, or why nothing was kept (``void``)."""

    def __init__(self, desk: Desk, output: str, kept: KeptCheck | None, void: str = "") -> None:
        self._desk = desk
        self._output = output
        self._kept = kept
        self._void = void

    @property
    def title(self) -> str:
        return "chain check done"

    @property
    def keys(self) -> Sequence[KeyWords]:
        again = key_words("K", "chain check: again")
        return key_words("Enter", "back"), again, HELP, key_words("Esc", "back")

    def key(self, event: pygame.event.Event) -> Screen | None:
        from trainer.window.chain_count_page import ChainCountPage

        if event.key in (pygame.K_ESCAPE, pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._desk.leave_drill()
        if event.unicode.lower() == "k":
            return ChainCountPage(self._desk, self._output)
        return self

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Chain check", self._desk.record.learner)
        width = canvas.width - 2 * MARGIN
        if self._kept is None:
            draw_waiting(canvas, self._void, "Nothing was kept.")
            return
        baseline = canvas.paragraph(
            MARGIN, FIRST_LINE, check_sentence(self._kept), width=width, face=Face.SERIF, size=TITLE
        )
        canvas.paragraph(MARGIN, baseline + 8, NO_HEARING_TEST, width=width, colour=SOFT_INK)
        rule = Rule(Box(MARGIN, 470, width, HEIGHT))
        rule.draw(canvas)
        for band, reach in zip(BANDS, self._kept.reach, strict=True):
            left, right = rule.x_of(band.low_hz) + 8, rule.x_of(band.high_hz) - 8
            box = Box(left, 340, right - left, 110)
            if reach is Reach.REPRODUCED:
                canvas.box(box, fill=INK, radius=0)
            elif reach is Reach.FAINT:
                canvas.hatch(Box(left, 395, right - left, 55), INK)
            canvas.text(
                (left + right) / 2,
                332 if reach is Reach.REPRODUCED else 387 if reach is Reach.FAINT else 444,
                reach.value,
                size=SMALL,
                side="centre",
            )
        missing = Reach.NOT in self._kept.reach
        words = "Bands marked 'not' are left out of the drill on this output until the next check."
        canvas.text(MARGIN, 592, words if missing else "", face=Face.SERIF_ITALIC, size=BODY)
        draw_plate(
            canvas,
            foot_box(canvas, 240),
            "Back",
            "Enter",
            main=True,
        )
        draw_plate(
            canvas,
            foot_box(canvas, 240, after=256),
            "Check again",
            "K",
        )
