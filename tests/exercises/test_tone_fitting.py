"""Moves of tone found again from what they did, and the two moves that equal a cut."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from exercises.measured_change import ToneChange, tone_change, tone_of
from exercises.moves import EqPoint, HighShelf, LowShelf, apply_moves
from exercises.samples import as_samples
from exercises.tone_fitting import TOLERANCE_DB, fit_tone
from exercises.tone_refining import curve_db, refine
from tests.synthetic_loops import frames_of, noise

POINTS_HZ = np.geomspace(60.0, 10_000.0, 300)
EVENLY = np.ones(len(POINTS_HZ))
PINK = noise(frames_of(3.0), 1)
# Common practice, no source: cutting 200 Hz does about what boosting below and above it does.
CUT = EqPoint(200.0, -4.0, 0.7)
SHELVES = (LowShelf(118.0, 4.2), HighShelf(366.0, 4.6))


def analogue_db(kind, freqs_hz, freq_hz, gain_db, q=0.5**0.5):
    """H(s) of the Audio EQ Cookbook (W3C note) for a peak and both shelves."""
    a, s = 10.0 ** (gain_db / 40.0), 1j * freqs_hz / freq_hz
    if kind == "peak":
        h = (s * s + s * a / q + 1.0) / (s * s + s / (a * q) + 1.0)
    else:
        low, high = s * s + np.sqrt(a) / q * s + a, a * s * s + np.sqrt(a) / q * s + 1.0
        h = a * low / high if kind == "low" else a * high / low
    return 20.0 * np.log10(np.abs(h))


def spread_db(curve):
    """The largest difference once both are at the level that makes it smallest."""
    return float(np.ptp(curve)) / 2.0


def change_of(curve, points_hz=POINTS_HZ):
    return ToneChange(points_hz, curve, np.ones(len(points_hz)))


def test_a_cut_at_200_hz_equals_two_shelves_within_1_db_after_matching():
    """Common practice, no source; by analogue prototypes, 60 Hz to 10 kHz, within 0.22 dB."""
    cut_db = analogue_db("peak", POINTS_HZ, 200.0, -4.0, 0.7)
    shelves_db = analogue_db("low", POINTS_HZ, 118.0, 4.2) + analogue_db(
        "high", POINTS_HZ, 366.0, 4.6
    )
    assert spread_db(cut_db - shelves_db) < 0.25
    ours_db = curve_db([CUT], POINTS_HZ) - curve_db(SHELVES, POINTS_HZ)
    assert spread_db(ours_db) < 0.25
    assert spread_db(curve_db([CUT], POINTS_HZ)) > 1.5


def test_the_two_shelves_are_those_of_scipys_least_squares_on_the_prototypes():
    """scipy.optimize.least_squares, analogue: 118 Hz +4.2 dB and 366 Hz +4.6 dB."""
    cut_db = analogue_db("peak", POINTS_HZ, 200.0, -4.0, 0.7)

    def miss(x):
        low = analogue_db("low", POINTS_HZ, 2.0 ** x[0], x[1])
        return low + analogue_db("high", POINTS_HZ, 2.0 ** x[2], x[3]) + x[4] - cut_db

    theirs = least_squares(miss, [np.log2(100.0), 4.0, np.log2(400.0), 4.0, -4.0]).x
    ours = refine(change_of(cut_db), (LowShelf(100.0, 4.0), HighShelf(400.0, 4.0))).moves
    for move, freq, gain_db, published in zip(
        ours, theirs[[0, 2]], theirs[[1, 3]], SHELVES, strict=True
    ):
        assert move.freq_hz == pytest.approx(2.0**freq, rel=0.005)
        assert move.gain_db == pytest.approx(gain_db, abs=0.02)
        assert move.freq_hz == pytest.approx(published.freq_hz, rel=0.01)
        assert move.gain_db == pytest.approx(published.gain_db, abs=0.1)


def test_a_narrower_cut_takes_far_bigger_shelves_and_they_fit_less_well():
    """-6 dB, Q 1.4: two shelves of 8 to 10 dB, 0.5 to 0.95 dB off (analogue least squares)."""
    cut_db = analogue_db("peak", POINTS_HZ, 200.0, -6.0, 1.4)
    found = refine(change_of(cut_db), (LowShelf(150.0, 8.0), HighShelf(270.0, 8.0)))
    assert all(7.5 < move.gain_db < 11.0 for move in found.moves)
    assert 0.4 < spread_db(cut_db - curve_db(found.moves, POINTS_HZ)) < 1.0


@pytest.mark.parametrize("level_db", [0.0, -3.7])
@pytest.mark.parametrize(
    "moves",
    [
        (),
        (EqPoint(186.0, -6.0, 1.4),),
        (EqPoint(60.0, 2.0, 4.0),),
        (EqPoint(12_000.0, 6.0, 0.7),),
        (LowShelf(118.0, 4.2),),
        (HighShelf(5_000.0, -3.0),),
        (EqPoint(3_000.0, 4.0, 2.0), EqPoint(200.0, -4.0, 1.0)),
        (EqPoint(200.0, -4.0, 1.0), HighShelf(6_000.0, 3.0)),
        (EqPoint(400.0, -4.0, 1.0), HighShelf(8_000.0, -3.0), LowShelf(60.0, 3.0)),
        (
            EqPoint(9_000.0, 3.0, 0.8),
            EqPoint(400.0, -3.0, 1.4),
            EqPoint(120.0, 2.0, 1.0),
            EqPoint(2_500.0, 2.0, 1.0),
        ),
    ],
    ids=lambda moves: f"{len(moves)} moves",
)
def test_known_moves_are_found_again_whatever_the_level(moves, level_db):
    points_hz = np.geomspace(21.0, 19_500.0, 236)
    found = fit_tone(change_of(curve_db(moves, points_hz) + level_db, points_hz))
    assert len(found.moves) == len(moves)
    for move in moves:
        (twin,) = (
            other
            for other in found.moves
            if type(other) is type(move) and abs(np.log2(other.freq_hz / move.freq_hz)) < 1 / 12
        )
        assert twin.gain_db == pytest.approx(move.gain_db, abs=0.5)
        if isinstance(move, EqPoint):
            assert twin.q == pytest.approx(move.q, rel=0.2)
    assert found.worst_db < TOLERANCE_DB
    assert found.level_db == pytest.approx(level_db, abs=0.1)


def test_a_shelf_and_a_level_are_named_by_what_left_the_level_alone():
    """-4 dB below 2 kHz is +4 dB above it and 4 dB less of all; only the level tells."""
    points_hz = np.geomspace(21.0, 19_500.0, 236)
    low = fit_tone(change_of(curve_db([LowShelf(2_000.0, -4.0)], points_hz), points_hz))
    (move,) = low.moves
    assert isinstance(move, LowShelf)
    assert low.level_db == pytest.approx(0.0, abs=0.02)
    either = fit_tone(change_of(curve_db([LowShelf(2_000.0, -4.0)], points_hz) + 2.0, points_hz))
    (move,) = either.moves
    assert isinstance(move, HighShelf)
    assert move.gain_db == pytest.approx(4.0, abs=0.02)
    assert either.level_db == pytest.approx(-2.0, abs=0.02)


@pytest.mark.parametrize("seed", range(4))
def test_a_ragged_change_takes_no_more_moves_than_are_worth_having(seed):
    """Band by band noise of half a dB has no shape that an EQ could have made."""
    points_hz = np.geomspace(21.0, 19_500.0, 236)
    ragged = 0.5 * np.random.RandomState(seed).standard_normal(236)
    noisy = fit_tone(change_of(curve_db([EqPoint(500.0, 9.0, 1.0)], points_hz) + ragged, points_hz))
    assert 1 <= len(noisy.moves) <= 2
    assert abs(np.log2(noisy.moves[0].freq_hz / 500.0)) < 1 / 12
    assert noisy.moves[0].gain_db == pytest.approx(9.0, abs=0.7)


def test_never_more_moves_than_asked_for():
    points_hz = np.geomspace(21.0, 19_500.0, 236)
    waves = 4.0 * np.sin(2.0 * np.pi * np.log2(points_hz))
    assert len(fit_tone(change_of(waves, points_hz), most=2).moves) <= 2


def test_the_measured_change_of_a_filter_is_its_response():
    """On pink noise; between bands the response is read where the band's power lies."""
    made = (EqPoint(186.0, -9.0, 4.0), HighShelf(6_000.0, 6.0))
    found = tone_change(PINK, tone_of(apply_moves(PINK, made)))
    error_db = found.change_db - curve_db(made, found.freqs_hz)
    assert np.abs(error_db)[found.weight > 0.0].max() < 0.25
    assert np.sqrt(np.mean(error_db[found.weight > 0.0] ** 2)) < 0.05


def test_what_cannot_be_heard_hardly_counts():
    """A weak 8 kHz under a strong 7.5 kHz supplies next to nothing of what the ear gets there."""
    gap = apply_moves(PINK, [EqPoint(8_000.0, -24.0, 8.0)] * 2)
    weight = tone_of(gap).share
    points_hz = tone_of(gap).freqs_hz
    assert weight[np.argmin(np.abs(points_hz - 8_000.0))] < 0.3
    assert weight[np.argmin(np.abs(points_hz - 2_000.0))] > 0.5
    assert weight[np.argmin(np.abs(points_hz - 21.0))] < 0.3


@pytest.mark.parametrize("scale", [1.0, 0.01])
def test_silence_and_bare_tones_are_no_trouble(scale):
    silent = np.zeros_like(PINK)
    assert fit_tone(tone_change(silent, tone_of(silent))).moves == ()
    time_s = np.arange(len(PINK)) / 48_000
    bare = as_samples(np.stack([scale * np.sin(2 * np.pi * 440.0 * time_s)] * 2, axis=1))
    assert fit_tone(tone_change(bare, tone_of(as_samples(0.5 * bare)))).moves == ()
