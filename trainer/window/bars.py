"""Bars in dB: what was done (solid) and what is left after the fix (hatched), side by side.

Along the rule for tone and level, third octave by third octave; along the loop for dynamics.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from trainer.window.canvas import Box, Canvas
from trainer.window.look import (
    ACCENT,
    HAIRLINE,
    INK,
    SOFT_INK,
    TINY,
    Face,
)

_SMALLEST_DB = 0.05


def draw_bars(
    canvas: Canvas,
    box: Box,
    done_db: Sequence[float],
    left_db: Sequence[float],
    x_of: Callable[[int], float],
    bar_units: float,
) -> None:
    """Pairs of bars around a line at 0 dB; the scale is the same up and down and says its ends."""
    highest = max(0.0, *done_db, *left_db)
    lowest = min(0.0, *done_db, *left_db)
    # Three dB fill the box at the most, so that what is hardly there looks hardly there.
    per_db = box.height / max(highest - lowest, 3.0)
    zero = box.y + box.height / 2 + (highest + lowest) / 2 * per_db
    canvas.line((box.x, zero), (box.right, zero), HAIRLINE)
    canvas.text(box.x - 8, zero + 5, "0", size=TINY, colour=SOFT_INK, side="right")
    for edge_db in (highest, lowest):
        if abs(edge_db) >= 1.0:
            sign = "+" if edge_db > 0 else "\N{MINUS SIGN}"
            canvas.text(
                box.x - 8,
                zero - edge_db * per_db + 5,
                f"{sign}{abs(edge_db):.0f} dB",
                size=TINY,
                colour=SOFT_INK,
                side="right",
            )
    for index, (done, left) in enumerate(zip(done_db, left_db, strict=True)):
        x = x_of(index)
        for value, start, solid in ((done, x - bar_units, True), (left, x, False)):
            if abs(value) < _SMALLEST_DB:
                continue
            height = abs(value) * per_db
            bar = Box(start, zero - height if value > 0 else zero, bar_units, height)
            if solid:
                canvas.box(bar, fill=INK, radius=0)
            else:
                canvas.hatch(bar, ACCENT)


def draw_legend(canvas: Canvas, right: float, baseline: float, left_words: str) -> None:
    """Which bar is which, ending at ``right``."""
    x = right - canvas.text_width(left_words)
    canvas.text(x, baseline, left_words)
    canvas.hatch(Box(x - 22, baseline - 12, 14, 14), ACCENT)
    done = "what was done"
    x -= 46 + canvas.text_width(done)
    canvas.text(x, baseline, done, face=Face.SANS)
    canvas.box(Box(x - 22, baseline - 12, 14, 14), fill=INK, radius=0)
