"""What each kind of problem does to a part, and what taking a named one out again leaves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.demo_loops import demo_loop, demo_loop_names
from exercises.dynamics import detected_db
from exercises.equaliser import filter_loop, peaking
from exercises.kinds import DYNAMICS, TONE, Kind, Shape, Style
from exercises.level_or_tone import passage_changes
from exercises.loops import Passage
from exercises.loudness import passage_lufs
from exercises.problems import Problem, apply_problem, change_of, dynamics_gain_db, undo_change
from exercises.samples import as_samples, db_to_gain
from exercises.spectrum import difference, slice_powers
from tests.synthetic_loops import bursts, frames_of, kicks, noise, small_band, tone

BAND = small_band(2.0).mix()
PARTS = {
    "band": BAND,
    "kicks": kicks(frames_of(2.0)),
    "bursts of an odd length": bursts(frames_of(2.0) + 7, 2),
    "noise": noise(frames_of(2.0), 3),
}
EARLIER = Passage("earlier", 0, 45_000)
LATER = Passage("later", 45_000, 96_000)
ON_ALL = pytest.mark.parametrize("part", list(PARTS.values()), ids=list(PARTS))


def rms(samples):
    return float(np.sqrt(np.mean(samples.astype(np.float64) ** 2)))


@pytest.mark.parametrize(("kind", "sign"), [(Kind.TOO_MUCH, 1.0), (Kind.TOO_LITTLE, -1.0)])
@pytest.mark.parametrize("freq_hz", [63.1, 251.2, 3981.1])
def test_tone_is_boosted_or_cut_at_its_frequency(kind, sign, freq_hz):
    sound = apply_problem(PARTS["noise"], Problem(kind, 9.0, freq_hz, 1.0))
    found = difference(sound, PARTS["noise"])
    peak_db = found.third_octave_db[int(np.abs(found.third_octave_db).argmax())]
    # The third octave round the centre averages the top of the curve.
    assert sign * peak_db == pytest.approx(9.0, abs=0.4)


@pytest.mark.parametrize(("kind", "gain_db"), [(Kind.TOO_LOUD, 6.0), (Kind.TOO_QUIET, -6.0)])
def test_level_is_turned_and_nothing_else(kind, gain_db):
    sound = apply_problem(BAND, Problem(kind, 6.0))
    np.testing.assert_allclose(sound, BAND * db_to_gain(gain_db), atol=1e-7)


@ON_ALL
def test_nothing_is_nothing_but_goes_through_a_filter(part):
    sound = apply_problem(part, Problem(Kind.NOTHING, 0.0))
    assert sound is not part
    assert np.abs(sound - part).max() <= 6e-8


@ON_ALL
@pytest.mark.parametrize("size_db", [0.1, 1.0, 2.4, 2.6, 6.0, 18.0])
@pytest.mark.parametrize(
    ("kind", "style", "sign"),
    [
        (Kind.SQUASHED, Style.OVER_COMPRESSED, -1.0),
        (Kind.SQUASHED, Style.PUMPING, -1.0),
        (Kind.LIFTED, Style.OVER_COMPRESSED, 1.0),
    ],
)
def test_dynamics_reach_their_size_for_a_tenth_of_the_time(part, kind, style, sign, size_db):
    """Of the time that the part sounds: where what is detected is within 40 dB of its highest."""
    gain_db = sign * dynamics_gain_db(part, Problem(kind, size_db, style=style))
    levels = detected_db(part, style)
    sounding = gain_db[levels > levels.max() - 40.0]
    assert np.mean(sounding >= size_db - 1e-9) == pytest.approx(0.1, abs=0.01)
    assert gain_db.min() >= 0.0


def test_a_part_struck_once_is_squashed_as_much_as_one_struck_often():
    """Silence round a single hit does not count: 0.5 s of sound in 8 s."""
    often, once = bursts(frames_of(1.0), 4, beat_s=1.0), np.zeros((frames_of(8.0), 2), np.float32)
    once[: frames_of(1.0)] = often
    hit = slice(0, frames_of(0.05))
    reduction = {
        name: rms(part[hit]) / rms(apply_problem(part, Problem(Kind.SQUASHED, 9.0))[hit])
        for name, part in {"often": often, "once": as_samples(once)}.items()
    }
    assert 20.0 * np.log10(reduction["once"] / reduction["often"]) == pytest.approx(0.0, abs=0.5)
    assert 1.5 < reduction["once"] < db_to_gain(12.0)


def crest_db(samples):
    return 20.0 * np.log10(np.abs(samples).max() / rms(samples))


def spread_db(samples):
    """How far loud and soft tenths of a second lie apart."""
    return float(np.ptp(10.0 * np.log10(np.quantile(slice_powers(samples), [0.2, 0.9]))))


def taken_out(part, sound, named, passage=None):
    """``sound`` with ``named``, as it is settled from ``part``, taken out of it."""
    return undo_change(sound, change_of(part, named, passage))


@pytest.fixture(scope="module")
def mixes():
    return [demo_loop(name).mix() for name in demo_loop_names()]


def test_over_compression_flattens_every_mix(mixes):
    """Loud and soft come nearer; crest (peak to RMS) falls, but where most of a mix is loud."""
    falls_db = []
    for mix in mixes:
        sound = apply_problem(mix, Problem(Kind.SQUASHED, 9.0))
        assert spread_db(sound) < 0.75 * spread_db(mix)
        falls_db.append(crest_db(mix) - crest_db(sound))
    assert min(falls_db) > 0.0
    assert np.median(falls_db) > 1.5


def test_a_lift_raises_the_crest_of_every_mix(mixes):
    for mix in mixes:
        sound = apply_problem(mix, Problem(Kind.LIFTED, 9.0))
        assert crest_db(sound) > crest_db(mix) + 2.0
        assert spread_db(sound) > 1.4 * spread_db(mix)


def test_over_compression_dulls_attacks_and_pumping_lets_them_stand():
    """The first 20 ms of each hit against what follows, from 50 to 150 ms."""
    hits = bursts(frames_of(2.0), 4, beat_s=0.5, decay_s=0.15)
    hits = as_samples(hits + kicks(frames_of(2.0)))

    def attack_db(sound):
        starts = np.arange(4) * frames_of(0.5)
        first = np.concatenate([sound[at : at + frames_of(0.02)] for at in starts])
        later = np.concatenate(
            [sound[at + frames_of(0.05) : at + frames_of(0.15)] for at in starts]
        )
        return 20.0 * np.log10(rms(first) / rms(later))

    squashed = apply_problem(hits, Problem(Kind.SQUASHED, 9.0))
    pumped = apply_problem(hits, Problem(Kind.SQUASHED, 9.0, style=Style.PUMPING))
    lifted = apply_problem(hits, Problem(Kind.LIFTED, 9.0))
    assert attack_db(squashed) < attack_db(hits) - 2.0
    assert attack_db(pumped) > attack_db(hits)
    assert attack_db(lifted) > attack_db(hits) + 2.0


def test_pumping_is_driven_by_the_low_end_and_moves_all_the_rest():
    """A steady high tone under a bass drum: pressed down after each hit, back before the next."""
    frames = frames_of(2.0)
    steady = tone(frames, 3_000.0, -30.0)
    drum = kicks(frames, beat_s=1.0)
    sound = apply_problem(
        as_samples(drum + steady), Problem(Kind.SQUASHED, 9.0, style=Style.PUMPING)
    )
    # The tone as it was moved: all above 2 kHz, where the drum has nothing.
    spectrum = np.fft.rfft(sound[:, 0])
    spectrum[: round(2_000.0 * frames / 48_000.0)] = 0.0
    held = np.abs(np.fft.irfft(spectrum, frames))
    after_hit = held[frames_of(0.05) : frames_of(0.15)].max()
    before_next = held[frames_of(0.85) : frames_of(0.95)].max()
    assert 20.0 * np.log10(before_next / after_hit) > 4.0


@pytest.mark.parametrize(
    "problem",
    [
        Problem(Kind.TOO_MUCH, 12.0, 186.0, 1.4),
        Problem(Kind.TOO_LITTLE, 12.0, 60.0, 4.0),
        Problem(Kind.TOO_MUCH, 9.0, 12_000.0, 0.7),
        Problem(Kind.TOO_MUCH, 12.0, 150.0, shape=Shape.LOW_SHELF),
        Problem(Kind.TOO_LITTLE, 12.0, 4_000.0, shape=Shape.HIGH_SHELF),
        Problem(Kind.SQUASHED, 9.0),
        Problem(Kind.SQUASHED, 9.0, style=Style.PUMPING),
        Problem(Kind.LIFTED, 9.0),
        Problem(Kind.TOO_LOUD, 6.0),
        Problem(Kind.TOO_QUIET, 12.0),
        Problem(Kind.NOTHING, 0.0),
    ],
    ids=lambda problem: f"{problem.kind} {problem.freq_hz}",
)
@pytest.mark.parametrize("passage", [None, LATER], ids=["throughout", "in one passage"])
@ON_ALL
def test_the_right_answer_taken_out_gives_the_part_again(part, passage, problem):
    sound = apply_problem(part, problem, passage)
    again = taken_out(part, sound, problem, passage)
    # Twice rounded to float32, the second time turned up by the cut that is undone: 24 bits.
    assert np.abs(again - part).max() < 1e-6 * db_to_gain(12.0)


@ON_ALL
@pytest.mark.parametrize("size_db", [3.0, 9.0, 18.0])
def test_a_squash_is_taken_off(part, size_db):
    truth = Problem(Kind.SQUASHED, size_db)
    sound = apply_problem(part, truth)
    again = taken_out(part, sound, truth)
    assert np.abs(again - part).max() < 1e-6


def test_a_squash_named_where_none_was_lifts_what_is_loud():
    lifted = taken_out(PARTS["kicks"], PARTS["kicks"], Problem(Kind.SQUASHED, 6.0))
    steps_db = 20.0 * np.log10(np.abs(lifted[:4_800]).max() / np.abs(PARTS["kicks"][:4_800]).max())
    assert 3.0 < steps_db < 9.0
    quiet = slice(frames_of(0.4), frames_of(0.45))
    np.testing.assert_allclose(lifted[quiet], PARTS["kicks"][quiet], atol=1e-6)


@pytest.mark.parametrize(
    ("named", "gain_db"),
    [
        (Problem(Kind.TOO_MUCH, 6.0, 400.0, 2.0), -6.0),
        (Problem(Kind.TOO_LITTLE, 6.0, 400.0, 2.0), 6.0),
    ],
    ids=["too much is cut", "too little is boosted"],
)
def test_a_wrong_frequency_is_moved_as_a_mixer_would(named, gain_db):
    truth = Problem(Kind.TOO_MUCH, 9.0, 200.0, 1.4)
    sound = apply_problem(BAND, truth)
    moved = taken_out(BAND, sound, named)
    np.testing.assert_array_equal(moved, filter_loop(sound, peaking(400.0, gain_db, 2.0)))


@pytest.mark.parametrize(
    ("shape", "kind", "low_db", "high_db"),
    [
        (Shape.LOW_SHELF, Kind.TOO_MUCH, 9.0, 0.0),
        (Shape.LOW_SHELF, Kind.TOO_LITTLE, -9.0, 0.0),
        (Shape.HIGH_SHELF, Kind.TOO_MUCH, 0.0, 9.0),
        (Shape.HIGH_SHELF, Kind.TOO_LITTLE, 0.0, -9.0),
    ],
)
def test_a_shelf_turns_one_side_of_its_frequency(shape, kind, low_db, high_db):
    sound = apply_problem(PARTS["noise"], Problem(kind, 9.0, 800.0, shape=shape))
    found = difference(sound, PARTS["noise"]).third_octave_db
    # Third octaves from 25 Hz: 50 Hz is the fourth, 12.5 kHz the twenty-eighth.
    assert found[3] == pytest.approx(low_db, abs=0.1)
    assert found[27] == pytest.approx(high_db, abs=0.1)
    assert found[15] == pytest.approx((low_db + high_db) / 2.0, abs=0.5)


PASSAGE_PROBLEMS = [
    Problem(Kind.TOO_MUCH, 9.0, 200.0, 1.4),
    Problem(Kind.TOO_LITTLE, 9.0, 1_000.0, 1.4),
    Problem(Kind.TOO_MUCH, 9.0, 6_000.0, shape=Shape.HIGH_SHELF),
    Problem(Kind.SQUASHED, 9.0),
    Problem(Kind.SQUASHED, 9.0, style=Style.PUMPING),
    Problem(Kind.LIFTED, 9.0),
    Problem(Kind.TOO_LOUD, 6.0),
    Problem(Kind.TOO_QUIET, 6.0),
]
IN_A_PASSAGE = pytest.mark.parametrize(
    "problem", PASSAGE_PROBLEMS, ids=lambda problem: f"{problem.kind} {problem.style}"
)


@IN_A_PASSAGE
@pytest.mark.parametrize("passage", [EARLIER, LATER], ids=lambda passage: passage.name)
@ON_ALL
def test_a_passage_problem_leaves_the_other_passage_as_it_was(part, passage, problem):
    """But for the hand's last 150 ms there, and what a filter still rings (0.1 s is plenty)."""
    sound = apply_problem(part, problem, passage)
    other = np.ones(len(part), dtype=bool)
    other[np.arange(passage.start_frame - 7_300, passage.stop_frame + 4_800) % len(part)] = False
    assert np.abs(sound - part)[other].max() < 1e-6
    inside = slice(passage.start_frame + 4_800, passage.stop_frame - 7_300)
    assert np.abs(sound - part)[inside].max() > 1e-3


