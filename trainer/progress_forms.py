"""Progress as text to be read aloud or by eye, as JSON and as CSV.

The text is plain lines in columns that stand under each other; nothing is said by place or sign
alone. JSON holds everything; CSV one row a skill, as it stands today and as it stood each week.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Sequence
from typing import Any, Final

from exercises.bands import BANDS
from exercises.kinds import TONE
from trainer.ability import Estimate
from trainer.naming_spread import Naming
from trainer.progress import KINDS, Progress, Strip
from trainer.progress_counts import Median
from trainer.progress_words import (
    NOT_ENOUGH,
    band_words,
    bias_sentence,
    calibration_sentence,
    day_words,
    fix_sentence,
    mastery_sentence,
    median_words,
    practised_sentence,
    sensitivity_sentences,
    share_words,
    size_words,
    skill_words,
    time_sentence,
)
from trainer.statistics import Share
from trainer.step_counts import step_count_sentence

FORMAT: Final = "namefirst progress"
VERSION: Final = 1


def progress_text(progress: Progress) -> str:
    """All of it as lines of text, for ``namefirst progress``."""
    return "\n".join(_lines(progress)) + "\n"


def progress_json(progress: Progress) -> str:
    """All of it as one JSON object. Figures below the least count of answers are null."""
    sensitivity = progress.sensitivity
    plain = {
        "format": FORMAT,
        "version": VERSION,
        "learner": progress.learner,
        "today": progress.today.isoformat(),
        "first_day": None if progress.first_day is None else progress.first_day.isoformat(),
        "days": progress.days,
        "minutes": round(progress.minutes, 2),
        "answers": progress.answers,
        "goal_db": progress.goal_db,
        "enough_answers": progress.enough_answers,
        "skills": [_strip_plain(strip) for strip in progress.strips],
        "bands": [
            {"band": band.name, "bias": _naming_plain(naming, progress.enough_answers)}
            for band, naming in zip(BANDS, progress.naming, strict=True)
        ],
        "step": progress.step,
        "steps": [
            {
                "step": count.step,
                "answers": count.answers,
                "named": _share_plain(count.named),
                "alone_share": _rounded(count.alone_share),
            }
            for count in progress.steps
        ],
        "kinds": [kind.value for kind in KINDS],
        "kinds_named": progress.kinds_named,
        "bands_named": progress.bands_named,
        "nothing": {
            "hits": _share_plain(sensitivity.hits),
            "false_alarms": _share_plain(sensitivity.false_alarms),
            "d_prime": _reach_plain(sensitivity.d_prime, sensitivity.d_prime_reach),
            "criterion": _reach_plain(sensitivity.criterion, sensitivity.criterion_reach),
        },
        "sure": _share_plain(progress.calibration.sure),
        "guessing": _share_plain(progress.calibration.guessing),
        "fixes": [
            {
                "sort": counts.sort,
                "rounds": counts.rounds,
                "works": _share_plain(counts.works),
                "simplest": _share_plain(counts.simplest),
                "moves_over": None
                if counts.moves_over is None
                else _median_plain(counts.moves_over),
                "left_db": None if counts.left_db is None else _median_plain(counts.left_db),
            }
            for counts in progress.fixes
        ],
        "weeks": [
            {
                "monday": week.monday.isoformat(),
                "days": week.days,
                "minutes": round(week.minutes, 2),
                "seconds": None if week.seconds is None else _median_plain(week.seconds),
            }
            for week in progress.weeks
        ],
    }
    return json.dumps(plain, indent=2, ensure_ascii=False) + "\n"


_COLUMNS: Final = (
    "skill",
    "day",
    "answers",
    "named",
    "named_share",
    "named_low",
    "named_high",
    "miss_octaves",
    "miss_low",
    "miss_high",
    "finest_db",
    "finest_low_db",
    "finest_high_db",
    "mastered",
)


def progress_csv(progress: Progress) -> str:
    """One row a skill, a step and a sort of fix round as of today, then one a skill and week.

    The latter with the finest size alone. Of fix rounds, "named" counts the simplest found.
    """
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(_COLUMNS)
    for strip in progress.strips:
        named, miss = strip.named, strip.miss
        rows.writerow(
            (
                strip.skill.key,
                progress.today.isoformat(),
                strip.answers,
                named.right,
                *map(_rounded, (named.share, named.low, named.high)),
                *map(_rounded, (miss.median, miss.low, miss.high) if miss else (None,) * 3),
                *_finest_figures(strip.finest),
                "yes" if strip.mastered else "no",
            )
        )
    for count in progress.steps:
        named, day = count.named, progress.today.isoformat()
        shares = map(_rounded, (named.share, named.low, named.high))
        rows.writerow((f"step {count.step}", day, named.total, named.right, *shares, *("",) * 7))
    for counts in progress.fixes:
        simplest, day = counts.simplest, progress.today.isoformat()
        shares = map(_rounded, (simplest.share, simplest.low, simplest.high))
        row = (f"fix rounds: {counts.sort}", day, counts.rounds, simplest.right, *shares)
        rows.writerow((*row, *("",) * 7))
    for strip in progress.strips:
        for point in strip.path:
            figures = _finest_figures(point.finest)
            empty = ("",) * 6
            key, day = strip.skill.key, point.day.isoformat()
            rows.writerow((key, day, point.finest.answers, *empty, "", *figures, ""))
    return out.getvalue()


def _lines(progress: Progress) -> Iterator[str]:
    yield f"Progress of {progress.learner} on {day_words(progress.today)}"
    yield practised_sentence(progress)
    if not progress.answers:
        if progress.minutes:
            yield from _fix_lines(progress)
        return
    yield ""
    yield "Finest size you name, with its 90 % interval, and where it stood at first;"
    yield "share named, with its 95 % interval; median miss, with its 95 % interval."
    yield f'"{NOT_ENOUGH.capitalize()}": fewer than {progress.enough_answers} answers.'
    yield mastery_sentence(progress)
    for kind in (*sorted(TONE, reverse=True), None):
        yield ""
        yield "Everything else" if kind is None else kind.capitalize()
        chosen = [
            strip
            for strip in progress.strips
            if (strip.skill.problem == kind if kind else strip.skill.band_index is None)
        ]
        heads = ("", "finest size", "at first", "named", "median miss", "")
        yield from _aligned([heads, *map(_strip_cells, chosen)])
    yield ""
    yield "Where your names fall, with the bias's 90 % interval"
    for band, naming in zip(BANDS, progress.naming, strict=True):
        yield f"  {band_words(band)}: {bias_sentence(band, naming, progress.enough_answers)}"
    yield ""
    yield "Something or nothing, with 95 % intervals"
    for sentence in sensitivity_sentences(progress.sensitivity):
        yield f"  {sentence}"
    yield ""
    yield "Sure or guessing, with 95 % intervals"
    yield f"  {calibration_sentence(progress.calibration)}"
    yield f"  {time_sentence(progress)}"
    yield from _fix_lines(progress)
    yield ""
    yield f"Steps, with 95 % intervals; you are on step {progress.step}"
    for count in progress.steps:
        yield f"  {step_count_sentence(count)}"
    yield ""
    yield "Which kind for which: what was there, then what you named and how often"
    yield from _named_for([kind.value for kind in KINDS], progress.kinds_named)
    yield ""
    yield "Which band for which: what was there, then what you named and how often"
    yield from _named_for([band_words(band) for band in BANDS], progress.bands_named)


def _fix_lines(progress: Progress) -> Iterator[str]:
    yield ""
    yield "Fix rounds, with 95 % intervals"
    for counts in progress.fixes:
        yield f"  {fix_sentence(counts)}"


def _strip_cells(strip: Strip) -> tuple[str, ...]:
    first = strip.path[0].finest if len(strip.path) > 1 else None
    skill = strip.skill
    band = None if skill.band_index is None else BANDS[skill.band_index]
    return (
        skill_words(skill) if band is None else band_words(band),
        size_words(skill, strip.finest),
        "" if first is None else size_words(skill, first),
        share_words(strip.named),
        "" if strip.miss is None else median_words(strip.miss, "octave", 2),
        "mastered" if strip.mastered else "",
    )


def _named_for(names: Sequence[str], counts: Sequence[Sequence[int]]) -> Iterator[str]:
    """A line to be spoken for each that was there: a table of figures cannot be followed by ear."""
    if not any(map(any, counts)):
        yield "  none yet"
    for name, row in zip(names, counts, strict=True):
        said = [f"{named} {count}" for named, count in zip(names, row, strict=True) if count]
        if said:
            yield f"  {name}: {', '.join(said)}"


def _aligned(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield f"  {'  '.join(cells)}".rstrip()


def _strip_plain(strip: Strip) -> dict[str, Any]:
    return {
        "skill": strip.skill.key,
        "answers": strip.answers,
        "named": _share_plain(strip.named),
        "miss_octaves": None if strip.miss is None else _median_plain(strip.miss),
        "finest_db": _estimate_plain(strip.finest),
        "enough": strip.enough,
        "mastered": strip.mastered,
        "path": [
            {
                "day": point.day.isoformat(),
                "answers": point.finest.answers,
                "finest_db": _estimate_plain(point.finest),
            }
            for point in strip.path
        ],
    }


def _estimate_plain(finest: Estimate) -> dict[str, Any] | None:
    if not finest.enough:
        return None
    value, low, high = _finest_figures(finest)
    return {"value": value, "low": low, "high": high, "interval": 0.90}


def _finest_figures(finest: Estimate) -> tuple[float | None, float | None, float | None]:
    if not finest.enough:
        return None, None, None
    return _rounded(finest.size_db), _rounded(finest.low_db), _rounded(finest.high_db)


def _naming_plain(naming: Naming, enough: int) -> dict[str, Any] | None:
    if naming.answers < enough:
        return None
    return {
        "octaves": _rounded(naming.bias),
        "low": _rounded(naming.bias_low),
        "high": _rounded(naming.bias_high),
        "interval": 0.90,
        "answers": naming.answers,
    }


def _share_plain(share: Share) -> dict[str, Any]:
    return {
        "right": share.right,
        "total": share.total,
        "share": _rounded(share.share),
        "low": _rounded(share.low),
        "high": _rounded(share.high),
        "interval": 0.95,
    }


def _median_plain(median: Median) -> dict[str, Any]:
    return {
        "count": median.count,
        "median": _rounded(median.median),
        "low": _rounded(median.low),
        "high": _rounded(median.high),
        "interval": 0.95,
    }


def _reach_plain(value: float | None, reach: float | None) -> dict[str, Any] | None:
    if value is None or reach is None:
        return None
    return {
        "value": _rounded(value),
        "low": _rounded(value - reach),
        "high": _rounded(value + reach),
        "interval": 0.95,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)
