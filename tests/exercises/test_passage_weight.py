"""When a passage's problem is there: ramps done by the bar line, and what the playing brings."""

from __future__ import annotations

import numpy as np
import pytest

from exercises.compressor import levels_db
from exercises.loops import Passage
from exercises.passage_weight import (
    FOLLOWING,
    at_block_ends,
    hand_weight,
    playing_share,
    playing_weight,
)
from exercises.samples import as_samples
from tests.synthetic_loops import bursts, frames_of, noise

FRAMES = frames_of(2.0)
RAMP = frames_of(0.15)
FIRST, SECOND = Passage("first", 0, 40_000), Passage("second", 40_000, FRAMES)


@pytest.mark.parametrize("passage", [FIRST, SECOND], ids=lambda passage: passage.name)
def test_a_hand_is_there_at_the_bar_line_and_gone_at_the_next(passage):
    weight = hand_weight(FRAMES, passage)
    start, stop = passage.start_frame, passage.stop_frame
    assert weight[start] == 1.0
    assert weight[start - 1] > 0.999
    assert weight[(start - RAMP - 1) % FRAMES] == 0.0
    assert np.all(weight[start : stop - RAMP] == 1.0)
    assert weight[stop - 1] < 1e-3
    assert weight.min() == 0.0
    # A raised cosine: no step anywhere, round the seam too.
    steps = np.abs(np.diff(weight, append=weight[0]))
    assert steps.max() < 1.1 * np.pi / 2.0 / RAMP


def test_what_is_not_one_passage_is_the_other():
    both = hand_weight(FRAMES, FIRST) + hand_weight(FRAMES, SECOND)
    np.testing.assert_allclose(both, 1.0, atol=1e-12)


@pytest.mark.parametrize("length", [2, 100, 5_000])
def test_short_passages_have_short_ramps(length):
    weight = hand_weight(FRAMES, Passage("short", 1_000, 1_000 + length))
    assert weight[1_000] == 1.0
    assert weight.min() == 0.0
    assert np.count_nonzero(weight) <= 1.5 * length


def test_the_whole_loop_is_always_there():
    assert np.all(hand_weight(FRAMES, Passage("all", 0, FRAMES)) == 1.0)


@pytest.mark.parametrize(("start", "stop"), [(-1, 10), (10, 10), (0, FRAMES + 1)])
def test_a_passage_outside_the_loop_is_refused(start, stop):
    with pytest.raises(ValueError, match="does not lie within"):
        hand_weight(FRAMES, Passage("nowhere", start, stop))


@pytest.mark.parametrize("gain_db", [0.0, -40.0])
def test_steady_playing_brings_all_of_it_at_any_level(gain_db):
    part = as_samples(noise(FRAMES, 3) * np.float32(10.0 ** (gain_db / 20.0)))
    weight = playing_weight(part, FIRST)
    np.testing.assert_allclose(weight[: 40_000 - RAMP], 1.0, atol=0.02)


def test_strokes_bring_it_and_what_is_between_them_does_not():
    part = bursts(FRAMES, 2, beat_s=0.5, decay_s=0.02)
    weight = playing_weight(part, SECOND)
    strokes = np.arange(48_000, FRAMES - RAMP, frames_of(0.5))
    for stroke in strokes.tolist():
        # Within its swelling of some tens of milliseconds.
        assert weight[stroke + frames_of(0.04)] > 0.9
        assert weight[stroke + frames_of(0.46)] < 0.1


def test_another_passage_does_not_decide_what_is_loud_in_this_one():
    """Ten times as loud elsewhere: the soft passage still brings all of its own."""
    part = noise(FRAMES, 4).copy()
    part[40_000:] *= 10.0
    weight = playing_weight(as_samples(part), FIRST)
    assert weight[10_000 : 40_000 - RAMP].min() > 0.95


def test_silence_is_no_trouble():
    weight = playing_weight(as_samples(np.zeros((FRAMES, 2))), FIRST)
    assert np.isfinite(weight).all()


@pytest.mark.parametrize("frames", [96_000, 96_005, 96_015])
def test_weights_at_blocks_are_those_at_their_last_frames(frames):
    weight = np.linspace(0.0, 1.0, frames)
    ends = at_block_ends(weight)
    part = noise(frames, 5)
    assert len(ends) == len(levels_db(part, FOLLOWING))
    assert len(ends) == len(playing_share(part, Passage("all", 0, frames)))
    assert ends[0] == weight[15]
    assert ends[-1] == weight[-1]
