"""What can be heard: published orders and limits, and the fast path against rendered questions."""

from __future__ import annotations

import random

import numpy as np
import pytest

from exercises import loudness
from exercises.audibility import (
    DIP_WEIGHT,
    EXCITATION_CRITERION_DB,
    LARGEST_ASKED_DB,
    MOMENT_CRITERION_DB,
    SIZE_STEP_DB,
    askable,
    audible_db,
    audible_sizes_db,
    criterion_db,
    pattern_change_db,
    smallest_askable_db,
)
from exercises.bands import BANDS
from exercises.demo_loops import demo_loop, demo_loop_names
from exercises.excitation import FILTERS_HZ, quiet_power
from exercises.heard import (
    FINE_EDGES_HZ,
    HeardLoop,
    ear_of,
    ears_of,
    excitation_of_fine,
    inner_ear_gain,
    passage_powers,
)
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind, Shape, Style
from exercises.loops import Loop, Passage
from exercises.problems import Problem
from exercises.question import REFERENCE_LUFS, Question, make_question
from exercises.recipe import Recipe
from exercises.samples import as_samples
from tests.drawn_recipes import Choices, draw_recipe
from tests.reference_rows import rows
from tests.synthetic_loops import bursts, frames_of, loop_of, noise, small_band, tone

FRAMES = frames_of(2.0)


@pytest.fixture(scope="module")
def pink() -> HeardLoop:
    return ear_of(loop_of(("noise", noise(FRAMES, 1))))


@pytest.fixture(scope="module")
def band_loop() -> Loop:
    half = FRAMES // 2
    tracks = [(track.name, track.samples) for track in small_band(2.0).tracks]
    return loop_of(*tracks, passages=(Passage("a", 0, half), Passage("b", half, FRAMES)))


@pytest.fixture(scope="module")
def bass_loop() -> Loop:
    """A bass of three partials, 55 to 330 Hz, and cymbals above 2 kHz."""
    bass = tone(FRAMES, 55.0, -15.0) + tone(FRAMES, 110.0, -20.0) + tone(FRAMES, 330.0, -30.0)
    hiss = noise(FRAMES, 7, rms_dbfs=-30.0)
    spectrum = np.fft.rfft(hiss, axis=0)
    spectrum[: frames_of(2000.0 / 48_000.0 * 2.0)] = 0.0
    cymbals = as_samples(np.fft.irfft(spectrum, FRAMES, axis=0))
    return loop_of(("bass", as_samples(bass)), ("cymbals", cymbals))


# Published orders and limits.


@pytest.mark.parametrize("q", [1.0, 1.4, 2.0, 4.0, 8.0])
@pytest.mark.parametrize("band", BANDS, ids=lambda band: band.name)
def test_a_peak_is_heard_more_easily_than_a_dip_of_its_size(pink, band, q):
    """Bücklein, JAES 29(3), 1981."""
    peak = audible_db(pink, Problem(Kind.TOO_MUCH, 6.0, band.mid_hz, q))
    dip = audible_db(pink, Problem(Kind.TOO_LITTLE, 6.0, band.mid_hz, q))
    assert peak > 1.05 * dip


@pytest.mark.parametrize("freq_hz", [200.0, 500.0, 1000.0, 2000.0, 5000.0])
def test_a_broad_resonance_is_heard_at_a_lower_gain_than_a_narrow_one(pink, freq_hz):
    """Toole & Olive, JAES 36(3), 1988: Q 1, 10 and 50 on broadband sound, in that order.

    Near the threshold, as there; larger broad boosts are mostly taken back by loudness matching.
    """
    for gain_db in (1.5, 3.0):
        broad, narrow, narrowest = (
            audible_db(pink, Problem(Kind.TOO_MUCH, gain_db, freq_hz, q)) for q in (1.0, 10.0, 50.0)
        )
        assert broad > 1.03 * narrow
        assert narrow > 1.03 * narrowest


