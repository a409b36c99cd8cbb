"""Drums and cymbals: struck membranes, snare wires, metal plates, and hands.

A membrane is a handful of modes at the ratios of an ideal circular one (zeros of the Bessel
functions: 1, 1.593, 2.135, 2.295, 2.653, 2.917; N. Fletcher & T. Rossing, "The Physics of Musical
Instruments", ch. 3), its pitch falling as the stroke's tension lets go; wires and shakers are
noise in bands; a cymbal is many inharmonic modes with noise for the dense top. Each function
gives one stroke, (frames,), near ``velocity`` at its peak.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.random import RandomState
from scipy.signal import sosfilt

from exercises.samples import RATE_HZ, Floats
from exercises.studio.filters import Section, bandpass, highpass, lowpass, peak
from exercises.studio.modes import struck

MEMBRANE: Final = np.array([1.0, 1.593, 2.135, 2.295, 2.653, 2.917])


def _noise(seconds: float, hand: RandomState, *sections: Section) -> Floats:
    hiss = hand.standard_normal(int(seconds * RATE_HZ))
    return np.asarray(sosfilt(_normal(sections), hiss)) if sections else hiss


def _normal(sections: tuple[Section, ...]) -> Floats:
    return np.array([[value / section[3] for value in section] for section in sections])


def _dying(frames: int, decay_s: float, attack_s: float = 0.0005) -> Floats:
    """An envelope that rises in ``attack_s`` and falls by 60 dB in ``decay_s``."""
    seconds = np.arange(frames) / RATE_HZ
    return np.asarray((1.0 - np.exp(-seconds / attack_s)) * 10.0 ** (-3.0 * seconds / decay_s))


def _falling_tone(seconds: float, from_hz: float, to_hz: float, fall_s: float) -> Floats:
    """A sine whose pitch falls from ``from_hz`` to ``to_hz`` with time constant ``fall_s``."""
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    turns = to_hz * t + (from_hz - to_hz) * fall_s * (1.0 - np.exp(-t / fall_s))
    return np.asarray(np.sin(2.0 * np.pi * turns))


def _at_peak(sound: Floats, velocity: float) -> Floats:
    return np.asarray(sound * (velocity / np.abs(sound).max()))


def kick(
    velocity: float,
    hand: RandomState,
    pitch_hz: float = 52.0,
    decay_s: float = 0.35,
    click: float = 0.5,
) -> Floats:
    """Bass drum: a falling fundamental, the shell's next modes, and the beater's click."""
    seconds = decay_s * 1.3
    body = _falling_tone(seconds, pitch_hz * 3.0, pitch_hz, 0.016)
    body *= _dying(len(body), decay_s, 0.001)
    shell = struck(pitch_hz * 1.9 * MEMBRANE, np.full(6, 0.11), 0.35 / np.arange(1.0, 7.0), seconds)
    beater = _noise(0.03, hand, bandpass(3200.0, 0.6)) * _dying(int(0.03 * RATE_HZ), 0.018)
    out = body + 0.35 * shell
    out[: len(beater)] += click * velocity * beater
    return _at_peak(out, velocity)


def snare(
    velocity: float,
    hand: RandomState,
    pitch_hz: float = 186.0,
    wires: float = 0.8,
    decay_s: float = 0.24,
) -> Floats:
    """Snare drum: head modes with a falling pitch, and wires that rattle on after the stroke."""
    seconds = 0.45
    tuned = pitch_hz * (1.0 + 0.01 * hand.standard_normal())
    body = _falling_tone(seconds, tuned * 1.35, tuned, 0.012)
    body *= _dying(len(body), 0.2)
    heads = struck(
        tuned * np.array([1.593, 1.78, 2.135, 2.65, 3.5, 4.06]),
        np.full(6, 0.12),
        np.array([0.5, 0.45, 0.3, 0.25, 0.18, 0.12]),
        seconds,
    )
    rattle = _noise(seconds, hand, highpass(900.0), peak(3600.0, 5.0, 0.8), lowpass(7500.0))
    rattle *= _dying(len(rattle), decay_s * (0.7 + 0.5 * velocity), 0.002)
    crack = _noise(seconds, hand, bandpass(2300.0, 0.7)) * _dying(len(rattle), 0.035)
    return _at_peak(body + heads + wires * (0.55 * rattle + 1.1 * crack), velocity)


def rim(velocity: float, hand: RandomState) -> Floats:
    """A stick laid across the snare drum, struck on the rim."""
    wood = struck(
        np.array([420.0, 1010.0, 1720.0, 2480.0, 3900.0]) * (1.0 + 0.01 * hand.standard_normal()),
        np.array([0.09, 0.07, 0.06, 0.045, 0.03]),
        np.array([0.4, 0.6, 1.0, 0.6, 0.35]),
        0.15,
    )
    tap = _noise(0.15, hand, bandpass(5200.0, 0.8)) * _dying(len(wood), 0.015)
    return _at_peak(wood + 0.4 * tap, velocity)


def tom(velocity: float, hand: RandomState, pitch_hz: float) -> Floats:
    """A tom: its fundamental falls, two heads beat against each other."""
    seconds = 0.8
    body = _falling_tone(seconds, pitch_hz * 1.5, pitch_hz, 0.03) * _dying(int(0.8 * RATE_HZ), 0.6)
    upper = struck(pitch_hz * MEMBRANE * 1.02, np.full(6, 0.3), 0.5 / np.arange(1.0, 7.0), seconds)
    stick = _noise(seconds, hand, bandpass(3000.0, 0.6)) * _dying(len(body), 0.02)
    return _at_peak(body + upper + 0.35 * stick, velocity)


def _plate(
    seconds: float, low_hz: float, high_hz: float, count: int, decay_s: float, metal: RandomState
) -> Floats:
    freqs = np.sort(low_hz * (high_hz / low_hz) ** metal.uniform(size=count))
    decays = decay_s * (low_hz / freqs) ** 0.35 * metal.uniform(0.7, 1.3, count)
    gains = metal.uniform(0.3, 1.0, count) / np.sqrt(count)
    return struck(freqs, decays, gains, seconds, metal.uniform(0.0, 6.28, count))


def hat(velocity: float, hand: RandomState, openness: float = 0.0) -> Floats:
    """Hi-hat; ``openness`` 0 shut to 1 open."""
    seconds = 0.09 + 0.5 * openness
    ring = _plate(seconds, 2600.0, 15_000.0, 90, 0.1 + 1.1 * openness, RandomState(71))
    hiss = _noise(seconds, hand, highpass(6000.0), peak(8500.0, 4.0, 1.0))
    hiss *= _dying(len(hiss), 0.06 + 0.7 * openness, 0.0008)
    tick = _noise(seconds, hand, bandpass(5000.0, 0.8)) * _dying(len(hiss), 0.012)
    out = ring * _dying(len(ring), 0.07 + 0.7 * openness) + (0.25 + 0.2 * velocity) * hiss
    return _at_peak(out + 0.5 * tick, velocity)


def ride(velocity: float, hand: RandomState, bell: float = 0.0) -> Floats:
    """Ride cymbal: stick, ping and a long wash; ``bell`` adds the cup."""
    seconds = 1.6
    wash = _plate(seconds, 700.0, 14_000.0, 240, 2.6, RandomState(72))
    ping = struck(
        np.array([562.0, 1190.0, 1835.0, 2970.0, 4420.0]) * (1.0 + 0.003 * hand.standard_normal()),
        np.array([1.2, 1.1, 0.9, 0.6, 0.4]),
        np.array([0.3, 0.4, 0.4, 0.5, 0.4]),
        seconds,
    )
    stick = _noise(seconds, hand, bandpass(6000.0, 0.7)) * _dying(len(wash), 0.03)
    swell = 1.0 - 0.6 * _dying(len(wash), 0.25)
    return _at_peak(wash * swell + (0.25 + bell) * ping + 0.7 * stick, velocity)


def crash(velocity: float, hand: RandomState) -> Floats:
    """Crash cymbal: noise of many modes that blooms and dies, the top first."""
    seconds = 2.2
    wash = _plate(seconds, 450.0, 16_000.0, 380, 3.2, RandomState(73))
    hiss = _noise(seconds, hand, highpass(4500.0), lowpass(14_000.0))
    hiss *= _dying(len(hiss), 1.4, 0.004)
    return _at_peak(wash + 0.3 * hiss, velocity)


def clap(velocity: float, hand: RandomState) -> Floats:
    """Several hands, not quite together."""
    out = np.zeros(int(0.35 * RATE_HZ))
    for index, late_s in enumerate((0.0, 0.009, 0.019, 0.028)):
        decay_s = 0.22 if index == 3 else 0.03
        burst = _noise(0.3, hand, bandpass(1300.0, 1.2), peak(2600.0, 4.0, 1.0))
        start = int((late_s + 0.002 * hand.uniform()) * RATE_HZ)
        out[start : start + len(burst)] += burst * _dying(len(burst), decay_s)
    return _at_peak(out, velocity)


def shaker(velocity: float, hand: RandomState) -> Floats:
    """Seeds in a shell: noise that swells and stops."""
    hiss = _noise(0.11, hand, highpass(3500.0), peak(6500.0, 6.0, 1.2))
    swell = np.clip(np.arange(len(hiss)) / (0.035 * RATE_HZ), 0.0, 1.0) ** 2
    late = np.maximum(np.arange(len(hiss)) - 0.04 * RATE_HZ, 0.0) / RATE_HZ
    return _at_peak(hiss * swell * 10.0 ** (-3.0 * late / 0.09), velocity)


def conga(velocity: float, hand: RandomState, pitch_hz: float, slap: float = 0.0) -> Floats:
    """A hand on a tall drum; ``slap`` 0 open to 1 slapped."""
    body = struck(
        pitch_hz * MEMBRANE,
        np.array([0.5, 0.3, 0.2, 0.2, 0.15, 0.12]) * (1.0 - 0.6 * slap),
        np.array([1.0, 0.45, 0.3, 0.3, 0.2, 0.2]) * np.array([1.0 - 0.5 * slap, *[1.0] * 5]),
        0.5,
    )
    palm = _noise(0.5, hand, bandpass(1100.0 + 1600.0 * slap, 0.8)) * _dying(len(body), 0.03)
    return _at_peak(body + (0.25 + 0.8 * slap) * palm, velocity)


def brush(velocity: float, hand: RandomState, seconds: float = 0.18) -> Floats:
    """Wire brush swept over a snare's coated head."""
    hiss = _noise(seconds, hand, highpass(1200.0), peak(3500.0, 4.0, 0.7), lowpass(9000.0))
    shape = np.sin(np.pi * np.linspace(0.0, 1.0, len(hiss)) ** 0.6) ** 1.5
    return _at_peak(hiss * shape, velocity)


def timpani(velocity: float, hand: RandomState, pitch_hz: float) -> Floats:
    """A kettledrum: near-harmonic preferred modes (1, 1.5, 2, 2.44, 2.9), soft stick."""
    body = struck(
        pitch_hz * np.array([0.85, 1.0, 1.504, 1.742, 2.0, 2.44, 2.89]),
        np.array([0.35, 3.0, 2.6, 0.4, 2.2, 1.6, 1.2]),
        np.array([0.6, 1.0, 0.7, 0.3, 0.35, 0.2, 0.12]),
        2.2,
    )
    felt = _noise(2.2, hand, lowpass(700.0)) * _dying(len(body), 0.06)
    return _at_peak(body + 0.25 * velocity * felt, velocity)
