"""Frequencies against IEC 61260-1:2014 and ISO 266; typed and shown frequencies."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.bands import (
    BANDS,
    HIGHEST_HZ,
    LOWEST_HZ,
    THIRD_OCTAVE_MID_HZ,
    band_of,
    octaves,
    read_hz,
    show_hz,
)
from tests.reference_rows import row, rows


@pytest.mark.parametrize("third", rows("bands", "iec61260."))
def test_third_octave_mid_bands_are_the_exact_base_10_ones(third):
    place = third["inputs"]["k"] + 16
    assert THIRD_OCTAVE_MID_HZ[place] == pytest.approx(
        third["expected"]["exact_hz"], abs=third["tolerance"]
    )


NOMINAL = ("31.5", "63", "125", "250", "500", "1000", "2000", "4000", "8000", "16000")


@pytest.mark.parametrize(("band", "nominal"), list(zip(BANDS, NOMINAL, strict=True)))
def test_octave_mid_bands_are_those_third_octaves_of_iec_61260(band, nominal):
    third = row("bands", f"iec61260.{nominal}")
    assert band.mid_hz == pytest.approx(third["expected"]["exact_hz"], abs=third["tolerance"])
    assert read_hz(band.name) == float(nominal)


@pytest.mark.parametrize(
    ("band", "below", "above"),
    [(BANDS[1], "50", "80"), (BANDS[3], "200", "315"), (BANDS[8], "6300", "10000")],
)
def test_an_octave_is_its_three_third_octaves(band, below, above):
    """IEC 61260-1: octave edges are the outer edges of the third octaves within."""
    low, high = row("bands", f"iec61260.{below}"), row("bands", f"iec61260.{above}")
    assert band.low_hz == pytest.approx(low["expected"]["lower_hz"], abs=0.001)
    assert band.high_hz == pytest.approx(high["expected"]["upper_hz"], abs=0.001)


def test_octave_edges_lie_a_factor_of_10_to_the_015_from_the_middle():
    """IEC 61260-1:2014, base-10 octave ratio 10^(3/10)."""
    for band in BANDS:
        assert band.high_hz / band.mid_hz == pytest.approx(10**0.15, rel=1e-12)
        assert band.mid_hz / band.low_hz == pytest.approx(10**0.15, rel=1e-12)


@pytest.mark.parametrize("band", BANDS, ids=lambda band: band.name)
def test_band_of_finds_the_band_from_edge_to_edge(band):
    for freq_hz in (band.low_hz * 1.0001, band.mid_hz, band.high_hz * 0.9999):
        assert band_of(freq_hz) is band


@pytest.mark.parametrize(("freq_hz", "index"), [(5.0, 0), (20.0, 0), (23_900.0, 9)])
def test_outer_bands_take_what_lies_beyond(freq_hz, index):
    assert band_of(freq_hz).index == index


def test_186_and_200_hz_lie_in_the_band_that_the_trade_calls_mud():
    """Common practice, no source."""
    assert band_of(186.0) is band_of(200.0)
    assert band_of(186.0).too_much == "mud"


@pytest.mark.parametrize(
    ("named_hz", "true_hz", "expected"),
    [(400.0, 200.0, 1.0), (100.0, 200.0, -1.0), (250.0, 250.0, 0.0), (300.0, 200.0, 0.58496)],
)
def test_miss_is_in_octaves_and_positive_when_named_too_high(named_hz, true_hz, expected):
    assert octaves(named_hz, true_hz) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(
    ("text", "freq_hz"),
    [
        ("200", 200.0),
        (" 186 Hz ", 186.0),
        ("3.2k", 3200.0),
        ("3,2 kHz", 3200.0),
        ("3.2K", 3200.0),
        (".5k", 500.0),
        ("31,5", 31.5),
        ("31.5hz", 31.5),
        ("12,500", 12_500.0),
        ("20,000 Hz", 20_000.0),
        ("1,25k", 1250.0),
        ("1,250k", 1250.0),
        ("20", 20.0),
        ("20k", 20_000.0),
    ],
)
def test_typed_frequencies_are_read(text, freq_hz):
    assert read_hz(text) == pytest.approx(freq_hz, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    ["", "k", "mud", "-200", "1e3", "19.9", "20001", "20.1k", "2 0 0", "nan", "inf", "3.2.1",
     "1,2,3", "200 dB", ",", "9" * 400],
)  # fmt: skip
def test_anything_else_is_not_a_frequency(text):
    assert read_hz(text) is None


@pytest.mark.parametrize(
    ("freq_hz", "shown"),
    [
        (186.0, "186 Hz"),
        (31.5, "31.5 Hz"),
        (99.96, "100 Hz"),
        (63.0, "63 Hz"),
        (999.4, "999 Hz"),
        (999.6, "1 kHz"),
        (3200.0, "3.2 kHz"),
        (3160.0, "3.16 kHz"),
        (9_994.0, "9.99 kHz"),
        (9_996.0, "10 kHz"),
        (11_720.0, "11.7 kHz"),
        (12_600.0, "12.6 kHz"),
        (10_000.0, "10 kHz"),
        (20_000.0, "20 kHz"),
    ],
)
def test_frequencies_are_shown_as_a_mixer_says_them(freq_hz, shown):
    assert show_hz(freq_hz) == shown


@settings(deadline=None)
@given(st.floats(LOWEST_HZ, HIGHEST_HZ))
def test_what_is_shown_can_be_typed_again(freq_hz):
    again = read_hz(show_hz(freq_hz))
    assert again is not None
    assert abs(math.log2(again / freq_hz)) < 0.01