@pytest.mark.parametrize("freq_hz", [300.0, 1000.0, 2000.0])
@pytest.mark.parametrize("published", rows("erb", "jnd.freq."))
def test_the_criterion_sits_at_the_published_limit_for_shifted_resonances(published, freq_hz):
    """Gagné & Zurek 1988: noise through a resonance, moved as far as could just be noticed."""
    q, shift = published["inputs"]["Q"], published["expected"]
    still, moved = (resonance_pattern(place, q) for place in (freq_hz, freq_hz * (1.0 + shift)))
    change_db = float(pattern_change_db(still, moved, 1.0))
    assert change_db == pytest.approx(EXCITATION_CRITERION_DB, abs=0.45)


def resonance_pattern(freq_hz: float, q: float) -> np.ndarray:
    """Excitation (1, filters) of white noise to 5 kHz through a second-order low-pass, 70 dB."""
    middles_hz = (FINE_EDGES_HZ[1:] + FINE_EDGES_HZ[:-1]) / 2.0
    s = 1j * middles_hz / freq_hz
    power = np.abs(1.0 / (1.0 + s / q + s**2)) ** 2 * np.diff(FINE_EDGES_HZ)
    power[middles_hz > 5000.0] = 0.0
    return excitation_of_fine(power / power.sum() * inner_ear_gain(0.0) / 10.0**2.3)[None]


@pytest.mark.parametrize("published", rows("erb", "jnd.level."))
def test_the_criterion_is_no_finer_than_the_published_limit_for_level(published):
    """Jesteadt, Wier & Green 1977: tones from 20 dB above threshold up."""
    assert published["expected"] <= EXCITATION_CRITERION_DB + published["tolerance"]


@pytest.mark.parametrize("kind", sorted(LEVEL))
@pytest.mark.parametrize("size_db", [0.5, 1.0, 2.0, 6.0])
def test_a_level_change_of_all_that_is_heard_is_heard_at_its_size(pink, kind, size_db):
    sign = 1.0 if kind is Kind.TOO_LOUD else -1.0
    measured = audible_db(pink, Problem(kind, size_db))
    # A little more where it is loud: the ear's filters lean with level.
    assert size_db - 0.02 <= measured <= size_db * 1.2, sign


def test_what_lies_under_the_threshold_of_hearing_is_not_heard():
    """A change by 10 dB that ends at the threshold in quiet, and one that starts 20 dB over it."""
    quiet = quiet_power(FILTERS_HZ)[None]
    assert pattern_change_db(quiet / 10.0, quiet, 1.0) < 0.5
    assert pattern_change_db(quiet * 100.0, quiet * 1000.0, 1.0) > 9.0


# What the generator must never ask.


@pytest.mark.parametrize("freq_hz", [2000.0, 4000.0, 8000.0, 16000.0])
def test_no_high_boost_is_askable_on_a_bass_alone(bass_loop, freq_hz):
    heard = ear_of(bass_loop, "bass", alone=True)
    assert smallest_askable_db(heard, Kind.TOO_MUCH, freq_hz, 1.4) is None
    assert not askable(heard, Problem(Kind.TOO_MUCH, 12.0, freq_hz, 1.4))


@pytest.mark.parametrize("freq_hz", [31.5, 63.0, 125.0])
def test_no_low_boost_is_askable_where_there_are_no_lows(bass_loop, freq_hz):
    heard = ear_of(bass_loop, "cymbals", alone=True)
    assert smallest_askable_db(heard, Kind.TOO_MUCH, freq_hz, 1.4) is None


def test_a_track_is_harder_to_judge_in_the_mix_than_alone(band_loop):
    for freq_hz in (250.0, 500.0, 1000.0):
        problem = Problem(Kind.TOO_MUCH, 6.0, freq_hz, 1.4)
        alone = audible_db(ear_of(band_loop, "keys", alone=True), problem)
        assert audible_db(ear_of(band_loop, "keys"), problem) < alone - 1.0


