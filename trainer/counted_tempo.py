"""A loop's tempo as it is counted: what was found may be half or twice what a player counts."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from exercises.loops import Loop
from exercises.own_loop import passages_of

FACTORS: Final = (0.5, 1.0, 2.0)
"""Of the tempo that was found."""


def counted_at(loop: Loop, factor: float) -> Loop:
    """The same sound at ``factor`` times its tempo, its passages named after the bars of that one;
    they are unknown where they are not whole.

    A loop without a beat stays as it is.
    """
    if loop.tempo_bpm is None:
        return loop
    bars = None if loop.bars is None else loop.bars * factor
    whole = None if bars is None or bars % 1.0 else int(bars)
    return replace(
        loop,
        tempo_bpm=loop.tempo_bpm * factor,
        bars=whole,
        passages=passages_of(whole, loop.frames),
    )


def counted_words(tempo_bpm: float, factor: float) -> str:
    """The tempo it is counted at: "96 BPM, half of what was found"."""
    whose = {0.5: "half of what was found", 1.0: "as found", 2.0: "twice what was found"}[factor]
    return f"{tempo_bpm * factor:.4g} BPM, {whose}"
