"""Moves of tone drawn over the rule as pencil strokes, each with a handle that can be dragged.

A point is a tent as wide as its bandwidth at half its gain; a shelf a ramp that goes on to the end
of the rule. What a curve would say more exactly is for the ear to find out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from exercises.bands import show_hz
from exercises.moves import EqPoint, HighShelf, LowShelf, Move
from exercises.tone_refining import ToneMove
from trainer.open_round import LARGEST_GAIN_DB
from trainer.window.canvas import Box, Canvas
from trainer.window.look import HAIRLINE, INK, SMALL, SOFT_INK, Face
from trainer.window.rule import Rule

HANDLE: Final = 9.0
_REACH: Final = 20.0
_TONE: Final = (EqPoint, LowShelf, HighShelf)
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
        if not isinstance(move, _TONE):
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
                self.box.x - 8, y + 5, _signed(gain_db), size=14, colour=SOFT_INK, side="right"
            )
        canvas.line((self.box.x, zero), (self.box.right, zero), HAIRLINE)
        canvas.text(self.box.x - 8, zero + 5, "0 dB", size=14, colour=SOFT_INK, side="right")
        for place, move in enumerate(moves):
            if isinstance(move, _TONE):
                self._draw_move(canvas, move, place, chosen=place == chosen)

    def _draw_move(self, canvas: Canvas, move: ToneMove, place: int, *, chosen: bool) -> None:
        x, y = self.rule.x_of(move.freq_hz), self.y_of(move.gain_db)
        ink, thick = (INK, 2.5) if chosen else (SOFT_INK, 1.5)
        canvas.stroke(self._outline(move, x, y), ink, thick)
        grip = Box(x - HANDLE / 2, y - HANDLE / 2, HANDLE, HANDLE)
        canvas.box(grip, fill=ink if chosen else None, edge=ink, edge_width=1.5, radius=1)
        over = move.gain_db >= 0.0
        words = f"{place + 1}  {show_hz(move.freq_hz)}" if chosen else str(place + 1)
        canvas.text(
            min(max(x, self.box.x + 40), self.box.right - 40),
            y - 12 if over else y + 24,
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

    def _outline(self, move: ToneMove, x: float, y: float) -> list[tuple[float, float]]:
        zero = self.y_of(0.0)
        octave = self.rule.x_of(2000.0) - self.rule.x_of(1000.0)
        if isinstance(move, EqPoint):
            # Bandwidth in octaves of a bell's half gain (R. Bristow-Johnson, Audio EQ Cookbook).
            away = 2.0 * math.asinh(0.5 / move.q) / math.log(2.0) * octave
            left, right = max(x - away, self.box.x), min(x + away, self.box.right)
            return [(left, zero), (x, y), (right, zero)]
        side = -1.0 if isinstance(move, LowShelf) else 1.0
        end = self.box.x if side < 0.0 else self.box.right
        return [(x - side * octave, zero), (x, y), (end, y)]


def _signed(gain_db: float) -> str:
    return f"{'+' if gain_db > 0 else chr(0x2212)}{abs(gain_db):.0f}"