def test_a_change_in_one_passage_alone_is_heard():
    half = FRAMES // 2
    low = noise(FRAMES, 2) * np.where(np.arange(FRAMES) < half, 1.0, 0.0)[:, None]
    high = tone(FRAMES, 5000.0, -20.0) * np.where(np.arange(FRAMES) < half, 0.0, 1.0)[:, None]
    sound = as_samples(low + high)
    passages = (Passage("noise", 0, half), Passage("tone", half, FRAMES))
    problem = Problem(Kind.TOO_MUCH, 3.0, 250.0, 1.4)
    by_passage = audible_db(ear_of(loop_of(("all", sound), passages=passages)), problem)
    assert by_passage >= audible_db(ear_of(loop_of(("all", sound))), problem)
    assert by_passage > 1.5


def test_nothing_is_always_askable_and_never_audible(pink):
    assert audible_db(pink, Problem(Kind.NOTHING, 0.0)) == 0.0
    assert askable(pink, Problem(Kind.NOTHING, 0.0))


def test_silence_hides_everything():
    heard = ear_of(loop_of(("silence", as_samples(np.zeros((FRAMES, 2))))))
    for problem in (
        Problem(Kind.TOO_MUCH, 12.0, 1000.0, 1.4),
        Problem(Kind.SQUASHED, 12.0),
        Problem(Kind.TOO_LOUD, 12.0),
    ):
        assert audible_db(heard, problem) == 0.0
        assert not askable(heard, problem)


def test_a_silent_track_in_a_mix_hides_everything():
    heard = ear_of(
        loop_of(("noise", noise(FRAMES, 1)), ("silence", as_samples(np.zeros((FRAMES, 2))))),
        "silence",
    )
    assert audible_db(heard, Problem(Kind.TOO_MUCH, 12.0, 1000.0, 1.4)) == pytest.approx(0.0)
    assert audible_db(heard, Problem(Kind.SQUASHED, 12.0)) == 0.0


# Squashed.


@pytest.mark.parametrize(
    ("kind", "style"),
    [
        (Kind.SQUASHED, Style.OVER_COMPRESSED),
        (Kind.SQUASHED, Style.PUMPING),
        (Kind.LIFTED, Style.OVER_COMPRESSED),
    ],
)
def test_dynamics_on_steady_sound_are_inaudible_and_on_struck_sound_are_not(kind, style):
    steady = ear_of(loop_of(("noise", noise(FRAMES, 3))))
    struck = ear_of(loop_of(("drum", bursts(FRAMES, 3, beat_s=0.5, decay_s=0.1))))
    assert smallest_askable_db(steady, kind, style=style) is None
    smallest_db = smallest_askable_db(struck, kind, style=style)
    assert smallest_db is not None
    assert smallest_db <= 4.0


# Larger is never harder to hear, and the smallest size is the smallest.


@pytest.mark.parametrize("kind", [kind for kind in Kind if kind is not Kind.NOTHING])
@pytest.mark.parametrize("way", [(None, False), ("keys", False), ("drums", True)], ids=str)
@pytest.mark.parametrize("passage", [None, "b"])
def test_a_larger_size_is_never_harder_to_hear(band_loop, kind, way, passage):
    heard = ear_of(band_loop, *way)
    sizes_db = np.arange(0.5, 12.1, 0.5).tolist()
    freqs_hz = (63.0, 250.0, 1000.0, 8000.0) if kind in TONE else (None,)
    for freq_hz in freqs_hz:
        problems = [Problem(kind, size, freq_hz, 1.4 if freq_hz else None) for size in sizes_db]
        audible = audible_sizes_db(heard, problems, passage)
        reached = np.minimum(audible, 2.0 * criterion_db(kind))
        assert np.all(np.diff(reached) > -0.02)


@pytest.mark.parametrize("kind", [Kind.TOO_MUCH, Kind.TOO_LITTLE])
@pytest.mark.parametrize("freq_hz", [100.0, 1000.0, 10_000.0])
def test_the_smallest_size_is_heard_and_a_step_less_is_not(pink, kind, freq_hz):
    smallest_db = smallest_askable_db(pink, kind, freq_hz, 2.0)
    assert smallest_db is not None
    assert SIZE_STEP_DB <= smallest_db <= LARGEST_ASKED_DB
    assert askable(pink, Problem(kind, smallest_db, freq_hz, 2.0))
    assert not askable(pink, Problem(kind, smallest_db - SIZE_STEP_DB, freq_hz, 2.0))


