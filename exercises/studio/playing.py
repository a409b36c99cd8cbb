"""Playing: the grid of beats, patterns and lines, and hands that are not machines.

Patterns are text, one sign a step: ``X`` accent, ``x`` stroke, ``o`` soft, ``-`` ghost, ``.`` rest
(spaces and bars ``|`` are for the eye). Lines are notes with lengths in beats: ``E2:1 G2:.5 -:.5``
(``-`` rests, ``E3+G3+B3`` is a chord, ``!`` accents, a length holds until the next one given).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.random import RandomState

from exercises.samples import RATE_HZ, Floats
from exercises.studio.ring import place

_STROKES: Final = {"X": 1.0, "x": 0.78, "o": 0.55, "-": 0.3, ".": 0.0}
_STEPS: Final = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@dataclass(frozen=True, slots=True)
class Grid:
    """Tempo and length of a loop; beats count from 0.

    Choose tempos whose beat is a whole number of frames with small factors (2,880,000 / tempo):
    then bar lines fall on frames, and the ring's Fourier transforms are quick.
    """

    tempo_bpm: float
    bars: int
    beats_per_bar: int = 4

    @property
    def beats(self) -> int:
        """Beats in the loop."""
        return self.bars * self.beats_per_bar

    @property
    def beat_s(self) -> float:
        """Seconds a beat."""
        return 60.0 / self.tempo_bpm

    @property
    def frames(self) -> int:
        """Frames in the loop."""
        return round(self.beats * self.beat_s * RATE_HZ)

    def bar_frame(self, bar: int) -> int:
        """First frame of ``bar`` (0 to ``bars``)."""
        return round(self.frames * bar / self.bars)

    def ring(self, channels: int = 1) -> Floats:
        """An empty ring, (frames,) or (frames, 2)."""
        return np.zeros(self.frames if channels == 1 else (self.frames, channels))


@dataclass(frozen=True, slots=True)
class Note:
    """Pitches in Hz that start together at ``beat``, for ``beats``, at ``velocity`` 0 to 1."""

    beat: float
    beats: float
    freqs_hz: tuple[float, ...]
    velocity: float


@dataclass(slots=True)
class Player:
    """A musician: strays from the beat by ``stray_ms`` (sd), sits ``late_ms`` behind it, swings.

    ``swing`` moves the second of each pair of steps of ``swing_unit`` beats later, as a share of
    the step (0 straight, 0.33 triplets). ``touch`` is the spread of dynamics.
    """

    grid: Grid
    seed: int
    stray_ms: float = 6.0
    late_ms: float = 0.0
    swing: float = 0.0
    swing_unit: float = 0.5
    touch: float = 0.08
    hand: RandomState = field(init=False)

    def __post_init__(self) -> None:
        self.hand = RandomState(self.seed)

    def frame(self, beat: float) -> int:
        """Where this player places ``beat``, in frames (may lie before 0; rings go round)."""
        pair, within = divmod(beat, 2.0 * self.swing_unit)
        share = within / self.swing_unit
        bent = share * (1.0 + self.swing)
        if share > 1.0:
            bent = 1.0 + self.swing + (share - 1.0) * (1.0 - self.swing)
        swung = (pair * 2.0 + bent) * self.swing_unit
        stray = (
            float(np.clip(self.hand.standard_normal(), -2.0, 2.0)) * self.stray_ms + self.late_ms
        )
        return round((swung * self.grid.beat_s + stray / 1000.0) * RATE_HZ)

    def feel(self, velocity: float) -> float:
        """``velocity`` with this player's unevenness, 0.05 to 1."""
        return float(np.clip(velocity * (1.0 + self.touch * self.hand.standard_normal()), 0.05, 1))

    def put(self, ring: Floats, beat: float, sound: Floats) -> None:
        """Play ``sound`` on ``ring`` at ``beat``."""
        place(ring, sound, self.frame(beat))


def hits(pattern: str, steps_per_beat: int, start_beat: float = 0.0) -> list[tuple[float, float]]:
    """(beat, velocity) of every stroke in ``pattern``."""
    signs = [sign for sign in pattern if sign not in " |"]
    return [
        (start_beat + step / steps_per_beat, _STROKES[sign])
        for step, sign in enumerate(signs)
        if sign != "."
    ]


def line(text: str, start_beat: float = 0.0) -> Iterator[Note]:
    """The notes of ``text``, one after another from ``start_beat``."""
    beat, beats = start_beat, 1.0
    for token in text.replace("|", " ").split():
        accent = token.endswith("!")
        names, _, length = token.rstrip("!").partition(":")
        beats = float(length) if length else beats
        if names != "-":
            pitches = tuple(pitch_hz(name) for name in names.split("+"))
            yield Note(beat, beats, pitches, 0.95 if accent else 0.75)
        beat += beats


def pitch_hz(name: str) -> float:
    """Frequency of a pitch such as "F#2" or "Bb3", A4 at 440 Hz (ISO 16), equal temperament."""
    letter, accidentals, octave = name[0], name[1:-1], int(name[-1])
    semitones = _STEPS[letter] + accidentals.count("#") - accidentals.count("b")
    return float(440.0 * 2.0 ** ((semitones - 9) / 12 + octave - 4))
