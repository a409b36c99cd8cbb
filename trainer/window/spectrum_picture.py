"""The average spectrum of a stretch along the rule: level, own trend, and what stands out."""

from __future__ import annotations

import math
from typing import Final

from exercises.bands import show_hz
from exercises.build_up import FREQS_HZ, Average
from exercises.evidence import Evidence
from exercises.samples import Floats
from trainer.claim_report import shown_range_db
from trainer.claim_words import signed
from trainer.window.canvas import Box, Canvas
from trainer.window.look import (
    ACCENT,
    HAIRLINE,
    INK,
    SHADE,
    SMALL,
    SOFT_INK,
    TINY,
    Face,
)
from trainer.window.rule import Rule

_DASH: Final = 4  # points of the curve that are drawn, and as many that are not
_STEP_DB: Final = 10.0


def draw_spectrum(canvas: Canvas, box: Box, rule: Rule, evidence: Evidence) -> None:
    """In ``box``, which stands over ``rule``; the claimed place is marked in both."""
    low_db, high_db = shown_range_db(evidence)
    average = evidence.average

    def y_of(level_db: float) -> float:
        share = (max(level_db, low_db) - low_db) / (high_db - low_db)
        return box.bottom - box.height * share

    def points_of(levels_db: Floats) -> list[tuple[float, float]]:
        pairs = zip(FREQS_HZ, levels_db, strict=True)
        return [(rule.x_of(float(freq_hz)), y_of(float(level))) for freq_hz, level in pairs]

    if evidence.there and evidence.nearest is not None:
        half = 2.0 ** (evidence.nearest.width_octaves / 2.0)
        start = rule.x_of(evidence.nearest.centre_hz / half)
        stop = rule.x_of(evidence.nearest.centre_hz * half)
        canvas.box(Box(start, box.y, stop - start, box.height), fill=SHADE, radius=0)
    level_db = high_db
    step_db = _STEP_DB if high_db - low_db <= 4 * _STEP_DB else 2 * _STEP_DB
    while level_db >= low_db:
        y = y_of(level_db)
        canvas.line((box.x, y), (box.right, y), HAIRLINE)
        canvas.text(box.x - 8, y + 5, signed(level_db, 0), size=TINY, colour=SOFT_INK, side="right")
        level_db -= step_db
    trend = points_of(average.trend_db)
    for start_at in range(0, len(trend) - 1, 2 * _DASH):
        canvas.stroke(trend[start_at : start_at + _DASH + 1], SOFT_INK, 1.5)
    canvas.stroke(points_of(average.level_db), INK, 2.5)
    x = rule.x_of(evidence.claimed_hz)
    canvas.line((x, box.y), (x, rule.box.y), ACCENT, 2)
    canvas.text(x + 7, box.y + 14, "claimed", face=Face.SANS_SEMIBOLD, size=SMALL, colour=ACCENT)
    words = "solid: each third octave, dB re the whole; broken: its own trend"
    if _notes_left_out(average):
        words += "; a spike of a single note is not counted"
    canvas.text(
        box.right,
        box.y - 8,
        words,
        face=Face.SERIF_ITALIC,
        colour=SOFT_INK,
        side="right",
    )


def _notes_left_out(average: Average) -> bool:
    """Whether the solid line stands out somewhere by notes that are held before it is judged."""
    drawn_db = average.level_db - average.trend_db
    needed_db = average.needed_db
    return bool(((drawn_db > needed_db) & (average.excess_db <= needed_db)).any())


def draw_parts(canvas: Canvas, box: Box, evidence: Evidence) -> None:
    """One bar a passage: what stands out at the place, solid where chance does not make it."""
    place = show_hz(evidence.place_hz)
    canvas.text(
        box.x,
        box.y + 12,
        f"over (or under) its own trend at {place}, by passage; solid: it stands out",
        face=Face.SERIF_ITALIC,
        colour=SOFT_INK,
    )
    parts = evidence.parts
    most_db = max([6.0, *(abs(part.excess_db) for part in parts)])
    step = box.width / max(len(parts), 4)
    zero = box.y + 74
    canvas.line((box.x, zero), (box.x + step * len(parts), zero), HAIRLINE)
    for index, part in enumerate(parts):
        x = box.x + index * step
        height = abs(part.excess_db) / most_db * 34
        wide = min(26.0, step - 4)
        bar = Box(x + 2, zero - height if part.excess_db > 0 else zero, wide, max(height, 1.0))
        if part.stands_out(hollow=evidence.hollow):
            canvas.box(bar, fill=INK, radius=0)
        else:
            canvas.box(bar, edge=SOFT_INK, radius=0)
        if step > 74:  # with many the bars tell it
            canvas.text(x + 34, zero - 7, signed(part.excess_db, plus=True), size=SMALL)
        if index % max(1, math.ceil(92.0 / step)) == 0:
            canvas.text(x + 2, box.bottom - 6, part.passage.name, size=TINY, colour=SOFT_INK)
