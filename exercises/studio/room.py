"""The shared room: early reflections and a diffuse tail, as a stereo impulse response.

The tail is noise in octave bands, each dying at its own rate (air and walls eat the highs first);
left and right are independent, as in a diffuse field. Moorer, "About This Reverberation
Business", Computer Music Journal 3(2), 1979, for noise with an exponential envelope as a tail.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import RandomState
from scipy import fft

from exercises.samples import RATE_HZ, Floats


@dataclass(frozen=True, slots=True)
class Room:
    """A room: reverberation time at 1 kHz, its size, and how bright its walls are.

    ``decay_s`` is the time to fall by 60 dB at 1 kHz; ``size_m`` sets when reflections arrive;
    ``dark`` (0 bright to 1 dark) how much faster the highs die; ``early`` the reflections' level.
    """

    decay_s: float
    size_m: float
    dark: float = 0.5
    early: float = 0.7
    seed: int = 1


CLUB = Room(0.55, 6.0, 0.5, 0.9, 11)
HALL = Room(1.7, 18.0, 0.55, 0.5, 12)
CHAPEL = Room(2.6, 22.0, 0.6, 0.5, 13)
STUDIO = Room(0.32, 4.5, 0.4, 1.0, 14)
PLATE = Room(1.2, 5.0, 0.2, 0.3, 15)
QUAY = Room(0.9, 12.0, 0.7, 0.8, 16)


def impulse_response(room: Room) -> Floats:
    """(taps, 2): reflections and tail of ``room``, without the direct sound, of energy 1."""
    walls = RandomState(room.seed)
    frames = int(1.25 * room.decay_s * RATE_HZ)
    seconds = np.arange(frames) / RATE_HZ
    freqs = fft.rfftfreq(frames, 1.0 / RATE_HZ)
    spectrum = np.asarray(fft.rfft(walls.standard_normal((frames, 2)), axis=0))
    tail = np.zeros((frames, 2))
    distance = np.log2(np.maximum(freqs, 1.0) / 1000.0)
    for octave in range(-4, 5):
        edge = np.clip(1.0 - np.abs(distance - octave), 0.0, 1.0)
        if octave == 4:
            edge = np.clip(distance - 3.0, 0.0, 1.0)
        band = fft.irfft(spectrum * edge[:, None], frames, axis=0)
        decay_s = room.decay_s * 2.0 ** (-0.55 * room.dark * max(octave, -1))
        level = 2.0 ** (-0.4 * room.dark * max(octave, 0))
        tail += level * band * 10.0 ** (-3.0 * seconds / decay_s)[:, None]
    onset_s = room.size_m / 343.0
    tail *= np.clip(seconds / onset_s - 0.3, 0.0, 1.0)[:, None]
    tail /= np.sqrt((tail**2).sum())
    first = np.zeros((frames, 2))
    for bounce in range(14):
        arrival_s = onset_s * (0.35 + 0.22 * bounce + 0.15 * walls.uniform())
        side = walls.uniform(0.15, 0.85)
        gain = (1.0 if walls.uniform() < 0.7 else -1.0) / (1.0 + 0.35 * bounce)
        at = int(arrival_s * RATE_HZ)
        spread = gain * np.array([0.2, 0.6, 0.2])[:, None]
        if at + 3 < frames:
            first[at : at + 3] += spread * np.sqrt([1.0 - side, side])
    first /= np.sqrt((first**2).sum())
    both = tail + room.early * first
    return np.asarray(both / np.sqrt((both**2).sum()))
