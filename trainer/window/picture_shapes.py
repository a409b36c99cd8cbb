"""A flat picture as plain data, and the same picture as SVG (W3C, Scalable Vector Graphics 1.1).

Places and sizes are in units, x to the right and y down, ``WIDE`` by ``HIGH`` of them. Text is
escaped; nothing in a picture is loaded from anywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias
from xml.sax.saxutils import escape, quoteattr

from trainer.window.look import INK, PAPER, Colour, Face

WIDE, HIGH = 1280, 800
Side = Literal["left", "centre", "right"]
_FAMILIES: Final = {
    Face.SERIF: "'Source Serif Pro', Georgia, serif",
    Face.SERIF_SEMIBOLD: "'Source Serif Pro', Georgia, serif",
    Face.SERIF_ITALIC: "'Source Serif Pro', Georgia, serif",
    Face.SANS: "'Source Sans Pro', Arial, sans-serif",
    Face.SANS_SEMIBOLD: "'Source Sans Pro', Arial, sans-serif",
}
_ANCHORS: Final = {"left": "start", "centre": "middle", "right": "end"}


@dataclass(frozen=True, slots=True)
class Words:
    """Text on a baseline."""

    x: float
    baseline: float
    text: str
    size: float = 16.0
    face: Face = Face.SANS
    colour: Colour = INK
    side: Side = "left"


@dataclass(frozen=True, slots=True)
class Stroke:
    """An upright or level line."""

    x0: float
    y0: float
    x1: float
    y1: float
    colour: Colour = INK
    thick: float = 1.0


@dataclass(frozen=True, slots=True)
class Block:
    """A rectangle: filled, edged, or hatched in a colour."""

    x: float
    y: float
    width: float
    height: float
    fill: Colour | None = None
    edge: Colour | None = None
    hatch: Colour | None = None


Shape: TypeAlias = Words | Stroke | Block


def picture_svg(title: str, shapes: Sequence[Shape]) -> str:
    """The picture as one SVG document; ``title`` is what it is called for those who cannot see."""
    hatches = sorted({s.hatch for s in shapes if isinstance(s, Block) and s.hatch is not None})
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDE}" height="{HIGH}"'
        f' viewBox="0 0 {WIDE} {HIGH}" role="img">',
        f"<title>{escape(title)}</title>",
        "<defs>",
        *(_hatch(colour) for colour in hatches),
        "</defs>",
        f'<rect width="{WIDE}" height="{HIGH}" fill="{_hex(PAPER)}"/>',
        *map(_element, shapes),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def _element(shape: Shape) -> str:
    if isinstance(shape, Words):
        style = "italic" if shape.face is Face.SERIF_ITALIC else "normal"
        weight = 600 if shape.face in (Face.SERIF_SEMIBOLD, Face.SANS_SEMIBOLD) else 400
        return (
            f'<text x="{shape.x:.2f}" y="{shape.baseline:.2f}" font-size="{shape.size:g}"'
            f' font-family={quoteattr(_FAMILIES[shape.face])} font-style="{style}"'
            f' font-weight="{weight}" fill="{_hex(shape.colour)}"'
            f' text-anchor="{_ANCHORS[shape.side]}">{escape(shape.text)}</text>'
        )
    if isinstance(shape, Stroke):
        return (
            f'<line x1="{shape.x0:.2f}" y1="{shape.y0:.2f}" x2="{shape.x1:.2f}"'
            f' y2="{shape.y1:.2f}" stroke="{_hex(shape.colour)}" stroke-width="{shape.thick:g}"/>'
        )
    fill = "none" if shape.fill is None else _hex(shape.fill)
    edge = shape.edge
    if shape.hatch is not None:
        fill, edge = f"url(#{_hatch_name(shape.hatch)})", shape.hatch
    stroke = "" if edge is None else f' stroke="{_hex(edge)}"'
    return (
        f'<rect x="{shape.x:.2f}" y="{shape.y:.2f}" width="{shape.width:.2f}"'
        f' height="{shape.height:.2f}" fill="{fill}"{stroke}/>'
    )


def _hatch(colour: Colour) -> str:
    return (
        f'<pattern id="{_hatch_name(colour)}" width="5" height="5" patternUnits="userSpaceOnUse"'
        f' patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="5"'
        f' stroke="{_hex(colour)}" stroke-width="2"/></pattern>'
    )


def _hatch_name(colour: Colour) -> str:
    return f"hatch{_hex(colour)[1:]}"


def _hex(colour: Colour) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)
