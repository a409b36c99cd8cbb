"""A stretch of anybody's sound with and without one filter, as loud as each other: for blind tests.

A is the stretch as it is, B the same with the filter on one track or on all of it, round the loop.
B is matched to A in integrated loudness (``loudness``), both sit at -23 LUFS, and both are turned
down alike if a true peak passes -1 dBTP: as in a question, so the level tells nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises.equaliser import filter_loop, peaking
from exercises.errors import BadAudio
from exercises.loudness import block_powers, integrated_lufs, matching_gain_db
from exercises.question import HIGHEST_PEAK_DBTP, REFERENCE_LUFS
from exercises.samples import RATE_HZ, Samples, as_samples, db_to_gain, gain_to_db
from exercises.stretch import Stretch
from exercises.true_peak import true_peak

_FADE_S: Final = 0.01


@dataclass(frozen=True, slots=True)
class PointFilter:
    """One EQ point: centre in Hz, gain in dB (a cut is negative), Q."""

    freq_hz: float
    gain_db: float
    q: float


@dataclass(frozen=True, slots=True)
class Pair:
    """``a`` as it is, ``b`` with the filter; (frames, 2) float32, both turned by ``gain_db``."""

    a: Samples
    b: Samples
    gain_db: float


def with_and_without(stretch: Stretch, filter_: PointFilter) -> Pair:
    """``stretch`` without and with ``filter_`` on its part.

    Raises:
        BadAudio: the stretch is too quiet to be measured.
        ValueError: there is no such filter.
    """
    a, part = stretch.mix, stretch.part
    if not stretch.seamless:
        a, part = _faded(a), _faded(part)
    a_powers = block_powers(a)
    lufs = integrated_lufs(a_powers)
    if not np.isfinite(lufs):
        raise BadAudio(f"{stretch.title}: too quiet here; choose another stretch")
    filtered = filter_loop(part, peaking(filter_.freq_hz, filter_.gain_db, filter_.q))
    b = as_samples(a - part + filtered) if stretch.track is not None else filtered
    b = as_samples(b * np.float32(db_to_gain(matching_gain_db(block_powers(b), lufs))))
    gain_db = min(
        REFERENCE_LUFS - lufs,
        HIGHEST_PEAK_DBTP - gain_to_db(max(true_peak(a), true_peak(b))),
    )
    factor = np.float32(db_to_gain(gain_db))
    return Pair(as_samples(a * factor), as_samples(b * factor), gain_db)


def _faded(samples: Samples) -> Samples:
    """``samples`` with 10 ms faded in and out, so that it can go round without a click."""
    fade = np.linspace(0.0, 1.0, round(_FADE_S * RATE_HZ), dtype=np.float32)[:, None]
    faded = samples.copy(order="F")
    faded[: len(fade)] *= fade
    faded[-len(fade) :] *= fade[::-1]
    return faded
