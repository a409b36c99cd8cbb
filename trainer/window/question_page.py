"""The Question: A and B, what is it, where is it. Nothing on it depends on what is in B."""

from __future__ import annotations

from collections.abc import Sequence

import pygame

from exercises.bands import read_hz
from exercises.kinds import Help
from trainer.round import LEAST_HEARD_S, Round
from trainer.window.answer_drawing import draw_sheet
from trainer.window.answer_sheet import KINDS, TYPED_KEYS, AnswerSheet
from trainer.window.canvas import Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import (
    ALONG,
    FINE,
    HELP,
    UP_DOWN,
    VOLUME,
    KeyWords,
    beside,
    key_words,
)
from trainer.window.listening import Plate, draw_listening
from trainer.window.look import PLATE_GAP
from trainer.window.page import Page
from trainer.window.wave import Wave
from trainer.words import heard_part


class QuestionPage(Page):
    """One question being listened to and answered.

    Up and Down go from field to field, digits and arrows belong to the one that is underlined.
    """

    def __init__(self, desk: Desk, round_: Round) -> None:
        self._desk = desk
        self._round = round_
        self._wave = Wave(round_.question.a, round_.loop.passages)
        self._sheet = AnswerSheet(round_, lambda: desk.follow_solo(round_))
        desk.ask(round_)

    @property
    def title(self) -> str:
        return f"question {self._desk.open_drill().number}"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("Space"),
            *((key_words("Tab"),) if self._has_a else ()),
            *((key_words("L"),) if self._can_solo else ()),
            key_words(f"1-{len(KINDS)}", "what"),
            key_words(f"0-9 . k {ALONG}", "where"),
            key_words(UP_DOWN, "what or where"),
            *(
                (key_words("Enter", "and the other"),)
                if self._another
                else (key_words("Enter", "sure"), key_words("Shift Enter", "guessing"))
            ),
            VOLUME,
            HELP,
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(
            self.keys,
            *((key_words("A"),) if self._has_a else ()),
            key_words("B"),
            key_words(FINE, "move the mark by a hair"),
            key_words("Backspace", "take back a figure, or go back to what"),
            key_words("Esc", "leave; it can be taken up again"),
        )

    @property
    def _has_a(self) -> bool:
        return self._round.question.recipe.help is not Help.NO_A

    @property
    def _can_solo(self) -> bool:
        recipe = self._round.question.recipe
        return recipe.ask_track or (recipe.track is not None and not recipe.alone)

    @property
    def _another(self) -> bool:
        """Whether the first of two problems is being named."""
        return self._round.wants_another

    def key(self, event: pygame.event.Event) -> Screen | None:
        sheet = self._sheet
        sheet.note = ""
        key, shift = event.key, bool(event.mod & pygame.KMOD_SHIFT)
        if key == pygame.K_ESCAPE:
            return self._desk.leave_drill()
        if key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._answer(sure=not shift)
        if key in (pygame.K_UP, pygame.K_DOWN):
            sheet.go(1 if key == pygame.K_DOWN else -1)
        elif key in (pygame.K_LEFT, pygame.K_RIGHT):
            sheet.step(1 if key == pygame.K_RIGHT else -1, fine=shift)
        elif key == pygame.K_BACKSPACE:
            sheet.take_back()
        elif event.unicode.lower() in ("a", "b"):
            self._hear(event.unicode.upper())
        elif key == pygame.K_TAB:
            self._hear("A" if self._desk.sound.letter == "B" else "B")
        elif event.unicode.lower() == "l":
            sheet.note = self._desk.solo_or_mix(self._round)
        elif event.unicode and event.unicode.lower() in TYPED_KEYS:
            sheet.type(event.unicode.lower())
        return self

    def tick(self) -> Screen | None:
        heard_a_s = self._desk.sound.heard_s("A")
        if self._desk.sound.letter == "A" and not self._round.a_may_sound(heard_a_s, sounding=True):
            self._desk.sound.choose("B")
            self._sheet.note = "A has been heard once; from here on there is B alone."
        return self

    def _draw(self, canvas: Canvas) -> None:
        recipe = self._round.question.recipe
        draw_head(canvas, self._desk.where(), self._desk.time_left())
        draw_listening(
            canvas,
            f"{self._round.loop.title}  \N{MIDDLE DOT}  "
            + (
                f"{self._desk.sound.soloed} alone"
                if self._desk.sound.soloed
                else heard_part(recipe)
            ),
            self._plates(),
            self._desk.sound,
            self._hear,
            self._wave,
        )
        draw_sheet(canvas, self._sheet)
        sure = "And the other" if self._another else "Sure"
        draw_plate(canvas, foot_box(canvas, 240), sure, "Enter", main=True)
        if not self._another:
            draw_plate(
                canvas,
                foot_box(canvas, 250, after=240 + PLATE_GAP),
                "Guessing",
                "Shift Enter",
            )
        self._desk.sound.draw_volume(canvas)

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        return self._wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return (
            self._sheet.state,
            playhead.current,
            playhead.playing,
            playhead.volume_db,
            self._desk.time_left(),
        )

    def _plates(self) -> tuple[Plate, ...]:
        b = Plate("B", "B", "", "name what changed", 136)
        help_ = self._round.question.recipe.help
        if help_ is Help.NO_A:
            return (b,)
        return (Plate("A", "A", "", "once" if help_ is Help.A_ONCE else "as it should be", 136), b)

    def _hear(self, letter: str) -> None:
        heard_a_s = self._desk.sound.heard_s("A")
        if letter == "A" and not self._round.a_may_sound(
            heard_a_s, sounding=self._desk.sound.letter == "A"
        ):
            self._sheet.note = "A is not to be had here." if not heard_a_s else "A was heard once."
            return
        self._desk.sound.choose(letter)

    def _answer(self, *, sure: bool) -> Screen | None:
        sheet = self._sheet
        if sheet.typed and read_hz(sheet.typed) is None:
            sheet.note = f"'{sheet.typed}' is no frequency from 20 Hz to 20 kHz."
            return self
        if self._desk.sound.heard_s("B") < LEAST_HEARD_S:
            louder = "+ and " if self._desk.sound.playhead.muted else ""
            sheet.note = f"Listen to B first: {louder}Space."
            return self
        if self._round.missing is not None:
            sheet.note = self._round.missing
            sheet.go_to_missing()
            return self
        if self._round.wants_another:
            self._round.keep_first()
            sheet.begin_again()
            return self
        return self._desk.answer(self._round, sure=sure)
