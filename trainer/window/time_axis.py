"""The axis beneath what is drawn along the loop: seconds, so that it is not read as a frequency."""

from __future__ import annotations

import math
from typing import Final

from trainer.window.canvas import Box, Canvas, Side
from trainer.window.look import HAIRLINE, SMALL, SOFT_INK, Face

_MOST_LABELS: Final = 12
_STEPS_S: Final = (0.5, 1, 2, 5, 10, 20, 60)


def draw_time_axis(canvas: Canvas, box: Box, start_s: float, seconds: float, words: str) -> None:
    """Ticks under ``box``, whose width is ``seconds`` of the loop from ``start_s`` on; ``words``
    say what stands over it."""
    step_s = next((s for s in _STEPS_S if seconds / s <= _MOST_LABELS), _STEPS_S[-1])
    canvas.line((box.x, box.bottom), (box.right, box.bottom), HAIRLINE)
    for index in range(math.ceil(start_s / step_s), int((start_s + seconds) / step_s) + 1):
        x = box.x + box.width * (index * step_s - start_s) / seconds
        canvas.line((x, box.bottom), (x, box.bottom + 8), SOFT_INK)
        label = f"{index * step_s:g} s"
        side: Side = "left" if x < box.x + 12 else "right" if x > box.right - 12 else "centre"
        canvas.text(x, box.bottom + 26, label, size=SMALL, colour=SOFT_INK, side=side)
    canvas.text(box.x, box.bottom + 54, words, face=Face.SERIF_ITALIC, colour=SOFT_INK)
