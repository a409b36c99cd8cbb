"""The look: paper, ink, one accent; a serif for what is said, a sans for what is read off.

A logbook and a steel rule. Sizes are in *units*, of which a window of 1280x800 pixels has
1280 by 800; a larger or smaller window scales them all alike (see ``Canvas``).
"""

from __future__ import annotations

import importlib.util
from enum import Enum
from functools import cache
from pathlib import Path
from typing import Final

Colour = tuple[int, int, int]

PAPER: Final[Colour] = (0xF6, 0xF3, 0xEB)
SHADE: Final[Colour] = (0xEB, 0xE7, 0xDA)
STEEL: Final[Colour] = (0xE2, 0xE4, 0xE4)
INK: Final[Colour] = (0x22, 0x24, 0x28)
SOFT_INK: Final[Colour] = (0x66, 0x64, 0x5D)
STEEL_INK: Final[Colour] = (0x58, 0x5A, 0x5C)
HAIRLINE: Final[Colour] = (0xCE, 0xC8, 0xBC)
WAVE: Final[Colour] = (0x9A, 0x97, 0x8E)
ACCENT: Final[Colour] = (0xA6, 0x3D, 0x25)

UNIT: Final = 8
"""What distances are multiples of; boxes to choose from stand one apart."""
MARGIN: Final = 7 * UNIT
PLATE_GAP: Final = 2 * UNIT
FIRST_LINE: Final = 12 * UNIT
"""Baseline of a title under the head line; one in ``DISPLAY`` stands on ``DISPLAY_LINE``."""
DISPLAY_LINE: Final = 16 * UNIT
TITLE_STEP: Final = 5 * UNIT
"""From a title's baseline to that of what it is the title of."""
HEADING_STEP: Final = 4 * UNIT
"""The same from a heading."""
FOOT_PLATES: Final = 19 * UNIT
"""How far over the lower edge the plates begin that stand over the keys."""
FOOT_HIGH: Final = 6 * UNIT
VOLUME_FOOT: Final = 15 * UNIT
"""How far over the lower edge the volume's baseline lies: in line with the words on the plates."""

LETTER: Final = 42
DISPLAY: Final = 34
TITLE: Final = 27
HEADING: Final = 23
BODY: Final = 19
SMALL: Final = 16
TINY: Final = 14
"""The one scale of type, in units: each size about a fifth larger than the one below."""

READ_PAIRS: Final = (
    (INK, PAPER),
    (INK, SHADE),
    (INK, STEEL),
    (SOFT_INK, PAPER),
    (SOFT_INK, SHADE),
    (STEEL_INK, STEEL),
    (PAPER, INK),
    (ACCENT, PAPER),
)
"""Every pair of text and ground that is drawn; each is held to WCAG 2.2 AA, 4.5:1."""


class Face(Enum):
    """A cut of type: the package that ships it (Open Font License) and its file."""

    SERIF = ("font_source_serif_pro", "SourceSerifPro-Regular.ttf")
    SERIF_SEMIBOLD = ("font_source_serif_pro", "SourceSerifPro-Semibold.ttf")
    SERIF_ITALIC = ("font_source_serif_pro", "SourceSerifPro-It.ttf")
    SANS = ("font_source_sans_pro", "SourceSansPro-Regular.ttf")
    SANS_SEMIBOLD = ("font_source_sans_pro", "SourceSansPro-Semibold.ttf")


@cache
def font_file(face: Face) -> Path:
    """Where the face's file lies. The package is found, not imported: that would cost start-up."""
    package, file = face.value
    spec = importlib.util.find_spec(package)
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError(f"the font package {package} is not installed")
    return Path(spec.origin).parent / "files" / file


def contrast(one: Colour, other: Colour) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2, relative luminance)."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: Colour) -> float:
    def linear(value: int) -> float:
        share = value / 255.0
        return share / 12.92 if share <= 0.04045 else float(((share + 0.055) / 1.055) ** 2.4)

    red, green, blue = (linear(value) for value in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
