"""Which-for-which tables: what was there down the side, what was named along the top.

The darker a cell, the larger its share of its line; the number is written on it all the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from exercises.bands import BANDS
from trainer.progress import KINDS, Progress
from trainer.progress_words import share_words
from trainer.statistics import share_of
from trainer.window.canvas import Box, Canvas
from trainer.window.look import (
    BODY,
    HAIRLINE,
    HEADING,
    HEADING_STEP,
    INK,
    MARGIN,
    PAPER,
    SMALL,
    SOFT_INK,
    UNIT,
    Colour,
    Face,
)

_MOST_TOLD: Final = 4
_TITLE: Final = 18 * UNIT
_TABLE_TOP: Final = 25 * UNIT
_NAMES_WIDE: Final = 12 * UNIT


def draw_which_for_which(canvas: Canvas, progress: Progress, *, kinds: bool) -> None:
    """The table of kinds or of bands, and what is most often mistaken."""
    if kinds:
        names, counts = [kind.value for kind in KINDS], progress.kinds_named
    else:
        names, counts = [band.name for band in BANDS], progress.bands_named
    title = f"Which {'kind' if kinds else 'band'} for which"
    canvas.text(MARGIN, _TITLE, title, face=Face.SERIF, size=HEADING)
    table = Box(MARGIN + _NAMES_WIDE, _TABLE_TOP, 80 * UNIT, 62 * UNIT)
    draw_table(canvas, table, names, counts)
    x = table.right + 6 * UNIT
    width = canvas.width - MARGIN - x
    y = canvas.paragraph(
        x,
        _TABLE_TOP + 2 * UNIT,
        "A line for what was there, a column for what you named; the darker, the larger its "
        "share of the line. Framed: named rightly.",
        width=width,
        face=Face.SERIF_ITALIC,
        colour=SOFT_INK,
    )
    canvas.text(x, y + HEADING_STEP, "Most often mistaken", face=Face.SERIF, size=BODY)
    y += 2 * HEADING_STEP
    for sentence in confusions(names, counts) or ("Nothing was taken for another yet.",):
        y = canvas.paragraph(x, y, sentence, width=width) + 6


def draw_table(
    canvas: Canvas, box: Box, names: Sequence[str], counts: Sequence[Sequence[int]]
) -> None:
    """The table with its headings in ``box``; the names stand to the left of it and above it."""
    wide, high = box.width / len(names), box.height / len(names)
    for place, name in enumerate(names):
        middle = box.x + (place + 0.5) * wide
        canvas.text(middle, box.y - 9, name, face=Face.SANS_SEMIBOLD, size=SMALL, side="centre")
        y = box.y + (place + 0.5) * high + 5
        canvas.text(box.x - 10, y, name, face=Face.SANS_SEMIBOLD, size=SMALL, side="right")
    for row, line in enumerate(counts):
        total = max(1, sum(line))
        for column, count in enumerate(line):
            cell = Box(box.x + column * wide, box.y + row * high, wide - 2, high - 2)
            fill, ink = cell_colours(count / total)
            canvas.box(cell, fill=fill, edge=INK if row == column else HAIRLINE, radius=0)
            canvas.text(
                cell.x + cell.width / 2,
                cell.y + cell.height / 2 + 5,
                str(count) if count else "\N{MIDDLE DOT}",
                size=SMALL,
                colour=ink if count else SOFT_INK,
                side="centre",
            )


def cell_colours(share: float) -> tuple[Colour, Colour]:
    """Fill and ink of a cell; the density leaps at a half, over the greys on which neither ink
    nor paper could be read (4.5:1, WCAG 2.2 AA)."""
    density = 0.9 * share if share < 0.5 else 0.68 + 0.5 * (share - 0.5)
    red, green, blue = (
        round(paper + (ink - paper) * density) for paper, ink in zip(PAPER, INK, strict=True)
    )
    return (red, green, blue), INK if share < 0.5 else PAPER


def confusions(names: Sequence[str], counts: Sequence[Sequence[int]]) -> tuple[str, ...]:
    """The most frequent confusions in words, each as a share of its line with its interval."""
    found = [
        (count, row, column)
        for row, line in enumerate(counts)
        for column, count in enumerate(line)
        if count and row != column
    ]
    found.sort(key=lambda each: (-each[0], each[1], each[2]))
    return tuple(
        f"{names[row]} named as {names[column]}: {share_words(share_of(count, sum(counts[row])))}."
        for count, row, column in found[:_MOST_TOLD]
    )
