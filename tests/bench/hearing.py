"""How fast the hearing core is, beside the usual libraries doing the same in the same run.

Each figure is the least of several turns taken in alternation, in milliseconds: the machine may be
busy, and what is least has been disturbed least. All work on 8 s of stereo at 48 kHz.

- *Question ready* is ``make_question``: mix, filter round the circle, match, both peaks, both
  scaled; *on a track of the mix*, the track is matched by itself as well. The reference chain:
  pedalboard's ``PeakFilter`` (one pass; not circular, not matched to its prototype), pyloudnorm on
  A and on B, B scaled, scipy's four-fold ``resample_poly`` on both, both scaled.
- *Compressor*: level, curve and gain applied, against pedalboard's ``Compressor``.
- *Loudness* and *true peak* against libebur128, once each.
"""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable, Iterator

import numpy as np

from exercises.compressor import StaticCurve, gain_at, levels_db, sample_gains
from exercises.dynamics import SQUASH_TIMING
from exercises.kinds import Kind
from exercises.loudness import loudness_lufs
from exercises.problems import Turned, do_change
from exercises.question import HIGHEST_PEAK_DBTP, REFERENCE_LUFS, make_question
from exercises.recipe import Recipe
from exercises.samples import RATE_HZ
from exercises.true_peak import true_peak
from tests.meters import ebur128_state
from tests.synthetic_loops import small_band

TURNS = 15
SECONDS = 8.0


def rows() -> Iterator[tuple[str, float, float, float | None]]:
    """(what, ours in ms, reference in ms, highest ratio promised)."""
    import pedalboard
    import pyebur128
    import pyloudnorm
    from scipy.signal import resample_poly

    loop = small_band(SECONDS)
    mix = loop.mix()
    frames = len(mix)
    # Each library gets the layout that it likes best, outside the clock.
    by_channel = np.ascontiguousarray(mix.T)
    by_frame = np.ascontiguousarray(mix)
    interleaved = by_frame.ravel()
    meter = pyloudnorm.Meter(RATE_HZ)
    peaking = pedalboard.PeakFilter(200.0, 6.0, 1.4)
    squash = pedalboard.Compressor(-24.0, 6.0, attack_ms=0.5, release_ms=150.0)
    recipe = Recipe(1, loop.name, loop.fingerprint, Kind.TOO_MUCH, 6.0, 200.0, 1.4)
    on_a_track = dataclasses.replace(recipe, track="drums")
    curve = StaticCurve(-24.0, 6.0, 6.0)

    def reference_question() -> object:
        b = peaking.process(by_channel, RATE_HZ, buffer_size=frames)
        a_lufs, b_lufs = meter.integrated_loudness(by_frame), meter.integrated_loudness(b.T)
        b = b * np.float32(10.0 ** ((a_lufs - b_lufs) / 20.0))
        peak = max(float(np.abs(resample_poly(x, 4, 1, axis=1)).max()) for x in (by_channel, b))
        gain_db = min(REFERENCE_LUFS - a_lufs, HIGHEST_PEAK_DBTP - 20.0 * np.log10(peak))
        gain = np.float32(10.0 ** (gain_db / 20.0))
        return by_channel * gain, b * gain

    def squashed() -> object:
        gain_db = gain_at(levels_db(mix, SQUASH_TIMING), curve)
        return do_change(mix, Turned(sample_gains(gain_db, frames)))

    def reference_loudness() -> float:
        state = ebur128_state(pyebur128.MeasurementMode.MODE_I, interleaved)
        return float(pyebur128.get_loudness_global(state))

    def reference_peak() -> float:
        state = ebur128_state(pyebur128.MeasurementMode.MODE_TRUE_PEAK, interleaved)
        return max(pyebur128.get_true_peak(state, side) for side in (0, 1))

    yield _row("question ready", lambda: make_question(recipe, loop), reference_question, 1.0)
    yield _row(
        "question ready, on a track of the mix",
        lambda: make_question(on_a_track, loop),
        reference_question,
        1.0,
    )
    yield _row(
        "compressor: level, curve, gain applied",
        squashed,
        lambda: squash.process(by_channel, RATE_HZ, buffer_size=frames),
        0.8,
    )
    yield _row("loudness", lambda: loudness_lufs(mix), reference_loudness, 1.0)
    yield _row("true peak", lambda: true_peak(mix), reference_peak, 1.0)


def _row(
    what: str, ours: Callable[[], object], reference: Callable[[], object], bound: float
) -> tuple[str, float, float, float | None]:
    ours(), reference()
    spent: tuple[list[float], list[float]] = ([], [])
    for _ in range(TURNS):
        for work, times in zip((ours, reference), spent, strict=True):
            start = time.perf_counter()
            work()
            times.append(time.perf_counter() - start)
    least_ours, least_reference = (1000.0 * min(times) for times in spent)
    return f"{what} (8 s stereo, ms)", least_ours, least_reference, bound
