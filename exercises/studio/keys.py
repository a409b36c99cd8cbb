"""Keys: piano, electric piano, organ, and synthesiser pads, basses and stabs; one note each."""

from __future__ import annotations

import numpy as np
from numpy.random import RandomState
from scipy.signal import sosfilt

from exercises.samples import RATE_HZ, Floats
from exercises.studio.filters import bandpass
from exercises.studio.modes import struck
from exercises.studio.tones import harmonics, wander


def _released(note: Floats, seconds: float, release_s: float) -> Floats:
    held = int(seconds * RATE_HZ)
    t = np.arange(len(note) - held) / RATE_HZ
    note[held:] *= 10.0 ** (-3.0 * t / release_s)
    return note


def _seconds(frames: int) -> Floats:
    return np.arange(frames) / RATE_HZ


def piano(freq_hz: float, seconds: float, velocity: float, hand: RandomState) -> Floats:
    """A piano note: stiff strings (partials sharpened by B n^2), hammer at 1/8, two decays.

    Fletcher & Rossing, "The Physics of Musical Instruments", ch. 12.
    """
    long_s = seconds + 0.35
    n = np.arange(1.0, min(60, int(12_000.0 / freq_hz)) + 1)
    stiff = 0.00035 * (freq_hz / 262.0) ** 1.2 + 0.0001
    freqs = n * freq_hz * np.sqrt(1.0 + stiff * n**2)
    soft_hz = (700.0 + 2600.0 * velocity**1.5) * (freq_hz / 262.0) ** 0.3
    gains = np.abs(np.sin(np.pi * n / 8.0 * 0.97)) / n**0.6 / (1.0 + (freqs / soft_hz) ** 2)
    decays = 9.0 * (262.0 / freq_hz) ** 0.6 / (1.0 + 0.0009 * freqs)
    phases = hand.uniform(-0.3, 0.3, len(n))
    quick = struck(freqs, decays * 0.28, gains, long_s, phases)
    slow = struck(freqs * 1.0004, decays, 0.35 * gains, long_s, phases + 0.4)
    knock = hand.standard_normal(int(0.06 * RATE_HZ))
    knock = sosfilt(_one(bandpass(240.0, 0.8)), knock)
    note = quick + slow
    note /= np.abs(note).max()
    note[: len(knock)] += 0.06 * knock * np.exp(-_seconds(len(knock)) / 0.012)
    note[:48] *= np.linspace(0.0, 1.0, 48)
    return _released(note * velocity, seconds, 0.3)


def electric_piano(freq_hz: float, seconds: float, velocity: float, hand: RandomState) -> Floats:
    """A tine piano by frequency modulation: a bell that dies fast over a warm 1:1 pair.

    J. Chowning, "The Synthesis of Complex Audio Spectra by Means of Frequency Modulation", JAES
    21(7), 1973.
    """
    t = _seconds(int((seconds + 0.3) * RATE_HZ))
    turn = 2.0 * np.pi * freq_hz * (1.0 + 0.0005 * hand.standard_normal()) * t
    body_index = 1.5 * velocity**1.4 * np.exp(-t / 0.45) + 0.15
    tine_index = 0.5 * velocity**2 * np.exp(-t / 0.07)
    body = np.sin(turn + body_index * np.sin(turn))
    tine = np.sin(turn + tine_index * np.sin(min(14.0, round(9000.0 / freq_hz)) * turn))
    note = (body + 0.6 * tine) * np.exp(-t / (1.6 * (262.0 / freq_hz) ** 0.35))
    note[:96] *= np.linspace(0.0, 1.0, 96)
    return _released(note * velocity / 1.6, seconds, 0.22)


def organ(
    freq_hz: float,
    seconds: float,
    velocity: float,
    hand: RandomState,
    drawbars: str = "888400020",
    spin_hz: float = 5.8,
) -> Floats:
    """Drawbar organ (16', 5 1/3', 8', 4', ... each 0 to 8, 3 dB a step), spinning loudspeaker."""
    t = _seconds(int((seconds + 0.08) * RATE_HZ))
    feet = (0.5, 1.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0)
    phase = hand.uniform(0.0, 6.28)
    spin = np.sin(2.0 * np.pi * spin_hz * t + phase)
    note = np.zeros(len(t))
    for ratio, pull in zip(feet, map(int, drawbars), strict=True):
        if pull and ratio * freq_hz < 12_000.0:
            turn = 2.0 * np.pi * ratio * freq_hz * t + 0.18 * ratio**0.5 * spin
            note += 10.0 ** ((pull - 8) * 3.0 / 20.0) * np.sin(turn + phase * ratio)
    click = hand.standard_normal(240) * np.exp(-_seconds(240) / 0.0015)
    note *= (1.0 + 0.18 * spin) / 3.0
    note[:240] *= np.linspace(0.0, 1.0, 240)
    note[:240] += 0.15 * click
    return _released(note * velocity, seconds, 0.06)


