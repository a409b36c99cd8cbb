"""What can be heard of a claim: a letter each, the sounding one dark."""

from __future__ import annotations

from collections.abc import Mapping

from trainer.window.canvas import Box, Canvas
from trainer.window.listening import draw_state
from trainer.window.look import INK, LETTER, MARGIN, PAPER, SHADE, SOFT_INK, Face
from trainer.window.sound import Sound


def draw_letters(canvas: Canvas, sound: Sound, beneath: Mapping[str, str], top: float) -> None:
    """Each letter of ``beneath`` in a box, with its words below; a click sounds it."""
    for index, (letter, words) in enumerate(beneath.items()):
        box = Box(MARGIN + index * 200, top, 184, 96)
        sounding = letter == sound.letter
        canvas.box(box, fill=INK if sounding else SHADE)
        ink = PAPER if sounding else INK
        canvas.text(
            box.x + 22, box.y + 64, letter, face=Face.SERIF_SEMIBOLD, size=LETTER, colour=ink
        )
        if sounding:
            draw_state(canvas, box, playing=sound.playhead.playing)
        canvas.text(box.x, box.bottom + 24, words, colour=SOFT_INK)
        canvas.hot(box, lambda letter=letter: sound.choose(letter))  # type: ignore[misc]