@IN_A_PASSAGE
@pytest.mark.parametrize("freq_hz", [110.0, 1_000.0])
def test_no_click_comes_of_a_passage_problem(problem, freq_hz):
    """On a steady tone: whatever lies an octave or more from it stays under -70 dB of it.

    Squashing a low tone within half a millisecond follows its every swing and bends it, passage
    or not: there the click may not stand out of that.
    """
    frames = frames_of(2.0)
    steady = tone(frames, freq_hz, -12.0)

    def beside_db(sound):
        bins = np.fft.rfft(sound[:, 0].astype(np.float64))
        own = np.abs(np.log2(np.maximum(np.fft.rfftfreq(frames, 1 / 48_000), 1.0) / freq_hz)) < 1.0
        return 10.0 * np.log10(np.sum(np.abs(bins[~own]) ** 2) / np.sum(np.abs(bins) ** 2) + 1e-20)

    throughout_db = beside_db(apply_problem(steady, problem))
    sound = apply_problem(steady, problem, LATER)
    assert beside_db(sound) < max(-70.0, throughout_db + 1.0)
    steps = np.abs(np.diff(sound, axis=0, append=sound[:1])).max()
    expected = np.abs(np.diff(steady, axis=0, append=steady[:1])).max() * db_to_gain(9.0)
    assert steps <= 1.02 * expected


