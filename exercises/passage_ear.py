"""A part's passages as a judge of problems needs them: how much of a problem is there, and when.

A problem in one passage comes and goes (``passage_weight``). What it does to the power in a band
is the mean, over the power, of what a filter of that share of its gain does. So of each weight all
that is kept is how the part's power spreads over a few *steps* from 0 to 1 (straight lines between
them): in each octave band, since hats do not sound when the bass does; for each passage, and for
each frame that a loudness meter looks at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises.loops import Passage
from exercises.moments import RAMP_FRAMES, SLICE_FRAMES, Sums, means, slices_of
from exercises.passage_weight import at_block_ends, hand_weight, playing_share
from exercises.samples import Floats, Samples

STEPS: Final = 7
STEP_SHARES: Final = np.linspace(0.0, 1.0, STEPS)
"""The shares of a problem's gain that a weight is told by."""

_RAMP_SLICES: Final = RAMP_FRAMES // SLICE_FRAMES


@dataclass(frozen=True, slots=True)
class Spread:
    """Shares of a part's power in each octave band at each step of a weight: they sum to one.

    ``by_passage`` (passages, steps, bands); ``by_frame`` (frames, steps, bands), of 200 ms every
    100 ms.
    """

    by_passage: Floats
    by_frame: Floats


@dataclass(frozen=True, slots=True)
class PassageEar:
    """One passage: what a hand brings in for it, and what the playing does in it.

    ``hand_slices`` (slices,) is the hand's weight in slices of ``moments.SLICE_FRAMES``.
    """

    passage: Passage
    hand: Spread
    playing: Spread
    hand_slices: Floats


def passage_ears(
    part: Samples, passages: tuple[Passage, ...], bands: tuple[Sums, ...], frames: int
) -> tuple[PassageEar, ...]:
    """The passages of ``part``, with spreads over ``frames`` frames; none where there is but one.

    ``bands`` are the part's octave bands over time, as in ``moments``. (A passage that is the
    whole loop is no place for a problem to come and go.)
    """
    if len(passages) < 2:
        return ()
    slices = slices_of(len(part))
    power = np.stack([_drawn_over(band.part, slices) for band in bands])
    ears = []
    for passage in passages:
        blocks = at_block_ends(hand_weight(len(part), passage))
        hand = means(blocks, slices)
        playing = means(blocks * playing_share(part, passage), slices)
        by_hand = _spread(hand, power, passages, frames)
        ears.append(PassageEar(passage, by_hand, _spread(playing, power, passages, frames), hand))
    return tuple(ears)


def _drawn_over(power: Floats, slices: int) -> Floats:
    """``power`` (times,) at the middle of each slice, straight lines between; round the loop."""
    if len(power) >= slices:
        return means(power, slices)
    middles = (np.arange(slices) + 0.5) * len(power) / slices
    drawn: Floats = np.interp(middles, np.arange(len(power)), power, period=len(power))
    return drawn


def _spread(weight: Floats, power: Floats, passages: tuple[Passage, ...], frames: int) -> Spread:
    # Hat functions: a weight between two steps counts for both, by how near it is to each.
    hats = np.maximum(0.0, 1.0 - np.abs(weight - STEP_SHARES[:, None]) * (STEPS - 1))
    at_steps = hats[:, None] * power
    windows = np.stack([_window(passage, len(weight)) for passage in passages])
    hops = np.add.reduceat(at_steps, np.arange(frames) * len(weight) // frames, axis=-1)
    by_hop = np.moveaxis(hops, -1, 0)
    return Spread(
        _shares(np.einsum("pt,sbt->psb", windows, at_steps)),
        _shares(by_hop + np.roll(by_hop, -1, axis=0)),
    )


def _window(passage: Passage, slices: int) -> Floats:
    """How a passage's spectrum weights the power of each slice: see ``heard``."""
    window = np.zeros(slices)
    start, stop = passage.start_frame // SLICE_FRAMES, passage.stop_frame // SLICE_FRAMES
    ramp = np.sin(0.5 * np.pi * (np.arange(_RAMP_SLICES) + 0.5) / _RAMP_SLICES) ** 2
    window[(start - _RAMP_SLICES + np.arange(_RAMP_SLICES)) % slices] = ramp
    window[(stop + np.arange(_RAMP_SLICES)) % slices] = ramp[::-1]
    window[start:stop] = 1.0
    return window


def _shares(sums: Floats) -> Floats:
    """What they come to over the steps, one; all at no weight where there is no power."""
    whole = sums.sum(axis=1, keepdims=True)
    shares = np.zeros_like(sums)
    shares[:, 0] = 1.0
    np.divide(sums, whole, out=shares, where=whole > 0.0)
    return shares
