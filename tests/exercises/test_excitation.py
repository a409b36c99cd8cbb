"""Excitation patterns against Glasberg & Moore 1990, ISO 389-7 thresholds and known patterns."""

from __future__ import annotations

import numpy as np
import pytest

from exercises.excitation import (
    COMPONENT_EDGES_CAMS,
    COMPONENTS_HZ,
    FILTERS_HZ,
    ear_gain_db,
    erb_hz,
    erb_number,
    excitation,
    freq_of_erb_number,
    quiet_power,
    roex,
    roex_sharpness,
)
from tests.reference_rows import rows


@pytest.mark.parametrize("published", rows("erb", "erb."))
def test_bandwidth_and_place_of_the_auditory_filter(published):
    freq_hz = published["inputs"]["freq_hz"]
    expected, tolerance = published["expected"], published["tolerance"]
    assert erb_hz(freq_hz) == pytest.approx(expected["erb_hz"], abs=tolerance["erb_hz"])
    assert erb_number(freq_hz) == pytest.approx(expected["cam"], abs=tolerance["cam"])
    assert freq_of_erb_number(erb_number(freq_hz)) == pytest.approx(freq_hz, rel=1e-12)


@pytest.mark.parametrize("published", rows("erb", "roex."))
def test_a_rounded_exponential_filter_is_as_wide_as_its_erb(published):
    freq_hz = published["inputs"]["freq_hz"]
    freqs_hz = np.linspace(0.0, 20.0 * freq_hz, 2_000_001)
    passed = roex(np.abs(freqs_hz - freq_hz) / freq_hz, roex_sharpness(freq_hz))
    # Below 0 Hz there is nothing, so the lowest filter's foot is folded on.
    foot = roex(np.linspace(1.0, 20.0, 1_000_001), roex_sharpness(freq_hz)).mean() * 19.0 * freq_hz
    area_hz = np.trapezoid(passed, freqs_hz) + foot
    assert area_hz == pytest.approx(published["expected"], rel=1e-4)


@pytest.mark.parametrize("published", rows("erb", "threshold."))
def test_a_tone_at_the_threshold_of_hearing_excites_the_threshold_in_quiet(published):
    """Two ears hear 1.4 dB better than one (MGB 1997 take 1.5 to 2); within 2 dB at every tone."""
    freq_hz = np.array([published["inputs"]["freq_hz"]])
    excited_db = published["expected"] + ear_gain_db(freq_hz)[0]
    threshold_db = 10.0 * np.log10(quiet_power(freq_hz)[0])
    assert excited_db + 1.4 == pytest.approx(threshold_db, abs=published["tolerance"])


def tone(freq_hz: float, level_db: float) -> tuple[np.ndarray, float]:
    """A tone in the one component that holds it, and that component's own frequency."""
    powers = np.zeros(len(COMPONENTS_HZ))
    place = int(np.argmin(np.abs(COMPONENTS_HZ - freq_hz)))
    powers[place] = 10.0 ** (level_db / 10.0)
    return powers, float(COMPONENTS_HZ[place])


def level_at(pattern: np.ndarray, freq_hz: float) -> float:
    return float(np.interp(freq_hz, FILTERS_HZ, 10.0 * np.log10(pattern)))


@pytest.mark.parametrize("level_db", [30.0, 51.0, 70.0, 90.0])
def test_a_tones_pattern_is_the_published_formula_worked_by_hand(level_db):
    """Glasberg & Moore 1990, eqs. 2 and 5, with the slope of ISO 532-2 (0.35 a dB)."""
    powers, tone_hz = tone(1000.0, level_db)
    p_at_1k = 4.0 * 1000.0 / 132.6391
    pattern = excitation(powers)
    for centre_hz, excited in zip(FILTERS_HZ, pattern, strict=True):
        p = 4.0 * centre_hz / (24.7 * (0.00437 * centre_hz + 1.0))
        if tone_hz < centre_hz:
            p -= 0.35 * (p / p_at_1k) * (level_db - 51.0)
        g = abs(tone_hz - centre_hz) / centre_hz
        expected = (1.0 + p * g) * np.exp(-p * g) * 10.0 ** (level_db / 10.0)
        assert excited == pytest.approx(expected, rel=1e-4)


def test_masking_spreads_upwards_and_more_so_when_loud():
    """Known since Wegel & Lane 1924 (Phys. Rev. 23); patterns as in Moore's textbook, chapter 3.

    Below the tone the pattern moves with level dB for dB; above, by 1.5 dB or more a dB.
    """
    patterns = {level: excitation(tone(1000.0, level)[0]) for level in (40.0, 60.0, 80.0)}
    below = [level_at(patterns[level], 700.0) for level in (40.0, 60.0, 80.0)]
    above = [level_at(patterns[level], 1500.0) for level in (40.0, 60.0, 80.0)]
    assert np.diff(below) == pytest.approx([20.0, 20.0], abs=0.01)
    assert min(np.diff(above)) > 29.0
    # Four Cams to either side, the upper one is excited more, and the more so the louder.
    up_hz, down_hz = freq_of_erb_number(erb_number(1000.0) + np.array([4.0, -4.0]))
    lead_db = [
        level_at(pattern, up_hz) - level_at(pattern, down_hz) for pattern in patterns.values()
    ]
    assert min(lead_db) > 0.0
    assert min(np.diff(lead_db)) > 10.0


def test_at_51_db_filters_are_symmetric_on_a_linear_scale():
    """By definition of the level dependence: 51 dB an ERB (Glasberg & Moore 1990)."""
    powers = 10.0 ** (51.0 / 10.0) * np.diff(freq_of_erb_number(COMPONENT_EDGES_CAMS))
    powers /= erb_hz(COMPONENTS_HZ)
    pattern_db = 10.0 * np.log10(excitation(powers))
    inside = (FILTERS_HZ > 200.0) & (FILTERS_HZ < 8000.0)
    assert pattern_db[inside] == pytest.approx(51.0, abs=0.3)


@pytest.mark.parametrize("level_db", [30.0, 50.0, 70.0])
def test_noise_of_equal_power_in_every_erb_excites_every_place_alike(level_db):
    """Uniformly exciting noise (Moore's and Zwicker's textbooks)."""
    powers = np.full(len(COMPONENTS_HZ), 10.0 ** (level_db / 10.0) / 4.0)
    pattern_db = 10.0 * np.log10(excitation(powers))
    inside = pattern_db[(FILTERS_HZ > 200.0) & (FILTERS_HZ < 8000.0)]
    assert np.ptp(inside) < 1.2


def test_more_power_anywhere_never_excites_a_place_less():
    source = np.random.RandomState(3)
    powers = 10.0 ** (source.random_sample((20, len(COMPONENTS_HZ))) * 7.0)
    louder = powers.copy()
    louder[np.arange(20), source.randint(0, len(COMPONENTS_HZ), 20)] *= 4.0
    assert np.all(excitation(louder) >= excitation(powers) * (1.0 - 1e-12))


def test_many_patterns_at_once_are_the_same_as_one_by_one():
    source = np.random.RandomState(4)
    powers = source.random_sample((3, 2, len(COMPONENTS_HZ))) * 1e6
    together = excitation(powers)
    assert together.shape == (3, 2, len(FILTERS_HZ))
    for place in np.ndindex(3, 2):
        assert together[place] == pytest.approx(excitation(powers[place]), rel=1e-12)
