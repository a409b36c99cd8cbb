"""Two files of one mix aligned and explained; other music refused."""

from __future__ import annotations

import io
import itertools

import numpy as np
import pytest
import soundfile

from exercises.demo_loops import demo_loop, demo_loop_names
from exercises.errors import BadAudio
from exercises.loops import Passage
from exercises.moves import Compressor, EqPoint, HighShelf, LowShelf, Ride, apply_moves
from exercises.revision import (
    LEAST_ALIKE,
    alike,
    explain_revision,
    offset_frames,
    revision_text,
    shared,
)
from exercises.samples import as_samples, db_to_gain
from tests.synthetic_loops import frames_of, noise

FERRY = "ferry-crossing"


def ferry():
    return demo_loop(FERRY).mix()


def moved_in_time(samples, frames):
    """Silence put before it, or its start cut off."""
    if frames < 0:
        return as_samples(samples[-frames:])
    return as_samples(np.concatenate([np.zeros((frames, 2), np.float32), samples]))


@pytest.mark.parametrize("later", [0, 1, 480, 12_345, -7, -3_001])
@pytest.mark.parametrize("gain", [1.0, -0.5], ids=["as it is", "quieter, polarity turned"])
def test_aligned_to_the_sample(later, gain):
    mix = ferry()
    assert offset_frames(mix, moved_in_time(as_samples(np.float32(gain) * mix), later)) == later


@pytest.mark.parametrize(
    "moves",
    [(EqPoint(200.0, -9.0, 0.7),), (HighShelf(6_000.0, 6.0),), (Compressor(9.0),)],
    ids=["mud out", "air in", "compressed"],
)
def test_aligned_within_an_eighth_of_a_millisecond_whatever_was_moved(moves):
    mix = ferry()
    assert abs(offset_frames(mix, moved_in_time(apply_moves(mix, moves), 4_000)) - 4_000) <= 6


@pytest.mark.parametrize("later", [12_345, -3_001])
def test_one_move_on_a_file_that_starts_elsewhere(later):
    mix = ferry()
    made = EqPoint(186.0, -6.0, 1.4)
    revision = explain_revision(mix, moved_in_time(apply_moves(mix, [made]), later))
    assert revision.later_s == pytest.approx(later / 48_000, abs=0.00015)
    (move,) = revision.fix
    assert move.freq_hz == pytest.approx(186.0, rel=0.02)
    assert move.gain_db == pytest.approx(-6.0, abs=0.2)
    assert move.q == pytest.approx(1.4, rel=0.1)
    assert revision.explained > 0.9
    assert not revision.left.heard
    assert revision.louder_lu < -0.5


def test_a_ride_is_found_without_being_told_of_passages():
    mix = ferry()
    ridden = Passage("x", frames_of(2.0), frames_of(5.0))
    after = apply_moves(mix, [Ride(-2.0, ridden), LowShelf(90.0, 3.0)])
    found = {type(move): move for move in explain_revision(mix, after).fix}
    assert set(found) == {Ride, LowShelf}
    assert found[Ride].gain_db == pytest.approx(-2.0, abs=0.1)
    assert found[Ride].passage.start_frame / 48_000 == pytest.approx(2.0, abs=0.1)
    assert found[Ride].passage.stop_frame / 48_000 == pytest.approx(5.0, abs=0.1)
    assert found[LowShelf].gain_db == pytest.approx(3.0, abs=0.3)


def vorbis(samples):
    file = io.BytesIO()
    soundfile.write(file, samples, 48_000, format="OGG", subtype="VORBIS")
    file.seek(0)
    return as_samples(soundfile.read(file, dtype="float32")[0])


def sixteen_bits(samples):
    return as_samples(np.round(samples * 32_768.0) / 32_768.0)


@pytest.mark.parametrize("through", [sixteen_bits, vorbis])
def test_moves_are_found_through_files_that_lose_something(through):
    mix = demo_loop("harbour-lights").mix()
    after = apply_moves(mix, [EqPoint(220.0, -4.0, 1.0), HighShelf(7_000.0, 2.5)])
    point, shelf = explain_revision(through(mix), through(after)).fix
    assert point.freq_hz == pytest.approx(220.0, rel=0.03)
    assert point.gain_db == pytest.approx(-4.0, abs=0.3)
    assert isinstance(shelf, HighShelf)
    assert shelf.gain_db == pytest.approx(2.5, abs=0.4)


def test_the_text_says_level_moves_and_what_is_left():
    mix = ferry()
    after = as_samples(apply_moves(mix, [EqPoint(186.0, -6.0, 1.4)]) * np.float32(db_to_gain(3.0)))
    lines = revision_text(explain_revision(mix, after)).splitlines()
    assert lines[0].endswith("LU louder than before; 1 move explains the rest:")
    assert lines[1] == "1. cut 6 dB at 186 Hz, Q 1.4"
    assert lines[2].startswith("It explains")
    assert lines[2].endswith("what is left is too small to be heard.")


def test_the_same_file_twice():
    mix = ferry()
    revision = explain_revision(mix, mix)
    assert revision.fix == ()
    assert revision.explained == 1.0
    assert revision_text(revision) == "As loud as before; nothing else changed."


def test_louder_alone_is_no_move():
    mix = ferry()
    revision = explain_revision(mix, as_samples(mix * np.float32(db_to_gain(-4.0))))
    assert revision_text(revision) == "4.0 LU quieter than before; nothing else changed."


@pytest.mark.parametrize(
    ("first", "second"), list(itertools.combinations(demo_loop_names()[:5], 2)), ids=str
)
def test_other_music_is_refused(first, second):
    with pytest.raises(BadAudio, match=r"not the same music|share too little"):
        explain_revision(demo_loop(first).mix(), demo_loop(second).mix())


@pytest.mark.parametrize("name", demo_loop_names())
def test_a_hard_hit_mix_is_still_the_same_music(name):
    """12 dB off the mud, 9 dB of treble on and 6 dB of compression: well above the limit."""
    mix = demo_loop(name).mix()
    hit = apply_moves(mix, [EqPoint(186.0, -12.0, 0.5), HighShelf(2_000.0, 9.0), Compressor(6.0)])
    assert alike(mix, hit) > LEAST_ALIKE + 0.1


def test_two_that_hardly_overlap_are_refused():
    mix = ferry()
    with pytest.raises(BadAudio, match="share too little"):
        shared(mix, mix, len(mix) - frames_of(1.0))


@pytest.mark.parametrize("which", ["before", "after"])
def test_silence_and_scraps_are_refused(which):
    mix = ferry()
    for other, words in ((np.zeros_like(mix), "silent"), (mix[:4_800], "lasts under 2 s")):
        pair = (other, mix) if which == "before" else (mix, other)
        with pytest.raises(BadAudio, match=f"'{which}'.*{words}"):
            explain_revision(*pair)


def test_noise_is_not_music_of_the_same_kind():
    frames = frames_of(4.0)
    with pytest.raises(BadAudio, match=r"not the same music|share too little"):
        explain_revision(noise(frames, 1), noise(frames, 2))
