"""Today: what is due, and one key to start it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import pygame

from trainer.chain_words import unasked_sentence
from trainer.ladder import step_sentence
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate
from trainer.window.keys import HELP, ROOMS, VOLUME, KeyWords, beside, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    HEADING,
    HEADING_STEP,
    MARGIN,
    PLATE_GAP,
    SMALL,
    SOFT_INK,
    TITLE_STEP,
    UNIT,
    VOLUME_FOOT,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule
from trainer.words import CAUTION, due_sentence

_ABOUT: Final = {
    "T": "one band or kind, guided",
    "M": "mend it in the fewest moves",
    "P": "how small a problem you name",
    "O": "your own, and what is heard",
    "S": "set work, and take it",
    "C": "is it really heard?",
    "K": "which bands your output brings",
    "V": "set it by hand, on noise",
}
_COLUMNS: Final = 4


class TodayPage(Page):
    """The first page: drawn before anything heavy is loaded, and again once it is."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._done = desk.done_today()
        self._unasked = unasked_sentence(desk.record, desk.limits)

    @property
    def title(self) -> str:
        return "Today"

    @property
    def keys(self) -> Sequence[KeyWords]:
        start = self._start_words.lower()
        return (key_words("Enter", start), VOLUME, HELP, key_words("Esc", "quit"))

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(self.keys, *(key_words(cap) for cap in ROOMS))

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER, pygame.K_SPACE):
            return self._start()
        if event.key == pygame.K_c:
            from trainer.window.claim_form_page import ClaimFormPage

            return ClaimFormPage(self._desk)
        if event.key == pygame.K_k:
            from trainer.window.chain_page import ChainPage

            return ChainPage(self._desk)
        if event.key == pygame.K_m:
            return self._fixes()
        if event.key == pygame.K_o:
            from trainer.window.loops_page import LoopsPage

            return LoopsPage(self._desk)
        if event.key == pygame.K_p:
            from trainer.window.progress_page import ProgressPage

            return ProgressPage(self._desk)
        if event.key == pygame.K_s:
            from trainer.window.sets_page import SetsPage

            return SetsPage(self._desk)
        if event.key == pygame.K_t:
            from trainer.window.study_page import StudyPage

            return StudyPage(self._desk)
        if event.key == pygame.K_v:
            from trainer.window.level_page import LevelPage

            return LevelPage(self._desk, self._desk.leave_drill)
        return None if event.key == pygame.K_ESCAPE else self

    @property
    def _start_words(self) -> str:
        drill = self._desk.drill
        return "Go on" if drill is not None and drill.answered else "Start"

    def _start(self) -> Screen:
        """The drill; before the very first one, a level that is safe."""
        return self._desk.after_level(self._desk.next_page)

    def _fixes(self) -> Screen:
        """Fix rounds on their own; like the drill, never before a level is set."""
        from trainer.window.fix_way import fixes_alone

        return self._desk.after_level(lambda: fixes_alone(self._desk))

    def tick(self) -> Screen | None:
        # Once the first picture is up, load what takes time.
        if self.drawn and self._desk.drill_is_open():
            self._desk.open_drill()
        return self

    def _state(self) -> object:
        return (self._desk.sound.playhead.volume_db, self._desk.drill is not None)

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Today", self._desk.record.learner)
        drill = self._desk.drill
        minutes = self._desk.limits.minutes
        canvas.text(
            MARGIN, DISPLAY_LINE, "Name it before you move a knob.", face=Face.SERIF, size=DISPLAY
        )
        answered = 0 if drill is None else drill.answered
        seconds_left = self._desk.seconds_left()
        sentence = due_sentence(minutes, answered, seconds_left, done=self._done)
        canvas.text(MARGIN, DISPLAY_LINE + TITLE_STEP, sentence, size=BODY, colour=SOFT_INK)
        draw_plate(
            canvas, Box(MARGIN, 24 * UNIT, 340, 9 * UNIT), self._start_words, "Enter", main=True
        )
        if drill is not None:
            canvas.paragraph(
                MARGIN + 364,
                29 * UNIT,
                step_sentence(drill.step),
                width=canvas.width - 2 * MARGIN - 364,
                face=Face.SERIF_ITALIC,
                size=BODY,
            )
        width = (canvas.width - 2 * MARGIN - (_COLUMNS - 1) * PLATE_GAP) / _COLUMNS
        for index, (cap, about) in enumerate(_ABOUT.items()):
            row, column = divmod(index, _COLUMNS)
            x, y = MARGIN + column * (width + PLATE_GAP), (36 + 10 * row) * UNIT
            box = Box(x, y, width, 8 * UNIT)
            draw_plate(canvas, box, ROOMS[cap].capitalize(), cap, about=about)
        canvas.text(MARGIN, 59 * UNIT, "Your ears", face=Face.SERIF, size=HEADING)
        canvas.paragraph(
            MARGIN,
            59 * UNIT + HEADING_STEP,
            CAUTION,
            width=canvas.width - 2 * MARGIN,
            size=SMALL,
            colour=SOFT_INK,
        )
        rule = Rule(Box(MARGIN, 71 * UNIT, canvas.width - 2 * MARGIN, HEIGHT))
        rule.draw(canvas)
        canvas.text(
            MARGIN,
            70 * UNIT,
            "The ten octave bands, with words mixers use when there is too much",
            face=Face.SERIF_ITALIC,
            colour=SOFT_INK,
        )
        if self._unasked is not None:
            canvas.text(MARGIN, canvas.height - VOLUME_FOOT, self._unasked, colour=SOFT_INK)
        self._desk.sound.draw_volume(canvas)
