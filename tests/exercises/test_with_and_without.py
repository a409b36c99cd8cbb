"""The pair of a blind test: one filter apart, equally loud, under the cap."""

from __future__ import annotations

import numpy as np
import pytest

from exercises.equaliser import filter_loop, peaking, response_db
from exercises.errors import BadAudio
from exercises.samples import RATE_HZ, as_samples
from exercises.stretch import Asked, Stretch, stretch_of_loop
from exercises.true_peak import true_peak
from exercises.with_and_without import PointFilter, with_and_without
from tests.exercises.test_build_up import pink
from tests.meters import ebur128_lufs
from tests.synthetic_loops import repeated, small_band

CHANGES = [
    PointFilter(200.0, -6.0, 1.4),
    PointFilter(3000.0, 6.0, 1.4),
    PointFilter(60.0, 12.0, 0.7),
    PointFilter(12_000.0, -12.0, 4.0),
]


@pytest.mark.parametrize("change", CHANGES)
def test_both_are_at_the_reference_and_matched(change: PointFilter) -> None:
    pair = with_and_without(stretch_of_loop(small_band(4.0), Asked()), change)
    a_lufs, b_lufs = (ebur128_lufs(repeated(sound, 20.0)) for sound in (pair.a, pair.b))
    # libebur128 steps its blocks by 100 ms, we by 5 ms: within 0.1 LU on a band with drums.
    assert a_lufs == pytest.approx(-23.0, abs=0.15)
    assert b_lufs == pytest.approx(a_lufs, abs=0.1)


@pytest.mark.parametrize("change", CHANGES)
def test_b_is_a_with_the_filter_and_nothing_else(change: PointFilter) -> None:
    pair = with_and_without(stretch_of_loop(small_band(4.0), Asked()), change)
    # The response of the filter by its formula, up to the one gain that matches them.
    freqs_hz = np.fft.rfftfreq(len(pair.a), 1.0 / RATE_HZ)
    a, b = (np.abs(np.fft.rfft(sound[:, 0].astype(np.float64))) for sound in (pair.a, pair.b))
    strong = a > a.max() * 1e-3
    shape = 20.0 * np.log10(b[strong] / a[strong])
    expected = response_db(peaking(change.freq_hz, change.gain_db, change.q), freqs_hz[strong])
    offset = shape - expected
    assert np.ptp(offset) < 0.05


def test_a_filter_on_one_track_leaves_the_others_alone() -> None:
    loop = small_band(4.0)
    pair = with_and_without(stretch_of_loop(loop, Asked("bass")), PointFilter(82.0, -12.0, 1.0))
    drums_and_keys = loop.track("drums").samples + loop.track("keys").samples
    bass = loop.track("bass").samples
    # B is the others and the filtered bass, all at one gain: solved for, nothing is left over.
    filtered = filter_loop(bass, peaking(82.0, -12.0, 1.0))
    parts = np.stack([drums_and_keys.ravel(), filtered.ravel()], axis=1).astype(np.float64)
    gains, left, *_ = np.linalg.lstsq(parts, pair.b.ravel().astype(np.float64), rcond=None)
    assert gains[0] == pytest.approx(gains[1], rel=1e-4)
    assert float(left[0]) < 1e-9 * float(np.sum(pair.b.astype(np.float64) ** 2))


def test_a_hot_file_is_turned_down_under_the_cap() -> None:
    spiky = np.zeros((4 * RATE_HZ, 2), dtype=np.float32)
    spiky[::RATE_HZ] = 1.0
    spiky += pink(4.0, 1) * np.float32(0.02)
    stretch = Stretch("spiky", spiky, spiky, None, 0.0)
    pair = with_and_without(stretch, PointFilter(8000.0, 12.0, 0.7))
    peaks = [true_peak(pair.a), true_peak(pair.b)]
    assert max(peaks) == pytest.approx(10.0 ** (-1.0 / 20.0), rel=1e-4)


def test_a_cut_out_stretch_goes_round_without_a_click() -> None:
    sound = pink(3.0, 2)
    pair = with_and_without(Stretch("cut", sound, sound, None, 0.0), PointFilter(200.0, -6.0, 1.4))
    for made in (pair.a, pair.b):
        seam = np.abs(made[[0, -1]]).max()
        assert seam < 0.01 * float(np.abs(made).max())


def test_too_quiet_to_measure_is_refused() -> None:
    quiet = as_samples(pink(3.0, 3) * np.float32(1e-4))
    with pytest.raises(BadAudio, match="too quiet here"):
        with_and_without(Stretch("quiet", quiet, quiet, None, 0.0), CHANGES[0])
