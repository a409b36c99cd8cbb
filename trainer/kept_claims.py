"""Claims in the record: each one that was begun is kept, also one that was left before its end.

So that trying again until it comes out shows. One row a claim, written anew after every answer.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from exercises.build_up import Hill
from exercises.with_and_without import PointFilter
from trainer import __version__
from trainer.claim import Claim, Point, Trial
from trainer.claim_case import Case
from trainer.record import Record
from trainer.sequential_test import Outcome


@dataclass(frozen=True, slots=True)
class KeptClaim:
    """One row: what was claimed of what, the nearest real hill, and how the tests went.

    ``outcome`` is the word of ``sequential_test.Outcome``; "going on" for one that was left.
    """

    claimed_at: datetime
    title: str
    track: str | None
    start_s: float
    seconds: float
    change: PointFilter
    nearest: Hill | None
    outcome: str
    trials: tuple[Trial, ...]
    points: tuple[Point, ...]
    version: str


def keep_claim(record: Record, case: Case, claim: Claim, begun: datetime) -> None:
    """Writes a claim to disk as it stands; when it was ``begun`` (aware) tells it from others.

    To be called after every answer, so that none is lost.
    """
    stretch = case.stretch
    kept = KeptClaim(
        begun,
        stretch.title,
        stretch.track,
        stretch.start_s,
        stretch.seconds,
        case.change,
        case.evidence.nearest,
        claim.outcome.value,
        claim.trials,
        claim.points,
        __version__,
    )
    write_claim(record, kept)


def write_claim(record: Record, kept: KeptClaim) -> None:
    """Writes a row, or its answers anew where it is there already."""
    told = (
        kept.outcome,
        json.dumps([[trial.x, trial.said] for trial in kept.trials]),
        json.dumps([[point.true_hz, point.named_hz] for point in kept.points]),
    )
    key = (kept.claimed_at.isoformat(),)
    if any(record.query("SELECT 1 FROM claim WHERE learner_id = ? AND claimed_at = ?", key)):
        record.change(
            "UPDATE claim SET outcome = ?3, trials = ?4, points = ?5"
            " WHERE learner_id = ?1 AND claimed_at = ?2",
            (*key, *told),
        )
        return
    change, nearest = kept.change, kept.nearest
    hill: tuple[float | None, ...] = (None, None, None)
    if nearest is not None:
        hill = (nearest.centre_hz, nearest.height_db, nearest.width_octaves)
    record.change(
        "INSERT INTO claim (learner_id, claimed_at, outcome, trials, points, title, track, start_s,"
        " seconds, freq_hz, gain_db, q, centre_hz, height_db, width_octaves, version)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            *key,
            *told,
            kept.title,
            kept.track,
            kept.start_s,
            kept.seconds,
            change.freq_hz,
            change.gain_db,
            change.q,
            *hill,
            kept.version,
        ),
    )


def kept_claims(record: Record) -> Iterator[KeptClaim]:
    """Every claim of the learner, in the order in which they were made."""
    for row in record.query(
        "SELECT claimed_at, title, track, start_s, seconds, freq_hz, gain_db, q, centre_hz,"
        " height_db, width_octaves, outcome, trials, points, version FROM claim"
        " WHERE learner_id = ? ORDER BY id"
    ):
        yield KeptClaim(
            claimed_at=datetime.fromisoformat(row[0]),
            title=row[1],
            track=row[2],
            start_s=row[3],
            seconds=row[4],
            change=PointFilter(row[5], row[6], row[7]),
            nearest=None if row[8] is None else Hill(row[8], row[9], row[10]),
            outcome=row[11],
            trials=tuple(Trial(*pair) for pair in json.loads(row[12])),
            points=tuple(Point(*pair) for pair in json.loads(row[13])),
            version=row[14],
        )


def claim_to_dict(kept: KeptClaim) -> dict[str, Any]:
    """Plain data for JSON; ``read_kept_claim`` takes it back."""
    return dataclasses.asdict(kept) | {"claimed_at": kept.claimed_at.isoformat()}


def read_kept_claim(fields: Mapping[str, Any], claimed_at: datetime) -> KeptClaim:
    """The claim that ``claim_to_dict`` gave.

    Raises:
        ValueError: a field is missing, unknown or not what it should be.
    """
    try:
        nearest = fields["nearest"]
        kept = KeptClaim(
            claimed_at=claimed_at,
            title=str(fields["title"]),
            track=None if fields["track"] is None else str(fields["track"]),
            start_s=_number(fields["start_s"]),
            seconds=_number(fields["seconds"]),
            change=PointFilter(**_numbers(fields["change"])),
            nearest=None if nearest is None else Hill(**_numbers(nearest)),
            outcome=Outcome(fields["outcome"]).value,
            trials=tuple(
                Trial(_letter(each["x"]), _letter(each["said"])) for each in fields["trials"]
            ),
            points=tuple(Point(**_numbers(each)) for each in fields["points"]),
            version=str(fields["version"]),
        )
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise ValueError(f"a claim that does not hold together ({error})") from None
    if any(not point.true_hz > 0.0 or not point.named_hz > 0.0 for point in kept.points):
        raise ValueError("a claim with a frequency that is none")
    return kept


def _numbers(fields: Mapping[str, Any]) -> dict[str, float]:
    return {name: _number(value) for name, value in fields.items()}


def _number(value: Any) -> float:
    if type(value) not in (int, float) or not math.isfinite(value):
        raise ValueError(f"{value!r} is no number")
    return float(value)


def _letter(value: Any) -> str:
    if value not in ("A", "B"):
        raise ValueError(f"{value!r} is neither A nor B")
    return str(value)
