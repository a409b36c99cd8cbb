"""The Question: A and B, what is it, where is it. Nothing on it depends on what is in B."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import Enum
from typing import Final

import pygame

from exercises.bands import read_hz
from exercises.kinds import TONE, Help, Kind
from trainer.round import LEAST_HEARD_S, Round
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate
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
from trainer.window.look import (
    BODY,
    HAIRLINE,
    HEADING,
    INK,
    MARGIN,
    SMALL,
    SOFT_INK,
    TINY,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule, pointed_hz
from trainer.window.wave import Wave
from trainer.words import ABOUT, heard_part

KINDS: Final = tuple(Kind)
_STEP_OCTAVES: Final = 1.0 / 12.0
_FINE_STEP_OCTAVES: Final = 1.0 / 48.0
_FIRST_MARK_HZ: Final = 1000.0
_TYPED_KEYS: Final = "0123456789.,k"
_ROW: Final = 38


class Field(Enum):
    """A part of the answer; the keyboard belongs to the underlined one."""

    WHAT = "What is it?"
    TRACK = "On which track?"
    PASSAGE = "In which passage?"
    WHERE = "Where?"


class QuestionPage(Page):
    """One question being listened to and answered.

    Up and Down go from field to field, digits and arrows belong to the one that is underlined.
    Marking something goes on to the next field by itself.
    """

    def __init__(self, desk: Desk, round_: Round) -> None:
        self._desk = desk
        self._round = round_
        self._wave = Wave(round_.question.a, round_.loop.passages)
        self._fields = (
            Field.WHAT,
            *((Field.TRACK,) if round_.tracks else ()),
            *((Field.PASSAGE,) if round_.passages else ()),
            Field.WHERE,
        )
        self._at = Field.WHAT
        self._typed = ""
        self._note = ""
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
        self._note = ""
        key, shift = event.key, bool(event.mod & pygame.KMOD_SHIFT)
        if key == pygame.K_ESCAPE:
            return self._desk.leave_drill()
        if key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._answer(sure=not shift)
        if key in (pygame.K_UP, pygame.K_DOWN):
            self._go(1 if key == pygame.K_DOWN else -1)
        elif key in (pygame.K_LEFT, pygame.K_RIGHT):
            self._step(1 if key == pygame.K_RIGHT else -1, fine=shift)
        elif key == pygame.K_BACKSPACE:
            self._take_back()
        elif event.unicode.lower() in ("a", "b"):
            self._hear(event.unicode.upper())
        elif key == pygame.K_TAB:
            self._hear("A" if self._desk.sound.letter == "B" else "B")
        elif event.unicode.lower() == "l":
            self._note = self._desk.solo_or_mix(self._round)
        elif event.unicode and event.unicode.lower() in _TYPED_KEYS:
            self._type(event.unicode.lower())
        return self

    def tick(self) -> Screen | None:
        heard_a_s = self._desk.sound.heard_s("A")
        if self._desk.sound.letter == "A" and not self._round.a_may_sound(heard_a_s, sounding=True):
            self._desk.sound.choose("B")
            self._note = "A has been heard once; from here on there is B alone."
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
        self._draw_what(canvas)
        y = self._draw_choices(canvas, 370)
        self._draw_where(canvas, max(427.0, y + 32.0))
        top = canvas.height - 172 if len(self._fields) == 2 else canvas.height - 136
        sure = "And the other" if self._another else "Sure"
        draw_plate(canvas, Box(MARGIN, top, 240, 50), sure, "Enter", main=True)
        if not self._another:
            draw_plate(canvas, Box(MARGIN + 254, top, 250, 50), "Guessing", "Shift Enter")
        self._desk.sound.draw_volume(canvas, top + 32)

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        return self._wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        round_, playhead = self._round, self._desk.sound.playhead
        return (
            round_.kind,
            round_.freq_hz,
            round_.track,
            round_.passage,
            round_.first,
            self._at,
            self._typed,
            self._note,
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
            self._note = "A is not to be had here." if not heard_a_s else "A was heard once."
            return
        self._desk.sound.choose(letter)

    def _draw_what(self, canvas: Canvas) -> None:
        heading = Field.WHAT.value
        if self._round.question.recipe.second is not None:
            heading = "What is one of the two?" if self._round.first is None else "And the other?"
        self._draw_heading(canvas, Field.WHAT, heading, 275)
        gap = 12
        width = (canvas.width - 2 * MARGIN - gap * (len(KINDS) - 1)) / len(KINDS)
        for index, kind in enumerate(KINDS):
            box = Box(MARGIN + index * (width + gap), 292, width, 64)
            chosen = kind is self._round.kind
            canvas.box(box, edge=INK if chosen else HAIRLINE, edge_width=2.5 if chosen else 1)
            _draw_number(canvas, box.x + 12, box.y + 8, index + 1)
            face = Face.SANS_SEMIBOLD if chosen else Face.SANS
            canvas.text(box.x + 40, box.y + 25, kind.value, face=face, size=BODY)
            canvas.text(box.x + 40, box.y + 48, ABOUT[kind], colour=SOFT_INK)
            canvas.hot(box, lambda kind=kind: self._mark_kind(kind))  # type: ignore[misc]

    def _draw_choices(self, canvas: Canvas, top: float) -> float:
        """Rows of tracks and passages, where they are asked; gives where they end."""
        asked = self._round.kind is not Kind.NOTHING
        for field, names, marked, mark in self._choices():
            self._draw_heading(canvas, field, field.value, top + 22, size=BODY, faint=not asked)
            x = float(MARGIN + 170)
            for index, name in enumerate(names):
                wide = canvas.text_width(name, Face.SANS_SEMIBOLD, SMALL) + 52
                box = Box(x, top, wide, 30)
                chosen = name == marked
                canvas.box(box, edge=INK if chosen else HAIRLINE, edge_width=2.5 if chosen else 1)
                _draw_number(canvas, box.x + 8, box.y + 5, index + 1)
                face = Face.SANS_SEMIBOLD if chosen else Face.SANS
                ink = INK if asked else SOFT_INK
                canvas.text(box.x + 36, box.y + 21, name, face=face, size=SMALL, colour=ink)
                canvas.hot(box, lambda mark=mark, name=name: mark(name))  # type: ignore[misc]
                x += wide + 8
            top += _ROW
        return top

    def _choices(
        self,
    ) -> list[tuple[Field, tuple[str, ...], str | None, Callable[[str], None]]]:
        round_ = self._round
        rows: list[tuple[Field, tuple[str, ...], str | None, Callable[[str], None]]] = []
        if round_.tracks:
            rows.append((Field.TRACK, round_.tracks, round_.track, self._mark_track))
        if round_.passages:
            rows.append((Field.PASSAGE, round_.passages, round_.passage, self._mark_passage))
        return rows

    def _draw_where(self, canvas: Canvas, baseline: float) -> None:
        rule = Rule(Box(MARGIN, baseline + 93, canvas.width - 2 * MARGIN, HEIGHT))
        asked = self._round.kind is None or self._round.kind in TONE
        self._draw_heading(canvas, Field.WHERE, Field.WHERE.value, baseline, faint=not asked)
        hint = "type it, point, or step with the arrows" if asked else "no place: it is everywhere"
        if self._typed:
            unit = "Hz" if self._typed.endswith("k") else " Hz"
            hint = self._typed + unit + ("" if read_hz(self._typed) else "  (20 Hz to 20 kHz)")
        ink = INK if self._note else SOFT_INK
        canvas.text(MARGIN + 90, baseline, self._note or hint, colour=ink)
        rule.draw(canvas, "too little" if self._round.kind is Kind.TOO_LITTLE else "too much")
        if self._round.freq_hz is not None and asked:
            rule.draw_mark(canvas, self._round.freq_hz)
        if self._round.first is not None and self._round.first.freq_hz is not None:
            rule.draw_aside(canvas, self._round.first.freq_hz, "the first")
        around = Box(rule.box.x, rule.box.y - 70, rule.box.width, rule.box.height + 70)
        canvas.hot_at(around, lambda x, _y: self._point(rule.freq_at(x)))

    def _draw_heading(
        self,
        canvas: Canvas,
        field: Field,
        words: str,
        baseline: float,
        *,
        size: float = HEADING,
        faint: bool = False,
    ) -> None:
        ink = SOFT_INK if faint else INK
        wide = canvas.text(MARGIN, baseline, words, face=Face.SERIF, size=size, colour=ink)
        if field is self._at:
            canvas.line((MARGIN, baseline + 7), (MARGIN + wide, baseline + 7), INK, 2)

    def _mark_kind(self, kind: Kind) -> None:
        self._round.mark_kind(kind)
        self._typed = ""
        self._at = Field.WHERE if kind is Kind.NOTHING else self._fields[1]

    def _mark_track(self, name: str) -> None:
        self._round.mark_track(name)
        self._desk.follow_solo(self._round)
        self._go_on_from(Field.TRACK)

    def _mark_passage(self, name: str) -> None:
        self._round.mark_passage(name)
        self._go_on_from(Field.PASSAGE)

    def _go_on_from(self, field: Field) -> None:
        self._at = self._fields[self._fields.index(field) + 1]

    def _point(self, freq_hz: float) -> None:
        self._typed = ""
        self._note = ""
        if not self._has_no_place():
            self._round.mark_freq(pointed_hz(freq_hz))
            self._at = Field.WHERE

    def _has_no_place(self) -> bool:
        """Whether the kind that is marked has no place; says so, and leaves it as it is."""
        kind = self._round.kind
        if kind is None or kind in TONE:
            return False
        self._note = f"'{kind}' has no place to mark. Backspace leads back to what it is."
        return True

    def _go(self, direction: int) -> None:
        self._typed = ""
        index = self._fields.index(self._at) + direction
        self._at = self._fields[max(0, min(len(self._fields) - 1, index))]

    def _step(self, direction: int, *, fine: bool) -> None:
        if self._at is Field.WHERE:
            step = _FINE_STEP_OCTAVES if fine else _STEP_OCTAVES
            start = self._round.freq_hz
            self._point(_FIRST_MARK_HZ if start is None else start * 2.0 ** (direction * step))
        elif self._at is Field.WHAT:
            now = -1 if self._round.kind is None else KINDS.index(self._round.kind)
            self._round.mark_kind(KINDS[max(0, min(len(KINDS) - 1, now + direction))])
        else:
            names, marked, mark = self._choice_at()
            now = -1 if marked is None else names.index(marked)
            at = self._at
            mark(names[max(0, min(len(names) - 1, now + direction))])
            self._at = at

    def _choice_at(self) -> tuple[tuple[str, ...], str | None, Callable[[str], None]]:
        for field, names, marked, mark in self._choices():
            if field is self._at:
                return names, marked, mark
        raise LookupError(self._at)

    def _type(self, character: str) -> None:
        if self._at is Field.WHERE:
            if self._has_no_place():
                return
            self._typed = (self._typed + character)[:7]
            freq_hz = read_hz(self._typed)
            if freq_hz is not None:
                self._round.mark_freq(freq_hz)
            return
        number = int(character) if character.isdigit() else 0
        if self._at is Field.WHAT and 1 <= number <= len(KINDS):
            self._mark_kind(KINDS[number - 1])
        elif self._at is not Field.WHAT:
            names, _, mark = self._choice_at()
            if 1 <= number <= len(names):
                mark(names[number - 1])

    def _take_back(self) -> None:
        if not self._typed:
            self._go(-1)
            if self._round.kind is Kind.NOTHING:
                self._at = Field.WHAT
        self._typed = self._typed[:-1]
        freq_hz = read_hz(self._typed)
        if freq_hz is not None:
            self._round.mark_freq(freq_hz)

    def _answer(self, *, sure: bool) -> Screen | None:
        if self._typed and read_hz(self._typed) is None:
            self._note = f"'{self._typed}' is no frequency from 20 Hz to 20 kHz."
            return self
        if self._desk.sound.heard_s("B") < LEAST_HEARD_S:
            self._note = "Listen to B first: Space."
            return self
        if self._round.missing is not None:
            self._note = self._round.missing
            self._at = self._first_missing()
            return self
        if self._round.wants_another:
            self._round.keep_first()
            self._typed, self._at = "", Field.WHAT
            return self
        return self._desk.answer(self._round, sure=sure)

    def _first_missing(self) -> Field:
        if self._round.kind is None:
            return Field.WHAT
        for field, _, marked, _ in self._choices():
            if marked is None:
                return field
        return Field.WHERE


def _draw_number(canvas: Canvas, x: float, y: float, number: int) -> None:
    canvas.box(Box(x, y, 18, 20), edge=SOFT_INK, radius=4)
    canvas.text(
        x + 9,
        y + 15,
        str(number),
        face=Face.SANS_SEMIBOLD,
        size=TINY,
        colour=SOFT_INK,
        side="centre",
    )
