"""The demo loops as an engineer would measure them, against recorded music.

Figures for recorded music, with their sources, are in tests/references/recorded_music.json.
Loudness and true peak are libebur128's.
"""

from __future__ import annotations

import json
import tomllib
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import scipy.signal as ss

from exercises.bands import BANDS
from exercises.demo_loops import assets_folder, demo_loop, demo_loop_names
from exercises.errors import BadLoop
from exercises.samples import RATE_HZ
from exercises.studio.programme import PROGRAMME
from tests.meters import ebur128_dbtp, ebur128_lufs

RECORDED = json.loads(
    (Path(__file__).parents[1] / "references" / "recorded_music.json").read_text(encoding="utf-8")
)
# A loop of some ten seconds strays further than the average of a whole song.
BAND_TOLERANCE_DB = 3.0
NAMES = demo_loop_names()
DAMPED = (("ferry-crossing", "damped strokes"), ("slipway", "damped gallop"))


def with_track(track: str) -> list[str]:
    """Names of the loops that have a track of that name."""
    folder = assets_folder() / "loops"
    described = {
        name: tomllib.loads((folder / name / "loop.toml").read_text(encoding="utf-8"))
        for name in NAMES
    }
    return [name for name in NAMES if track in {t["name"] for t in described[name]["track"]}]


@cache
def octave_bands_db(name: str) -> tuple[float, ...]:
    """Power of each octave band, dB re the whole: Welch, 8192-point, round the loop."""
    mix = demo_loop(name).mix()
    freqs, power = ss.welch(np.tile(mix, (2, 1)), RATE_HZ, nperseg=8192, axis=0)
    power = power.sum(axis=1)
    shares = [power[(freqs >= b.low_hz) & (freqs < b.high_hz)].sum() / power.sum() for b in BANDS]
    return tuple(10.0 * np.log10(shares))


def crest_db(samples: np.ndarray) -> float:
    wide = samples.astype(np.float64)
    return float(20.0 * np.log10(np.abs(wide).max() / np.sqrt((wide**2).mean())))


def integrated_lufs(samples: np.ndarray) -> float:
    """Twice round, so that the blocks across the seam count."""
    return ebur128_lufs(np.tile(samples, (2, 1)).astype(np.float32))


def test_the_collection_is_the_programme_and_large_enough() -> None:
    assert tuple(sorted(PROGRAMME)) == NAMES
    assert len(NAMES) >= 12
    assert len({demo_loop(name).style for name in NAMES}) >= 6
    assert len({demo_loop(name).title for name in NAMES}) == len(NAMES)


def test_the_collection_stays_under_40_megabytes() -> None:
    files = [path for path in (assets_folder() / "loops").rglob("*") if path.is_file()]
    assert len(files) > 48
    assert sum(path.stat().st_size for path in files) < 40_000_000


def test_an_unknown_loop_is_refused_with_the_names_there_are() -> None:
    with pytest.raises(BadLoop, match=r"no demo loop 'sea-shanty'; there are .*ferry-crossing"):
        demo_loop("sea-shanty")


