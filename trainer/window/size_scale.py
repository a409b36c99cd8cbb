"""The scale on which finest sizes are drawn: logarithmic in dB, finer is higher."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from trainer.ability import Estimate
from trainer.progress import PathPoint
from trainer.window.canvas import Box, Canvas
from trainer.window.look import (
    HAIRLINE,
    INK,
    PAPER,
    SOFT_INK,
    TINY,
    Colour,
)

FINEST_DB: Final = 0.5
COARSEST_DB: Final = 20.0
_MARKS_DB: Final = (1, 2, 4, 8, 16)


@dataclass(frozen=True, slots=True)
class SizeScale:
    """Where a size lies between the top and the bottom of ``box``; beyond it, at its edge."""

    box: Box

    def y_of(self, size_db: float) -> float:
        """The height at which a size lies, in units."""
        share = math.log(size_db / FINEST_DB) / math.log(COARSEST_DB / FINEST_DB)
        return self.box.y + self.box.height * min(1.0, max(0.0, share))

    def draw(self, canvas: Canvas) -> None:
        """Hairlines at whole sizes, named at the left."""
        for size_db in _MARKS_DB:
            y = self.y_of(size_db)
            canvas.line((self.box.x, y), (self.box.right, y), HAIRLINE)
            words = f"{size_db} dB"
            canvas.text(self.box.x - 6, y + 5, words, size=TINY, colour=SOFT_INK, side="right")

    def draw_interval(self, canvas: Canvas, x: float, finest: Estimate, *, solid: bool) -> None:
        """A bar for the interval, solid or hatched, and a cross line for the estimate."""
        top, bottom = self.y_of(finest.low_db), self.y_of(finest.high_db)
        bar = Box(x - 5, top, 10, max(2.0, bottom - top))
        if solid:
            canvas.box(bar, fill=INK, radius=0)
        else:
            canvas.hatch(bar, INK)
        y = self.y_of(finest.size_db)
        canvas.box(Box(x - 5, y - 3, 10, 6), fill=PAPER, radius=0)
        canvas.line((x - 8, y), (x + 8, y), INK, 3)

    def draw_path(
        self,
        canvas: Canvas,
        path: Sequence[PathPoint],
        left: float,
        right: float,
        *,
        solid: bool,
        from_day: int,
        until_day: int,
    ) -> None:
        """A line through the weeks, whole or broken; the days (ordinals) lie at the sides."""
        span = max(1, until_day - from_day)
        points = [
            (
                left + (right - left) * (point.day.toordinal() - from_day) / span,
                self.y_of(point.finest.size_db),
            )
            for point in path
        ]
        if len(points) > 1:
            if solid:
                canvas.stroke(points, INK)
            else:
                _broken(canvas, points, SOFT_INK)


def _broken(canvas: Canvas, points: Sequence[tuple[float, float]], colour: Colour) -> None:
    """A line of dashes of even length through ``points``."""
    dash, at, drawing = 5.0, 0.0, True
    piece = [points[0]]
    for (x0, y0), (x1, y1) in pairwise(points):
        length = math.hypot(x1 - x0, y1 - y0)
        gone = 0.0
        while length - gone > dash - at:
            gone += dash - at
            corner = (x0 + (x1 - x0) * gone / length, y0 + (y1 - y0) * gone / length)
            if drawing:
                canvas.stroke([*piece, corner], colour)
            piece, at, drawing = [corner], 0.0, not drawing
        at += length - gone
        piece.append((x1, y1))
    if drawing and len(piece) > 1:
        canvas.stroke(piece, colour)
