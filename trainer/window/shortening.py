"""Words cut short where they have no room, with an ellipsis that says so."""

from __future__ import annotations

from trainer.window.canvas import Canvas
from trainer.window.look import SMALL, Face


def shortened(
    canvas: Canvas, words: str, width: float, face: Face = Face.SANS, size: float = SMALL
) -> str:
    """``words``, cut short with an ellipsis where they are wider than ``width`` units."""
    if canvas.text_width(words, face, size) <= width:
        return words
    end = "\N{HORIZONTAL ELLIPSIS}"
    while words and canvas.text_width(words + end, face, size) > width:
        words = words[:-1]
    return words.rstrip() + end
