"""The chosen loop as it stands on the page: its plate and strip, and what can be heard on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from exercises.bands import BANDS
from exercises.kinds import TONE, Kind
from exercises.loops import Loop
from trainer.loop_words import length_words, size_words
from trainer.window.askable_picture import draw_askable, draw_askable_legend
from trainer.window.canvas import Box, Canvas
from trainer.window.chosen_loop import ChosenLoop
from trainer.window.frame import draw_plate
from trainer.window.look import (
    BODY,
    HEADING,
    INK,
    MARGIN,
    SHADE,
    SMALL,
    SOFT_INK,
    UNIT,
    Face,
)
from trainer.window.rule import HEIGHT, Rule
from trainer.window.share_bar import draw_share
from trainer.window.shortening import shortened
from trainer.window.wave import Wave

if TYPE_CHECKING:
    from exercises.askable_table import AskableTable

_STRIP_HIGH: Final = 84.0
_PLATE_WIDE: Final = 250.0
_WITHOUT_A_PLACE: Final = tuple(kind for kind in Kind if kind not in TONE | {Kind.NOTHING})


def draw_chosen_loop(canvas: Canvas, chosen: ChosenLoop, top: float, rule_top: float) -> None:
    """All of it from ``top`` on, its rule at ``rule_top``; or why there is nothing to be seen."""
    loop, wave = chosen.loop, chosen.wave
    baseline = top + 5 * UNIT
    if chosen.trouble is not None:
        width = canvas.width - 2 * MARGIN
        canvas.paragraph(MARGIN, baseline, chosen.trouble, width=width, size=BODY)
    elif loop is None or wave is None:
        words = "Reading it \N{HORIZONTAL ELLIPSIS}"
        canvas.text(MARGIN, baseline, words, face=Face.SERIF, size=BODY, colour=SOFT_INK)
    else:
        _draw_listening(canvas, chosen, loop, wave, top)
        _draw_askable(canvas, chosen, top + _STRIP_HIGH + 4 * UNIT, rule_top)


def _draw_listening(canvas: Canvas, chosen: ChosenLoop, loop: Loop, wave: Wave, top: float) -> None:
    """The plate that plays it, how long it is, and its strip."""
    plate = Box(MARGIN, top, _PLATE_WIDE, 7 * UNIT)
    canvas.box(plate, fill=INK if chosen.playing else SHADE)
    heard = "whole mix"
    if chosen.alone and chosen.track is not None:
        heard = shortened(canvas, chosen.track, 150, Face.SERIF, HEADING)
    draw_plate(canvas, plate, heard, "Space", main=chosen.playing)
    length = shortened(canvas, length_words(loop), plate.width)
    canvas.text(MARGIN, plate.bottom + 3 * UNIT, length, colour=SOFT_INK)
    left = plate.right + 3 * UNIT
    wave.draw(canvas, Box(left, top, canvas.width - MARGIN - left, _STRIP_HIGH))


def _draw_askable(canvas: Canvas, chosen: ChosenLoop, baseline: float, rule_top: float) -> None:
    """The smallest problems on what is heard of it, along the rule."""
    rule = Rule(Box(MARGIN, rule_top, canvas.width - 2 * MARGIN, HEIGHT))
    place = "the whole mix"
    if chosen.track is not None:
        name = shortened(canvas, chosen.track, 300, Face.SERIF, BODY)
        place = f"{name}, {'alone' if chosen.alone else 'in the mix'}"
    heading = f"The smallest problem that can be heard on {place}, in dB"
    canvas.text(MARGIN, baseline, heading, face=Face.SERIF, size=BODY)
    draw_askable_legend(canvas, rule.box.right, baseline)
    rule.draw(canvas)
    table = chosen.table
    if table is None:
        _draw_working(canvas, baseline + 6 * UNIT, chosen.share)
        return
    sizes_db = {
        kind: tuple(_smallest_db(chosen, table, kind, band.index) for band in BANDS)
        for kind in TONE
    }
    draw_askable(
        canvas,
        rule,
        rule.box.y - baseline - 2 * UNIT,
        sizes_db[Kind.TOO_MUCH],
        sizes_db[Kind.TOO_LITTLE],
    )
    others = ", ".join(
        f"{kind} {size_words(_smallest_db(chosen, table, kind))}" for kind in _WITHOUT_A_PLACE
    )
    canvas.text(
        MARGIN,
        rule.box.bottom + 3 * UNIT,
        f"All over: {others}. A band's size is for the hardest place in it; "
        "what cannot be heard is never asked.",
        colour=SOFT_INK,
    )


def _smallest_db(
    chosen: ChosenLoop, table: AskableTable, kind: Kind, band: int | None = None
) -> float | None:
    return table.smallest_db(chosen.track, chosen.alone, kind, band)


def _draw_working(canvas: Canvas, baseline: float, share: float) -> None:
    words = "Working out what can be heard on it \N{HORIZONTAL ELLIPSIS}"
    canvas.text(MARGIN, baseline, words, face=Face.SERIF_ITALIC, size=SMALL, colour=SOFT_INK)
    draw_share(canvas, Box(MARGIN, baseline + 12, 420, 10), share)
