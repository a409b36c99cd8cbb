"""What speaks for a claim such as "there is mud near 200 Hz", before anyone listens.

The stretch's own trend is asked (``build_up``), each of its passages by itself, and, for a whole
mix, the range of recorded music. Nothing here says what anybody hears.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from exercises.bands import Band, band_of, octaves
from exercises.build_up import (
    SHORTEST_S,
    Average,
    Hill,
    average_of,
    excess_at,
    nearest_hill,
    needed_at,
)
from exercises.loops import Passage
from exercises.recorded_music import OCTAVE_HIGH_DB, OCTAVE_LOW_DB
from exercises.samples import RATE_HZ, Samples

NEAR_OCTAVES: Final = 0.5
"""A hill this near to the claimed frequency is taken for what was meant."""
PART_S: Final = 2.0
_WINDOW_S, _HOP_S = 8.0, 4.0


@dataclass(frozen=True, slots=True)
class Part:
    """A passage by itself: what stands out at the asked place, in dB, and what chance allows."""

    passage: Passage
    excess_db: float
    needed_db: float

    def stands_out(self, *, hollow: bool) -> bool:
        """Whether it has a build-up (or a hollow) there that chance does not make."""
        return (-self.excess_db if hollow else self.excess_db) > self.needed_db


@dataclass(frozen=True, slots=True)
class Range:
    """An octave band's power re the whole, in dB, and where it lies in eight mixes of ten."""

    band: Band
    power_db: float
    low_db: float
    high_db: float


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What was measured for a claim at ``claimed_hz``; ``hollow``: that there is too little.

    ``nearest`` is the nearest real build-up (hollow), None without any; ``place_hz`` is where the
    parts were asked: its centre if it is near, else the claimed frequency. ``range`` is None for
    anything but a whole mix.
    """

    claimed_hz: float
    hollow: bool
    average: Average
    nearest: Hill | None
    place_hz: float
    parts: tuple[Part, ...]
    range: Range | None

    @property
    def there(self) -> bool:
        """Whether a real build-up (hollow) lies within half an octave of the claim."""
        return self.nearest is not None and _near(self.nearest, self.claimed_hz)

    @property
    def off_octaves(self) -> float | None:
        """How far the nearest one lies from the claim: positive when above it."""
        if self.nearest is None:
            return None
        return octaves(self.nearest.centre_hz, self.claimed_hz)


def evidence_for(
    samples: Samples,
    claimed_hz: float,
    *,
    hollow: bool = False,
    passages: Sequence[Passage] = (),
    whole_mix: bool = True,
) -> Evidence:
    """What speaks for too much (``hollow``: too little) at ``claimed_hz`` in ``samples``.

    Without ``passages`` the stretch is divided into parts of about two seconds.

    Raises:
        ValueError: silence, or shorter than half a second.
    """
    average = average_of(samples)
    nearest = nearest_hill(average, claimed_hz, hollows=hollow)
    near = nearest is not None and _near(nearest, claimed_hz)
    place_hz = nearest.centre_hz if nearest is not None and near else claimed_hz
    band = band_of(place_hz)
    usual = Range(
        band,
        float(average.octave_db[band.index]),
        OCTAVE_LOW_DB[band.index],
        OCTAVE_HIGH_DB[band.index],
    )
    parts = [_part(samples, passage, place_hz) for passage in passages or equal_parts(len(samples))]
    return Evidence(
        claimed_hz,
        hollow,
        average,
        nearest,
        place_hz,
        tuple(part for part in parts if part is not None),
        usual if whole_mix else None,
    )


def equal_parts(frames: int) -> tuple[Passage, ...]:
    """The whole in parts of about two seconds, named after the second that each begins with."""
    count = max(1, round(frames / (PART_S * RATE_HZ)))
    edges = [round(frames * part / count) for part in range(count + 1)]
    return tuple(
        Passage(f"from {start / RATE_HZ:.0f} s", start, stop) for start, stop in pairwise(edges)
    )


def most_marked(samples: Samples, claimed_hz: float, *, hollow: bool = False) -> tuple[int, int]:
    """The frames of the eight seconds in which the claim has most to stand on.

    Looked for every four seconds; where all is silent, the first eight.
    """
    window, hop = round(_WINDOW_S * RATE_HZ), round(_HOP_S * RATE_HZ)
    loudest = float(np.mean(np.square(samples))) if len(samples) else 0.0
    best = (-np.inf, 0)
    for start in range(0, max(1, len(samples) - window + 1), hop):
        piece = samples[start : start + window]
        # A window that is nearly silent measures as anything at all.
        if float(np.mean(np.square(piece))) > 0.05 * loudest:
            excess = excess_at(average_of(piece), claimed_hz)
            best = max(best, (-excess if hollow else excess, -start))
    start = -best[1]
    return start, min(len(samples), start + window)


def _part(samples: Samples, passage: Passage, place_hz: float) -> Part | None:
    piece = samples[passage.start_frame : passage.stop_frame]
    if len(piece) < SHORTEST_S * RATE_HZ or not np.ptp(piece, axis=0).any():
        return None
    average = average_of(piece)
    return Part(passage, excess_at(average, place_hz), needed_at(average, place_hz))


def _near(hill: Hill, claimed_hz: float) -> bool:
    return abs(octaves(hill.centre_hz, claimed_hz)) <= NEAR_OCTAVES
