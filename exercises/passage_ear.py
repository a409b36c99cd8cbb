"""A part's passages as a judge of problems needs them: how much of a problem is there, and when.

A problem in one passage comes and goes (``passage_weight``). What it does to the power in a band
is the mean, over the power, of what a filter of that share of its gain does. So of each weight all
that is kept is how the part's power spreads over a few *steps* from 0 to 1 (straight lines between
them): for each passage, and for each frame that a loudness meter looks at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from exercises import compressor
from exercises.loops import Passage
from exercises.passage_weight import FOLLOWING, at_block_ends, hand_weight, playing_share
from exercises.samples import Floats, Samples

STEPS: Final = 7
STEP_SHARES: Final = np.linspace(0.0, 1.0, STEPS)
"""The shares of a problem's gain that a weight is told by."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Shares of a part's power at each step of a weight: rows that sum to one.

    ``by_passage`` (passages, steps) and ``by_frame`` (frames of 200 ms every 100 ms, steps).
    """

    by_passage: Floats
    by_frame: Floats


@dataclass(frozen=True, slots=True)
class PassageEar:
    """One passage: what a hand brings in for it, and what the playing does in it.

    ``hand_blocks`` (blocks,) is the hand's weight at the end of each block of the detector.
    """

    passage: Passage
    hand: Spread
    playing: Spread
    hand_blocks: Floats


def passage_ears(
    part: Samples, passages: tuple[Passage, ...], frames: int
) -> tuple[PassageEar, ...]:
    """The passages of ``part``, with spreads over ``frames`` frames; none where there is but one.

    (One that is the whole loop is no place for a problem to come and go.)
    """
    if len(passages) < 2:
        return ()
    level_db = compressor.levels_db(part, FOLLOWING)
    power = _block_powers(part)
    ears = []
    for passage in passages:
        hand = at_block_ends(hand_weight(len(part), passage))
        playing = hand * playing_share(level_db, passage)
        by_hand = _spread(hand, power, passages, frames)
        ears.append(PassageEar(passage, by_hand, _spread(playing, power, passages, frames), hand))
    return tuple(ears)


def _block_powers(part: Samples) -> Floats:
    squares = np.einsum("nc,nc->n", part, part, dtype=np.float64)
    powers: Floats = np.add.reduceat(squares, np.arange(0, len(part), compressor.BLOCK_FRAMES))
    return powers


def _spread(weight: Floats, power: Floats, passages: tuple[Passage, ...], frames: int) -> Spread:
    # Hat functions: a weight between two steps counts for both, by how near it is to each.
    hats = np.maximum(0.0, 1.0 - np.abs(weight[:, None] - STEP_SHARES) * (STEPS - 1))
    at_steps = hats * power[:, None]
    starts = [passage.start_frame // compressor.BLOCK_FRAMES for passage in passages]
    hops = np.arange(frames) * len(weight) // frames
    by_hop = _sums(at_steps, hops)
    return Spread(
        _shares(_sums(at_steps, np.array(starts))), _shares(by_hop + np.roll(by_hop, -1, axis=0))
    )


def _sums(rows: Floats, starts: npt.NDArray[np.intp]) -> Floats:
    sums: Floats = np.add.reduceat(rows, starts, axis=0)
    return sums


def _shares(sums: Floats) -> Floats:
    """Rows divided by what they come to; all at no weight where there is no power."""
    whole = sums.sum(axis=1, keepdims=True)
    shares = np.zeros_like(sums)
    shares[:, 0] = 1.0
    np.divide(sums, whole, out=shares, where=whole > 0.0)
    return shares
