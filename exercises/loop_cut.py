"""Cutting a found passage out of its recording, to the sample and without a seam.

The start is set just before the onset that begins the bar, so that no attack is cut; the stop where
the waveform around it is most like that around the start. Then the last 20 ms before the stop are
cross-faded into the 20 ms that came before the start: the loop's last sample is the one that truly
came before its first, so going round is as smooth as the recording itself.

A cross-fade keeps the power even when the gains a and b of two signals with correlation r satisfy
a² + b² + 2 r a b = 1: equal power at r = 0, equal gain at r = 1, and all between by one formula.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from exercises.loop_features import Features, levels_db, measure
from exercises.loop_search import Candidate, beat_of, search
from exercises.samples import RATE_HZ, Floats, Samples, as_samples

FADE_S: Final = 0.02
SHORT_FADE_S: Final = 0.005
LONGEST_WHOLE_S: Final = 20.0

_ONSET_REACH_S: Final = 0.05
_BEFORE_ONSET_S: Final = 0.004
_ALIGN_REACH_S: Final = 0.03
_ALIGN_SPREAD_S: Final = 0.01
_ALIGN_WINDOW_S: Final = 0.15
_WORTH_ALIGNING: Final = 0.3
_BEAT_TOLERANCE: Final = 0.1
_SEAM_WINDOW_S: Final = 0.005
_STANDS_OUT: Final = 1.5


def find_loops(samples: Samples, count: int = 5) -> tuple[Candidate, ...]:
    """The best loops in ``samples`` (frames, 2), best first, placed to the sample.

    Sound of 2 to 20 s that is a loop already is the only candidate, whole.
    """
    features = measure([samples], RATE_HZ)
    found = search(features, count)
    if is_loop(samples, features) and found:
        return (whole(samples, found[0]),)
    return tuple(placed(samples, candidate) for candidate in found)


def is_loop(samples: Samples, features: Features) -> bool:
    """Whether the end runs on into the beginning: waveform, and beat or else sound.

    The waveform must step and bend no more from last to first frame than nearby; with a beat, the
    length must be a whole number of beats; without, the sound must run on.
    """
    if not 2.0 * RATE_HZ <= len(samples) <= LONGEST_WHOLE_S * RATE_HZ:
        return False
    if _clicks(samples):
        return False
    beat = beat_of(features)
    if beat is not None:
        beats = len(samples) / RATE_HZ / beat.period_s
        return abs(beats - round(beats)) <= _BEAT_TOLERANCE
    return _runs_on(features)


def _runs_on(features: Features) -> bool:
    """Whether the sound neither dies away towards its end nor drops from end to beginning.

    It may rise there: a loop may well begin with an attack.
    """
    levels = levels_db(features)
    rows = round(0.05 / features.hop_s)
    # The outermost rows reach half a window beyond the sound.
    last, first = levels[-rows - 2 : -2].mean(axis=0), levels[2 : rows + 2].mean(axis=0)
    falls_db = float(np.maximum(last - first, 0.0).mean())
    power = features.powers.sum(axis=1)
    return falls_db < 4.0 and bool(power[-rows - 2 : -2].mean() > 0.01 * power.mean())


def _clicks(samples: Samples) -> bool:
    """Whether the first or second difference across the seam stands out from those around it."""
    near = int(_SEAM_WINDOW_S * RATE_HZ)
    around = np.concatenate([samples[-near:], samples[:near]])
    for order in (1, 2):
        sizes = np.abs(np.diff(around, order, axis=0))
        at_seam = sizes[near - order : near]
        others = np.concatenate([sizes[: near - order], sizes[near:]])
        if (at_seam.max(axis=0) > _STANDS_OUT * others.max(axis=0) + 1e-4).any():
            return True
    return False


def whole(samples: Samples, like: Candidate) -> Candidate:
    """All of ``samples`` as a candidate, with the reasons of ``like`` for what is not its seam."""
    candidate = replace(
        like,
        start_frame=0,
        stop_frame=len(samples),
        reasons=replace(like.reasons, seam_db=0.0),
        tempo_bpm=None,
        beats_per_bar=4,
        bars=None,
        whole=True,
    )
    # Twice round, so that the first beat's attack and the bar lines at either end are heard too.
    beat = beat_of(measure([samples, samples], RATE_HZ))
    if beat is None:
        return candidate
    seconds = len(samples) / RATE_HZ
    beats = round(seconds / beat.period_s)
    # A loop holds whole bars, so of the likely bars only those that divide it can be.
    bars_of = [count for count in (beat.beats_per_bar, 4, 3) if beats % count == 0]
    return replace(
        candidate,
        tempo_bpm=60.0 * beats / seconds,
        beats_per_bar=bars_of[0] if bars_of else beat.beats_per_bar,
        bars=beats // bars_of[0] if bars_of else None,
    )


def placed(samples: Samples, candidate: Candidate, offset: int = 0) -> Candidate:
    """``candidate`` moved by a few milliseconds to where it is best cut.

    ``samples`` may be an excerpt that begins at frame ``offset`` of the recording.
    """
    mono = samples.mean(axis=1, dtype=np.float64)
    start = candidate.start_frame - offset
    length = candidate.stop_frame - candidate.start_frame
    if candidate.bars is not None:
        start = _before_onset(mono, start)
    stop = _aligned(mono, start, min(start + length, len(mono)))
    tempo_bpm = candidate.tempo_bpm
    if candidate.bars is not None:
        beats = candidate.bars * candidate.beats_per_bar
        tempo_bpm = 60.0 * beats * RATE_HZ / (stop - start)
    return replace(
        candidate, start_frame=start + offset, stop_frame=stop + offset, tempo_bpm=tempo_bpm
    )


def cut_loop(samples: Samples, candidate: Candidate, offset: int = 0) -> Samples:
    """The candidate's frames out of ``samples`` (frames, 2), end faded into the beginning.

    A candidate that leaves no sound around it to fade with comes out 5 ms shorter.

    Raises:
        ValueError: the candidate reaches outside the samples.
    """
    start, stop = candidate.start_frame - offset, candidate.stop_frame - offset
    if not 0 <= start < stop <= len(samples):
        raise ValueError(f"frames {start} to {stop} of {len(samples)}")
    loop = as_samples(samples[start:stop].copy())
    if candidate.whole:
        return loop
    fade = min(int(FADE_S * RATE_HZ), (stop - start) // 2)
    if start >= fade:
        loop[-fade:] = _crossfaded(loop[-fade:], samples[start - fade : start])
    elif stop + fade <= len(samples):
        # Nothing came before the start: let what follows the stop fade into it instead.
        loop[:fade] = _crossfaded(samples[stop : stop + fade], loop[:fade])
    else:
        # Neither side has enough: shorten the loop a little and use what that frees.
        fade = min(int(SHORT_FADE_S * RATE_HZ), fade)
        shorter = loop[fade:].copy()
        shorter[-fade:] = _crossfaded(shorter[-fade:], loop[:fade])
        loop = as_samples(shorter)
    return loop


def _crossfaded(going: Samples, coming: Samples) -> Samples:
    """From ``going`` to ``coming``, both (frames, 2), at even power whatever their correlation."""
    power = float(np.sqrt(np.square(going).sum() * np.square(coming).sum()))
    correlation = float((going * coming).sum() / power) if power > 0.0 else 0.0
    gain_out, gain_in = fade_gains(len(going), correlation)
    return as_samples(going * gain_out[:, None] + coming * gain_in[:, None])


def fade_gains(frames: int, correlation: float) -> tuple[Floats, Floats]:
    """(out, in) gains of a cross-fade over ``frames`` that keeps the power; see the top."""
    # The angle sets out and arrives gently, so that the gains have no corners.
    share = np.square(np.sin((np.arange(frames) + 1.0) / frames * (np.pi / 2.0)))
    angle = share * (np.pi / 2.0)
    going, coming = np.cos(angle), np.sin(angle)
    even = np.sqrt(1.0 + 2.0 * float(np.clip(correlation, 0.0, 1.0)) * going * coming)
    return going / even, coming / even


def _before_onset(mono: Floats, start: int) -> int:
    """Just before the steepest rise of energy within 50 ms of ``start``."""
    reach, step = int(_ONSET_REACH_S * RATE_HZ), RATE_HZ // 1000
    first = max(0, start - reach)
    around = mono[first : start + reach]
    if len(around) < 8 * step:
        return start
    millis = around[: len(around) // step * step].reshape(-1, step)
    # High frequencies show where an attack begins; a bass drum's body follows it.
    energy = np.square(np.diff(millis, axis=1)).sum(axis=1)
    energy = np.convolve(energy, np.ones(3) / 3.0, mode="same")
    floor = float(energy.max()) * 1e-4 + 1e-20
    rise = np.log(energy[3:] + floor) - np.log(energy[:-3] + floor)
    # Near the bar line goes before steep: another attack may lie a few hundredths away.
    distance = np.abs(np.arange(len(rise)) * step + first - start) / reach
    best = int(np.argmax(rise - 1.0 * distance))
    if rise[best] < 0.5:
        return start
    return max(0, first + best * step - int(_BEFORE_ONSET_S * RATE_HZ) + step)


def _aligned(mono: Floats, start: int, stop: int) -> int:
    """Where near ``stop`` the waveform is most like that around ``start``."""
    reach = int(_ALIGN_REACH_S * RATE_HZ)
    before = min(int(_ALIGN_WINDOW_S * RATE_HZ), start)
    after = min(int(_ALIGN_WINDOW_S * RATE_HZ), len(mono) - stop)
    if before + after < reach:
        return stop
    pattern = mono[start - before : start + after]
    first = stop - before - reach
    field = mono[first : stop + after + reach]
    if first < 0 or len(pattern) > len(field):
        return stop
    size = 1 << (len(field) + len(pattern)).bit_length()
    products = np.fft.irfft(np.fft.rfft(field, size) * np.conj(np.fft.rfft(pattern, size)), size)
    lags = len(field) - len(pattern) + 1
    squares = np.concatenate([[0.0], np.cumsum(np.square(field))])
    energy = squares[len(pattern) :] - squares[: -len(pattern)]
    scale = np.sqrt(np.maximum(energy * float(np.square(pattern).sum()), 1e-20))
    # Low notes are alike at every period: the nearer to where the tempo puts it, the better.
    moved_s = (np.arange(lags) - reach) / RATE_HZ
    likeness = products[:lags] / scale * np.exp(-0.5 * np.square(moved_s / _ALIGN_SPREAD_S))
    best = int(np.argmax(likeness))
    if likeness[best] < _WORTH_ALIGNING:
        return stop
    return first + best + before
