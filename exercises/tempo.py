"""Tempo, beat and bar of a stretch of music, from its onset strength.

Tempo by autocorrelation of the onset strength, weighted towards 120 beats a minute on a logarithmic
scale as in D. P. W. Ellis, "Beat tracking by dynamic programming", Journal of New Music Research
36(1), 2007; a period scores by its first four multiples, all of which must be strong, and loses by
what already repeats half-way, or at both thirds of the way, so that a tempo is taken neither for
its double nor for its half, and a beat and a half not for a beat.
The period is then fitted to its furthest clear multiple, which makes it exact to about a
millisecond in ten seconds. A metrical level (twice or half the tempo) may still differ from what a
player would count; bars of four such beats loop alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from exercises.samples import Floats

SLOWEST_BPM: Final = 50.0
FASTEST_BPM: Final = 200.0

_PREFERRED_BPM: Final = 120.0
_SPREAD_OCTAVES: Final = 0.7
_WEAKEST_WEIGHT: Final = 0.8
_HALF_WAY_WEIGHT: Final = 0.3
_THIRDS_WEIGHT: Final = 0.6
_LONGEST_FIT_S: Final = 16.0


@dataclass(frozen=True, slots=True)
class Beat:
    """A steady beat: ``period_s`` apart, one of them at ``first_s``, a bar line at ``bar_s``.

    ``strength`` is the normalised autocorrelation at the beat, 0 (no beat) to 1 (a metronome).
    """

    period_s: float
    first_s: float
    bar_s: float
    beats_per_bar: int
    strength: float

    @property
    def bpm(self) -> float:
        """Beats a minute."""
        return 60.0 / self.period_s

    @property
    def bar_seconds(self) -> float:
        """How long a bar is."""
        return self.period_s * self.beats_per_bar


def find_beat(
    onset: npt.NDArray[Any], bass: npt.NDArray[Any], change: npt.NDArray[Any], hop_s: float
) -> Beat | None:
    """The beat of a stretch, or None if its onsets do not repeat at all.

    Args:
        onset: onset strength (rows,) every ``hop_s`` seconds.
        bass: level of the bass in dB, likewise; bars mostly begin with its strongest stroke.
        change: how much the sound of the next half second differs from the last, likewise.
        hop_s: seconds between rows.
    """
    correlation = _autocorrelation(onset)
    period = _best_period(correlation, hop_s)
    if period is None:
        return None
    strength = float(np.clip(_at(correlation, period), 0.0, 1.0))
    period = _fitted(correlation, period, hop_s)
    phase = _best_phase(onset, period)
    beats_per_bar, bar_phase = _bar(bass, change, period, phase)
    return Beat(period * hop_s, phase * hop_s, bar_phase * hop_s, beats_per_bar, strength)


def _autocorrelation(onset: npt.NDArray[Any]) -> Floats:
    """Correlation of the onsets with themselves at each lag; 1 at lag 0; unbiased."""
    centred = onset.astype(np.float64) - onset.mean()
    # Onsets are a hop or two wide; a little smoothing lets a beat between two hops be seen.
    centred = np.convolve(centred, [0.25, 0.5, 0.25], mode="same")
    frames = len(centred)
    size = 1 << (2 * frames - 1).bit_length()
    raw = np.fft.irfft(np.square(np.abs(np.fft.rfft(centred, size))), size)[:frames]
    raw /= np.maximum(frames - np.arange(frames), 1)
    return np.asarray(raw / raw[0] if raw[0] > 0.0 else np.zeros(frames))


def _at(series: Floats, place: float | Floats) -> Any:
    """``series`` between its rows, linearly; 0 outside."""
    return np.interp(place, np.arange(len(series)), series, left=0.0, right=0.0)


def _best_period(correlation: Floats, hop_s: float) -> float | None:
    shortest, longest = 60.0 / FASTEST_BPM / hop_s, 60.0 / SLOWEST_BPM / hop_s
    # Beyond three quarters of the stretch too few onsets meet for the figure to mean anything.
    longest = min(longest, 0.75 * len(correlation))
    if longest <= shortest:
        return None
    periods = np.arange(shortest, longest, 0.25)
    multiples = np.arange(1, 5)[:, None] * periods
    usable = multiples < 0.75 * len(correlation)
    at_multiples = np.where(usable, _at(correlation, multiples), np.nan)
    # The weakest multiple counts for more than the average: of half a beat, every other is weak.
    average, weakest = np.nanmean(at_multiples, axis=0), np.nanmin(at_multiples, axis=0)
    repeats = average + _WEAKEST_WEIGHT * (weakest - average)
    half_way = np.maximum(_at(correlation, periods / 2.0), 0.0)
    thirds = np.maximum(
        np.minimum(_at(correlation, periods / 3.0), _at(correlation, periods / 1.5)), 0.0
    )
    octaves = np.log2(60.0 / (periods * hop_s) / _PREFERRED_BPM)
    weight = np.exp(-0.5 * np.square(octaves / _SPREAD_OCTAVES))
    lost = _HALF_WAY_WEIGHT * half_way + _THIRDS_WEIGHT * thirds
    scores = (repeats - lost) * weight
    best = int(np.argmax(scores))
    return float(periods[best]) if scores[best] > 0.0 else None


def _fitted(correlation: Floats, period: float, hop_s: float) -> float:
    """``period`` corrected by the peaks at its multiples, near to far."""
    beats = 1
    longest = min(_LONGEST_FIT_S / hop_s, 0.75 * len(correlation) - 2)
    while beats * period < longest:
        # A quarter of a period to either side at most, so that no other beat's peak is met.
        reach = max(1, min(3, int(period / 4.0)))
        middle = round(beats * period)
        if middle - reach < 1 or middle + reach + 2 > len(correlation):
            break
        top = middle - reach + int(np.argmax(correlation[middle - reach : middle + reach + 1]))
        if correlation[top] > 0.5 * correlation[round(period)]:
            left, peak, right = correlation[top - 1 : top + 2]
            bend = left - 2.0 * peak + right
            offset = 0.5 * (left - right) / bend if bend < 0.0 else 0.0
            period = (top + float(np.clip(offset, -0.5, 0.5))) / beats
        beats *= 2
    return period


def _best_phase(onset: npt.NDArray[Any], period: float) -> float:
    """Where in the first period the beats fall, in hops."""
    phases = np.arange(0.0, period, 0.25)
    grid = phases[:, None] + period * np.arange(int((len(onset) - 1) / period))
    return float(phases[np.argmax(_at(onset.astype(np.float64), grid).sum(axis=1))])


def _bar(
    bass: npt.NDArray[Any], change: npt.NDArray[Any], period: float, phase: float
) -> tuple[int, float]:
    """(beats in a bar, phase of the bar lines): where the bass and the harmony move."""
    count = int((len(bass) - 1 - phase) / period) + 1
    beats = np.asarray(phase + period * np.arange(count), dtype=np.float64)
    strokes, moves = _highest_from(bass, beats), _highest_from(change, beats)
    accents = np.add(_standardised(strokes), _standardised(moves))
    best = (4, 0, -np.inf)
    # Three-four has to show itself, the more clearly the fewer beats there are: it is the rarer.
    for beats_per_bar, handicap in ((4, 0.0), (3, 4.0 / max(1, count))):
        for first in range(beats_per_bar if count >= 2 * beats_per_bar else 0):
            on_line = accents[first::beats_per_bar].mean()
            score = float(on_line - np.delete(accents, np.s_[first::beats_per_bar]).mean())
            if score - handicap > best[2]:
                best = (beats_per_bar, first, score - handicap)
    return best[0], phase + period * best[1]


def _highest_from(series: npt.NDArray[Any], places: Floats) -> Floats:
    """The highest of each place, the two rows before it and the five after."""
    offsets = np.arange(-2, 6)
    return np.asarray(_at(series.astype(np.float64), places[:, None] + offsets).max(axis=1))


def _standardised(values: Floats) -> Floats:
    spread = float(values.std())
    return np.asarray((values - values.mean()) / spread if spread > 0.0 else np.zeros(len(values)))
