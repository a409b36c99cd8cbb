"""What is chosen on the Progress page, in words and three small pictures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import Final

from exercises.bands import BANDS, THIRD_OCTAVE_MID_HZ
from exercises.kinds import Kind
from trainer.progress import KINDS, Progress, Strip
from trainer.progress_counts import Median
from trainer.progress_words import (
    band_words,
    bias_sentence,
    calibration_sentence,
    finest_sentence,
    fix_sentence,
    median_words,
    sensitivity_sentences,
    share_words,
    time_sentence,
)
from trainer.window.canvas import Box, Canvas
from trainer.window.look import HAIRLINE, HEADING, INK, SMALL, SOFT_INK, TINY, UNIT, Face
from trainer.window.size_scale import SizeScale

_LINE: Final = 22.0
_IN: Final = 10.0
"""How far from the sides of a picture its first and last week stand."""


def draw_band(
    canvas: Canvas,
    box: Box,
    progress: Progress,
    band_index: int,
    names_hz: tuple[Sequence[float], Sequence[float]],
) -> None:
    """A band: both directions in words, the path of each, the latest names given for it."""
    band = BANDS[band_index]
    strips = (progress.strips[band_index], progress.strips[len(BANDS) + band_index])
    words, path, names = _thirds(box)
    hints = band.too_much, band.too_little
    y = _heading(canvas, words, band_words(band))
    for strip, hint in zip(strips, hints, strict=True):
        kind = strip.skill.problem.capitalize()
        y = _strip_words(canvas, words, y, strip, f"{kind} ({hint})")
    canvas.paragraph(
        words.x,
        y,
        bias_sentence(band, progress.naming[band_index], progress.enough_answers),
        width=words.width,
        leading=1.25,
    )
    _draw_paths(canvas, path, strips)
    _draw_names(canvas, names, band_index, names_hz)


def draw_bandless(canvas: Canvas, box: Box, progress: Progress, strip: Strip) -> None:
    """Squashed, or level: in words, its path, and what was named for it."""
    words, path, named = _thirds(box)
    y = _heading(canvas, words, " or ".join(kind.value for kind in strip.skill.kinds).capitalize())
    y = _strip_words(canvas, words, y, strip, "So far")
    _draw_paths(canvas, path, (strip,))
    counts = [0] * len(KINDS)
    for kind in strip.skill.kinds:
        for place, count in enumerate(progress.kinds_named[KINDS.index(kind)]):
            counts[place] += count
    _draw_kinds(canvas, named, "what you named when it was there", counts, strip.skill.kinds)


def draw_nothing(canvas: Canvas, box: Box, progress: Progress) -> None:
    """Something or nothing, sure or guessing, and the time that an answer takes."""
    words, weeks, named = _thirds(box)
    y = _heading(canvas, words, "Something or nothing")
    for sentence in (
        *sensitivity_sentences(progress.sensitivity),
        calibration_sentence(progress.calibration),
    ):
        y = canvas.paragraph(words.x, y, sentence, width=words.width, size=TINY, leading=1.2) + 3
    _draw_seconds(canvas, weeks, progress)
    counts = progress.kinds_named[KINDS.index(Kind.NOTHING)]
    _draw_kinds(canvas, named, "what you named when there was nothing", counts, (Kind.NOTHING,))


def draw_fixes(canvas: Canvas, box: Box, progress: Progress) -> None:
    """Choosing the simplest fix, and making one: a sentence each, and what is held to be heard."""
    from exercises.audibility import EXCITATION_CRITERION_DB

    y = _heading(canvas, box, "The simplest fix")
    for counts in progress.fixes:
        y = canvas.paragraph(box.x, y, fix_sentence(counts), width=box.width, size=SMALL) + 6
    canvas.paragraph(
        box.x,
        y + 6,
        "What is left is the change that the ear still gets, or that the fix itself put there; "
        f"from {EXCITATION_CRITERION_DB:g} dB on it is taken to be heard.",
        width=box.width,
        face=Face.SERIF_ITALIC,
        colour=SOFT_INK,
    )


def _thirds(box: Box) -> tuple[Box, Box, Box]:
    """Words at the left, a picture in the middle, another at the right."""
    words, gap = box.width * 0.38, 8.0 * UNIT
    picture = (box.width - words - 2 * gap) / 2
    middle = Box(box.x + words + gap, box.y, picture, box.height)
    return (
        Box(box.x, box.y, words, box.height),
        middle,
        Box(middle.right + gap, box.y, picture, box.height),
    )


def _heading(canvas: Canvas, box: Box, words: str) -> float:
    baseline = box.y + 2 * UNIT
    canvas.text(box.x, baseline, words, face=Face.SERIF, size=HEADING)
    return baseline + 3 * UNIT


def _strip_words(canvas: Canvas, box: Box, y: float, strip: Strip, head: str) -> float:
    wide = canvas.text(box.x, y, head, face=Face.SANS_SEMIBOLD)
    figures = f"{share_words(strip.named)} named"
    canvas.text(box.x + wide + 10, y, figures, colour=SOFT_INK)
    y = canvas.paragraph(box.x, y + _LINE, finest_sentence(strip), width=box.width, leading=1.25)
    if strip.miss is not None:
        miss = f"Median miss {median_words(strip.miss, 'octave', 2)}."
        canvas.text(box.x, y, miss)
        y += _LINE
    return y + 6


def _caption(canvas: Canvas, box: Box, words: str) -> None:
    canvas.text(box.x, box.bottom, words, face=Face.SERIF_ITALIC, colour=SOFT_INK)


def _draw_paths(canvas: Canvas, box: Box, strips: Sequence[Strip]) -> None:
    """Finest size at the end of each week with its interval; dots and line, rings and dashes."""
    scale = SizeScale(Box(box.x, box.y + UNIT, box.width, box.height - 7 * UNIT))
    scale.draw(canvas)
    days = [point.day.toordinal() for strip in strips for point in strip.path]
    if not days:
        middle = box.x + box.width / 2
        canvas.text(
            middle, box.y + box.height / 2, "not enough yet", colour=SOFT_INK, side="centre"
        )
    else:
        first, last = min(days), max(days)
        left, right = box.x + _IN, box.right - _IN
        for strip in strips:
            solid = strip is strips[0]
            shift = 0.0 if len(strips) == 1 else -2.0 if solid else 2.0
            for point in strip.path:
                share = (point.day.toordinal() - first) / max(1, last - first)
                x = left + shift + (right - left) * share
                top, bottom = scale.y_of(point.finest.low_db), scale.y_of(point.finest.high_db)
                canvas.line((x, top), (x, bottom), HAIRLINE, 2)
        for strip in strips:
            solid = strip is strips[0]
            scale.draw_path(
                canvas, strip.path, left, right, solid=solid, from_day=first, until_day=last
            )
        _dates(canvas, scale.box, date.fromordinal(first), date.fromordinal(last))
    both = "; broken: too little" if len(strips) > 1 else ""
    _caption(canvas, box, f"finest size, week by week{both}")


def _dates(canvas: Canvas, box: Box, first: date, last: date) -> None:
    y = box.bottom + 18
    canvas.text(box.x, y, f"{first.day} {first:%b %Y}", size=TINY, colour=SOFT_INK)
    if last != first:
        words = f"{last.day} {last:%b %Y}"
        canvas.text(box.right, y, words, size=TINY, colour=SOFT_INK, side="right")


def _draw_names(
    canvas: Canvas, box: Box, band_index: int, names_hz: tuple[Sequence[float], Sequence[float]]
) -> None:
    """How often each third of an octave was named for the band, of the latest names."""
    count = len(THIRD_OCTAVE_MID_HZ)
    step, floor = box.width / count, box.bottom - 6 * UNIT
    counts = [[0] * count for _ in names_hz]
    for row, frequencies in zip(counts, names_hz, strict=True):
        for freq_hz in frequencies:
            place = round(10.0 * math.log10(freq_hz / 1000.0)) + 16
            row[min(count - 1, max(0, place))] += 1
    highest = max(1, *(max(row) for row in counts))
    tall = floor - box.y - UNIT
    third = 3 * band_index + 1  # the band's middle third among the thirty
    canvas.box(Box(box.x + (third - 1) * step, floor + 3, 3 * step, 5), fill=INK, radius=0)
    for solid, row in zip((True, False), counts, strict=True):
        for place, named in enumerate(row):
            if not named:
                continue
            height = tall * named / highest
            x = box.x + place * step + (0.5 if solid else step / 2)
            bar = Box(x, floor - height, step / 2 - 0.5, height)
            if solid:
                canvas.box(bar, fill=INK, radius=0)
            else:
                canvas.hatch(bar, INK)
    canvas.line((box.x, floor), (box.right, floor), HAIRLINE)
    for each in BANDS[::3]:
        x = box.x + (3 * each.index + 1.5) * step
        canvas.text(x, floor + 24, each.name, size=TINY, colour=SOFT_INK, side="centre")
    total = sum(map(len, names_hz))
    names = f"the latest {total} names" if total else "no names yet"
    _caption(canvas, box, f"{names}; heavy line: the band")


def _draw_kinds(
    canvas: Canvas, box: Box, words: str, counts: Sequence[int], right: Sequence[Kind]
) -> None:
    """Bars of how often each kind was named; the right one solid, the others hatched."""
    row = (box.height - 4 * UNIT) / len(KINDS)
    total, left = max(1, sum(counts)), box.x + 11 * UNIT
    for place, (kind, count) in enumerate(zip(KINDS, counts, strict=True)):
        y = box.y + place * row
        canvas.text(left - 8, y + row / 2 + 5, kind.value, size=TINY, side="right")
        wide = (box.right - left - 44) * count / total
        bar = Box(left, y + 4, wide, row - 8)
        if count and kind in right:
            canvas.box(bar, fill=INK, radius=0)
        elif count:
            canvas.hatch(bar, INK)
        canvas.text(left + wide + 8, y + row / 2 + 5, str(count), size=TINY)
    _caption(canvas, box, words)


def _draw_seconds(canvas: Canvas, box: Box, progress: Progress) -> None:
    """Median seconds to an answer, week by week, with intervals."""
    weeks = [(week.monday, week.seconds) for week in progress.weeks if week.seconds is not None]
    if weeks:
        _draw_weeks(canvas, Box(box.x, box.y + UNIT, box.width, box.height - 9 * UNIT), weeks)
    canvas.paragraph(
        box.x,
        box.bottom - 3 * UNIT,
        time_sentence(progress),
        width=box.width,
        size=TINY,
        leading=1.3,
    )


def _draw_weeks(canvas: Canvas, box: Box, weeks: Sequence[tuple[date, Median]]) -> None:
    most = max(seconds.high or seconds.median for _, seconds in weeks) * 1.1
    first, last = weeks[0][0].toordinal(), weeks[-1][0].toordinal()
    step_s = 1 if most <= 5 else 5 if most <= 25 else 20
    for mark_s in range(0, math.ceil(most), step_s):
        y = box.bottom - box.height * mark_s / most
        canvas.line((box.x, y), (box.right, y), HAIRLINE)
        canvas.text(box.x - 6, y + 5, f"{mark_s} s", size=TINY, colour=SOFT_INK, side="right")
    points = []
    for monday, seconds in weeks:
        share = (monday.toordinal() - first) / max(1, last - first)
        x = box.x + _IN + (box.width - 2 * _IN) * share
        middle = box.bottom - box.height * seconds.median / most
        points.append((x, middle))
        if seconds.low is not None and seconds.high is not None:
            top, bottom = (
                box.bottom - box.height * limit_s / most for limit_s in (seconds.high, seconds.low)
            )
            canvas.line((x, top), (x, bottom), HAIRLINE, 3)
    if len(points) > 1:
        canvas.stroke(points, INK)
    for x, y in points if len(points) < 40 else ():
        canvas.box(Box(x - 3, y - 3, 6, 6), fill=INK, radius=3)
    _dates(canvas, box, weeks[0][0], weeks[-1][0])