def test_many_at_once_are_the_same_as_one_by_one(band_loop):
    heard = ear_of(band_loop, "bass")
    problems = [Problem(Kind.TOO_MUCH, 1.0 + step, 50.0 * 1.7**step, 1.0) for step in range(10)]
    one_by_one = [audible_db(heard, problem) for problem in problems]
    assert audible_sizes_db(heard, problems) == pytest.approx(one_by_one, rel=1e-9)


# The fast path against rendered questions.


def rendered_change_db(question: Question, loop: Loop) -> float:
    """Largest change of excitation between A and B as rendered, at the model's own level."""
    gain = inner_ear_gain(REFERENCE_LUFS - loudness.loudness_lufs(question.a))
    a, b = (
        np.stack(
            [
                excitation_of_fine(
                    passage_powers(sound, passage.start_frame, passage.stop_frame) * gain
                )
                for passage in loop.passages
            ]
        )
        for sound in (question.a, question.b)
    )
    if question.recipe.kind in LEVEL:
        return float(pattern_change_db(a, b, 1.0))
    here = [question.recipe.passage in (None, passage.name) for passage in loop.passages]
    return float(pattern_change_db(a[here], b[here], DIP_WEIGHT))


def drawn_recipes(
    loop: Loop, track: str | None, alone: bool, count: int, passage: str | None = None
) -> list[Recipe]:
    kinds = (Kind.TOO_MUCH, Kind.TOO_LITTLE, Kind.TOO_MUCH, Kind.TOO_LITTLE, Kind.TOO_LOUD)
    choices = Choices(
        loop=loop.name,
        fingerprint=loop.fingerprint,
        kinds=kinds,
        sizes_db=(1.5, 3.0, 6.0, 9.0, 12.0),
        qs=(0.7, 1.4, 4.0),
        track=track,
        alone=alone,
        shapes=(Shape.PEAK, Shape.PEAK, Shape.LOW_SHELF, Shape.HIGH_SHELF),
        passage=passage,
    )
    return [draw_recipe(seed, choices) for seed in range(count)]


WAYS = [
    (None, False),
    ("drums", False),
    ("drums", True),
    ("bass", False),
    ("keys", False),
    ("keys", True),
]


@pytest.mark.parametrize("way", WAYS, ids=str)
def test_the_fast_path_agrees_with_rendered_questions(band_loop, way):
    """Within 0.1 dB: filters by response, loudness by bands, against samples and a meter.

    Drums get 0.2 dB, or 5 % of a large change: the meter's gate falls between hits in steps.
    """
    heard = ear_of(band_loop, *way)
    within_db, within = (0.2, 0.05) if way[0] == "drums" else (0.1, 0.0)
    accepted = 0
    for recipe in drawn_recipes(band_loop, *way, count=12):
        rendered_db = rendered_change_db(make_question(recipe, band_loop), band_loop)
        assert audible_db(heard, recipe) == pytest.approx(rendered_db, abs=within_db, rel=within)
        if askable(heard, recipe):
            accepted += 1
            assert rendered_db >= EXCITATION_CRITERION_DB - within_db, recipe
    assert accepted > 0


@pytest.mark.parametrize("passage", ["a", "b"])
@pytest.mark.parametrize("way", WAYS, ids=str)
def test_the_fast_path_agrees_with_rendered_questions_in_a_passage(band_loop, way, passage):
    """Within 0.2 dB, or 12 % of a large change: weights by power in seven steps an octave band."""
    heard = ear_of(band_loop, *way)
    accepted = 0
    for recipe in drawn_recipes(band_loop, *way, count=12, passage=passage):
        rendered_db = rendered_change_db(make_question(recipe, band_loop), band_loop)
        assert audible_db(heard, recipe) == pytest.approx(rendered_db, abs=0.2, rel=0.12), recipe
        if askable(heard, recipe):
            accepted += 1
            assert rendered_db >= EXCITATION_CRITERION_DB - 0.2, recipe
    assert accepted > 0


