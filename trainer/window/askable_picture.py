"""What can be heard on a loop, along the rule: the smallest size of each band's problem, in dB.

Solid bars for too much, hatched ones for too little, each with its figure; words where none is.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from exercises.bands import BANDS
from trainer.loop_words import size_words
from trainer.window.canvas import Box, Canvas
from trainer.window.look import HAIRLINE, INK, SMALL, SOFT_INK, Face
from trainer.window.rule import Rule

_BAR: Final = 30.0
_GAP: Final = 8.0
_LARGEST_DB: Final = 12.0
_FIGURE: Final = 14.0
_LEGEND: Final = ("too much", "too little")


def draw_askable(
    canvas: Canvas,
    rule: Rule,
    height: float,
    much_db: Sequence[float | None],
    little_db: Sequence[float | None],
) -> None:
    """Bars up to ``height`` that stand on ``rule``, a pair a band; None cannot be heard."""
    ground = rule.box.y - 6
    canvas.line((rule.box.x, ground), (rule.box.right, ground), HAIRLINE)
    for band, much, little in zip(BANDS, much_db, little_db, strict=True):
        middle = rule.x_of(band.mid_hz)
        if much is None and little is None:
            for line, words in enumerate(("not to be", "heard here")):
                canvas.text(
                    middle,
                    ground - 28 + line * 18,
                    words,
                    face=Face.SERIF_ITALIC,
                    colour=SOFT_INK,
                    side="centre",
                )
            continue
        for size_db, x, solid in (
            (much, middle - _GAP / 2 - _BAR, True),
            (little, middle + _GAP / 2, False),
        ):
            tall = 0.0 if size_db is None else (height - 20) * size_db / _LARGEST_DB
            if solid and tall:
                canvas.box(Box(x, ground - tall, _BAR, tall), fill=INK, radius=0)
            elif tall:
                canvas.hatch(Box(x, ground - tall, _BAR, tall), INK)
            canvas.text(
                x + _BAR / 2,
                ground - tall - 6,
                size_words(size_db),
                size=_FIGURE,
                colour=SOFT_INK if size_db is None else INK,
                side="centre",
            )


def draw_askable_legend(canvas: Canvas, right: float, baseline: float) -> None:
    """Which bar is which, ending at ``right``."""
    x = right
    for words in reversed(_LEGEND):
        x -= canvas.text_width(words, size=SMALL)
        canvas.text(x, baseline, words, size=SMALL)
        mark = Box(x - 22, baseline - 12, 14, 14)
        if words == _LEGEND[0]:
            canvas.box(mark, fill=INK, radius=0)
        else:
            canvas.hatch(mark, INK)
        x -= 44
