"""Synthetic recordings with known tempo, bar lines and seams, for the tests of own material.

Plain sums of decaying sines and noise, seeded; nothing here comes from the code under test.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.random import RandomState

RATE_HZ = 48_000


def click_track(bpm: float, seconds: float, first_s: float = 0.3) -> np.ndarray:
    """(frames, 2): a 5 ms burst of 1.5 kHz on every beat, the first at ``first_s``."""
    frames = round(seconds * RATE_HZ)
    sound = np.zeros(frames)
    time_s = np.arange(round(0.05 * RATE_HZ)) / RATE_HZ
    click = np.sin(2 * np.pi * 1500 * time_s) * np.exp(-time_s / 0.005)
    for beat_s in np.arange(first_s, seconds - 0.06, 60.0 / bpm):
        start = round(beat_s * RATE_HZ)
        sound[start : start + len(click)] += 0.5 * click
    return np.column_stack([sound, sound]).astype(np.float32)


def _struck(frames: int, freq_hz: float, decay_s: float) -> np.ndarray:
    time_s = np.arange(frames) / RATE_HZ
    return np.sin(2 * np.pi * freq_hz * time_s) * np.exp(-time_s / decay_s)


@lru_cache(maxsize=6)
def song(
    bpm: float = 104.0,
    bars: int = 16,
    first_bar_s: float = 0.0,
    beats_per_bar: int = 4,
    seed: int = 1,
    wander_s: float = 0.0,
) -> np.ndarray:
    """(frames, 2): bass drum on 1 and 3, snare between, hats in eighths, a chord a bar, a bass.

    Chords go round in four bars, so that loops of four and eight bars follow themselves. Bar lines
    fall at ``first_bar_s`` + n bars; before them is quiet noise. ``wander_s`` moves each stroke by
    a normal deviate of that many seconds, as hands do.
    """
    random = RandomState(seed)
    beat = 60.0 / bpm
    seconds = first_bar_s + bars * beats_per_bar * beat + 0.5
    sound = 0.0005 * random.randn(round(seconds * RATE_HZ), 2)
    roots = [55.0, 43.65, 65.41, 49.0]

    def add(at_s: float, tone: np.ndarray, gain: float, pan: float = 0.0) -> None:
        start = max(0, round((first_bar_s + at_s + wander_s * random.randn()) * RATE_HZ))
        tone = tone[: max(0, len(sound) - start)] * gain
        sound[start : start + len(tone), 0] += tone * (1 - pan)
        sound[start : start + len(tone), 1] += tone * (1 + pan)

    for bar in range(bars):
        root = roots[bar % 4]
        for beat_index in range(beats_per_bar):
            at_s = (bar * beats_per_bar + beat_index) * beat
            if beat_index in (0, 2):
                add(at_s, _struck(9600, 58.0, 0.08), 0.35 if beat_index == 0 else 0.25)
            else:
                add(at_s, random.randn(7200) * np.exp(-np.arange(7200) / 1700.0), 0.06)
            for half in (0.0, 0.5):
                hat = np.diff(random.randn(2401)) * np.exp(-np.arange(2400) / 500.0)
                add(at_s + half * beat, hat, 0.02, 0.3)
            add(at_s, _struck(round(0.9 * beat * RATE_HZ), root, 0.3), 0.15)
        length = round(beats_per_bar * beat * RATE_HZ)
        for partial in (4.0, 5.0, 6.0, 8.0, 12.0, 20.0):
            for voice, pan in ((1.0, -0.5), (1.003, 0.5)):
                add(
                    bar * beats_per_bar * beat,
                    _struck(length, root * partial * voice, 1.2),
                    0.10 / partial,
                    pan,
                )
    return _kept(0.8 * sound / np.abs(sound).max())


@lru_cache(maxsize=2)
def pad(seconds: float = 40.0, seed: int = 2) -> np.ndarray:
    """(frames, 2): a slowly moving chord under noise, without any beat."""
    random = RandomState(seed)
    time_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    sound = 0.02 * random.randn(len(time_s), 2)
    for freq_hz in (110.0, 164.8, 220.0, 277.2, 554.4, 1108.7, 2217.0, 4434.0):
        swell = 1.0 + 0.3 * np.sin(2 * np.pi * time_s * random.uniform(0.03, 0.09) + freq_hz)
        for channel in (0, 1):
            tone = np.sin(2 * np.pi * (freq_hz + 0.2 * channel) * time_s)
            sound[:, channel] += 0.1 * swell * tone / (freq_hz / 110.0) ** 0.5
    return _kept(0.5 * sound / np.abs(sound).max())


def _kept(sound: np.ndarray) -> np.ndarray:
    """Float32, and not to be written to: several tests share it."""
    samples = sound.astype(np.float32)
    samples.flags.writeable = False
    return samples
