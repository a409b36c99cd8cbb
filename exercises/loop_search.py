"""Finding passages of a recording that would make good loops.

The recording is gone through in overlapping stretches. Where a stretch has a beat, loops begin and
end at its bar lines; where it has none, they may begin anywhere and end where the sound is most
like that before and after the beginning. Each is judged by figures that are kept as its reasons:

    seam        how far, in dB over the bands, what would have followed the end differs from what
                will follow (the beginning), and what led to the beginning from what leads to it now
    bands       how many of the ten octave bands hold energy, so that many questions can be asked
    level       the loudness against the recording's loud passages: no introductions, no fades
    evenness    how far the two halves differ in level
    beat        how steady the beat is

The weights between them are a matter of taste (common practice, no source). The search sees
features only (``loop_features``), to a hundredth of a second; ``loop_cut`` places the cut to the
sample.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from exercises.loop_features import Features, levels_db, onsets
from exercises.samples import RATE_HZ
from exercises.tempo import Beat, find_beat

SHORTEST_LOOP_S: Final = 6.0
LONGEST_LOOP_S: Final = 16.0

_STRETCH_S: Final = 24.0
_STRIDE_S: Final = 8.0
_WEAKEST_BEAT: Final = 0.12
_SEAM_S: Final = 0.4
_FREE_START_S: Final = 0.5
_FREE_LENGTH_S: Final = 0.1
_BAND_FLOOR_DB: Final = -45.0
_QUIETEST_DB: Final = -20.0
_MOST_SHARED: Final = 0.5
# Lengths that music is made of go first: four bars, then eight and two, then the others.
_BARS: Final = {4: 0.0, 8: 0.5, 2: 1.0, 6: 3.0, 3: 4.0, 12: 3.0, 16: 1.5, 1: 3.0}
_BASS_HALF_BANDS: Final = 6  # up to 178 Hz


@dataclass(frozen=True, slots=True)
class Reasons:
    """Why a candidate stands where it does; see the top of this file."""

    seam_db: float
    bands: int
    level_db: float
    unevenness_db: float
    beat_strength: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """A passage that would loop: frames at 48 kHz from the recording's start, the last not in it.

    ``score`` is 100 less what its reasons cost; ``tempo_bpm`` and ``bars`` are None without a beat;
    ``whole`` says that the recording is a loop already, to be left as it is.
    """

    start_frame: int
    stop_frame: int
    score: float
    reasons: Reasons
    tempo_bpm: float | None = None
    beats_per_bar: int = 4
    bars: int | None = None
    whole: bool = False

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return (self.stop_frame - self.start_frame) / RATE_HZ


@dataclass(frozen=True, slots=True)
class _Recording:
    """Features as the search needs them, row by row."""

    powers: npt.NDArray[np.float32]
    levels: npt.NDArray[np.float32]
    power: npt.NDArray[np.float32]
    hop_s: float
    loud_db: float

    @property
    def rows(self) -> int:
        return len(self.levels)


def search(features: Features, count: int = 5) -> tuple[Candidate, ...]:
    """The best ``count`` loops of a recording, best first; no two share more than half.

    Loops last 6 to 16 s; of a recording under 12 s, half of it or more. Empty for one under 2 s.
    """
    if features.seconds < 2.0:
        return ()
    recording = _prepare(features)
    found: list[Candidate] = []
    for first, last in _stretches(recording):
        found += _of_stretch(recording, first, last)
    found.sort(key=lambda candidate: (-candidate.score, candidate.start_frame))
    return _apart(found, count)


def beat_of(features: Features) -> Beat | None:
    """The beat of the whole recording, or None if it has none worth following."""
    recording = _prepare(features)
    return _beat(recording, 0, recording.rows)


def _prepare(features: Features) -> _Recording:
    power = features.powers.sum(axis=1)
    second = max(1, round(1.0 / features.hop_s))
    seconds = power[: len(power) // second * second].reshape(-1, second).mean(axis=1)
    return _Recording(
        features.powers,
        levels_db(features),
        power,
        features.hop_s,
        _db(float(np.percentile(seconds, 80))),
    )


def _db(power: float) -> float:
    return 10.0 * float(np.log10(max(power, 1e-20)))


def _bass(powers: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Level of the bass, dB, no deeper than 40 dB under its average."""
    bass = powers[:, :_BASS_HALF_BANDS].sum(axis=1)
    return np.asarray(10.0 * np.log10(bass + 1e-4 * bass.mean() + 1e-20), dtype=np.float32)


