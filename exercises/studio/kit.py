"""A drummer's kit: strokes for each piece, its place from left to right and its level."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.random import RandomState

from exercises.samples import Floats
from exercises.studio.playing import Player, hits
from exercises.studio.ring import place

Stroke = Callable[[float, RandomState], Floats]


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of a kit: how it sounds, its pan (-1 to 1) and its level in dB."""

    stroke: Stroke
    pan: float = 0.0
    level_db: float = 0.0


def drummed(
    player: Player, kit: Mapping[str, Piece], patterns: Mapping[str, str], steps_per_beat: int = 4
) -> Floats:
    """``patterns`` of the whole loop (a piece's name to its strokes) on a stereo ring.

    A pattern shorter than the loop is repeated until it fills it.

    Raises:
        ValueError: a pattern does not divide the loop.
    """
    ring = player.grid.ring(2)
    steps = player.grid.beats * steps_per_beat
    for name, pattern in patterns.items():
        signs = "".join(sign for sign in pattern if sign not in " |\n")
        if steps % len(signs):
            raise ValueError(f"{name}: {len(signs)} steps do not divide {steps}")
        piece = kit[name]
        angle = (piece.pan + 1.0) * np.pi / 4.0
        sides = np.array([np.cos(angle), np.sin(angle)]) * 10.0 ** (piece.level_db / 20.0)
        for beat, velocity in hits(signs * (steps // len(signs)), steps_per_beat):
            sound = piece.stroke(player.feel(velocity), player.hand)
            place(ring, sound[:, None] * sides, player.frame(beat))
    return ring
