"""Loud and soft moments: the bands add up, and squashing by sums is squashing by samples."""

from __future__ import annotations

import numpy as np
import pytest

from exercises import loudness
from exercises.audibility import MOMENT_CRITERION_DB, askable, audible_db, audible_sizes_db
from exercises.bands import BANDS
from exercises.heard import ear_of
from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.moments import (
    band_sums,
    block_powers,
    k_weighting_db,
    moment_change_db,
    moment_powers,
    sounding_moments,
    weighted_bins,
    with_gain,
)
from exercises.problems import Problem
from exercises.question import make_question
from exercises.recipe import Recipe
from exercises.samples import as_samples
from tests.synthetic_loops import bursts, frames_of, kicks, loop_of, noise, tone

FRAMES = frames_of(2.0)
MOMENTS = 20


def powers_of(samples: np.ndarray) -> np.ndarray:
    bands = band_sums(weighted_bins(as_samples(samples)), None, len(samples))
    return moment_powers([band.part for band in bands], MOMENTS)


@pytest.mark.parametrize(("freq_hz", "gain_db"), [(38.1, -6.0), (997.0, 0.69), (10_000.0, 4.0)])
def test_k_weighting_is_that_of_the_standard(freq_hz, gain_db):
    """BS.1770-5: 0.691 dB at 997 Hz makes a full-scale sine read -3.01; high shelf near 4 dB; the
    second stage's corner, 38.1 Hz at Q 0.5, lies 6 dB down."""
    assert k_weighting_db(np.array([freq_hz]))[0] == pytest.approx(gain_db, abs=0.1)


def test_the_bands_add_up_to_the_meters_power():
    """Any meter's ungated power of the whole loop; the bands leave nothing out."""
    sound = noise(FRAMES, 1)
    metered = float(np.mean(loudness.block_powers(sound)))
    assert powers_of(sound).sum(axis=0).mean() == pytest.approx(metered, rel=1e-3)


@pytest.mark.parametrize("band", BANDS[1:9], ids=lambda band: band.name)
def test_a_tone_lies_in_its_octave_band(band):
    powers = powers_of(tone(FRAMES, band.mid_hz, -20.0)).mean(axis=1)
    assert powers.argmax() == band.index
    assert powers[band.index] > 0.999 * powers.sum()


def test_a_burst_lies_at_its_moment():
    sound = np.zeros((FRAMES, 2), dtype=np.float32)
    sound[48_000:52_800] = noise(4800, 2)
    powers = powers_of(sound)
    for band in BANDS[4:]:
        assert powers[band.index].argmax() == 10
        assert powers[band.index, 10] > 0.9 * powers[band.index].sum()


def test_part_and_rest_add_up_to_both():
    part, rest = noise(FRAMES, 3), as_samples(noise(FRAMES, 4) + 0.5 * noise(FRAMES, 3))
    together = band_sums(weighted_bins(as_samples(part + rest)), None, FRAMES)
    apart = band_sums(weighted_bins(part), weighted_bins(rest), FRAMES)
    for whole, sums in zip(together, apart, strict=True):
        assert with_gain(sums, 1.0) == pytest.approx(whole.part, rel=1e-3)


def test_blocks_are_four_moments_long_and_go_round():
    blocks = block_powers(np.array([[4.0, 0.0, 0.0, 0.0, 0.0, 8.0]]))
    assert blocks == pytest.approx(np.array([[1.0, 0.0, 2.0, 3.0, 3.0, 3.0]]))


def test_an_even_change_is_none_and_a_change_below_the_rest_is_not_counted():
    a = np.ones((10, MOMENTS))
    own = np.ones((10, MOMENTS), dtype=bool)
    sounding = np.ones(MOMENTS, dtype=bool)
    b = a.copy()
    b[3, :4] = 4.0
    assert moment_change_db(a, a, own, sounding) == 0.0
    assert moment_change_db(a, b, own, sounding) == pytest.approx(6.02, abs=0.01)
    own[3] = False
    assert moment_change_db(a, b, own, sounding) == 0.0
    assert moment_change_db(a, b, ~own, ~sounding) == 0.0


def test_a_change_during_less_than_a_tenth_of_the_time_is_not_counted():
    a = np.ones((10, MOMENTS))
    b = a.copy()
    b[3, 0] = 100.0
    everywhere = np.ones((10, MOMENTS), dtype=bool)
    assert moment_change_db(a, b, everywhere, np.ones(MOMENTS, dtype=bool)) == 0.0


@pytest.fixture(scope="module")
def struck() -> Loop:
    """A drum kit and a held chord."""
    drums = as_samples(kicks(FRAMES) + bursts(FRAMES, 5, beat_s=0.5, decay_s=0.12))
    return loop_of(("drums", drums), ("chord", noise(FRAMES, 6, rms_dbfs=-32.0)))


@pytest.mark.parametrize("size_db", [1.0, 2.0, 4.0, 8.0])
@pytest.mark.parametrize("way", [(None, False), ("drums", False), ("drums", True)], ids=str)
def test_squashing_by_sums_agrees_with_rendered_questions(struck, way, size_db):
    """Within 0.5 dB or a quarter: sums know the gain to a millisecond and the band to an octave."""
    heard = ear_of(struck, *way)
    recipe = Recipe(
        0, struck.name, struck.fingerprint, Kind.SQUASHED, size_db, track=way[0], alone=way[1]
    )
    question = make_question(recipe, struck)
    part = struck.mix() if way[0] is None else struck.track(way[0]).samples
    rendered_db = moment_change_db(
        powers_of(question.a),
        powers_of(question.b),
        heard.moments.own,
        sounding_moments(powers_of(part)),
    )
    fast_db = audible_db(heard, recipe)
    assert fast_db == pytest.approx(rendered_db, abs=0.5, rel=0.25)
    if askable(heard, recipe):
        assert rendered_db >= MOMENT_CRITERION_DB - 0.2


def test_squashing_one_of_two_tracks_that_share_their_sound(struck):
    """The other takes most of each hit away, so that squashing changes how loud both are."""
    near = struck.track("drums").samples
    hits = (np.arange(FRAMES) % frames_of(0.5) < frames_of(0.1))[:, None]
    loop = loop_of(("near", near), ("far", as_samples(np.where(hits, -0.8, 0.0) * near)))
    heard = ear_of(loop, "near")
    recipe = Recipe(0, loop.name, loop.fingerprint, Kind.SQUASHED, 2.0, track="near")
    question = make_question(recipe, loop)
    own, sounding = heard.moments.own, sounding_moments(powers_of(near))
    rendered_db = moment_change_db(powers_of(question.a), powers_of(question.b), own, sounding)
    assert audible_db(heard, recipe) == pytest.approx(rendered_db, abs=0.5)


def test_size_means_what_it_means_in_a_question(struck):
    """The same threshold as the compressor that renders: no reduction where it has none."""
    heard = ear_of(struck, "drums", alone=True)
    changes_db = audible_sizes_db(
        heard, [Problem(Kind.SQUASHED, size) for size in (0.1, 6.0, 12.0)]
    )
    assert changes_db[0] < 0.3
    assert changes_db[2] > changes_db[1] > 2.0


def test_squashing_a_held_chord_is_taken_back_by_matching(struck):
    heard = ear_of(struck, "chord", alone=True)
    assert audible_db(heard, Problem(Kind.SQUASHED, 12.0)) < 1.0