def pipes(freq_hz: float, seconds: float, velocity: float, hand: RandomState) -> Floats:
    """Church organ: principal ranks at 8', 4' and 2', speaking slowly, with wind."""
    frames = int((seconds + 0.25) * RATE_HZ)
    t = _seconds(frames)
    speak = 1.0 - np.exp(-t / 0.035)
    note = np.zeros(frames)
    for foot, level in ((0.5, 0.4), (1.0, 1.0), (2.0, 0.6), (4.0, 0.3)):
        base = freq_hz * foot * (1.0 + 0.0006 * hand.standard_normal())
        for number in range(1, 9):
            if number * base < 11_000.0:
                turn = 2.0 * np.pi * number * base * t + hand.uniform(0.0, 6.28)
                note += level / number**1.5 * np.sin(turn)
    wind = sosfilt(_one(bandpass(min(8000.0, 2.0 * freq_hz), 1.2)), hand.standard_normal(frames))
    return _released((note * 0.4 + 0.03 * wind) * speak * velocity, seconds, 0.22)


def _one(section: tuple[float, ...]) -> Floats:
    return np.array([[value / section[3] for value in section]])


def pad(
    freq_hz: float,
    seconds: float,
    velocity: float,
    hand: RandomState,
    bright_hz: float = 1800.0,
    attack_s: float = 0.25,
    release_s: float = 0.8,
) -> Floats:
    """Three slowly drifting sawtooth voices under a low-pass that opens and shuts."""
    frames = int((seconds + release_s) * RATE_HZ)
    t = _seconds(frames)
    note = np.zeros(frames)
    for cents in (-7.0, 0.0, 8.0):
        pitch = freq_hz * 2.0 ** ((cents + 3.0 * wander(frames, 0.7, hand)) / 1200.0)
        note += harmonics(
            pitch,
            lambda f, at: freq_hz / f / (1.0 + (f / bright_hz) ** 4) ** 0.5,
            min(14_000.0, 6.0 * bright_hz),
            hand.uniform(),
        )
    swell = 1.0 - np.exp(-t / attack_s * 2.0)
    return _released(note * swell * velocity * 0.4, seconds, release_s)


def synth_bass(
    freq_hz: float,
    seconds: float,
    velocity: float,
    hand: RandomState,
    open_hz: float = 900.0,
    sub: float = 0.7,
) -> Floats:
    """A sawtooth under a filter that snaps shut, with a sine of the same pitch for weight."""
    frames = int((seconds + 0.05) * RATE_HZ)
    t = _seconds(frames)
    cut = (120.0 + open_hz * velocity * np.exp(-t / 0.11))[::128]
    cut = np.append(cut, [cut[-1]] * 2)
    saw = harmonics(
        np.full(frames, freq_hz),
        lambda f, at: freq_hz / f / np.sqrt(1.0 + (f / cut[at]) ** 4),
        6000.0,
        hand.uniform(),
    )
    note = saw + sub * np.sin(2.0 * np.pi * freq_hz * t)
    note[:96] *= np.linspace(0.0, 1.0, 96)
    return _released(note * velocity * 0.6, seconds, 0.05)


def stab(freq_hz: float, seconds: float, velocity: float, hand: RandomState) -> Floats:
    """A short bright synthesiser chord tone: detuned saws, quick filter."""
    frames = int((seconds + 0.12) * RATE_HZ)
    t = _seconds(frames)
    cut = (400.0 + 5200.0 * velocity * np.exp(-t / 0.09))[::128]
    cut = np.append(cut, [cut[-1]] * 2)
    note = np.zeros(frames)
    for cents in (-9.0, 9.0):
        note += harmonics(
            np.full(frames, freq_hz * 2.0 ** (cents / 1200.0)),
            lambda f, at: freq_hz / f / np.sqrt(1.0 + (f / cut[at]) ** 4),
            13_000.0,
            hand.uniform(),
        )
    note[:96] *= np.linspace(0.0, 1.0, 96)
    return _released(note * velocity * 0.5, seconds, 0.1)


def bell(freq_hz: float, seconds: float, velocity: float, hand: RandomState) -> Floats:
    """A cast bell: hum, prime, tierce, quint, nominal and above (0.5, 1, 1.2, 1.5, 2, ...)."""
    ratios = np.array([0.5, 1.0, 1.19, 1.5, 2.0, 2.51, 2.66, 3.01, 4.1, 5.4])
    gains = np.array([0.5, 0.7, 0.6, 0.3, 1.0, 0.4, 0.35, 0.4, 0.25, 0.15])
    decays = np.array([6.0, 4.0, 3.2, 2.4, 2.0, 1.3, 1.2, 1.0, 0.6, 0.4])
    note = struck(
        freq_hz * ratios * (1.0 + 0.001 * hand.standard_normal(10)), decays, gains, seconds
    )
    return np.asarray(velocity * note / np.abs(note).max())
