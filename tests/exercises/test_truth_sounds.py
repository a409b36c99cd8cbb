"""What a review plays to make the truth plain."""

from __future__ import annotations

import numpy as np
import pytest

from exercises.kinds import DYNAMICS, TONE, Kind
from exercises.loudness import loudness_lufs
from exercises.question import make_question
from exercises.recipe import Recipe
from exercises.samples import as_samples
from exercises.spectrum import difference, third_octave_powers
from exercises.truth_sounds import exaggerated, region_alone
from tests.meters import ebur128_dbtp
from tests.synthetic_loops import noise, small_band

LOOP = small_band()


def recipe_of(kind: Kind, size_db: float) -> Recipe:
    tone = kind in (Kind.TOO_MUCH, Kind.TOO_LITTLE)
    place = {"freq_hz": 500.0, "q": 1.4} if tone else {}
    return Recipe(1, LOOP.name, LOOP.fingerprint, kind, size_db, **place)  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", sorted(TONE | DYNAMICS))
def test_exaggerated_is_more_of_the_same(kind: Kind) -> None:
    question = make_question(recipe_of(kind, 4.0), LOOP)
    more = difference(exaggerated(question, LOOP), question.a)
    once = difference(question.b, question.a)
    assert more.most_db > 1.4 * once.most_db


def test_exaggerated_is_as_loud_as_the_question() -> None:
    question = make_question(recipe_of(Kind.TOO_MUCH, 10.0), LOOP)
    assert loudness_lufs(exaggerated(question, LOOP)) == pytest.approx(-23.0, abs=0.1)


@pytest.mark.parametrize("freq_hz", [31.5, 250.0, 4000.0, 17_500.0])
def test_a_region_alone_keeps_its_octave_and_little_else(freq_hz: float) -> None:
    # Pink noise has equal power in every third octave.
    sound = noise(2 * 48_000, 3)
    kept_db = 10 * np.log10(
        np.maximum(third_octave_powers(region_alone(sound, freq_hz)), 1e-20)
        / third_octave_powers(sound)
    )
    mids_hz = 1000.0 * 10.0 ** (np.arange(-16, 14) / 10)
    distance = np.abs(np.log2(mids_hz / freq_hz))
    assert kept_db[distance < 0.2].min() > -1.5
    assert kept_db[distance > 2.0].max() < -15.0


def test_a_region_alone_stays_under_the_peak_limit() -> None:
    loud = as_samples(
        0.9 * np.sin(2 * np.pi * 500.0 * np.arange(96_000) / 48_000)[:, None].repeat(2, 1)
    )
    assert ebur128_dbtp(region_alone(loud, 500.0)) <= -0.9
