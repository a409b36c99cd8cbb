"""What to claim: on which loop and track, too much or too little, how much of a fix, where."""

from __future__ import annotations

import os
from collections.abc import Sequence
from enum import Enum
from pathlib import Path

import pygame

from exercises.bands import read_hz
from trainer.window.canvas import Box, Canvas
from trainer.window.claim_material import ClaimMaterial
from trainer.window.clipboard import clipboard_line
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import ALONG, FINE, HELP, UP_DOWN, KeyWords, beside, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    HEADING_STEP,
    INK,
    MARGIN,
    SHADE,
    SOFT_INK,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule, pointed_hz, stepped_hz, typed_words
from trainer.window.shortening import shortened

_SIZES_DB = (2.0, 3.0, 4.0, 6.0, 9.0, 12.0)
_QS = (0.7, 1.4, 2.8, 5.6)
_TYPED_KEYS = "0123456789.,k"
_CLOCK_KEYS = "0123456789.,:-"
_ROWS_TOP = 25 * UNIT
_ROW = 5 * UNIT
_CHOICES_LEFT = MARGIN + 250


class Row(Enum):
    """What can be chosen; the value is its heading."""

    LOOP = "On which loop?"
    TRACK = "On what of it?"
    PART = "On which part?"
    WHAT = "What is it?"
    SIZE = "How much of a fix?"
    Q = "How wide, as Q?"
    WHERE = "Where?"


_ROWS = tuple(Row)
_CHOICES = {
    Row.WHAT: ("too much: a cut would help", "too little: a boost would help"),
    Row.SIZE: tuple(f"{size:g} dB" for size in _SIZES_DB),
    Row.Q: tuple(f"{q:g}" for q in _QS),
}


