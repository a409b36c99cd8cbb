"""A picture of shapes as PNG, drawn with the window's own parts; no window is opened."""

from __future__ import annotations

import io
from collections.abc import Sequence

import pygame

from trainer.window.canvas import Box, Canvas
from trainer.window.picture_shapes import HIGH, WIDE, Block, Shape, Stroke, Words


def picture_png(shapes: Sequence[Shape], scale: int = 2) -> bytes:
    """The picture as the bytes of a PNG file, ``scale`` pixels to a unit."""
    pygame.font.init()
    canvas = Canvas(pygame.Surface((WIDE * scale, HIGH * scale)))
    canvas.clear()
    for shape in shapes:
        _draw(canvas, shape)
    out = io.BytesIO()
    pygame.image.save(canvas.surface, out, "picture.png")
    return out.getvalue()


def _draw(canvas: Canvas, shape: Shape) -> None:
    if isinstance(shape, Words):
        canvas.text(
            shape.x,
            shape.baseline,
            shape.text,
            face=shape.face,
            size=shape.size,
            colour=shape.colour,
            side=shape.side,
        )
    elif isinstance(shape, Stroke):
        canvas.line((shape.x0, shape.y0), (shape.x1, shape.y1), shape.colour, shape.thick)
    elif isinstance(shape, Block):
        box = Box(shape.x, shape.y, shape.width, shape.height)
        if shape.hatch is not None:
            canvas.hatch(box, shape.hatch)
        else:
            canvas.box(box, fill=shape.fill, edge=shape.edge, radius=0)