@pytest.mark.parametrize("passage", [None, "b"])
@pytest.mark.parametrize("which", [0, 1])
def test_a_second_problem_is_judged_beside_the_first(band_loop, which, passage):
    """Rendered: the question with both against the question with the other one alone."""
    heard = ear_of(band_loop)
    problems = (Problem(Kind.TOO_MUCH, 9.0, 250.0, 1.4), Problem(Kind.TOO_MUCH, 3.0, 1_500.0, 1.4))
    both, alone = (
        Recipe(
            0, band_loop.name, band_loop.fingerprint, first.kind, first.size_db, first.freq_hz,
            first.q, passage=passage, second=second,
        )
        for first, second in ((problems[which], problems[1 - which]), (problems[1 - which], None))
    )  # fmt: skip
    with_both, with_other = (make_question(recipe, band_loop) for recipe in (both, alone))
    assert with_both.gain_db == pytest.approx(with_other.gain_db, abs=1e-6)
    rendered_db = rendered_change_db(
        Question(both, with_other.b, with_both.b, with_both.gain_db), band_loop
    )
    assert audible_db(heard, both) == pytest.approx(rendered_db, abs=0.2)
    assert audible_db(heard, problems[which], passage, problems[1 - which : 2 - which]) == (
        audible_db(heard, both)
    )


def test_two_problems_are_asked_only_when_each_is_heard(band_loop):
    heard = ear_of(band_loop)
    loud, soft = Problem(Kind.TOO_MUCH, 9.0, 250.0, 1.4), Problem(Kind.TOO_MUCH, 0.5, 1_500.0, 1.4)
    squashed = Problem(Kind.SQUASHED, 0.5)

    def recipe(first: Problem, second: Problem) -> Recipe:
        return Recipe(
            0, band_loop.name, band_loop.fingerprint, first.kind, first.size_db, first.freq_hz,
            first.q, second=second,
        )  # fmt: skip

    assert askable(heard, recipe(loud, Problem(Kind.TOO_LITTLE, 9.0, 1_500.0, 1.4)))
    for unheard in (soft, squashed):
        assert not askable(heard, recipe(loud, unheard))
        assert not askable(heard, recipe(unheard, loud))


