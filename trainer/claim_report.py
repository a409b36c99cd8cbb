"""A claim's report: one HTML page with its pictures drawn in it; it loads nothing from anywhere."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from exercises.bands import BANDS, show_hz
from exercises.build_up import FREQS_HZ
from exercises.evidence import Evidence
from exercises.samples import Floats
from trainer import __version__
from trainer.claim import Claim
from trainer.claim_case import Case
from trainer.claim_words import (
    aim_sentences,
    change_sentence,
    claim_sentence,
    evidence_sentences,
    outcome_sentences,
    signed,
)
from trainer.progress_words import day_words
from trainer.sequential_test import operating

_TEMPLATE: Final = "claim_report.html"
_WIDTH, _HEIGHT = 900.0, 330.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 46.0, 880.0, 14.0, 280.0
_LOW_HZ, _HIGH_HZ = 25.0, 20_000.0
_STEP_DB: Final = 10.0


@dataclass(frozen=True, slots=True)
class Tick:
    """A place along an axis, with its words."""

    at: float
    words: str


def shown_range_db(evidence: Evidence) -> tuple[float, float]:
    """The levels from and to which a picture of the spectrum reaches, dB; tens."""
    average = evidence.average
    top = max(float(average.level_db.max()), float(average.trend_db.max()))
    low = max(float(average.level_db.min()), top - 60.0)
    high = math.ceil(top / _STEP_DB) * _STEP_DB
    return min(math.floor(low / _STEP_DB) * _STEP_DB, high - 2 * _STEP_DB), high


def report_html(case: Case, claim: Claim, learner: str, now: datetime) -> str:
    """The page as text."""
    from jinja2 import Environment, FileSystemLoader

    templates = Environment(
        loader=FileSystemLoader(Path(__file__).parent), autoescape=True, trim_blocks=True
    )
    evidence = case.evidence
    return templates.get_template(_TEMPLATE).render(
        title=f"{show_hz(case.change.freq_hz)}, {case.stretch.title}",
        claim=claim_sentence(case),
        change=change_sentence(case),
        learner=learner,
        day=day_words(now.date()),
        evidence=evidence_sentences(evidence),
        picture=_picture(evidence),
        place=show_hz(evidence.place_hz),
        parts=[
            {
                "name": part.passage.name,
                "words": f"{signed(part.excess_db, plus=True)} dB",
                "note": "stands out" if part.stands_out(hollow=evidence.hollow) else "",
            }
            for part in evidence.parts
        ],
        outcome=outcome_sentences(claim),
        trials=claim.trials,
        aim=aim_sentences(claim, evidence),
        points=[
            {
                "true": show_hz(point.true_hz),
                "named": show_hz(point.named_hz),
                "miss": f"{signed(point.miss_octaves, 2, plus=True)} octave",
            }
            for point in claim.points
        ],
        false_heard=f"{operating(0.5, claim.rule).heard * 100:.1f} %",
        version=__version__,
    )


def _picture(evidence: Evidence) -> dict[str, Any]:
    low_db, high_db = shown_range_db(evidence)

    def x_of(freq_hz: float) -> float:
        share = math.log(freq_hz / _LOW_HZ) / math.log(_HIGH_HZ / _LOW_HZ)
        return round(_LEFT + (_RIGHT - _LEFT) * share, 1)

    def y_of(level_db: float) -> float:
        share = (max(level_db, low_db) - low_db) / (high_db - low_db)
        return round(_BOTTOM - (_BOTTOM - _TOP) * share, 1)

    def line(levels_db: Floats) -> str:
        pairs = zip(FREQS_HZ, levels_db, strict=True)
        return " ".join(f"{x_of(freq_hz)},{y_of(level)}" for freq_hz, level in pairs)

    hill = None
    if evidence.there and evidence.nearest is not None:
        half = 2.0 ** (evidence.nearest.width_octaves / 2.0)
        start, stop = evidence.nearest.centre_hz / half, evidence.nearest.centre_hz * half
        hill = {"x": x_of(start), "width": round(x_of(stop) - x_of(start), 1)}
    steps = round((high_db - low_db) / _STEP_DB)
    return {
        "width": _WIDTH,
        "height": _HEIGHT,
        "left": _LEFT,
        "right": _RIGHT,
        "bottom": _BOTTOM,
        "level": line(evidence.average.level_db),
        "trend": line(evidence.average.trend_db),
        "claimed": x_of(evidence.claimed_hz),
        "hill": hill,
        "levels": [
            Tick(y_of(low_db + _STEP_DB * step), signed(low_db + _STEP_DB * step, 0))
            for step in range(steps + 1)
        ],
        "bands": [Tick(x_of(band.mid_hz), band.name) for band in BANDS],
    }
