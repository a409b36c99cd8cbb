"""Is it there? What was measured near the place of a claim, before anything is heard."""

from __future__ import annotations

from collections.abc import Sequence

import pygame

from trainer.window.canvas import Box, Canvas
from trainer.window.claim_trials_page import ClaimTrialsPage
from trainer.window.claim_under_way import ClaimUnderWay
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import HELP, VOLUME, KeyWords, key_words
from trainer.window.look import (
    FIRST_LINE,
    HEADING,
    MARGIN,
    SMALL,
    SOFT_INK,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule


class ClaimEvidencePage(Page):
    """The spectrum along the rule, and the passages; Enter puts the claim to the test."""

    def __init__(self, way: ClaimUnderWay) -> None:
        self._way = way

    @property
    def title(self) -> str:
        return "claim: is it there?"

    @property
    def keys(self) -> Sequence[KeyWords]:
        test = key_words("Enter", "put it to the test")
        return test, VOLUME, HELP, key_words("Esc", "back")

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            return self._way.back()
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._way.desk.after_level(lambda: ClaimTrialsPage(self._way), lambda: self)
        return self

    def _draw(self, canvas: Canvas) -> None:
        from trainer.claim_words import change_sentence, claim_sentence, evidence_sentences
        from trainer.window.spectrum_picture import draw_parts, draw_spectrum

        case = self._way.case
        draw_head(canvas, "Claim", self._way.desk.record.learner)
        width = canvas.width - 2 * MARGIN
        baseline = canvas.paragraph(
            MARGIN, FIRST_LINE, claim_sentence(case), width=width, face=Face.SERIF, size=HEADING
        )
        for sentence in evidence_sentences(case.evidence)[:-1]:
            baseline = canvas.paragraph(MARGIN, baseline, sentence, width=width, size=SMALL)
        canvas.paragraph(
            MARGIN, baseline, change_sentence(case), width=width, size=SMALL, colour=SOFT_INK
        )
        rule = Rule(Box(MARGIN, 59 * UNIT, width, HEIGHT))
        draw_spectrum(canvas, Box(MARGIN, 33 * UNIT, width, 25 * UNIT), rule, case.evidence)
        rule.draw(canvas, "too little" if case.evidence.hollow else "too much")
        test = foot_box(canvas, 300)
        left = test.right + 4 * UNIT
        parts = Box(left, 72 * UNIT, canvas.width - MARGIN - left, 16 * UNIT)
        draw_parts(canvas, parts, case.evidence)
        draw_plate(canvas, test, "Test it", "Enter", main=True)
