"""What to claim: on which loop and track, too much or too little, how much of a fix, where."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from pathlib import Path

import pygame

from exercises.audio_handle import shown_name
from exercises.bands import read_hz
from exercises.errors import NamefirstError
from exercises.loops import WHOLE_MIX
from trainer.window.canvas import Box, Canvas
from trainer.window.clipboard import clipboard_line
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import ALONG, HELP, UP_DOWN, KeyWords, beside, key_words
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
from trainer.window.loop_list import loop_lines
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule, pointed_hz, typed_words
from trainer.window.shortening import shortened

_SIZES_DB = (2.0, 3.0, 4.0, 6.0, 9.0, 12.0)
_QS = (0.7, 1.4, 2.8, 5.6)
_STEP_OCTAVES = 1.0 / 12.0
_TYPED_KEYS = "0123456789.,k"
_ROWS_TOP = 26 * UNIT
_ROW = 45.0


class Row(Enum):
    """What can be chosen; the value is its heading."""

    LOOP = "On which loop?"
    TRACK = "On what of it?"
    WHAT = "What is it?"
    SIZE = "How much of a fix?"
    Q = "How wide, as Q?"
    WHERE = "Where?"


_ROWS = tuple(Row)


class ClaimFormPage(Page):
    """Rows chosen with the arrows; a file that is dropped or pasted comes before the loops."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._at = 0
        self._tracks: dict[str, tuple[str, ...]] = {}
        self._loops = loop_lines(desk.shelf)
        self._file: Path | None = None
        self._chosen = dict.fromkeys(_ROWS, 0) | {Row.SIZE: 3, Row.Q: 1}
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
            key_words("0-9 . k", "where, in Hz"),
            key_words("Ctrl V", "paste: where a file lies"),
            key_words("Enter", "look at it"),
            HELP,
            key_words("Esc", "back"),
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(self.keys, key_words("Backspace", "take back a figure"))

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
            self._step(_ROWS[self._at], 1 if event.key == pygame.K_RIGHT else -1)
        elif event.key == pygame.K_v and event.mod & (pygame.KMOD_CTRL | pygame.KMOD_META):
            self._paste()
        elif event.key == pygame.K_BACKSPACE:
            self._type(self._typed[:-1])
        elif letter and letter in _TYPED_KEYS:
            self._type((self._typed + letter)[:7])
        return self

    def _state(self) -> object:
        return self._at, self._file, tuple(self._chosen.values()), self._freq_hz, self._typed

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
        canvas.text(MARGIN + 250, _ROWS_TOP + 5 * _ROW, hint, colour=SOFT_INK)
        rule = Rule(Box(MARGIN, 536, canvas.width - 2 * MARGIN, HEIGHT))
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
        box = Box(MARGIN + 250, y - 24, 520, 34)
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
        self._file = path
        self._chosen[Row.LOOP] = self._chosen[Row.TRACK] = 0

    def _paste(self) -> None:
        line = clipboard_line().strip("'\"")
        path = Path(line).expanduser()
        if line and path.exists():
            self.open(path)
        else:
            self._desk.say(f"'{line[:60]}' is no file or folder; copy where one lies, then paste.")

    @property
    def _on(self) -> str:
        """What the claim is on: a path, or a loop's name."""
        at = self._chosen[Row.LOOP]
        if self._file is None:
            return self._loops[at].name
        return str(self._file) if at == 0 else self._loops[at - 1].name

    def _tracks_of(self, on: str) -> tuple[str, ...]:
        if on not in self._tracks:
            self._tracks[on] = (WHOLE_MIX, *self._several_tracks(on))
        return self._tracks[on]

    def _several_tracks(self, on: str) -> tuple[str, ...]:
        if self._file is not None and on == str(self._file):
            return ()
        try:
            names = tuple(track.name for track in self._desk.shelf.get(on).tracks)
        except NamefirstError as error:
            self._desk.say(str(error))
            return ()
        return names if len(names) > 1 else ()

    def _choices(self, row: Row) -> Sequence[str]:
        return {
            Row.LOOP: (
                *(() if self._file is None else (shown_name(self._file),)),
                *(line.title for line in self._loops),
            ),
            Row.TRACK: self._tracks_of(self._on),
            Row.WHAT: ("too much: a cut would help", "too little: a boost would help"),
            Row.SIZE: tuple(f"{size:g} dB" for size in _SIZES_DB),
            Row.Q: tuple(f"{q:g}" for q in _QS),
        }[row]

    def _words(self, row: Row) -> str:
        return self._choices(row)[self._chosen[row]]

    def _step(self, row: Row, step: int) -> None:
        if row is Row.WHERE:
            self._point(self._freq_hz * 2.0 ** (step * _STEP_OCTAVES))
            return
        self._chosen[row] = (self._chosen[row] + step) % len(self._choices(row))
        if row is Row.LOOP:
            self._chosen[Row.TRACK] = 0

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
        from exercises.stretch import Asked
        from exercises.with_and_without import PointFilter
        from trainer.window.claim_page import ClaimPage

        if self._typed and read_hz(self._typed) is None:
            self._desk.say(f"'{self._typed}' is no frequency from 20 Hz to 20 kHz.")
            return self
        size_db = _SIZES_DB[self._chosen[Row.SIZE]]
        gain_db = size_db if self._chosen[Row.WHAT] else -size_db
        track = self._words(Row.TRACK)
        asked = Asked(None if track == WHOLE_MIX else track)
        change = PointFilter(self._freq_hz, gain_db, _QS[self._chosen[Row.Q]])
        return ClaimPage(self._desk, self._on, asked, change)
