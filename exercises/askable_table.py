"""What is worth asking on a loop: the smallest size of every problem that can be heard on it.

One row for each way of hearing the loop (the whole mix; each track in the mix; each track alone),
each kind and style, and each of the passages and shapes asked for; a kind that sits at a frequency
has one size a band. For a band the largest of the
sizes at its middle, its edges and the thirds between counts, so that a frequency drawn anywhere
in it can be expected to be heard; a finished question is still asked by ``audibility.askable``.

Plain data, to be kept as JSON under the loop's fingerprint and the model's version.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from exercises.audibility import MODEL_VERSION, smallest_askable_sizes_db
from exercises.bands import BANDS, Band
from exercises.errors import BadLoop
from exercises.heard import HeardLoop, ears_of
from exercises.kinds import TONE, Kind, Shape, Style
from exercises.loops import Loop
from exercises.problems import Problem
from exercises.recipe import HIGHEST_PROBLEM_HZ, LOWEST_PROBLEM_HZ
from exercises.tone_curve import USUAL_Q

_PROBES_A_BAND: Final = 4
_ASKED: Final = (
    *((kind, Style.OVER_COMPRESSED) for kind in Kind if kind is not Kind.NOTHING),
    (Kind.SQUASHED, Style.PUMPING),
)


@dataclass(frozen=True, slots=True)
class AskableRow:
    """Smallest sizes in dB (None: not to be heard), one a band for a tone problem, else one."""

    track: str | None
    alone: bool
    kind: Kind
    sizes_db: tuple[float | None, ...]
    shape: Shape = Shape.PEAK
    style: Style = Style.OVER_COMPRESSED
    passage: str | None = None


@dataclass(frozen=True, slots=True)
class AskableTable:
    """All rows of one loop, for tone problems of one ``q``."""

    loop: str
    fingerprint: str
    model_version: int
    q: float
    rows: tuple[AskableRow, ...]

    def smallest_db(
        self,
        track: str | None,
        alone: bool,
        kind: Kind,
        band_index: int | None = None,
        *,
        shape: Shape = Shape.PEAK,
        style: Style = Style.OVER_COMPRESSED,
        passage: str | None = None,
    ) -> float | None:
        """Smallest size in dB that can be heard, None if none can; 0 for *nothing*.

        Raises:
            KeyError: the table has no row for that, or a tone problem was asked without a band.
        """
        if kind is Kind.NOTHING:
            return 0.0
        for row in self.rows:
            if (row.track, row.alone, row.kind, row.shape, row.style, row.passage) == (
                track,
                alone,
                kind,
                shape,
                style,
                passage,
            ):
                if kind not in TONE:
                    return row.sizes_db[0]
                if band_index is None or not 0 <= band_index < len(BANDS):
                    raise KeyError(f"'{kind}' needs a band from 0 to {len(BANDS) - 1}")
                return row.sizes_db[band_index]
        asked = f"{shape}, {style}, track '{track}', passage '{passage}'"
        raise KeyError(f"the table of '{self.loop}' has no row for '{kind}', {asked}")

    def fits(self, loop: Loop) -> bool:
        """Whether it was made from this very sound, by this version of the model."""
        return (self.fingerprint, self.model_version) == (loop.fingerprint, MODEL_VERSION)

    def to_dict(self) -> dict[str, Any]:
        """Plain data for JSON; ``read_table`` takes it back."""
        return dataclasses.asdict(self)


def askable_table(
    loop: Loop,
    q: float = USUAL_Q,
    *,
    shapes: Sequence[Shape] = (Shape.PEAK,),
    passages: Sequence[str | None] = (None,),
    progress: Callable[[float], None] | None = None,
) -> AskableTable:
    """The table of ``loop``; a few tenths of a second for each way of hearing it.

    And as much again for each further shape; some three times as much for each passage.
    ``progress`` is called with the share that is done, 0 to 1, and may raise to give up.

    Raises:
        ValueError: the loop has no such passage among others.
    """
    tell = progress or (lambda share: None)
    rows: list[AskableRow] = []
    ways = 1 + 2 * len(loop.tracks)
    for done, heard in enumerate(ears_of(loop)):
        tell(done / ways)
        rows += (
            AskableRow(
                heard.track,
                heard.alone,
                kind,
                _sizes_db(heard, Problem(kind, 0.0, style=style, shape=shape), q, passage),
                shape,
                style,
                passage,
            )
            for passage in passages
            for kind, style in _ASKED
            for shape in (shapes if kind in TONE else (Shape.PEAK,))
        )
    tell(1.0)
    return AskableTable(loop.name, loop.fingerprint, MODEL_VERSION, q, tuple(rows))


def read_table(fields: Mapping[str, Any]) -> AskableTable:
    """The table in ``fields``, as ``AskableTable.to_dict`` gave them, by way of JSON.

    Raises:
        BadLoop: it does not hold together; it can be thrown away and made anew.
    """
    try:
        rows = tuple(_read_row(row) for row in fields["rows"])
        return AskableTable(
            str(fields["loop"]),
            str(fields["fingerprint"]),
            int(fields["model_version"]),
            float(fields["q"]),
            rows,
        )
    except (KeyError, TypeError, ValueError) as error:
        raise BadLoop(f"the kept table of askable sizes is damaged ({error}); remove it") from None


def _read_row(row: Mapping[str, Any]) -> AskableRow:
    kind = Kind(row["kind"])
    sizes_db = tuple(None if size is None else float(size) for size in row["sizes_db"])
    if len(sizes_db) != (len(BANDS) if kind in TONE else 1):
        raise ValueError(f"'{kind}' has {len(sizes_db)} sizes")
    track = None if row["track"] is None else str(row["track"])
    passage = None if row["passage"] is None else str(row["passage"])
    shape, style = Shape(row["shape"]), Style(row["style"])
    return AskableRow(track, bool(row["alone"]), kind, sizes_db, shape, style, passage)


def probes_hz(band: Band) -> tuple[float, ...]:
    """The frequencies at which a band is tried: evenly along it, both of its edges included."""
    low_hz, high_hz = max(band.low_hz, LOWEST_PROBLEM_HZ), min(band.high_hz, HIGHEST_PROBLEM_HZ)
    return tuple(np.geomspace(low_hz, high_hz, _PROBES_A_BAND).tolist())


def _sizes_db(
    heard: HeardLoop, problem: Problem, q: float, passage: str | None
) -> tuple[float | None, ...]:
    if problem.kind not in TONE:
        return smallest_askable_sizes_db(heard, [problem], passage)
    at_peak = q if problem.shape is Shape.PEAK else None
    probes = [
        dataclasses.replace(problem, freq_hz=freq_hz, q=at_peak)
        for band in BANDS
        for freq_hz in probes_hz(band)
    ]
    sizes_db = smallest_askable_sizes_db(heard, probes, passage)
    return tuple(
        _hardest(sizes_db[start : start + _PROBES_A_BAND])
        for start in range(0, len(sizes_db), _PROBES_A_BAND)
    )


def _hardest(sizes_db: tuple[float | None, ...]) -> float | None:
    heard = [size_db for size_db in sizes_db if size_db is not None]
    return max(heard) if len(heard) == len(sizes_db) else None