@IN_A_PASSAGE
def test_a_passage_problem_does_not_care_where_the_loop_is_cut(problem):
    """The seam: turned round by a third of a second, the sound is the same, turned round."""
    part, shift = PARTS["band"], 16_000
    passage = Passage("middle", 30_000, 70_000)
    moved = Passage("middle", 30_000 + shift, 70_000 + shift)
    turned = as_samples(np.roll(part, shift, axis=0))
    sound = apply_problem(part, problem, passage)
    again = np.roll(apply_problem(turned, problem, moved), -shift, axis=0)
    np.testing.assert_allclose(again, sound, atol=2e-5)


@pytest.mark.parametrize("kind", sorted(DYNAMICS))
def test_dynamics_in_a_passage_keep_it_as_loud_as_it_was(kind):
    """Make-up gain: the passage's own level does not tell, within the hand's ramps."""
    sound = apply_problem(BAND, Problem(kind, 9.0), LATER)
    was, is_now = (passage_lufs(x, 50_000, 88_000) for x in (BAND, sound))
    assert is_now == pytest.approx(was, abs=0.5)


def test_a_build_up_follows_the_playing():
    """A chord that dies away over a second: all of the boost at first, none of it in the end."""
    frames = frames_of(4.0)
    dying = np.exp(-np.arange(frames) / frames_of(0.25))[:, None]
    part = as_samples(tone(frames, 200.0, -12.0) * dying)
    passage = Passage("held", 0, frames_of(2.0))
    sound = apply_problem(part, Problem(Kind.TOO_MUCH, 9.0, 200.0, 1.4), passage)
    gained_db = [
        20.0
        * np.log10(
            rms(sound[frames_of(at) : frames_of(at + 0.05)])
            / rms(part[frames_of(at) : frames_of(at + 0.05)])
        )
        for at in (0.1, 0.4, 0.8)
    ]
    assert gained_db[0] == pytest.approx(9.0, abs=0.3)
    assert 1.0 < gained_db[1] < 8.5
    assert gained_db[2] == pytest.approx(0.0, abs=0.3)


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from(Kind),
    st.floats(0.1, 18.0),
    st.floats(25.0, 17_500.0),
    st.floats(0.3, 12.0),
    st.sampled_from(Shape),
    st.sampled_from(Style),
    st.sampled_from([None, EARLIER, LATER]),
)
def test_any_problem_leaves_its_part_alone_and_finite(
    kind, size_db, freq_hz, q, shape, style, passage
):
    part = PARTS["kicks"]
    kept = part.copy()
    problem = Problem(kind, size_db, freq_hz, q, shape if kind in TONE else Shape.PEAK, style)
    sound = apply_problem(part, problem, passage)
    np.testing.assert_array_equal(part, kept)
    assert np.isfinite(sound).all()
    assert sound.shape == part.shape
    assert sound.dtype == np.float32
    again = taken_out(part, sound, problem, passage)
    assert np.abs(again - part).max() < 1e-6 * db_to_gain(18.0)


