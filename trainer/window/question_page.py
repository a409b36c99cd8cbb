"""The Question: A and B, what is it, where is it. Nothing on it depends on what is in B."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import pygame

from exercises.bands import read_hz
from exercises.kinds import TONE, Kind
from trainer.round import Round
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_keys, draw_plate
from trainer.window.listening import Plate, draw_listening
from trainer.window.look import (
    ACCENT,
    HAIRLINE,
    HEADING,
    INK,
    MARGIN,
    SOFT_INK,
    Face,
)
from trainer.window.rule import HEIGHT, Rule
from trainer.window.wave import Wave
from trainer.words import ABOUT, heard_part

KINDS: Final = tuple(Kind)
_STEP_OCTAVES: Final = 1.0 / 12.0
_FINE_STEP_OCTAVES: Final = 1.0 / 48.0
_FIRST_MARK_HZ: Final = 1000.0
_TYPED_KEYS: Final = "0123456789.,k"


class QuestionPage:
    """One question being listened to and answered.

    Two fields, *what* and *where*; Up and Down go between them, digits belong to the one that is
    underlined. Marking a kind that has a place goes on to *where* by itself.
    """

    def __init__(self, desk: Desk, round_: Round) -> None:
        self._desk = desk
        self._round = round_
        self._wave = Wave(round_.question.a, round_.loop.passages)
        self._at_where = False
        self._typed = ""
        self._note = ""
        self._shown: object = None
        desk.sound(round_.question.a, round_.question.b)

    @property
    def title(self) -> str:
        return f"question {self._desk.open_drill().number}"

    @property
    def keys(self) -> Sequence[tuple[str, str]]:
        return (
            ("Space", "play, stop"),
            ("Tab", "A or B"),
            ("1-6", "what"),
            ("0-9 \N{LEFTWARDS ARROW} \N{RIGHTWARDS ARROW}", "where"),
            ("\N{UPWARDS ARROW} \N{DOWNWARDS ARROW}", "what or where"),
            ("Enter", "sure"),
            ("Shift Enter", "guessing"),
            ("- +", "volume"),
            ("?", "all keys"),
        )

    @property
    def all_keys(self) -> Sequence[tuple[str, str]]:
        return (
            *self.keys,
            ("A", "A, as it should be"),
            ("B", "B, the one to name"),
            ("Shift \N{LEFTWARDS ARROW} \N{RIGHTWARDS ARROW}", "move the mark by a hair"),
            ("Backspace", "take back a digit, or go back to what"),
            ("Esc", "leave; the drill can be taken up again today"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        self._note = ""
        key, shift = event.key, bool(event.mod & pygame.KMOD_SHIFT)
        if key == pygame.K_ESCAPE:
            return self._desk.leave_drill()
        if key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._answer(sure=not shift)
        if key == pygame.K_UP:
            self._go_where(False)
        elif key == pygame.K_DOWN:
            self._go_where(True)
        elif key in (pygame.K_LEFT, pygame.K_RIGHT):
            self._step(1 if key == pygame.K_RIGHT else -1, fine=shift)
        elif key == pygame.K_BACKSPACE:
            self._take_back()
        elif event.unicode in ("a", "A"):
            self._desk.choose("A")
        elif event.unicode in ("b", "B"):
            self._desk.choose("B")
        elif key == pygame.K_TAB:
            self._desk.switch(("A", "B"))
        elif event.unicode.lower() in tuple(_TYPED_KEYS):
            self._type(event.unicode.lower())
        return self

    def tick(self) -> Screen | None:
        return self

    def draw(self, canvas: Canvas) -> None:
        self._shown = self._state()
        question = self._round.question
        draw_head(canvas, self._desk.where(), self._desk.time_left())
        draw_listening(
            canvas,
            f"{self._round.loop.title}  \N{MIDDLE DOT}  {heard_part(question.recipe)}",
            (
                Plate("A", "A", "", "as it should be", 136),
                Plate("B", "B", "", "name what changed", 136),
            ),
            self._desk.playhead.current,
            self._desk.playhead.playing,
            self._desk.choose,
            self._wave,
        )
        self._draw_what(canvas)
        self._draw_where(canvas)
        draw_plate(canvas, Box(MARGIN, 628, 200, 58), "Sure", "Enter", main=True)
        draw_plate(canvas, Box(MARGIN + 214, 628, 250, 58), "Guessing", "Shift Enter")
        self._desk.draw_volume(canvas, 664)
        draw_keys(canvas, self.keys)

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        return self._wave.move(canvas, self._desk.playhead.position_frames)

    @property
    def stale(self) -> bool:
        return self._shown != self._state()

    def _state(self) -> object:
        round_, playhead = self._round, self._desk.playhead
        return (
            round_.kind,
            round_.freq_hz,
            self._at_where,
            self._typed,
            self._note,
            playhead.current,
            playhead.playing,
            playhead.volume_db,
            self._desk.time_left(),
        )

    def _draw_what(self, canvas: Canvas) -> None:
        canvas.text(MARGIN, 275, "What is it?", face=Face.SERIF, size=HEADING)
        gap = 12
        width = (canvas.width - 2 * MARGIN - gap * (len(KINDS) - 1)) / len(KINDS)
        for index, kind in enumerate(KINDS):
            box = Box(MARGIN + index * (width + gap), 292, width, 72)
            chosen = kind is self._round.kind
            canvas.box(box, edge=INK if chosen else HAIRLINE, edge_width=2.5 if chosen else 1)
            canvas.box(Box(box.x + 12, box.y + 10, 18, 20), edge=SOFT_INK, radius=4)
            canvas.text(
                box.x + 21,
                box.y + 25,
                str(index + 1),
                face=Face.SANS_SEMIBOLD,
                size=13,
                colour=SOFT_INK,
                side="centre",
            )
            face = Face.SANS_SEMIBOLD if chosen else Face.SANS
            canvas.text(box.x + 44, box.y + 26, kind.value, face=face, size=20)
            canvas.text(box.x + 44, box.y + 50, ABOUT[kind], colour=SOFT_INK)
            canvas.hot(box, lambda kind=kind: self._mark_kind(kind))  # type: ignore[misc]
        if not self._at_where:
            canvas.line((MARGIN, 282), (MARGIN + 102, 282), ACCENT, 2)

    def _draw_where(self, canvas: Canvas) -> None:
        rule = Rule(Box(MARGIN, 520, canvas.width - 2 * MARGIN, HEIGHT))
        asked = self._round.kind is None or self._round.kind in TONE
        ink = INK if asked else SOFT_INK
        canvas.text(MARGIN, 427, "Where?", face=Face.SERIF, size=HEADING, colour=ink)
        hint = "type it, point, or step with the arrows" if asked else "no place: it is everywhere"
        if self._typed:
            hint = self._typed + " Hz" + ("" if read_hz(self._typed) else "  (20 Hz to 20 kHz)")
        canvas.text(MARGIN + 90, 427, self._note or hint, colour=INK if self._note else SOFT_INK)
        if self._at_where:
            canvas.line((MARGIN, 434), (MARGIN + 74, 434), ACCENT, 2)
        rule.draw(canvas, "too little" if self._round.kind is Kind.TOO_LITTLE else "too much")
        if self._round.freq_hz is not None and asked:
            rule.draw_mark(canvas, self._round.freq_hz)
        around = Box(rule.box.x, rule.box.y - 70, rule.box.width, rule.box.height + 70)
        canvas.hot_at(around, lambda x, _y: self._point(rule.freq_at(x)))

    def _mark_kind(self, kind: Kind) -> None:
        self._round.mark_kind(kind)
        self._typed = ""
        self._at_where = kind in TONE

    def _point(self, freq_hz: float) -> None:
        self._typed = ""
        self._note = ""
        self._round.mark_freq(_rounded(freq_hz))
        self._at_where = True

    def _go_where(self, there: bool) -> None:
        self._typed = ""
        self._at_where = there

    def _step(self, direction: int, *, fine: bool) -> None:
        if self._at_where:
            step = _FINE_STEP_OCTAVES if fine else _STEP_OCTAVES
            start = self._round.freq_hz
            self._point(_FIRST_MARK_HZ if start is None else start * 2.0 ** (direction * step))
            return
        now = -1 if self._round.kind is None else KINDS.index(self._round.kind)
        self._round.mark_kind(KINDS[max(0, min(len(KINDS) - 1, now + direction))])

    def _type(self, character: str) -> None:
        if not self._at_where:
            if character.isdigit() and 1 <= int(character) <= len(KINDS):
                self._mark_kind(KINDS[int(character) - 1])
            return
        self._typed = (self._typed + character)[:7]
        freq_hz = read_hz(self._typed)
        if freq_hz is not None:
            self._round.mark_freq(freq_hz)

    def _take_back(self) -> None:
        if self._at_where and not self._typed:
            self._at_where = False
        self._typed = self._typed[:-1]
        freq_hz = read_hz(self._typed)
        if freq_hz is not None:
            self._round.mark_freq(freq_hz)

    def _answer(self, *, sure: bool) -> Screen | None:
        if self._typed and read_hz(self._typed) is None:
            self._note = f"'{self._typed}' is no frequency from 20 Hz to 20 kHz."
            return self
        if self._round.missing is not None:
            self._note = self._round.missing
            self._at_where = self._round.kind is not None
            return self
        return self._desk.answer(self._round, sure=sure)


def _rounded(freq_hz: float) -> float:
    """To three digits: nobody points more finely, and the mark reads as it is kept."""
    return float(f"{freq_hz:.3g}")
