"""What a claim is about: a stretch of sound, the change to be heard on it, and what speaks for it.

``open_case`` reads, measures and renders; it takes a second or two, so a window has it made behind
the curtain. It loads what is slow to import.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path

from exercises.audio_handle import shown_name
from exercises.errors import BadLoop, NamefirstError
from exercises.evidence import Evidence, equal_parts, evidence_for
from exercises.kinds import LARGEST_SIZE_DB
from exercises.loops import WHOLE_MIX, Passage
from exercises.recipe import HIGHEST_PROBLEM_HZ, LARGEST_Q, LOWEST_PROBLEM_HZ, SMALLEST_Q
from exercises.samples import RATE_HZ
from exercises.stretch import Asked, Stretch, stretch_of_loop, stretch_of_path
from exercises.with_and_without import Pair, PointFilter, with_and_without
from trainer.loop_shelf import LoopShelf


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A claim, ready to be tested: A of ``pair`` as it is, B with ``change`` on it."""

    stretch: Stretch
    change: PointFilter
    evidence: Evidence
    pair: Pair

    def pair_at(self, freq_hz: float) -> Pair:
        """The same with the change at another place."""
        return with_and_without(self.stretch, replace(self.change, freq_hz=freq_hz))


def sound_called(shelf: LoopShelf, called: str) -> Path | str:
    """What a claim can be on: the path ``called`` so, or else the name of the loop.

    Raises:
        BadLoop: there is neither.
    """
    if os.path.exists(called):
        return Path(called)
    try:
        return shelf.named(called)
    except BadLoop as error:
        raise BadLoop(f"{shown_name(Path(called))}: no such file, and {error}") from None


def open_case(shelf: LoopShelf, sound: Path | str, asked: Asked, change: PointFilter) -> Case:
    """The claim that ``change`` mends something in ``sound``: a path, or the name of a loop.

    A cut claims that there is too much, a boost that there is too little.

    Raises:
        NamefirstError: a figure is out of range, or the sound cannot be used.
    """
    _check(change)
    hollow = change.gain_db > 0.0
    if asked.track == WHOLE_MIX:
        asked = replace(asked, track=None)
    if isinstance(sound, Path):
        stretch = stretch_of_path(sound, asked, change.freq_hz, hollow=hollow)
    else:
        stretch = stretch_of_loop(shelf.get(sound), asked)
    evidence = evidence_for(
        stretch.part,
        change.freq_hz,
        hollow=hollow,
        passages=stretch.passages or _parts_of(stretch),
        whole_mix=stretch.track is None,
    )
    return Case(stretch, change, evidence, with_and_without(stretch, change))


def _parts_of(stretch: Stretch) -> tuple[Passage, ...]:
    """The stretch in equal parts, each named after the second of its file that it begins with."""
    return tuple(
        replace(part, name=f"from {stretch.start_s + part.start_frame / RATE_HZ:.0f} s")
        for part in equal_parts(len(stretch.part))
    )


def _check(change: PointFilter) -> None:
    bounds = (
        ("--at", change.freq_hz, LOWEST_PROBLEM_HZ, HIGHEST_PROBLEM_HZ, "Hz"),
        ("--cut or --boost", abs(change.gain_db), 0.5, LARGEST_SIZE_DB, "dB"),
        ("--q", change.q, SMALLEST_Q, LARGEST_Q, ""),
    )
    for option, value, low, high, unit in bounds:
        if not low <= value <= high:
            raise NamefirstError(f"{option} {value:g}: give {low:g} to {high:g} {unit}".rstrip())
