"""An arrangement: what a loop is called, how long it is, and the function that plays it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from exercises.studio.desk import Part
from exercises.studio.playing import Grid
from exercises.studio.room import Room


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A loop to render: ``passages`` are (name, bars) in order and fill ``grid.bars``."""

    name: str
    title: str
    style: str
    grid: Grid
    passages: tuple[tuple[str, int], ...]
    room: Room
    play: Callable[[Grid], list[Part]]
