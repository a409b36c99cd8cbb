"""Is it heard? X is told from A and B, blind, until it is decided."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import pygame

from trainer.claim import Stage
from trainer.sequential_test import Outcome
from trainer.window.canvas import Box, Canvas
from trainer.window.claim_letters import draw_letters
from trainer.window.claim_pointing_page import ClaimPointingPage
from trainer.window.claim_under_way import ClaimUnderWay
from trainer.window.claim_verdict_page import ClaimVerdictPage
from trainer.window.frame import Screen, draw_head
from trainer.window.keys import ALONG, HELP, UNKNOWN, VOLUME, KeyWords, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    HAIRLINE,
    HEADING,
    INK,
    MARGIN,
    PLATE_GAP,
    SMALL,
    SOFT_INK,
    TITLE_STEP,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.words import counted

_ANSWER_WIDE: Final = 300


class ClaimTrialsPage(Page):
    """One trial after another; what comes of them is told at the end."""

    def __init__(self, way: ClaimUnderWay) -> None:
        self._way = way
        self._next: Screen = self
        self._load()

    @property
    def title(self) -> str:
        return f"claim: is it heard? {self._way.claim.number}"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("Space"),
            key_words("A"),
            key_words("B"),
            key_words("X", *UNKNOWN),
            key_words("Tab", "the next to hear"),
            key_words(f"1 {ALONG[0]}", "X is A"),
            key_words(f"2 {ALONG[-1]}", "X is B"),
            VOLUME,
            HELP,
            key_words("Esc", self._way.leave_words),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        letter = event.unicode.lower()
        if event.key == pygame.K_ESCAPE:
            return self._back()
        if letter and letter in "abx":
            self._way.desk.sound.choose(letter.upper())
        elif event.key == pygame.K_TAB:
            self._way.desk.sound.next_of(("A", "B", "X"))
        elif letter == "1" or event.key == pygame.K_LEFT:
            self._say("A")
        elif letter == "2" or event.key == pygame.K_RIGHT:
            self._say("B")
        return self._next

    def _back(self) -> Screen:
        """To what was measured; once a trial was answered, that is the end of this claim."""
        if self._way.claim.trials:
            self._way.desk.say(
                f"Left after {counted(len(self._way.claim.trials), 'trial')}: they are kept, and "
                "nothing is decided."
            )
            return self._way.desk.leave_drill()
        from trainer.window.claim_evidence_page import ClaimEvidencePage

        self._way.desk.sound.playhead.stop()
        return ClaimEvidencePage(self._way)

    def tick(self) -> Screen | None:
        return self._next  # a click answers as a key does

    def _state(self) -> object:
        playhead = self._way.desk.sound.playhead
        return (
            len(self._way.claim.trials),
            playhead.current,
            playhead.playing,
            playhead.volume_db,
        )

    def _draw(self, canvas: Canvas) -> None:
        from trainer.claim_words import RULES, change_sentence

        case, claim = self._way.case, self._way.claim
        most = claim.rule.most
        draw_head(canvas, "Claim", self._way.desk.record.learner)
        canvas.text(MARGIN, DISPLAY_LINE, "Is X A, or is it B?", face=Face.SERIF, size=DISPLAY)
        canvas.text(
            canvas.width - MARGIN,
            DISPLAY_LINE,
            f"trial {claim.number}, of {most} at most",
            size=BODY,
            colour=SOFT_INK,
            side="right",
        )
        canvas.text(
            MARGIN, DISPLAY_LINE + TITLE_STEP, change_sentence(case), size=BODY, colour=SOFT_INK
        )
        beneath = {"A": "as it is", "B": "with the change", "X": "one of the two"}
        draw_letters(canvas, self._way.desk.sound, beneath, top=25 * UNIT)
        for index, letter in enumerate("AB"):
            x = MARGIN + index * (_ANSWER_WIDE + PLATE_GAP)
            box = Box(x, 46 * UNIT, _ANSWER_WIDE, 9 * UNIT)
            cap = "1 \N{LEFTWARDS ARROW}" if letter == "A" else "2 \N{RIGHTWARDS ARROW}"
            canvas.box(box, edge=INK, edge_width=2)
            canvas.text(box.x + 20, box.y + 46, f"X is {letter}", face=Face.SERIF, size=HEADING)
            canvas.text(box.right - 18, box.y + 44, cap, size=SMALL, colour=SOFT_INK, side="right")
            canvas.hot(box, lambda letter=letter: self._say(letter))  # type: ignore[misc]
        done = len(claim.trials)
        step = (canvas.width - 2 * MARGIN) / most
        for index in range(most):
            box = Box(MARGIN + index * step, 60 * UNIT, step - 5, 12)
            canvas.box(box, fill=INK if index < done else None, edge=HAIRLINE, radius=2)
        baseline = 67.0 * UNIT
        for rule in RULES:
            baseline = canvas.paragraph(
                MARGIN, baseline, rule, width=canvas.width - 2 * MARGIN, size=SMALL, colour=SOFT_INK
            )
        self._way.desk.sound.draw_volume(canvas)

    def _load(self) -> None:
        from trainer.claim_terminal import sounds_of_trial

        self._way.desk.sound.take(sounds_of_trial(self._way.case, self._way.claim))

    def _say(self, letter: str) -> None:
        desk, claim = self._way.desk, self._way.claim
        if not desk.sound.heard_s("X"):
            desk.say(f"Listen to X first: {'+ and ' if desk.sound.playhead.muted else ''}X.")
            return
        claim.say_x(letter)
        self._way.keep()
        if claim.stage is Stage.TRIALS:
            self._load()
        elif claim.outcome is Outcome.HEARD:
            self._next = ClaimPointingPage(self._way)
        else:
            # What was not shown to be heard may be pointed at, but need not be.
            self._next = ClaimVerdictPage(self._way)