class ClaimFormPage(Page):
    """Rows chosen with the arrows; a file that is dropped or pasted comes before the loops."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._at = 0
        self._material = ClaimMaterial(desk)
        self._chosen = {Row.WHAT: 0, Row.SIZE: 3, Row.Q: 1}
        self._freq_hz = 200.0
        self._typed = ""
        desk.sound.playhead.stop()

    @property
    def title(self) -> str:
        return "claim"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words(UP_DOWN, "row"),
            key_words(ALONG, "choose"),
            *(
                (key_words("0-9", "from-to, in seconds"),)
                if self.typing
                else (key_words("0-9 . k", "where, in Hz"),)
            ),
            key_words("Ctrl V", "paste: where a file lies"),
            key_words("Enter", "look at it"),
            key_words("F1") if self.typing else HELP,
            key_words("Esc", "back"),
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        hair = (key_words(FINE, "move the mark by a hair"),) if self._row is Row.WHERE else ()
        return beside(self.keys, key_words("Backspace", "take back a figure"), *hair)

    @property
    def typing(self) -> bool:
        """Whether a hyphen is typed: from-to."""
        return self._row is Row.PART

    @property
    def _row(self) -> Row:
        return _ROWS[self._at]

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            return self._desk.leave_drill()
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._begin()
        letter = event.unicode.lower()
        if event.key in (pygame.K_UP, pygame.K_DOWN):
            step = 1 if event.key == pygame.K_DOWN else -1
            self._at = max(0, min(len(_ROWS) - 1, self._at + step))
            self._typed = ""
        elif event.key in (pygame.K_LEFT, pygame.K_RIGHT):
            fine = bool(event.mod & pygame.KMOD_SHIFT)
            self._step(self._row, 1 if event.key == pygame.K_RIGHT else -1, fine=fine)
        elif event.key == pygame.K_v and event.mod & (pygame.KMOD_CTRL | pygame.KMOD_META):
            self._paste()
        elif self.typing and event.key == pygame.K_BACKSPACE:
            self._material.typed_part = self._material.typed_part[:-1]
        elif self.typing and letter and letter in _CLOCK_KEYS:
            self._material.typed_part = (self._material.typed_part + letter)[:17]
        elif event.key == pygame.K_BACKSPACE:
            self._type(self._typed[:-1])
        elif letter and letter in _TYPED_KEYS:
            self._type((self._typed + letter)[:7])
        return self

    def _state(self) -> object:
        chosen = tuple(self._chosen.values())
        return self._at, self._material.state(), chosen, self._freq_hz, self._typed

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Claim", self._desk.record.learner)
        canvas.text(MARGIN, DISPLAY_LINE, "Say it, then prove it.", face=Face.SERIF, size=DISPLAY)
        canvas.text(
            MARGIN,
            DISPLAY_LINE + HEADING_STEP,
            "It is measured first; then you tell it from the same without, blind. "
            "A file of your own: drop it on this window, or paste where it lies.",
            colour=SOFT_INK,
        )
        for index, row in enumerate(_ROWS):
            y = _ROWS_TOP + index * _ROW
            wide = canvas.text(MARGIN, y, row.value, face=Face.SERIF, size=BODY)
            if index == self._at:
                canvas.line((MARGIN, y + 7), (MARGIN + wide, y + 7), INK, 2)
            if row is Row.WHERE:
                break
            self._draw_choice(canvas, row, index, y)
        hint = "type it, point, or step with the arrows"
        if self._typed:
            hint = typed_words(self._typed)
        canvas.text(_CHOICES_LEFT, _ROWS_TOP + (len(_ROWS) - 1) * _ROW, hint, colour=SOFT_INK)
        rule = Rule(Box(MARGIN, 68 * UNIT, canvas.width - 2 * MARGIN, HEIGHT))
        rule.draw(canvas, "too little" if self._chosen[Row.WHAT] else "too much")
        rule.draw_mark(canvas, self._freq_hz)
        around = Box(rule.box.x, rule.box.y - 80, rule.box.width, rule.box.height + 80)
        canvas.hot_at(around, lambda x, _y: self._point(rule.freq_at(x)))
        draw_plate(
            canvas,
            foot_box(canvas, 300),
            "Look at it",
            "Enter",
            main=True,
        )

    def _draw_choice(self, canvas: Canvas, row: Row, index: int, y: float) -> None:
        words = shortened(canvas, self._words(row), 440, size=BODY)
        box = Box(_CHOICES_LEFT, y - 3 * UNIT, 520, 34)
        canvas.box(box, fill=SHADE)
        canvas.text(box.x + box.width / 2, y, words, size=BODY, side="centre")
        for sign, x, step in (
            ("\N{LEFTWARDS ARROW}", box.x + 16, -1),
            ("\N{RIGHTWARDS ARROW}", box.right - 16, 1),
        ):
            canvas.text(x, y, sign, side="centre")
            canvas.hot(
                Box(x - 16, box.y, 32, box.height),
                lambda index=index, row=row, step=step: self._click(index, row, step),  # type: ignore[misc]
            )

    # What is chosen ---------------------------------------------------------------------------

    def open(self, path: Path) -> None:
        """Takes a file or a folder of tracks as what the claim is on: dropped, or pasted."""
        self._material.open(path)

    def _paste(self) -> None:
        line = clipboard_line().strip("'\"")
        path = os.path.expanduser(line)
        if line and os.path.exists(path):
            self.open(Path(path))
        else:
            self._desk.say(f"'{line[:60]}' is no file or folder; copy where one lies, then paste.")

    def _words(self, row: Row) -> str:
        if row in _CHOICES:
            return _CHOICES[row][self._chosen[row]]
        material = self._material
        return {
            Row.LOOP: material.on_words,
            Row.TRACK: material.track_words,
            Row.PART: material.part_words,
        }[row]

    def _step(self, row: Row, step: int, *, fine: bool = False) -> None:
        if row in _CHOICES:
            self._chosen[row] = (self._chosen[row] + step) % len(_CHOICES[row])
        elif row is Row.WHERE:
            self._point(stepped_hz(self._freq_hz, step, fine=fine))
        else:
            material = self._material
            {
                Row.LOOP: material.step_on,
                Row.TRACK: material.step_track,
                Row.PART: material.step_part,
            }[row](step)

    def _click(self, index: int, row: Row, step: int) -> None:
        self._at = index
        self._step(row, step)

    def _point(self, freq_hz: float) -> None:
        self._typed = ""
        self._at = _ROWS.index(Row.WHERE)
        self._freq_hz = pointed_hz(freq_hz)

    def _type(self, typed: str) -> None:
        self._at = _ROWS.index(Row.WHERE)
        self._typed = typed
        freq_hz = read_hz(typed)
        if freq_hz is not None:
            self._freq_hz = freq_hz

    def _begin(self) -> Screen:
        from exercises.stretch import LONGEST_S, SHORTEST_S
        from exercises.with_and_without import PointFilter
        from trainer.window.claim_page import ClaimPage

        if self._typed and read_hz(self._typed) is None:
            self._desk.say(f"'{self._typed}' is no frequency from 20 Hz to 20 kHz.")
            return self
        if not self._material.part_understood:
            self._desk.say(
                f"'{self._material.typed_part}' is no stretch of {SHORTEST_S:.0f} to "
                f"{LONGEST_S:.0f} seconds; try: 0:30-0:38, or 30-38"
            )
            return self
        size_db = _SIZES_DB[self._chosen[Row.SIZE]]
        gain_db = size_db if self._chosen[Row.WHAT] else -size_db
        change = PointFilter(self._freq_hz, gain_db, _QS[self._chosen[Row.Q]])
        return ClaimPage(
            self._desk, self._material.on, self._material.asked, change, back=lambda: self
        )
