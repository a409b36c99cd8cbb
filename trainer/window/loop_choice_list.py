"""The loops that were found in a file as a list: what was odd about it, then a row for each."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

from trainer.window.canvas import Box, Canvas
from trainer.window.look import (
    BODY,
    HAIRLINE,
    HEADING,
    INK,
    MARGIN,
    SHADE,
    SOFT_INK,
    UNIT,
    Face,
)
from trainer.window.shortening import shortened

if TYPE_CHECKING:
    from trainer.loop_choices import LoopChoices

_NOTE: Final = 22.0
_MOST_NOTES: Final = 3
_ROW: Final = 6.5 * UNIT


def draw_choice_list(
    canvas: Canvas,
    baseline: float,
    choices: LoopChoices,
    marked: int,
    state_of: Callable[[int], str],
    hear: Callable[[int], None],
) -> float:
    """Notes from ``baseline`` on, then the choices by number, from 1; gives where they end.

    ``state_of`` says in a word or two what one is doing; a click calls ``hear``.
    """
    width = canvas.width - 2 * MARGIN
    notes = [shortened(canvas, note, width) for note in choices.notes[:_MOST_NOTES]]
    if len(choices.notes) > _MOST_NOTES:
        notes.append(f"and {len(choices.notes) - _MOST_NOTES} more of the kind")
    for note in notes:
        canvas.text(MARGIN, baseline, note, colour=SOFT_INK)
        baseline += _NOTE
    row = Box(MARGIN, baseline, width, _ROW)
    for number, words in enumerate(choices.words, start=1):
        _draw_row(canvas, row, number, words, marked=number == marked)
        state, middle = state_of(number), row.y + 4 * UNIT
        canvas.text(row.right - 18, middle, state, face=Face.SANS_SEMIBOLD, side="right")
        canvas.hot(row, partial(hear, number))
        row = Box(MARGIN, row.bottom, width, _ROW)
    return row.y


def _draw_row(
    canvas: Canvas, box: Box, number: int, words: tuple[str, str], *, marked: bool
) -> None:
    where, why = words
    if marked:
        canvas.box(box, fill=SHADE)
        canvas.box(Box(box.x, box.y + 6, 3, box.height - 12), fill=INK)
    canvas.line((box.x, box.bottom), (box.right, box.bottom), HAIRLINE)
    canvas.text(box.x + 18, box.y + 4 * UNIT, str(number), face=Face.SERIF, size=HEADING)
    canvas.text(box.x + 52, box.y + 22, where, size=BODY)
    canvas.text(box.x + 52, box.y + 43, why, colour=SOFT_INK)