def damped_then_open_guitar():
    """The driven guitar of a demo loop, and its two passages."""
    for name in demo_loop_names():
        loop = demo_loop(name)
        passages = {passage.name: passage for passage in loop.passages}
        if {"damped strokes", "open chords"} <= passages.keys():
            guitar = loop.track("guitar").samples
            return guitar, passages["damped strokes"], passages["open chords"]
    raise AssertionError("no demo loop has the passages 'damped strokes' and 'open chords'")


@pytest.mark.parametrize("q", [1.0, 1.4, 2.0])
def test_a_cut_at_186_hz_thins_the_damped_strokes_and_hardly_the_open_chords(q):
    """Common practice, no source: a driven guitar's damped strokes build up at 186 Hz.

    6 dB taken out there lowers the damped passage, in LU, by at least twice what it lowers the
    open one: a level problem that was a tone problem.
    """
    guitar, damped, open_chords = damped_then_open_guitar()
    cut = apply_problem(guitar, Problem(Kind.TOO_LITTLE, 6.0, 186.0, q))
    lowered = {
        passage.name: passage_lufs(guitar, passage.start_frame, passage.stop_frame)
        - passage_lufs(cut, passage.start_frame, passage.stop_frame)
        for passage in (damped, open_chords)
    }
    assert lowered["damped strokes"] >= 2.0 * lowered["open chords"]
    # And by enough to be heard as level: half a dB is near the limit for a tone (Moore).
    assert lowered["damped strokes"] > 0.5


