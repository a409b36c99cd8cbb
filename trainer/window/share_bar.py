"""How much of a long piece of work is done, as a bar and a figure."""

from __future__ import annotations

from trainer.window.canvas import Box, Canvas
from trainer.window.look import INK, SHADE, SOFT_INK


def draw_share(canvas: Canvas, box: Box, share: float) -> None:
    """``share``, 0 to 1, as a bar that fills ``box``, and in per cent to its right."""
    canvas.box(box, fill=SHADE, radius=3)
    if share > 0.0:
        canvas.box(Box(box.x, box.y, box.width * share, box.height), fill=INK, radius=3)
    canvas.text(box.right + 14, box.bottom + 1, f"{100 * share:.0f} %", colour=SOFT_INK)
