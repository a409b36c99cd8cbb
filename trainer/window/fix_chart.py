"""What a fix does to the tone, drawn over the rule: its response in ink, hatched down to 0 dB.

Each move of tone has a handle at its frequency and gain, which can be dragged.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises.bands import show_hz
from exercises.moves import Move, ToneMove
from exercises.tone_refining import curve_db
from trainer.own_moves import LARGEST_GAIN_DB
from trainer.window.canvas import Box, Canvas
from trainer.window.look import HAIRLINE, INK, PAPER, SMALL, SOFT_INK, TINY, UNIT, Face
from trainer.window.rule import Rule

HANDLE: Final = 9.0
_REACH: Final = 20.0
_STEP: Final = 3.0
_HATCHED: Final = 3
_NEAR_EDGE_DB: Final = 15.0
_NEAR_SIDE: Final = 5.0 * UNIT
_MARKED_DB: Final = (12.0, 6.0, -6.0, -12.0)


@dataclass(frozen=True, slots=True)
class FixChart:
    """A field of gain over the ``rule``'s frequencies, 0 dB in its middle."""

    box: Box
    rule: Rule

    def y_of(self, gain_db: float) -> float:
        """Where a gain lies, in units."""
        return self.box.y + self.box.height * (0.5 - 0.5 * gain_db / LARGEST_GAIN_DB)

    def gain_at(self, y: float) -> float:
        """The gain in dB at a place, in half decibels, held within what a move may have."""
        share = 1.0 - 2.0 * (y - self.box.y) / self.box.height
        gain_db = round(2.0 * LARGEST_GAIN_DB * share) / 2.0
        return max(-LARGEST_GAIN_DB, min(LARGEST_GAIN_DB, gain_db))

    def handle_of(self, move: Move) -> tuple[float, float] | None:
        """Where a move of tone is taken hold of; None for others, which have no frequency."""
        if not isinstance(move, ToneMove):
            return None
        return self.rule.x_of(move.freq_hz), self.y_of(move.gain_db)

    def move_near(self, moves: Sequence[Move], x: float, y: float) -> int | None:
        """The move whose handle is nearest to a point, if one is near."""
        found: list[tuple[float, int]] = []
        for place, move in enumerate(moves):
            handle = self.handle_of(move)
            if handle is not None:
                away = math.dist(handle, (x, y))
                found.append((away, place))
        away, place = min(found, default=(math.inf, 0))
        return place if away <= _REACH else None

    def draw(self, canvas: Canvas, moves: Sequence[Move], chosen: int | None) -> None:
        """The field, and the moves over it, the chosen one in full ink."""
        zero = self.y_of(0.0)
        for gain_db in _MARKED_DB:
            y = self.y_of(gain_db)
            canvas.line((self.box.x, y), (self.box.x + 6, y), SOFT_INK)
            canvas.text(
                self.box.x - UNIT, y + 5, _signed(gain_db), size=TINY, colour=SOFT_INK, side="right"
            )
        canvas.line((self.box.x, zero), (self.box.right, zero), HAIRLINE)
        canvas.text(self.box.x - UNIT, zero + 5, "0 dB", size=TINY, colour=SOFT_INK, side="right")
        tone = [move for move in moves if isinstance(move, ToneMove)]
        if tone:
            self._draw_response(canvas, tone)
        for place, move in enumerate(moves):
            if isinstance(move, ToneMove):
                self._draw_handle(canvas, move, place, chosen=place == chosen)

    def _draw_response(self, canvas: Canvas, tone: Sequence[ToneMove]) -> None:
        """All moves of tone together, held within the field."""
        zero, count = self.y_of(0.0), round(self.box.width / _STEP)
        xs = [self.box.x + _STEP * at for at in range(count + 1)]
        gains_db = curve_db(tone, np.array([self.rule.freq_at(x) for x in xs]))
        held_db = np.clip(gains_db, -LARGEST_GAIN_DB, LARGEST_GAIN_DB).tolist()
        points = [(x, self.y_of(gain_db)) for x, gain_db in zip(xs, held_db, strict=True)]
        for x, y in points[::_HATCHED]:
            if abs(y - zero) > 1.0:
                canvas.line((x, zero), (x, y), HAIRLINE)
        canvas.stroke(points, INK, 2.0)

    def _draw_handle(self, canvas: Canvas, move: ToneMove, place: int, *, chosen: bool) -> None:
        x, y = self.rule.x_of(move.freq_hz), self.y_of(move.gain_db)
        ink = INK if chosen else SOFT_INK
        grip = Box(x - HANDLE / 2, y - HANDLE / 2, HANDLE, HANDLE)
        canvas.box(grip, fill=ink if chosen else PAPER, edge=ink, edge_width=1.5, radius=1)
        words = f"{place + 1}: {show_hz(move.freq_hz)}" if chosen else str(place + 1)
        above = move.gain_db >= 0.0
        if abs(move.gain_db) > _NEAR_EDGE_DB:  # there is no room beyond it
            above = not above
        canvas.text(
            min(max(x, self.box.x + _NEAR_SIDE), self.box.right - _NEAR_SIDE),
            y - 12 if above else y + 24,
            words,
            face=Face.SANS_SEMIBOLD if chosen else Face.SANS,
            size=SMALL,
            colour=ink,
            side="centre",
        )
        if chosen:
            top = self.rule.box.y
            canvas.line((x, top - 16), (x, top - 4), INK, 2)
            canvas.polygon([(x - 5, top - 10), (x + 5, top - 10), (x, top - 1)], INK)


def _signed(gain_db: float) -> str:
    return f"{'+' if gain_db > 0 else chr(0x2212)}{abs(gain_db):.0f}"
