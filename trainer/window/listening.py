"""The upper part that Question and Review share: what is heard, the plates A and B, the strip."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from exercises.loops import Passage
from trainer.window.canvas import Box, Canvas
from trainer.window.look import (
    FIRST_LINE,
    INK,
    LETTER,
    MARGIN,
    PAPER,
    PLATE_GAP,
    SHADE,
    SOFT_INK,
    TITLE,
    UNIT,
    Face,
)
from trainer.window.shortening import shortened
from trainer.window.sound import Sound
from trainer.window.wave import Wave

BENEATH: Final = 34 * UNIT
"""The first baseline under the plates."""
ONWARD_TOP: Final = 28 * UNIT
ONWARD_HIGH: Final = 7 * UNIT
"""The plate that leads on, at the right under the strip."""
_SIGN: Final = 11.0


@dataclass(frozen=True, slots=True)
class Plate:
    """One thing to listen to: its source's name, the letter on it, words on and under it."""

    source: str
    letter: str
    beside: str
    beneath: str
    width: float


def draw_listening(
    canvas: Canvas,
    title: str,
    plates: Sequence[Plate],
    sound: Sound,
    choose: Callable[[str], None],
    wave: Wave,
    looped: Passage | None = None,
) -> None:
    """Title, plates in a row (the sounding one dark) and the strip to their right."""
    room = canvas.width - 2 * MARGIN
    title = shortened(canvas, title, room, Face.SERIF, TITLE)
    canvas.text(MARGIN, FIRST_LINE, title, face=Face.SERIF, size=TITLE)
    x = float(MARGIN)
    for plate in plates:
        box = Box(x, 126, plate.width, 74)
        sounding = plate.source == sound.letter
        canvas.box(box, fill=INK if sounding else SHADE)
        ink = PAPER if sounding else INK
        canvas.text(x + 19, 176, plate.letter, face=Face.SERIF_SEMIBOLD, size=LETTER, colour=ink)
        if plate.beside:
            canvas.paragraph(
                x + 62, 154, plate.beside, width=plate.width - 70, colour=ink, leading=1.3
            )
        if sounding:
            draw_state(canvas, box, playing=sound.playhead.playing)
        canvas.text(x, 27 * UNIT + 4, plate.beneath, colour=SOFT_INK)
        canvas.hot(box, lambda source=plate.source: choose(source))  # type: ignore[misc]
        x += plate.width + PLATE_GAP
    wave.draw(canvas, Box(x + 32, 108, canvas.width - MARGIN - x - 32, 92), looped)


def draw_state(canvas: Canvas, plate: Box, *, playing: bool) -> None:
    """The sign for play or stop (IEC 60417-5107 and 5110, from memory), on the dark ``plate``."""
    x, y = plate.right - 22, plate.bottom - 19
    if playing:
        corners = [(x, y), (x + _SIGN, y + _SIGN / 2.0), (x, y + _SIGN)]
        canvas.polygon(corners, PAPER)
    else:
        canvas.box(Box(x, y, _SIGN, _SIGN), fill=PAPER, radius=0.0)