def test_a_passage_is_judged_where_it_is_and_not_elsewhere():
    """A hat that sounds in one half alone can hiss there, and not in the other.

    It keeps clear of the bar lines: a hand is already there before them.
    """
    at = np.arange(FRAMES) / FRAMES
    here = np.where((at > 0.1) & (at < 0.35), 1.0, 0.0)[:, None]
    hat = as_samples(tone(FRAMES, 500.0, -12.0) + tone(FRAMES, 8_000.0, -18.0) * here)
    passages = (Passage("hats", 0, FRAMES // 2), Passage("none", FRAMES // 2, FRAMES))
    heard = ear_of(loop_of(("hat", hat), ("bed", noise(FRAMES, 4)), passages=passages), "hat")
    in_it, elsewhere = (
        smallest_askable_db(heard, Kind.TOO_MUCH, 8_000.0, passage=name)
        for name in ("hats", "none")
    )
    assert in_it is not None
    assert in_it <= 6.0
    assert elsewhere is None


@pytest.mark.parametrize("kind", sorted(LEVEL))
def test_a_level_in_a_passage_is_heard_less_than_all_over_since_it_is_matched(band_loop, kind):
    heard = ear_of(band_loop)
    throughout = audible_db(heard, Problem(kind, 6.0))
    in_passage = audible_db(heard, Problem(kind, 6.0), "a")
    assert 2.0 < in_passage < throughout - 1.0


@pytest.mark.parametrize("passage", ["the loop", "bridge"])
def test_a_passage_that_is_not_among_others_is_refused(pink, passage):
    with pytest.raises(ValueError, match=f"has no passage '{passage}' among others"):
        smallest_askable_db(pink, Kind.TOO_MUCH, 1_000.0, passage=passage)


@pytest.mark.parametrize("sign", [1.0, -0.7], ids=["in phase", "against it"])
@pytest.mark.parametrize("kind", sorted(TONE))
def test_a_track_that_shares_its_sound_with_another_is_judged_as_rendered(kind, sign):
    """One source on two tracks, as microphones near and far: amplitudes add, not powers."""
    near, other = noise(FRAMES, 8), noise(FRAMES, 9, rms_dbfs=-32.0)
    loop = loop_of(("near", near), ("far", as_samples(sign * near)), ("other", other))
    heard = ear_of(loop, "near")
    for freq_hz in (150.0, 1000.0, 6000.0):
        recipe = Recipe(0, loop.name, loop.fingerprint, kind, 9.0, freq_hz, 0.5, "near")
        rendered_db = rendered_change_db(make_question(recipe, loop), loop)
        assert audible_db(heard, recipe) == pytest.approx(rendered_db, abs=0.1)


@pytest.mark.parametrize(("place", "alone"), [(None, False), (0, False), (1, True)], ids=str)
def test_whatever_is_asked_on_a_demo_loop_can_be_heard_in_the_rendered_question(place, alone):
    loop = demo_loop(demo_loop_names()[0])
    track = None if place is None else loop.tracks[place].name
    heard = ear_of(loop, track, alone)
    drawn = drawn_recipes(loop, track, alone, count=14)
    asked = [recipe for recipe in drawn if askable(heard, recipe)]
    assert asked
    for recipe in asked[:6]:
        rendered_db = rendered_change_db(make_question(recipe, loop), loop)
        assert rendered_db >= EXCITATION_CRITERION_DB - 0.1, recipe
        assert audible_db(heard, recipe) == pytest.approx(rendered_db, abs=0.1, rel=0.03)


@pytest.mark.parametrize("name", demo_loop_names())
def test_a_demo_mix_can_be_asked_about_in_its_middle_at_3_db(name):
    heard = ear_of(demo_loop(name))
    for band in BANDS[3:8]:
        smallest_db = smallest_askable_db(heard, Kind.TOO_MUCH, band.mid_hz, 1.4)
        assert smallest_db is not None
        assert smallest_db <= 3.0


def test_every_way_of_hearing_at_once_is_the_same_as_each(band_loop):
    problem = Problem(Kind.TOO_MUCH, 5.0, 400.0, 1.4)
    ways = [(heard.track, heard.alone, audible_db(heard, problem)) for heard in ears_of(band_loop)]
    expected = [(None, False)]
    expected += [(track.name, alone) for track in band_loop.tracks for alone in (False, True)]
    assert [way[:2] for way in ways] == expected
    for track, alone, measured in ways:
        assert measured == audible_db(ear_of(band_loop, track, alone), problem)


def test_a_recipe_for_another_sound_is_refused(band_loop):
    recipe = drawn_recipes(band_loop, "drums", False, 1)[0]
    with pytest.raises(ValueError, match="another sound than 'test loop'"):
        askable(ear_of(band_loop, "drums", alone=True), recipe)


def test_a_tone_problem_without_a_frequency_is_refused(pink):
    with pytest.raises(ValueError, match="'too much' needs a frequency"):
        audible_db(pink, Problem(Kind.TOO_MUCH, 6.0))


def test_the_criteria_are_those_of_the_kinds():
    assert {criterion_db(kind) for kind in DYNAMICS} == {MOMENT_CRITERION_DB}
    assert {criterion_db(kind) for kind in TONE | LEVEL} == {EXCITATION_CRITERION_DB}


def test_what_is_heard_does_not_depend_on_the_loops_own_level(band_loop):
    """Questions are played at -23 LUFS whatever the loop's level was; within float32."""
    softer = loop_of(
        *((track.name, as_samples(track.samples * np.float32(0.1))) for track in band_loop.tracks),
        passages=band_loop.passages,
    )
    source = random.Random(5)
    for _ in range(6):
        problem = Problem(
            Kind.TOO_MUCH, 1.0 + 8.0 * source.random(), 60.0 * 2 ** (7 * source.random())
        )
        loud = audible_db(ear_of(band_loop), problem)
        assert audible_db(ear_of(softer), problem) == pytest.approx(loud, abs=0.01)
