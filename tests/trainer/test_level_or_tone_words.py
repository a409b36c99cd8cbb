"""Level or tone in one sentence: from measured figures, and from questions made of one passage."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from exercises.bands import THIRD_OCTAVE_MID_HZ
from exercises.kinds import Kind
from exercises.level_or_tone import PassageChange
from exercises.loops import Loop, Passage
from exercises.question import make_question
from exercises.recipe import Recipe
from tests.synthetic_loops import small_band
from trainer.judging import Answer
from trainer.round import Round
from trainer.words import level_or_tone_sentence


def _change(
    passage: str, level_lu: float, tone: dict[int, float], dynamics_db: float = 0.0
) -> PassageChange:
    """``tone``: third octave (nearest Hz) to dB, the level taken out."""
    third_db = np.zeros(30)
    for hz, gain_db in tone.items():
        third_db[int(np.abs(np.array(THIRD_OCTAVE_MID_HZ) - hz).argmin())] = gain_db
    most = int(np.abs(third_db).argmax())
    return PassageChange(
        passage, level_lu, third_db, float(third_db[most]), THIRD_OCTAVE_MID_HZ[most], dynamics_db
    )


REST = _change("open chords", 0.0, {})


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            _change("damped strokes", 0.9, {200: 4.9}),
            "'damped strokes' was 0.9 LU louder than the rest, but 5.8 dB thicker near 200 Hz: "
            "tone, not level.",
        ),
        (
            _change("damped strokes", -0.4, {3150: -5.0}),
            "'damped strokes' was 0.4 LU softer than the rest, but 5.4 dB less near 3.16 kHz: "
            "tone, not level.",
        ),
        (
            _change("damped strokes", 2.5, {200: 0.2}),
            "'damped strokes' was 2.5 LU louder than the rest, and its tone stayed as it was: "
            "level, not tone.",
        ),
        (
            _change("damped strokes", 0.1, {200: 1.5}, dynamics_db=3.2),
            "'damped strokes' was 0.1 LU louder than the rest, but its moments moved by up to "
            "3.2 dB: dynamics.",
        ),
        (
            _change("damped strokes", 0.1, {}),
            "'damped strokes' was 0.1 LU louder than the rest: hardly anything to call level or "
            "tone.",
        ),
    ],
    ids=["tone", "less of it", "level", "dynamics", "nothing"],
)
def test_figures_in_a_sentence(change: PassageChange, sentence: str) -> None:
    assert level_or_tone_sentence([change, REST], "damped strokes") == sentence


def test_the_passage_that_was_made_softer_is_the_one_told_of() -> None:
    """Of two passages, one softer is the other louder: the truth's own is told of."""
    changes = [_change("damped strokes", -1.0, {}), _change("open chords", 2.0, {})]
    said = level_or_tone_sentence(changes, "damped strokes")
    assert said.startswith("'damped strokes' was 3.0 LU softer than the rest, and its tone")


@pytest.fixture(scope="module")
def loop() -> Loop:
    band = small_band(6.0, level_db=-6.0)
    half = band.frames // 2
    passages = (Passage("damped strokes", 0, half), Passage("open chords", half, band.frames))
    return dataclasses.replace(band, passages=passages)


@pytest.mark.parametrize(
    ("kind", "size_db", "freq_hz", "ending"),
    [
        (Kind.TOO_MUCH, 9.0, 246.0, "tone, not level."),
        (
            Kind.TOO_LOUD,
            4.0,
            None,
            "4.0 LU louder than the rest, and its tone stayed as it was: level, not tone.",
        ),
        (
            Kind.TOO_QUIET,
            4.0,
            None,
            "4.0 LU softer than the rest, and its tone stayed as it was: level, not tone.",
        ),
        (Kind.SQUASHED, 9.0, None, "dynamics."),
    ],
)
def test_the_review_measures_which_it_was(
    loop: Loop, kind: Kind, size_db: float, freq_hz: float | None, ending: str
) -> None:
    recipe = Recipe(
        1,
        loop.name,
        loop.fingerprint,
        kind,
        size_db,
        freq_hz,
        None if freq_hz is None else 1.4,
        passage="damped strokes",
        ask_passage=True,
    )
    round_ = Round(make_question(recipe, loop), loop)
    round_.mark_kind(Kind.NOTHING)
    round_.answer(sure=True, heard_b_s=1.0)
    review = round_.open_review()
    assert review.answer == Answer(Kind.NOTHING, None, True)
    assert level_or_tone_sentence(review.passages, "damped strokes").endswith(ending)


def test_a_problem_of_the_whole_loop_needs_no_such_sentence(loop: Loop) -> None:
    recipe = Recipe(1, loop.name, loop.fingerprint, Kind.TOO_LOUD, 3.0)
    round_ = Round(make_question(recipe, loop), loop)
    round_.mark_kind(Kind.TOO_LOUD)
    round_.answer(sure=True, heard_b_s=1.0)
    assert round_.open_review().passages == ()
