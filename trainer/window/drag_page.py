"""Dragging a mark: it is moved along the rule, and "too much here" is heard as it moves."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

import pygame

from exercises.bands import band_of, show_hz
from exercises.errors import NamefirstError
from exercises.kinds import TONE, Kind
from exercises.samples import Samples
from trainer.backstage import Backstage
from trainer.study_texts import text_of
from trainer.subject import Subject, subject_of
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_waiting
from trainer.window.keys import ALONG, FINE, HELP, UP_DOWN, VOLUME, KeyWords, beside, key_words
from trainer.window.listening import Plate, draw_listening
from trainer.window.look import (
    BODY,
    HAIRLINE,
    HEADING_STEP,
    INK,
    MARGIN,
    SOFT_INK,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule, pointed_hz, stepped_hz
from trainer.window.wave import Wave

if TYPE_CHECKING:
    from trainer.study_sounds import Mark, Pencil

KINDS: Final = (Kind.TOO_MUCH, Kind.TOO_LITTLE)
SIZES_DB: Final = (3.0, 6.0, 9.0, 12.0)
LEAST_PAUSE_S: Final = 0.06
"""Between one rendering and the next, as the mark moves: three times a cross-fade."""
_FIRST_HZ: Final = 1000.0


@dataclass(frozen=True, slots=True)
class _Made:
    """What was made: for ``wanted``, on loop ``number``; ``a`` is what it is heard against."""

    number: int
    pencil: Pencil
    wanted: Mark
    a: Samples
    b: Samples


class DragPage(Page):
    """A, and B with a problem where the mark is. Only the latest place is ever made."""

    def __init__(self, desk: Desk, subject: Subject) -> None:
        self._desk = desk
        self._subject = subject
        self._kind = subject.kind if subject.kind in TONE else Kind.TOO_MUCH
        self._freq_hz = pointed_hz(subject.freq_hz or _FIRST_HZ)
        self._size = 1
        self._number = 0
        self._made: _Made | None = None
        self._backstage: Backstage[_Made] = Backstage()
        self._begun_s = 0.0
        self._wave: Wave | None = None
        self._trouble = ""
        desk.sound.playhead.stop()

    @property
    def title(self) -> str:
        return "drag a mark"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("Space"),
            key_words("Tab"),
            key_words("1-2", "too much, too little"),
            key_words(ALONG, "move the mark"),
            key_words(UP_DOWN, "size"),
            key_words("N", "another loop"),
            VOLUME,
            HELP,
            key_words("Esc", "back"),
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(
            self.keys,
            key_words("A"),
            key_words("B"),
            key_words(FINE, "move the mark by a hair"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        key = event.key
        if key == pygame.K_ESCAPE:
            return self._leave()
        if key in (pygame.K_LEFT, pygame.K_RIGHT):
            fine = bool(event.mod & pygame.KMOD_SHIFT)
            direction = 1 if key == pygame.K_RIGHT else -1
            self._point(stepped_hz(self._freq_hz, direction, fine=fine))
        elif key in (pygame.K_UP, pygame.K_DOWN):
            self._size += 1 if key == pygame.K_UP else -1
            self._size = max(0, min(len(SIZES_DB) - 1, self._size))
        elif event.unicode in ("1", "2"):
            self._kind = KINDS[int(event.unicode) - 1]
        elif key == pygame.K_n:
            self._number += 1
        elif event.unicode.lower() in ("a", "b"):
            self._hear(event.unicode.upper())
        elif key == pygame.K_TAB:
            self._hear("A" if self._desk.sound.letter == "B" else "B")
        return self

    def tick(self) -> Screen | None:
        if self._backstage.ready:
            try:
                self._take(self._backstage.take())
            except NamefirstError as error:
                self._trouble = str(error)
        if not self._backstage.begun and not self._trouble:
            self._make_what_is_wanted()
        return self

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        if self._wave is None:
            return []
        return self._wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return (
            self._kind,
            self._freq_hz,
            self._size,
            self._number,
            self._made and self._made.number,
            self._trouble,
            playhead.current,
            playhead.playing,
            playhead.volume_db,
        )

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Study  \N{MIDDLE DOT}  drag a mark", "nothing is scored")
        words = f"{self._kind}, {SIZES_DB[self._size]:.0f} dB"
        if self._made is None or self._wave is None or self._made.number != self._number:
            draw_waiting(canvas, self._trouble)
        else:
            draw_listening(
                canvas,
                self._made.pencil.loop.title,
                (
                    Plate("A", "A", "", "as it should be", 136),
                    Plate("B", "B", "", words, 150),
                ),
                self._desk.sound,
                self._hear,
                self._wave,
            )
        self._draw_kinds(canvas, 31 * UNIT)
        self._draw_rule(canvas, 55 * UNIT)
        subject = subject_of(self._kind, self._freq_hz)
        if subject is not None:
            text = text_of(subject)
            canvas.text(MARGIN, 71 * UNIT, ", ".join(text.words), face=Face.SERIF_ITALIC, size=BODY)
            canvas.paragraph(
                MARGIN,
                71 * UNIT + HEADING_STEP,
                f"{text.listen} {text.apart}",
                width=canvas.width - 2 * MARGIN,
                face=Face.SERIF,
                size=BODY,
            )
        self._desk.sound.draw_volume(canvas)

    def _draw_kinds(self, canvas: Canvas, top: float) -> None:
        x = float(MARGIN)
        for number, kind in enumerate(KINDS, start=1):
            words, chosen = f"{number}  {kind}", kind is self._kind
            x = _draw_choice(canvas, x, top, words, chosen, partial(self._choose_kind, kind))
        x += 3 * UNIT
        for index, size_db in enumerate(SIZES_DB):
            words, chosen = f"{size_db:.0f} dB", index == self._size
            x = _draw_choice(canvas, x, top, words, chosen, partial(self._choose_size, index))

    def _draw_rule(self, canvas: Canvas, top: float) -> None:
        rule = Rule(Box(MARGIN, top, canvas.width - 2 * MARGIN, HEIGHT))
        rule.draw(canvas, self._kind.value)
        rule.draw_mark(canvas, self._freq_hz)
        hint = f"{show_hz(self._freq_hz)}, in the {band_of(self._freq_hz).name} band"
        canvas.text(
            MARGIN, top - 14 * UNIT, f"Drag the mark while it plays. {hint}.", colour=SOFT_INK
        )
        around = Box(rule.box.x, rule.box.y - 70, rule.box.width, rule.box.height + 70)
        canvas.hot_at(around, lambda x, _y: self._point(rule.freq_at(x)))

    def _choose_kind(self, kind: Kind) -> None:
        self._kind = kind

    def _choose_size(self, index: int) -> None:
        self._size = index

    def _point(self, freq_hz: float) -> None:
        self._freq_hz = pointed_hz(freq_hz)

    def _hear(self, letter: str) -> None:
        if self._made is not None and self._made.number == self._number:
            self._desk.sound.choose(letter)

    def _make_what_is_wanted(self) -> None:
        """Begins to make what the page asks for now, if it is not what sounds."""
        from trainer.study_sounds import Mark

        wanted = Mark(self._kind, self._freq_hz, SIZES_DB[self._size])
        made, number, now_s = self._made, self._number, time.monotonic()
        kept = made.pencil if made is not None and made.number == number else None
        soon = now_s - self._begun_s < LEAST_PAUSE_S
        if made is not None and kept is not None and (soon or made.wanted == wanted):
            return
        self._begun_s = now_s
        maker = self._desk.study_maker

        def make() -> _Made:
            pencil = kept or maker().pencil(number)
            b = pencil.b(wanted)
            return _Made(number, pencil, wanted, pencil.a, b)

        self._backstage.begin(make)

    def _take(self, made: _Made) -> None:
        """Puts what was made under the playhead; the mark may have moved on since."""
        before, self._made = self._made, made
        sound = self._desk.sound
        if before is None or before.number != made.number:
            sound.take({"B": made.b, "A": made.a})
            sound.choose("B")
            self._wave = Wave(made.a, made.pencil.loop.passages)
            return
        if made.a is not before.a:
            sound.replace("A", made.a)
        sound.replace("B", made.b)

    def _leave(self) -> Screen:
        from trainer.window.study_page import StudyPage

        self._backstage.close()
        self._desk.sound.playhead.stop()
        return StudyPage(self._desk, self._subject)


def _draw_choice(
    canvas: Canvas, x: float, top: float, words: str, chosen: bool, choose: Callable[[], None]
) -> float:
    """A box to be clicked; gives where the next one begins."""
    face = Face.SANS_SEMIBOLD if chosen else Face.SANS
    box = Box(x, top, canvas.text_width(words, Face.SANS_SEMIBOLD, BODY) + 36, 40)
    canvas.box(box, edge=INK if chosen else HAIRLINE, edge_width=2.5 if chosen else 1)
    canvas.text(x + 18, top + 26, words, face=face, size=BODY)
    canvas.hot(box, choose)
    return box.right + UNIT
