"""A revision as a picture: its moves as a list, what changed over frequency, and rides over time.

Solid bars are what changed in each third octave, level apart; hatched ones what the moves leave of
it. Where the music has too little to be measured there is no bar.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Final

import numpy as np

from exercises.bands import BANDS, THIRD_OCTAVE_MID_HZ
from exercises.moves import Ride
from exercises.revision import Revision, revision_text
from exercises.samples import RATE_HZ, Floats
from exercises.tone_refining import remainder_of
from trainer.window.look import (
    ACCENT,
    HAIRLINE,
    INK,
    MARGIN,
    SOFT_INK,
    STEEL,
    STEEL_INK,
    Face,
)
from trainer.window.picture_shapes import WIDE, Block, Shape, Side, Stroke, Words

_LOW_HZ, _HIGH_HZ = 20.6, 24_300.0
_LINES_SHOWN: Final = 9
_LINE: Final = 25.0
_BARS_TOP, _BARS_HIGH = 400.0, 170.0
_RULE_TOP, _RULE_HIGH = 590.0, 74.0
_TIME_TOP, _TIME_HIGH = 706.0, 50.0
_BAR_WIDE: Final = 11.0
_LEAST_WEIGHT: Final = 0.1


def revision_shapes(revision: Revision, before: str, after: str) -> list[Shape]:
    """The picture; ``before`` and ``after`` are the files' names, for its heading."""
    return [
        *_heading(revision, before, after),
        *_bars(revision),
        *_rule(),
        *_rides(revision),
    ]


def thirds_db(revision: Revision) -> tuple[Floats, Floats]:
    """What changed, level apart, and what the moves leave of it, (30,) each in dB; nan where there
    is too little to tell."""
    tone = revision.tone
    changed_db, _ = remainder_of(tone, ())
    mids_hz = np.array(THIRD_OCTAVE_MID_HZ)
    third_of = np.abs(np.log2(tone.freqs_hz[:, None] / mids_hz)).argmin(axis=1)
    changed = np.full(len(mids_hz), np.nan)
    for third in range(len(mids_hz)):
        inside = third_of == third
        weight = tone.weight[inside]
        if weight.size and weight.max() >= _LEAST_WEIGHT:
            changed[third] = np.average(changed_db[inside], weights=weight)
    left = np.where(np.isnan(changed), np.nan, -revision.left.third_octave_db.mean(axis=0))
    return changed, left


def _heading(revision: Revision, before: str, after: str) -> Iterator[Shape]:
    yield Words(MARGIN, 44, "Namefirst", 22, Face.SERIF_SEMIBOLD)
    yield Words(WIDE - MARGIN, 41, "What a revision changed", 17, colour=SOFT_INK, side="right")
    yield Stroke(MARGIN, 56, WIDE - MARGIN, 56, HAIRLINE)
    yield Words(MARGIN, 100, f"{_short(before)}, then {_short(after)}", 27, Face.SERIF)
    lines = revision_text(revision).splitlines()
    if len(lines) > _LINES_SHOWN:
        rest = len(lines) - _LINES_SHOWN + 1
        lines = [*lines[: _LINES_SHOWN - 2], f"and {rest} more", lines[-1]]
    for number, line in enumerate(lines):
        numbered = re.match(r"\d+\. ", line) is not None
        face = Face.SANS_SEMIBOLD if numbered else Face.SANS
        yield Words(MARGIN + 14 * numbered, 138 + _LINE * number, line, 18, face)


def _bars(revision: Revision) -> Iterator[Shape]:
    changed, left = thirds_db(revision)
    shown = np.nan_to_num(np.concatenate([changed, left]))
    highest, lowest = max(0.0, float(shown.max())), min(0.0, float(shown.min()))
    # Three dB fill the height at the most, so that what is hardly there looks hardly there.
    per_db = _BARS_HIGH / max(highest - lowest, 3.0)
    zero = _BARS_TOP + _BARS_HIGH / 2.0 + (highest + lowest) / 2.0 * per_db
    yield Stroke(MARGIN, zero, WIDE - MARGIN, zero, HAIRLINE)
    yield Words(MARGIN - 8, zero + 5, "0 dB", 14, colour=SOFT_INK, side="right")
    for edge_db in (highest, lowest):
        if abs(edge_db) >= 1.0:
            words = f"{'+' if edge_db > 0 else chr(0x2212)}{abs(edge_db):.0f}"
            yield Words(MARGIN - 8, zero - edge_db * per_db + 5, words, 14, side="right")
    for mid_hz, done, rest in zip(THIRD_OCTAVE_MID_HZ, changed, left, strict=True):
        for value, x, solid in (
            (done, _x_of(mid_hz) - _BAR_WIDE, True),
            (rest, _x_of(mid_hz), False),
        ):
            height = 0.0 if math.isnan(value) else abs(value) * per_db
            if height < 0.5:
                continue
            top = zero - height if value > 0.0 else zero
            ink = {"fill": INK} if solid else {"hatch": ACCENT}
            yield Block(x, top, _BAR_WIDE, height, **ink)
    yield from _legend(_BARS_TOP - 18)


