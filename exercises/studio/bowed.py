"""Bowed and blown instruments: harmonics under a body, vibrato, bow noise and breath.

A bowed string's force is near a sawtooth (1/n); the body adds resonances and the bow a hiss. In
brass the top rises with loudness; a flute has few harmonics and much air; a clarinet mostly odd
ones. Fletcher & Rossing, "The Physics of Musical Instruments", chs. 10, 14-16.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from numpy.random import RandomState

from exercises.samples import RATE_HZ, Floats
from exercises.studio.tones import HOP, breath, harmonics, resonance, wander

# (Hz, width Hz, level) of the resonances that colour a body or a bell.
Body = tuple[tuple[float, float, float], ...]
FIDDLE_BODY: Final[Body] = (
    (280, 60, 0.9), (460, 90, 0.8), (700, 250, 0.7), (1100, 500, 0.6), (2500, 1200, 0.9),
    (3800, 2200, 0.35),
)  # fmt: skip
CELLO_BODY: Final[Body] = (
    (105, 40, 1.0), (185, 60, 1.2), (400, 200, 0.7), (900, 500, 0.5), (2000, 1200, 0.4),
)  # fmt: skip
OPEN_BODY: Final[Body] = ((900, 4000, 1.0),)


@dataclass(frozen=True, slots=True)
class Blower:
    """How an instrument speaks: slope of its harmonics in dB an octave at full loudness, how much
    steeper when soft, weight of even harmonics, air, attack, vibrato in semitones, body."""

    slope_db: float
    soft_db: float = 3.0
    even: float = 1.0
    air: float = 0.03
    air_hz: float = 3000.0
    attack_s: float = 0.06
    release_s: float = 0.12
    vibrato: float = 0.15
    body: Body = OPEN_BODY
    scoop: float = 0.0


FIDDLE: Final = Blower(-6.0, 3.0, 1.0, 0.035, 3500.0, 0.06, 0.14, 0.18, FIDDLE_BODY)
CELLO: Final = Blower(-6.5, 3.0, 1.0, 0.04, 1800.0, 0.08, 0.2, 0.16, CELLO_BODY)
SECTION: Final = Blower(-6.5, 3.0, 1.0, 0.035, 3500.0, 0.14, 0.3, 0.14, FIDDLE_BODY)
LOW_SECTION: Final = Blower(-6.5, 3.0, 1.0, 0.05, 1500.0, 0.14, 0.3, 0.12, CELLO_BODY)
FLUTE: Final = Blower(-13.0, 5.0, 0.8, 0.10, 2600.0, 0.05, 0.1, 0.22)
CLARINET: Final = Blower(-7.0, 4.0, 0.25, 0.03, 2000.0, 0.03, 0.08, 0.06)
TRUMPET: Final = Blower(
    -4.5, 8.0, 1.0, 0.02, 4000.0, 0.03, 0.07, 0.12, ((1250, 1200, 1.0), (2600, 2500, 0.7)), 0.4
)
TROMBONE: Final = Blower(
    -6.0, 7.0, 1.0, 0.02, 2500.0, 0.04, 0.09, 0.1, ((550, 500, 1.0), (1500, 1800, 0.5)), 0.5
)
TUBA: Final = Blower(
    -9.0, 6.0, 1.0, 0.02, 900.0, 0.05, 0.1, 0.05, ((180, 250, 1.0), (500, 700, 0.5)), 0.3
)
HORN: Final = Blower(
    -8.0, 7.0, 1.0, 0.02, 1500.0, 0.07, 0.15, 0.06, ((350, 350, 1.0), (750, 900, 0.6)), 0.2
)
SAXOPHONE: Final = Blower(
    -5.5, 5.0, 0.8, 0.06, 3500.0, 0.04, 0.09, 0.2,
    ((500, 500, 1.0), (1100, 800, 0.6), (3000, 2500, 0.4)), 0.6,
)  # fmt: skip
REED: Final = Blower(-4.0, 3.0, 0.6, 0.05, 3000.0, 0.03, 0.07, 0.12, ((800, 1500, 1.0),))
HARMONICA: Final = Blower(
    -4.5, 4.0, 0.8, 0.06, 3500.0, 0.03, 0.08, 0.25, ((1300, 1200, 1.0), (3000, 2500, 0.6)), 0.7
)


def blow(
    freq_hz: float,
    seconds: float,
    blower: Blower,
    velocity: float,
    hand: RandomState,
    swell: Callable[[Floats], Floats] | None = None,
) -> Floats:
    """One held note, (frames,); ``swell`` shapes loudness over 0 to 1 of the note's length."""
    frames = int((seconds + blower.release_s) * RATE_HZ)
    t = np.arange(frames) / RATE_HZ
    loud = 1.0 - np.exp(-t / (blower.attack_s * (1.3 - 0.6 * velocity)))
    loud *= np.clip((seconds + blower.release_s - t) / blower.release_s, 0.0, 1.0) ** 1.5
    if swell is not None:
        loud *= swell(np.clip(t / seconds, 0.0, 1.0))
    loud *= 1.0 + 0.05 * wander(frames, 6.0, hand)
    settled = np.clip((t - 0.15) / 0.3, 0.0, 1.0)
    rate = 5.3 + 0.5 * hand.uniform(-1.0, 1.0) + 0.3 * wander(frames, 1.0, hand)
    shake = settled * np.sin(2.0 * np.pi * (np.cumsum(rate) / RATE_HZ + hand.uniform()))
    cents = 100.0 * blower.vibrato * shake + 4.0 * wander(frames, 4.0, hand)
    cents += 4.0 * hand.standard_normal() - 100.0 * blower.scoop * np.exp(-t / 0.035)
    pitch = freq_hz * 2.0 ** (cents / 1200.0)
    effort = np.append(loud[::HOP], [0.0, 0.0]) * velocity

    def body(freqs: Floats) -> Floats:
        return sum(
            (level * resonance(freqs, at, width) for at, width, level in blower.body),
            start=np.full(np.shape(freqs), 0.08),
        )

    def bowed(freqs: Floats, at: npt.NDArray[np.intp]) -> Floats:
        number = np.maximum(np.rint(freqs / freq_hz), 1.0)
        slope = blower.slope_db - blower.soft_db * (1.0 - effort[at])
        even = np.where(number % 2 == 0, blower.even, 1.0)
        roll = 1.0 / (1.0 + (freqs / 9000.0) ** 4)
        return np.asarray(effort[at] * number ** (slope / 6.02) * even * body(freqs) * roll)

    def hiss(freqs: Floats, at: npt.NDArray[np.intp]) -> Floats:
        return effort[at] * (resonance(freqs, blower.air_hz, 2.0 * blower.air_hz) ** 2 + 0.05)

    tone = harmonics(pitch, bowed, 15_000.0, hand.uniform())
    tone /= max(1e-9, float(np.sqrt((tone**2).mean()))) * 3.0
    return np.asarray(velocity * (tone + blower.air * breath(frames, hiss, hand)))


def section(
    freq_hz: float,
    seconds: float,
    blower: Blower,
    velocity: float,
    hand: RandomState,
    players: int = 4,
    swell: Callable[[Floats], Floats] | None = None,
) -> Floats:
    """Several players on one note, (frames, 2), seated from left to right, not quite together."""
    spread_s = 0.025
    out = np.zeros((int((seconds + blower.release_s + spread_s) * RATE_HZ) + 1, 2))
    for seat in range(players):
        tuned = freq_hz * 2.0 ** (5.0 * hand.standard_normal() / 1200.0)
        note = blow(tuned, seconds, blower, velocity, hand, swell)
        at = int(spread_s * hand.uniform() * RATE_HZ)
        side = (seat + 0.5) / players
        out[at : at + len(note)] += note[:, None] * np.sqrt([1.0 - side, side]) / players**0.5
    return out