@pytest.mark.parametrize("name", NAMES)
def test_shape(name: str) -> None:
    loop = demo_loop(name)
    assert 3 <= len(loop.tracks) <= 6
    assert 8.0 <= loop.seconds <= 16.0
    assert loop.tempo_bpm is not None
    assert loop.bars is not None
    beats = loop.bars * loop.beats_per_bar
    assert loop.frames == beats * round(60.0 / loop.tempo_bpm * RATE_HZ)
    assert len(loop.passages) >= 2
    bar_lines = {loop.frames * bar // loop.bars for bar in range(loop.bars + 1)}
    for passage in loop.passages:
        assert {passage.start_frame, passage.stop_frame} <= bar_lines


@pytest.mark.parametrize("band", range(10), ids=[band.name for band in BANDS])
@pytest.mark.parametrize("name", NAMES)
def test_octave_band_lies_where_recorded_music_has_it(name: str, band: int) -> None:
    table = RECORDED["octave_band_power"]
    low = table["percentile_10"][band] - BAND_TOLERANCE_DB
    high = table["percentile_90"][band] + BAND_TOLERANCE_DB
    assert low <= octave_bands_db(name)[band] <= high


@pytest.mark.parametrize("band", range(10), ids=[band.name for band in BANDS])
def test_the_collection_as_a_whole_is_as_recorded_music_in_every_band(band: int) -> None:
    table = RECORDED["octave_band_power"]
    middle = float(np.median([octave_bands_db(name)[band] for name in NAMES]))
    assert table["percentile_10"][band] <= middle <= table["percentile_90"][band]
    assert abs(middle - table["median"][band]) < 8.0


def test_slope_of_the_collection_is_that_of_popular_music() -> None:
    """Per Hz; octave bands fall 3.01 dB an octave less. Half the spread between songs is 1.5 dB."""
    slope = RECORDED["slope"]
    bands = [b.index for b in BANDS if slope["from_hz"] <= b.mid_hz <= slope["to_hz"]]
    average = np.mean([octave_bands_db(name) for name in NAMES], axis=0)
    per_octave = np.polyfit(bands, average[bands], 1)[0] - 10.0 * np.log10(2.0)
    low, high = min(slope["published"]) - 1.5, max(slope["published"]) + 1.5
    assert low <= per_octave <= high


@pytest.mark.parametrize("name", NAMES)
def test_loudness_and_true_peak_of_the_mix(name: str) -> None:
    mix = demo_loop(name).mix()
    assert integrated_lufs(mix) == pytest.approx(-20.0, abs=3.0)
    assert ebur128_dbtp(np.tile(mix, (2, 1))) < -1.0


CREST = {row["material"]: (row["low_db"], row["high_db"]) for row in RECORDED["crest_factor"]}


@pytest.mark.parametrize("name", NAMES)
def test_crest_factor_of_the_mix_is_that_of_recorded_music(name: str) -> None:
    low, high = CREST["full mixes"]
    assert low <= crest_db(demo_loop(name).mix()) <= high + 0.5


@pytest.mark.parametrize("name", with_track("drums"))
def test_crest_factor_of_drums(name: str) -> None:
    """Drum tracks here have been through tape: up to 2 dB less than unprocessed ones."""
    low, high = CREST["drums"]
    assert low - 2.0 <= crest_db(demo_loop(name).track("drums").samples) <= high + 0.5


@pytest.mark.parametrize("name", with_track("bass"))
def test_crest_factor_of_basses(name: str) -> None:
    """An upright bass that rests for half the loop has up to 3 dB more."""
    low, high = CREST["bass guitar"]
    assert low <= crest_db(demo_loop(name).track("bass").samples) <= high + 3.0


@pytest.mark.parametrize("name", [name for name, _ in DAMPED])
def test_crest_factor_of_driven_guitars(name: str) -> None:
    low, high = CREST["driven guitar"]
    assert low <= crest_db(demo_loop(name).track("guitar").samples) <= high


@pytest.mark.parametrize("name", NAMES)
def test_balance_no_track_is_lost_and_none_drowns_the_rest(name: str) -> None:
    """Each within 16 LU of the mix (common practice, no source: below that it is lost)."""
    loop = demo_loop(name)
    whole = integrated_lufs(loop.mix())
    for track in loop.tracks:
        assert whole - 16.0 < integrated_lufs(track.samples) < whole, track.name


@pytest.mark.parametrize("name", NAMES)
def test_seam_is_no_harder_than_other_bar_lines(name: str) -> None:
    """Spectral flux (summed rises of the magnitude spectrum) within 25 ms of each bar line."""
    loop = demo_loop(name)
    mono = np.tile(loop.mix().mean(axis=1), 2)
    hop, size = 256, 1024
    spectra = np.abs(ss.stft(mono, RATE_HZ, nperseg=size, noverlap=size - hop)[2])
    flux = np.maximum(np.diff(spectra, axis=1), 0.0).sum(axis=0)
    reach = round(0.025 * RATE_HZ / hop)

    def hardest(frame: float) -> float:
        middle = round(frame / hop)
        return float(flux[middle - reach : middle + reach + 1].max())

    assert loop.bars is not None
    others = [hardest(loop.frames * bar / loop.bars) for bar in range(1, loop.bars)]
    assert hardest(loop.frames) <= max(others)


@pytest.mark.parametrize("name", NAMES)
def test_nothing_clicks_at_the_seam(name: str) -> None:
    """The sharpest bend within 4 samples of the seam is no sharper than elsewhere in the track."""
    for track in demo_loop(name).tracks:
        turned = np.roll(track.samples, len(track.samples) // 2, axis=0).astype(np.float64)
        bend = np.abs(np.diff(turned, n=3, axis=0)).max(axis=1)
        seam = len(turned) // 2
        elsewhere = max(bend[: seam - 8].max(), bend[seam + 8 :].max())
        assert bend[seam - 6 : seam + 4].max() <= elsewhere, track.name


@pytest.mark.parametrize("name", NAMES)
def test_passages_differ_in_playing(name: str) -> None:
    """Some track changes by 3 dB in some octave band from one passage to the next."""
    loop = demo_loop(name)
    changes = []
    for track in loop.tracks:
        levels = []
        for passage in loop.passages[:2]:
            part = track.samples[passage.start_frame : passage.stop_frame]
            freqs, power = ss.welch(part, RATE_HZ, nperseg=8192, axis=0)
            power = power.sum(axis=1)
            bands = [power[(freqs >= b.low_hz) & (freqs < b.high_hz)].sum() for b in BANDS]
            levels.append(10.0 * np.log10(np.array(bands) + 1e-12))
        changes.append(np.abs(levels[0] - levels[1])[2:8].max())
    assert max(changes) > 3.0


@pytest.mark.parametrize(("name", "damped"), DAMPED)
def test_a_cut_at_186_hz_thins_the_damped_strokes_and_spares_the_open_chords(
    name: str, damped: str
) -> None:
    """Common practice, no source: damped strokes through a driven amplifier are thicker.

    6 dB out at 186 Hz, Q 1.4 (Audio EQ Cookbook), costs them at least twice the LU, and at least
    1 LU, so that it is heard.
    """
    loop = demo_loop(name)
    a, w = 10.0 ** (-6.0 / 40.0), 2.0 * np.pi * 186.0 / RATE_HZ
    alpha = np.sin(w) / (2.0 * 1.4)
    b = [1.0 + alpha * a, -2.0 * np.cos(w), 1.0 - alpha * a]
    a = [1.0 + alpha / a, -2.0 * np.cos(w), 1.0 - alpha / a]
    guitar = loop.track("guitar").samples.astype(np.float64)
    cut = ss.lfilter(b, a, np.tile(guitar, (2, 1)), axis=0)[len(guitar) :]
    assert [passage.name for passage in loop.passages] == [damped, "open chords"]
    drops = [
        integrated_lufs(guitar[p.start_frame : p.stop_frame])
        - integrated_lufs(cut[p.start_frame : p.stop_frame])
        for p in loop.passages
    ]
    assert drops[0] >= 2.0 * drops[1]
    assert drops[0] >= 1.0
    assert drops[1] >= 0.0
