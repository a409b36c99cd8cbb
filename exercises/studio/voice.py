"""Voices, singing and speaking: a glottal source under moving formants, with consonants.

Formant frequencies, levels and bandwidths are the soprano, tenor and bass values that the Csound
manual's appendix "Formant Values" lists (from memory); a singer raises the first formant with the
pitch. A syllable is written as it sounds: ``la``, ``so``, ``tin``, ``sha``, ``boust``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from numpy.random import RandomState

from exercises.samples import RATE_HZ, Floats
from exercises.studio.tones import HOP, breath, harmonics, resonance, wander

# Per vowel: five formants in Hz, their levels in dB, their bandwidths in Hz.
Vowels = dict[str, tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]]
SOPRANO: Final[Vowels] = {
    "a": ((800, 1150, 2900, 3900, 4950), (0, -6, -32, -20, -50), (80, 90, 120, 130, 140)),
    "e": ((350, 2000, 2800, 3600, 4950), (0, -20, -15, -40, -56), (60, 100, 120, 150, 200)),
    "i": ((270, 2140, 2950, 3900, 4950), (0, -12, -26, -26, -44), (60, 90, 100, 120, 120)),
    "o": ((450, 800, 2830, 3800, 4950), (0, -11, -22, -22, -50), (70, 80, 100, 130, 135)),
    "u": ((325, 700, 2700, 3800, 4950), (0, -16, -35, -40, -60), (50, 60, 170, 180, 200)),
}
TENOR: Final[Vowels] = {
    "a": ((650, 1080, 2650, 2900, 3250), (0, -6, -7, -8, -22), (80, 90, 120, 130, 140)),
    "e": ((400, 1700, 2600, 3200, 3580), (0, -14, -12, -14, -20), (70, 80, 100, 120, 120)),
    "i": ((290, 1870, 2800, 3250, 3540), (0, -15, -18, -20, -30), (40, 90, 100, 120, 120)),
    "o": ((400, 800, 2600, 2800, 3000), (0, -10, -12, -12, -26), (70, 80, 100, 130, 135)),
    "u": ((350, 600, 2700, 2900, 3300), (0, -20, -17, -14, -26), (40, 60, 100, 120, 120)),
}
BASS: Final[Vowels] = {
    "a": ((600, 1040, 2250, 2450, 2750), (0, -7, -9, -9, -20), (60, 70, 110, 120, 130)),
    "e": ((400, 1620, 2400, 2800, 3100), (0, -12, -9, -12, -18), (40, 80, 100, 120, 120)),
    "i": ((250, 1750, 2600, 3050, 3340), (0, -30, -16, -22, -28), (60, 90, 100, 120, 120)),
    "o": ((400, 750, 2400, 2600, 2900), (0, -11, -21, -20, -40), (40, 80, 100, 120, 120)),
    "u": ((350, 600, 2400, 2675, 2950), (0, -20, -32, -28, -36), (40, 80, 100, 120, 120)),
}
# Consonants: noise centre Hz, width Hz, level, seconds; voiced ones keep the source going.
_NOISES: Final = {
    "s": (7200.0, 3600.0, 0.30, 0.11), "z": (6800.0, 3600.0, 0.16, 0.08),
    "sh": (3600.0, 2600.0, 0.30, 0.11), "ch": (3900.0, 2800.0, 0.34, 0.07),
    "f": (6500.0, 9000.0, 0.08, 0.08), "v": (5000.0, 8000.0, 0.03, 0.05),
    "h": (1600.0, 3000.0, 0.06, 0.06),
    "t": (5200.0, 5000.0, 0.36, 0.035), "k": (2300.0, 2200.0, 0.34, 0.04),
    "p": (900.0, 1800.0, 0.30, 0.03), "d": (3800.0, 4000.0, 0.16, 0.02),
    "g": (1900.0, 1800.0, 0.16, 0.025), "b": (500.0, 900.0, 0.16, 0.02),
}  # fmt: skip
_SONORANTS: Final = {
    "m": (260.0, 1000.0, 0.45), "n": (280.0, 1450.0, 0.45), "l": (360.0, 1250.0, 0.6),
    "r": (380.0, 1150.0, 0.6), "w": (300.0, 620.0, 0.6), "y": (270.0, 2150.0, 0.6),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Syllable:
    """``sound`` from ``start_s`` for ``seconds`` at ``pitch_hz``; 0 < ``level`` <= 1."""

    sound: str
    start_s: float
    seconds: float
    pitch_hz: float
    level: float = 0.8


@dataclass(frozen=True, slots=True)
class Voice:
    """A singer or speaker: vowels, vibrato (semitones), breath, and how long pitch glides.

    ``bright_db`` lifts the upper formants; ``consonants`` is the level of their noises.
    """

    vowels: str = "soprano"
    vibrato: float = 0.25
    breath: float = 0.05
    glide_s: float = 0.05
    bright_db: float = 0.0
    speaking: bool = False
    consonants: float = 0.5


_TABLES: Final = {"soprano": SOPRANO, "tenor": TENOR, "bass": BASS}


def _spelt(sound: str) -> tuple[list[str], str, list[str]]:
    """Onset consonants, vowel (two letters glide) and coda consonants of a syllable."""
    first = next(index for index, letter in enumerate(sound) if letter in "aeiou")
    last = max(index for index, letter in enumerate(sound) if letter in "aeiou") + 1
    return _consonants(sound[:first]), sound[first:last], _consonants(sound[last:])


def _consonants(letters: str) -> list[str]:
    marked = letters.replace("sh", "S").replace("ch", "C")
    return [{"S": "sh", "C": "ch"}.get(letter, letter) for letter in marked]


@dataclass(frozen=True, slots=True)
class _Score:
    """What a phrase asks of the mouth: controls (points,) or (points, 5) every HOP samples.

    ``noises`` are the consonants: start and length in seconds, centre and width in Hz, level.
    """

    formants: Floats
    levels: Floats
    widths: Floats
    gain: Floats
    pitch: Floats
    settled: Floats
    noises: list[tuple[float, float, float, float, float]]


def sung(phrase: list[Syllable], voice: Voice, hand: RandomState) -> Floats:
    """A phrase, (frames,) from time 0 of its syllables, with 0.3 s to die away."""
    frames = int((max(s.start_s + s.seconds for s in phrase) + 0.3) * RATE_HZ)
    points = -(-frames // HOP) + 2
    score = _scored(phrase, _TABLES[voice.vowels], points)
    moving = np.column_stack([score.formants, score.levels, score.widths])
    formants, levels, widths = np.split(_eased(moving, 0.035), 3, axis=1)
    curve = _pitch_curve(score.pitch, score.settled, frames, voice, hand)
    formants[:, 0] = np.maximum(formants[:, 0], score.pitch)
    amplitudes = 10.0 ** ((levels + voice.bright_db * np.arange(5) / 2.0) / 20.0)
    gain = _eased(score.gain[:, None], 0.012)[:, 0] * (1.0 + 0.04 * _control_wander(points, hand))

    def tract(freqs: Floats, at: npt.NDArray[np.intp]) -> Floats:
        total = np.zeros(np.broadcast(freqs, at).shape)
        for k in range(5):
            total += amplitudes[at, k] * resonance(freqs, formants[at, k], widths[at, k])
        return total / (1.0 + (freqs / 6500.0) ** 2)

    tone = harmonics(
        curve, lambda f, at: gain[at] ** 1.2 * tract(f, at) * (f / (f + 90.0)), 13_000.0
    )
    air = breath(frames, lambda f, at: gain[at] * (tract(f, at) * (f / (f + 900.0)) + 0.03), hand)
    out = tone + voice.breath * air
    for start, long_s, centre, width, level in score.noises:
        burst = _consonant(long_s, centre, width, level, hand)
        at = max(0, int(start * RATE_HZ))
        out[at : at + len(burst)] += voice.consonants * burst[: len(out) - at]
    return out


def _scored(phrase: list[Syllable], table: Vowels, points: int) -> _Score:
    seconds = np.arange(points) * HOP / RATE_HZ
    ready = table[_spelt(phrase[0].sound)[1][0]]
    formants, levels, widths = (np.tile(np.array(row, dtype=float), (points, 1)) for row in ready)
    gain, settled = np.zeros(points), np.zeros(points)
    pitch = np.full(points, phrase[0].pitch_hz)
    noises = []
    for s in phrase:
        onset, vowel, coda = _spelt(s.sound)
        start, stop = s.start_s, s.start_s + s.seconds
        here = slice(int(start * RATE_HZ / HOP), points)
        formants[here], levels[here], widths[here] = table[vowel[0]]
        if len(vowel) > 1:
            slide = slice(int((stop - 0.4 * s.seconds) * RATE_HZ / HOP), points)
            formants[slide], levels[slide], widths[slide] = table[vowel[1]]
        pitch[here] = s.pitch_hz
        settled[here] = np.clip((seconds[here] - start - 0.18) / 0.25, 0.0, 1.0)
        hold = np.clip((seconds - start) / 0.035, 0.0, 1.0)
        hold *= np.clip((stop - seconds) / 0.07, 0.0, 1.0)
        before, after = start, stop - 0.03
        for consonant in reversed(onset):
            if consonant in _SONORANTS:
                f1, f2, weight = _SONORANTS[consonant]
                hum = slice(here.start, here.start + int(0.07 * RATE_HZ / HOP))
                formants[hum, :2] = f1, f2
                levels[hum, 2:] -= 8.0
                hold[hum] *= weight
            else:
                centre, width, level, long_s = _NOISES[consonant]
                before -= 0.7 * long_s
                noises.append((before, long_s, centre, width, level * s.level))
        for consonant in coda:
            if consonant in _SONORANTS:
                f1, f2, weight = _SONORANTS[consonant]
                hum = slice(int((stop - 0.12) * RATE_HZ / HOP), int(stop * RATE_HZ / HOP))
                formants[hum, :2] = f1, f2
                hold[hum] *= weight
            else:
                centre, width, level, long_s = _NOISES[consonant]
                noises.append((after, long_s, centre, width, level * s.level))
                after += 0.8 * long_s
        gain = np.maximum(gain, hold * s.level)
    return _Score(formants, levels, widths, gain, pitch, settled, noises)


def _eased(controls: Floats, time_s: float) -> Floats:
    """Control curves (points, n) smoothed by a Hann window ``time_s`` long to either side."""
    reach = max(1, round(time_s * RATE_HZ / HOP))
    window = np.hanning(2 * reach + 3)[1:-1]
    window /= window.sum()
    padded = np.pad(controls, ((reach, reach), (0, 0)), mode="edge")
    return np.column_stack([np.convolve(column, window, "valid") for column in padded.T])


def _control_wander(points: int, hand: RandomState) -> Floats:
    return wander(points * HOP, 5.0, hand)[::HOP]


def _pitch_curve(
    pitch: Floats, settled: Floats, frames: int, voice: Voice, hand: RandomState
) -> Floats:
    cents = 1200.0 * _eased(np.log2(pitch)[:, None], voice.glide_s)[:, 0]
    rate = 5.4 + 0.25 * _control_wander(len(pitch), hand)
    turn = np.cumsum(rate) * HOP / RATE_HZ
    cents = cents + 100.0 * voice.vibrato * settled * np.sin(2.0 * np.pi * turn)
    cents = cents + (30.0 if voice.speaking else 8.0) * _control_wander(len(pitch), hand)
    fine = np.interp(np.arange(frames), np.arange(len(pitch)) * HOP, cents)
    return np.asarray(2.0 ** (fine / 1200.0) * (1.0 + 0.002 * wander(frames, 60.0, hand)))


def _consonant(
    long_s: float, centre_hz: float, width_hz: float, level: float, hand: RandomState
) -> Floats:
    frames = int(long_s * RATE_HZ)

    def band(freqs: Floats, at: npt.NDArray[np.intp]) -> Floats:
        return resonance(freqs, centre_hz, width_hz) ** 2

    hiss = breath(frames, band, hand)
    hiss /= hiss.std()
    shape = np.sin(np.pi * np.linspace(0.0, 1.0, frames) ** (0.8 if long_s > 0.05 else 0.25))
    return np.asarray(level * hiss * shape)
