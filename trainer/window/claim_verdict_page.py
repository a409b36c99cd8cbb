"""The verdict on a claim: heard or not, where it was pointed at, and what was measured."""

from __future__ import annotations

from collections.abc import Sequence

import pygame

from exercises.errors import NamefirstError
from trainer.claim import Stage
from trainer.window.canvas import Box, Canvas
from trainer.window.claim_picture import draw_points, draw_told
from trainer.window.claim_under_way import ClaimUnderWay
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import HELP, KeyWords, key_words
from trainer.window.look import (
    DISPLAY,
    FIRST_LINE,
    MARGIN,
    PLATE_GAP,
    SMALL,
    SOFT_INK,
    TITLE_STEP,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule


class ClaimVerdictPage(Page):
    """A report that was asked for is written as it opens; any other with Ctrl S."""

    def __init__(self, way: ClaimUnderWay) -> None:
        self._way = way
        way.desk.sound.playhead.stop()
        if way.report is not None:
            try:
                way.save_report()
            except NamefirstError as error:
                way.desk.say(str(error))

    @property
    def title(self) -> str:
        return "claim: verdict"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("Enter", "back"),
            key_words("Ctrl S"),
            *((key_words("1", "point at it all the same"),) if self._may_point else ()),
            HELP,
            key_words("Esc", "back"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        from trainer.window.claim_pointing_page import ClaimPointingPage

        if event.key in (pygame.K_ESCAPE, pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._way.desk.leave_drill()
        if event.key == pygame.K_s and event.mod & pygame.KMOD_CTRL:
            self._way.save_report()
        elif event.unicode == "1" and self._may_point:
            return ClaimPointingPage(self._way)
        return self

    @property
    def _may_point(self) -> bool:
        """Whether pointing is left to be done, and offered."""
        return self._way.claim.stage is Stage.POINTING

    def _draw(self, canvas: Canvas) -> None:
        from trainer.claim_words import aim_sentences, claim_sentence, outcome_sentences
        from trainer.claim_words import evidence_sentences as measured

        case, claim = self._way.case, self._way.claim
        draw_head(canvas, "Claim", self._way.desk.record.learner)
        width = canvas.width - 2 * MARGIN
        verdict, *figures = outcome_sentences(claim)
        canvas.text(MARGIN, FIRST_LINE, claim_sentence(case), size=SMALL, colour=SOFT_INK)
        baseline = FIRST_LINE + 6.0 * UNIT
        canvas.text(MARGIN, baseline, verdict, face=Face.SERIF, size=DISPLAY)
        baseline += TITLE_STEP
        for sentence in figures:
            baseline = canvas.paragraph(MARGIN, baseline, sentence, width=width, size=SMALL)
        baseline = draw_told(canvas, claim.trials, baseline + 2 * UNIT)
        found = measured(case.evidence)
        for sentence in (*aim_sentences(claim, case.evidence), found[0], found[-1]):
            baseline = canvas.paragraph(MARGIN, baseline, sentence, width=width, size=SMALL)
        if claim.points:
            draw_points(canvas, Rule(Box(MARGIN, 68 * UNIT, width, HEIGHT)), claim.points)
        back = foot_box(canvas, 240)
        save = foot_box(canvas, 320, after=back.width + PLATE_GAP)
        draw_plate(canvas, back, "Back", "Enter", main=True)
        draw_plate(canvas, save, "Save the report", "Ctrl S")
        if self._may_point:
            box = foot_box(canvas, 380, after=back.width + save.width + 2 * PLATE_GAP)
            draw_plate(canvas, box, "Point at it all the same", "1")
