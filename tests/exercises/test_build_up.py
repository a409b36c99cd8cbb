"""Finding a build-up that is there, and none in noise that has none.

The noise is Gaussian noise shaped to fall 3.01 dB an octave per Hz, so equal in every octave band
(the definition of pink noise). What is put in is a filter of known centre.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import scipy.signal

from exercises import recorded_music
from exercises.bands import BANDS, octaves
from exercises.build_up import (
    FREQS_HZ,
    Hill,
    average_of,
    excess_at,
    hills,
    nearest_hill,
)
from exercises.demo_loops import demo_loop, demo_loop_names
from exercises.equaliser import filter_loop, peaking
from exercises.samples import RATE_HZ, Samples, as_samples

SEEDS = 1000
TWELFTH = 1.0 / 12.0


def pink(seconds: float, seed: int, *, channels: int = 2) -> Samples:
    """Gaussian pink noise: unlike noise of fixed bin sizes it is as uneven as real noise is."""
    frames = round(seconds * RATE_HZ)
    white = np.random.RandomState(seed).standard_normal((frames, channels))
    bins = np.fft.rfft(white, axis=0)
    freqs_hz = np.fft.rfftfreq(frames, 1.0 / RATE_HZ)
    bins *= np.where(freqs_hz > 10.0, 1.0 / np.sqrt(np.maximum(freqs_hz, 10.0)), 0.0)[:, None]
    sound = np.fft.irfft(bins, frames, axis=0)
    return as_samples(np.broadcast_to(sound, (frames, 2)) * (0.1 / np.sqrt(np.mean(sound**2))))


def test_pink_noise_has_the_same_power_in_every_octave_band() -> None:
    # Definition of pink noise; 60 s of it are uncertain by 0.3 dB in the lowest band.
    octave_db = average_of(pink(60.0, 1)).octave_db
    inside = octave_db[1:9]
    assert float(np.ptp(inside)) < 0.8


def test_third_octave_levels_agree_with_welch_of_scipy() -> None:
    sound = pink(20.0, 2, channels=1)
    average = average_of(sound)
    freqs_hz, density = scipy.signal.welch(sound[:, 0], RATE_HZ, nperseg=1 << 15)
    step_hz = freqs_hz[1]
    for mid_hz in (125.0, 500.0, 2000.0, 8000.0):
        inside = (freqs_hz >= mid_hz * 10**-0.05) & (freqs_hz < mid_hz * 10**0.05)
        share = density[inside].sum() * step_hz / (density.sum() * step_hz)
        level_db = np.interp(math.log(mid_hz), np.log(FREQS_HZ), average.level_db)
        assert level_db == pytest.approx(10.0 * math.log10(share), abs=0.35)


@pytest.mark.parametrize(
    ("freq_hz", "gain_db", "q"),
    [
        (90.0, 6.0, 2.0),
        (186.0, 6.0, 1.4),
        (186.0, 6.0, 4.0),
        (400.0, 4.0, 1.4),
        (1000.0, 6.0, 1.4),
        (3000.0, 3.0, 1.4),
        (8000.0, 6.0, 1.4),
    ],
)
@pytest.mark.parametrize("seed", range(4))
def test_known_build_up_is_found_within_a_twelfth_of_an_octave(
    freq_hz: float, gain_db: float, q: float, seed: int
) -> None:
    sound = filter_loop(pink(8.0, 100 + seed), peaking(freq_hz, gain_db, q))
    hill = nearest_hill(average_of(sound), 200.0)
    assert hill is not None
    assert abs(octaves(hill.centre_hz, freq_hz)) < TWELFTH
    # A third-octave reading and a trend that follows a little take up to a third of the height.
    assert 0.6 * gain_db < hill.height_db < 1.1 * gain_db


@pytest.mark.parametrize("freq_hz", [186.0, 1000.0, 4000.0])
def test_known_hollow_is_found_and_no_build_up(freq_hz: float) -> None:
    average = average_of(filter_loop(pink(8.0, 7), peaking(freq_hz, -6.0, 1.4)))
    hollow = nearest_hill(average, freq_hz, hollows=True)
    assert hollow is not None
    assert abs(octaves(hollow.centre_hz, freq_hz)) < TWELFTH
    assert hollow.height_db < -3.5
    assert hills(average) == ()


def test_width_tells_a_broad_build_up_from_a_narrow_one() -> None:
    # Half the gain in dB is reached half a bandwidth to either side (Audio EQ Cookbook): 1 octave
    # at Q 1.41; a narrow one reads no narrower than the third octave it is measured with.
    widths = []
    for q in (1.41, 8.0):
        hill = nearest_hill(average_of(filter_loop(pink(20.0, 3), peaking(800.0, 9.0, q))), 800.0)
        assert hill is not None
        widths.append(hill.width_octaves)
    assert widths[0] == pytest.approx(0.95, abs=0.2)
    assert widths[1] == pytest.approx(0.36, abs=0.08)


def test_two_build_ups_are_told_apart_and_the_nearest_is_given() -> None:
    sound = filter_loop(pink(8.0, 5), peaking(186.0, 6.0, 2.0))
    average = average_of(filter_loop(sound, peaking(2500.0, 6.0, 2.0)))
    low, high = nearest_hill(average, 250.0), nearest_hill(average, 2000.0)
    assert low is not None
    assert high is not None
    assert abs(octaves(low.centre_hz, 186.0)) < TWELFTH
    assert abs(octaves(high.centre_hz, 2500.0)) < TWELFTH
    assert len(hills(average)) == 2


def test_pink_noise_has_a_build_up_or_a_hollow_in_five_seeds_of_a_hundred_at_most() -> None:
    # Three seconds: short stretches are the hard case. Mono, which has half the evidence.
    build_ups = hollows = 0
    for seed in range(SEEDS):
        average = average_of(pink(3.0, seed, channels=1))
        build_ups += bool(hills(average))
        hollows += bool(hills(average, hollows=True))
    assert max(build_ups, hollows) <= 0.05 * SEEDS


def test_a_cliff_is_no_build_up() -> None:
    # A lossy file ends at 16 kHz; a high-passed one begins at 80 Hz.
    sos = scipy.signal.butter(8, [80.0, 15_500.0], "bandpass", fs=RATE_HZ, output="sos")
    sound = as_samples(scipy.signal.sosfilt(sos, pink(8.0, 9), axis=0))
    assert hills(average_of(sound)) == ()


def test_level_and_length_change_nothing_that_matters() -> None:
    sound = filter_loop(pink(8.0, 11), peaking(186.0, 6.0, 1.4))
    whole, quiet = average_of(sound), average_of(as_samples(sound * np.float32(1e-3)))
    assert quiet.level_db == pytest.approx(whole.level_db, abs=1e-3)
    assert excess_at(whole, 186.0) == pytest.approx(excess_at(quiet, 186.0), abs=1e-3)


def test_a_note_stands_out_of_noise_at_its_own_frequency() -> None:
    angle = 2.0 * np.pi * 440.0 * np.arange(4 * RATE_HZ) / RATE_HZ
    note = as_samples(np.stack([0.1 * np.sin(angle)] * 2, axis=1))
    hill = nearest_hill(average_of(as_samples(note + pink(4.0, 13))), 400.0)
    assert hill is not None
    assert abs(octaves(hill.centre_hz, 440.0)) < TWELFTH


def with_note(sound: Samples, freq_hz: float, level_db: float, *, struck_s: float = 0.0) -> Samples:
    """``sound`` with a steady note ``level_db`` re its RMS; or one struck every ``struck_s``."""
    time_s = np.arange(len(sound)) / RATE_HZ
    note = np.sin(2.0 * np.pi * freq_hz * time_s)
    if struck_s:
        since_s = time_s % struck_s
        note = np.sin(2.0 * np.pi * freq_hz * since_s) * np.exp(-since_s / 0.2)
        note *= np.minimum(1.0, since_s / 0.005)
    note *= np.sqrt(np.mean(np.square(sound)) / np.mean(note**2)) * 10.0 ** (level_db / 20.0)
    return as_samples(sound + note[:, None])


def near_200_hz(sound: Samples) -> Hill | None:
    """The build-up that a claim of mud near 200 Hz is told of."""
    return next((hill for hill in hills(average_of(sound)) if 141 < hill.centre_hz < 283), None)


@pytest.mark.parametrize("level_db", [-12.0, -6.0, 0.0, 10.0])
@pytest.mark.parametrize("seed", range(4))
def test_a_steady_bass_note_hides_no_broad_build_up_beside_it(level_db: float, seed: int) -> None:
    # A note is one line of the spectrum; the filter's octaves are where they are (definitions).
    plain = pink(8.0, 500 + seed)
    assert near_200_hz(with_note(plain, 110.0, level_db)) is None
    for gain_db in (6.0, 9.0):
        hill = near_200_hz(
            with_note(filter_loop(plain, peaking(199.0, gain_db, 1.0)), 110.0, level_db)
        )
        assert hill is not None
        assert abs(octaves(hill.centre_hz, 199.0)) < 1.0 / 6.0
        assert 0.55 * gain_db < hill.height_db < 1.1 * gain_db


@pytest.mark.parametrize("seed", range(4))
def test_struck_bass_notes_hide_no_broad_build_up_beside_them(seed: int) -> None:
    # What dies away is as wide as it is short, so its foot reaches into the hill.
    boosted = filter_loop(pink(8.0, 500 + seed), peaking(199.0, 6.0, 1.0))
    for level_db in (-12.0, -6.0):
        assert near_200_hz(with_note(boosted, 110.0, level_db, struck_s=0.5)) is not None


@pytest.mark.parametrize("seed", range(4))
def test_a_prominent_note_on_the_flank_is_told_and_so_is_the_hill(seed: int) -> None:
    boosted = filter_loop(pink(8.0, 500 + seed), peaking(199.0, 6.0, 1.0))
    places = [hill.centre_hz for hill in hills(average_of(with_note(boosted, 150.0, 0.0)))]
    for freq_hz in (150.0, 199.0):
        assert min(abs(octaves(place, freq_hz)) for place in places) < 1.0 / 6.0


def test_in_music_a_build_up_beside_a_bass_note_is_told_and_notes_by_themselves_are_not() -> None:
    # Common practice, no source: loops without a problem, so most bands must not be claimed.
    told, found = 0, 0
    for name in demo_loop_names():
        mix = demo_loop(name).mix()
        places = [hill.centre_hz for hill in hills(average_of(mix))]
        told += sum(
            any(abs(octaves(place, band.mid_hz)) <= 0.5 for place in places) for band in BANDS
        )
        thick = with_note(filter_loop(mix, peaking(199.0, 9.0, 1.0)), 110.0, 0.0)
        found += near_200_hz(thick) is not None
    loops = len(demo_loop_names())
    assert told < loops * len(BANDS) / 3
    assert found >= loops - 2


def test_silence_and_a_moment_have_no_spectrum() -> None:
    with pytest.raises(ValueError, match="silence"):
        average_of(np.zeros((RATE_HZ, 2), dtype=np.float32))
    with pytest.raises(ValueError, match="too short"):
        average_of(pink(0.4, 1))


@pytest.mark.parametrize("band", range(len(BANDS)))
def test_range_of_recorded_music_is_the_measured_one(band: int) -> None:
    file = Path(__file__).parents[1] / "references" / "recorded_music.json"
    measured = json.loads(file.read_text(encoding="utf-8"))["octave_band_power"]
    assert recorded_music.OCTAVE_LOW_DB[band] == measured["percentile_10"][band]
    assert recorded_music.OCTAVE_MEDIAN_DB[band] == measured["median"][band]
    assert recorded_music.OCTAVE_HIGH_DB[band] == measured["percentile_90"][band]