def test_a_build_up_at_186_hz_is_cured_by_a_cut_there_and_not_by_a_ride():
    """Common practice, no source: the case that looks like level and is tone.

    The damped strokes of the driven guitar have built up by 6 dB at 186 Hz. One cut of 6 dB there,
    over the whole track, takes it out and hardly moves the open chords; the fader, ridden down
    until the damped passage is as loud as it was, leaves nearly all of the build-up.
    """
    guitar, damped, open_chords = damped_then_open_guitar()
    passages = (damped, open_chords)
    thick = apply_problem(guitar, Problem(Kind.TOO_MUCH, 6.0, 186.0, 1.4), damped)
    wrong = {change.passage: change for change in passage_changes(guitar, thick, passages)}
    assert wrong["damped strokes"].level_lu > 1.0
    assert wrong["damped strokes"].tone_db > 3.0
    assert wrong["damped strokes"].tone_hz == pytest.approx(199.5, rel=0.01)

    cut = apply_problem(thick, Problem(Kind.TOO_LITTLE, 6.0, 186.0, 1.4))
    left = {change.passage: change for change in passage_changes(guitar, cut, passages)}
    assert abs(left["damped strokes"].level_lu) < 0.25 * wrong["damped strokes"].level_lu
    assert abs(left["damped strokes"].tone_db) < 0.25 * wrong["damped strokes"].tone_db
    assert abs(left["open chords"].level_lu) < 0.5

    excess = Problem(Kind.TOO_QUIET, wrong["damped strokes"].level_lu)
    ridden = apply_problem(thick, excess, damped)
    still = {change.passage: change for change in passage_changes(guitar, ridden, passages)}
    assert abs(still["damped strokes"].level_lu) < 0.1
    assert still["damped strokes"].tone_db > 0.95 * wrong["damped strokes"].tone_db