def _change(levels: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """How far the average sound of the next 0.4 s lies from that of the last 0.4 s, dB."""
    reach = 40
    change = np.zeros(len(levels), dtype=np.float32)
    if len(levels) <= 2 * reach:
        return change
    summed = np.concatenate(
        [np.zeros((1, levels.shape[1])), np.cumsum(levels, axis=0, dtype=np.float64)]
    )
    means = (summed[reach:] - summed[:-reach]) / reach
    change[reach : len(levels) - reach + 1] = np.abs(means[reach:] - means[:-reach]).mean(axis=1)
    return change


def _stretches(recording: _Recording) -> Iterator[tuple[int, int]]:
    length, stride = (round(s / recording.hop_s) for s in (_STRETCH_S, _STRIDE_S))
    first = 0
    while True:
        last = min(first + length, recording.rows)
        yield first, last
        if last == recording.rows:
            return
        first += stride


def _beat(recording: _Recording, first: int, last: int) -> Beat | None:
    levels = recording.levels[first:last]
    beat = find_beat(
        onsets(levels),
        _bass(recording.powers[first:last]),
        _change(levels),
        recording.hop_s,
    )
    return beat if beat is not None and beat.strength >= _WEAKEST_BEAT else None


def _of_stretch(recording: _Recording, first: int, last: int) -> list[Candidate]:
    power = float(recording.power[first:last].mean())
    if _db(power) < recording.loud_db + _QUIETEST_DB:
        return []
    beat = _beat(recording, first, last)
    found = [] if beat is None else _at_bar_lines(recording, first, last, beat)
    return found or _anywhere(recording, first, last)


def _at_bar_lines(recording: _Recording, first: int, last: int, beat: Beat) -> list[Candidate]:
    hop_s = recording.hop_s
    shortest_s, longest_s = _lengths_s(recording)
    bar_lines_s = np.arange(
        beat.bar_s - beat.bar_seconds * np.floor(beat.bar_s / beat.bar_seconds),
        (last - first) * hop_s,
        beat.bar_seconds,
    )
    found = []
    for bars, handicap in _BARS.items():
        length_s = bars * beat.bar_seconds
        if not shortest_s <= length_s <= longest_s:
            continue
        for line_s in bar_lines_s:
            start = first * hop_s + float(line_s)
            if start + length_s <= last * hop_s:
                candidate = _judged(recording, start, start + length_s, handicap, beat, bars)
                found.append(candidate)
    return found


def _anywhere(recording: _Recording, first: int, last: int) -> list[Candidate]:
    """For each of a row of beginnings, the end with the best seam."""
    hop_s = recording.hop_s
    shortest, longest = (round(s / hop_s) for s in _lengths_s(recording))
    found = []
    step = max(1, round(_FREE_LENGTH_S / hop_s))
    for start in range(first, last - shortest + 1, round(_FREE_START_S / hop_s)):
        stops = np.arange(start + shortest, min(last, start + longest) + 1, step)
        costs = _seams_db(recording, start, stops)
        near = int(stops[np.argmin(costs)])
        fine = np.arange(
            max(start + shortest, near - step), min(last, start + longest, near + step) + 1
        )
        stop = int(fine[np.argmin(_seams_db(recording, start, fine))])
        found.append(_judged(recording, start * hop_s, stop * hop_s, 2.0, None, None))
    return found


def _lengths_s(recording: _Recording) -> tuple[float, float]:
    whole_s = recording.rows * recording.hop_s
    return min(SHORTEST_LOOP_S, 0.5 * whole_s), min(LONGEST_LOOP_S, whole_s)


def _judged(
    recording: _Recording,
    start_s: float,
    stop_s: float,
    handicap: float,
    beat: Beat | None,
    bars: int | None,
) -> Candidate:
    start, stop = (round(s / recording.hop_s) for s in (start_s, stop_s))
    middle = (start + stop) // 2
    octaves = recording.powers[start:stop].sum(axis=0).reshape(-1, 2).sum(axis=1)
    total = max(float(octaves.sum()), 1e-20)
    halves_db = [
        _db(float(recording.power[a:b].mean())) for a, b in ((start, middle), (middle, stop))
    ]
    reasons = Reasons(
        seam_db=float(_seams_db(recording, start, np.array([stop]))[0]),
        bands=int((octaves > total * 10.0 ** (_BAND_FLOOR_DB / 10.0)).sum()),
        level_db=_db(total / (stop - start)) - recording.loud_db,
        unevenness_db=abs(halves_db[0] - halves_db[1]),
        beat_strength=0.0 if beat is None else beat.strength,
    )
    return Candidate(
        start_frame=round(start_s * RATE_HZ),
        stop_frame=round(stop_s * RATE_HZ),
        score=_score(reasons, handicap),
        reasons=reasons,
        tempo_bpm=None if beat is None else beat.bpm,
        beats_per_bar=4 if beat is None else beat.beats_per_bar,
        bars=bars,
    )


def _score(reasons: Reasons, handicap: float) -> float:
    return (
        100.0
        - 4.0 * reasons.seam_db
        - 4.0 * (10 - reasons.bands)
        - 1.5 * max(0.0, -reasons.level_db - 3.0)
        - 1.5 * max(0.0, reasons.unevenness_db - 1.0)
        + 5.0 * reasons.beat_strength
        - handicap
    )


def _seams_db(recording: _Recording, start: int, stops: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Mean difference of the bands around ``start`` from those around each of ``stops``, dB.

    Only the sides that exist count: at the recording's very start there is nothing before.
    """
    reach = round(_SEAM_S / recording.hop_s)
    offsets = np.arange(-reach, reach)
    places = stops[:, None] + offsets
    usable = (places < recording.rows) & (start + offsets >= 0) & (start + offsets < recording.rows)
    # Near the seam counts most: the ear compares what meets there.
    weights = usable * np.exp(-np.abs(offsets + 0.5) / (reach / 2.0))
    here = recording.levels[np.clip(start + offsets, 0, recording.rows - 1)]
    there = recording.levels[np.clip(places, 0, recording.rows - 1)]
    differences = np.abs(there - here).mean(axis=2)
    total = weights.sum(axis=1)
    return np.where(
        total > 0.0, (differences * weights).sum(axis=1) / np.maximum(total, 1e-9), 12.0
    )


def _apart(found: list[Candidate], count: int) -> tuple[Candidate, ...]:
    """The first ``count`` that do not share more than half of the shorter one with a better."""
    kept: list[Candidate] = []
    for candidate in found:
        if len(kept) == count:
            break
        if all(_shared(candidate, other) <= _MOST_SHARED for other in kept):
            kept.append(candidate)
    return tuple(kept)


def _shared(one: Candidate, other: Candidate) -> float:
    common = min(one.stop_frame, other.stop_frame) - max(one.start_frame, other.start_frame)
    shorter = min(one.stop_frame - one.start_frame, other.stop_frame - other.start_frame)
    return common / shorter
