"""A loop counted at half or twice the tempo that was found: the same sound, other bars."""

from __future__ import annotations

from dataclasses import replace

import pytest

from exercises.own_loop import passages_of
from tests.synthetic_loops import small_band
from trainer.counted_tempo import counted_at

LOOP = small_band(4.0)


@pytest.mark.parametrize(
    ("factor", "bars", "names"),
    [
        (1.0, 4, ["bars 1-2", "bars 3-4"]),
        (0.5, 2, ["bar 1", "bar 2"]),
        (2.0, 8, ["bars 1-2", "bars 3-4", "bars 5-6", "bars 7-8"]),
    ],
)
def test_bars_and_passages_go_with_the_tempo(factor: float, bars: int, names: list[str]) -> None:
    found = replace(LOOP, bars=4, tempo_bpm=240.0, passages=passages_of(4, LOOP.frames))
    counted = counted_at(found, factor)
    assert (counted.tempo_bpm, counted.bars) == (240.0 * factor, bars)
    assert [each.name for each in counted.passages] == names
    assert counted.passages[0].start_frame == 0
    assert counted.passages[-1].stop_frame == LOOP.frames
    assert counted.tracks is found.tracks


def test_bars_that_are_not_whole_are_unknown() -> None:
    found = replace(LOOP, bars=3, tempo_bpm=180.0, passages=passages_of(3, LOOP.frames))
    counted = counted_at(found, 0.5)
    assert counted.bars is None
    assert [each.name for each in counted.passages] == ["first half", "second half"]


def test_what_has_no_beat_stays_as_it_is() -> None:
    loop = replace(LOOP, bars=None, tempo_bpm=None)
    assert counted_at(loop, 2.0) is loop
