"""Claims in the record: each one that was begun is kept, also one that was left before its end.

So that trying again until it comes out shows. One row a claim, written anew after every answer.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from exercises.build_up import Hill
from exercises.with_and_without import PointFilter
from trainer import __version__
from trainer.claim import Claim, Point, Trial
from trainer.claim_case import Case
from trainer.record import Record


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


def keep_claim(record: Record, case: Case, claim: Claim, begun: datetime) -> None:
    """Writes a claim to disk as it stands; when it was ``begun`` (aware) tells it from others.

    To be called after every answer, so that none is lost.
    """
    told = (
        claim.outcome.value,
        json.dumps([[trial.x, trial.said] for trial in claim.trials]),
        json.dumps([[point.true_hz, point.named_hz] for point in claim.points]),
    )
    key = (begun.isoformat(),)
    if any(record.query("SELECT 1 FROM claim WHERE learner_id = ? AND claimed_at = ?", key)):
        record.change(
            "UPDATE claim SET outcome = ?3, trials = ?4, points = ?5"
            " WHERE learner_id = ?1 AND claimed_at = ?2",
            (*key, *told),
        )
        return
    stretch, change, nearest = case.stretch, case.change, case.evidence.nearest
    record.change(
        "INSERT INTO claim (learner_id, claimed_at, outcome, trials, points, title, track, start_s,"
        " seconds, freq_hz, gain_db, q, centre_hz, height_db, width_octaves, version)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            *key,
            *told,
            stretch.title,
            stretch.track,
            stretch.start_s,
            stretch.seconds,
            change.freq_hz,
            change.gain_db,
            change.q,
            *(
                (None, None, None)
                if nearest is None
                else (nearest.centre_hz, nearest.height_db, nearest.width_octaves)
            ),
            __version__,
        ),
    )


def kept_claims(record: Record) -> Iterator[KeptClaim]:
    """Every claim of the learner, in the order in which they were made."""
    for row in record.query(
        "SELECT claimed_at, title, track, start_s, seconds, freq_hz, gain_db, q, centre_hz,"
        " height_db, width_octaves, outcome, trials, points FROM claim"
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
        )