def _legend(baseline: float) -> Iterator[Shape]:
    # From the left, with room to spare: whoever opens it may have wider type than ours.
    for x, words, ink in (
        (WIDE - MARGIN - 520, "what changed, level apart", {"fill": INK}),
        (WIDE - MARGIN - 260, "what the moves leave of it", {"hatch": ACCENT}),
    ):
        yield Block(x, baseline - 12, 14, 14, **ink)
        yield Words(x + 24, baseline, words)


def _rule() -> Iterator[Shape]:
    yield Block(MARGIN, _RULE_TOP, WIDE - 2 * MARGIN, _RULE_HIGH, fill=STEEL, edge=HAIRLINE)
    for band in BANDS:
        edge, middle = _x_of(band.low_hz), _x_of(band.mid_hz)
        yield Stroke(edge, _RULE_TOP + 1, edge, _RULE_TOP + _RULE_HIGH - 1, HAIRLINE)
        yield Stroke(middle, _RULE_TOP + 1, middle, _RULE_TOP + 22, INK, 1.5)
        yield Words(middle, _RULE_TOP + 42, band.name, 16, Face.SANS_SEMIBOLD, side="centre")
        yield Words(
            middle, _RULE_TOP + 62, band.too_much, 15, Face.SERIF_ITALIC, STEEL_INK, "centre"
        )


def _rides(revision: Revision) -> Iterator[Shape]:
    """Rides along the time that both files share; nothing where there are none."""
    rides = [move for move in revision.fix if isinstance(move, Ride) and move.passage is not None]
    if not rides:
        return
    largest_db = max(abs(ride.gain_db) for ride in rides)
    middle = _TIME_TOP + _TIME_HIGH / 2.0
    wide = WIDE - 2 * MARGIN
    yield Words(MARGIN, _TIME_TOP - 10, "rides, over time", 15, Face.SERIF_ITALIC, SOFT_INK)
    yield Stroke(MARGIN, middle, WIDE - MARGIN, middle, HAIRLINE)
    for ride in rides:
        passage = ride.passage
        assert passage is not None
        start, stop = (
            MARGIN + wide * min(1.0, frame / RATE_HZ / revision.seconds)
            for frame in (passage.start_frame, passage.stop_frame)
        )
        height = abs(ride.gain_db) / largest_db * _TIME_HIGH * 0.35
        top = middle - height if ride.gain_db > 0.0 else middle
        yield Block(start, top, stop - start, height, fill=INK)
        sign = "+" if ride.gain_db > 0.0 else chr(0x2212)
        baseline = middle + 16 if ride.gain_db > 0.0 else middle - 6
        yield Words(start + 4, baseline, f"{sign}{abs(ride.gain_db):.1f} dB", 14)
    for at_s, side in _time_marks(revision.seconds):
        x = MARGIN + wide * at_s / revision.seconds
        yield Words(x, _TIME_TOP + _TIME_HIGH + 18, f"{at_s:.1f} s", 14, colour=SOFT_INK, side=side)


def _time_marks(seconds: float) -> tuple[tuple[float, Side], ...]:
    return ((0.0, "left"), (seconds / 2.0, "centre"), (seconds, "right"))


def _x_of(freq_hz: float) -> float:
    share = math.log(freq_hz / _LOW_HZ) / math.log(_HIGH_HZ / _LOW_HZ)
    return MARGIN + (WIDE - 2 * MARGIN) * share


def _short(name: str) -> str:
    return name if len(name) <= 32 else f"{name[:31]}\N{HORIZONTAL ELLIPSIS}"
