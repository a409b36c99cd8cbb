"""Tempo, bar lines and seams: on click tracks and synthetic songs where all three are known."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from exercises.demo_loops import demo_loop
from exercises.loop_cut import cut_loop, fade_gains, find_loops
from exercises.loop_features import Features, levels_db, measure
from exercises.loop_search import Candidate, beat_of, search
from exercises.samples import RATE_HZ
from exercises.studio.programme import PROGRAMME
from tests.exercises.songs import click_track, pad, song


def _blocks(samples: np.ndarray, frames: int = 65_536) -> list[np.ndarray]:
    return [samples[first : first + frames] for first in range(0, len(samples), frames)]


@pytest.mark.parametrize("bpm", [60, 72, 90, 97.3, 120, 140, 174])
def test_tempo_of_a_click_track(bpm: float) -> None:
    """30 s of clicks: the very tempo, not its half or double, to 0.02 % (2 ms in ten seconds)."""
    beat = beat_of(measure([click_track(bpm, 30.0)], RATE_HZ))
    assert beat is not None
    assert beat.bpm == pytest.approx(bpm, rel=2e-4)
    assert beat.strength > 0.8


@pytest.mark.parametrize("rate_hz", [8_000, 22_050, 44_100, 96_000])
def test_tempo_at_other_sampling_rates(rate_hz: int) -> None:
    """The search listens at the file's own rate."""
    clicks = click_track(96.0, 30.0)
    places = np.arange(round(30.0 * rate_hz)) * RATE_HZ / rate_hz
    at_rate = np.column_stack([np.interp(places, np.arange(len(clicks)), clicks[:, 0])] * 2)
    beat = beat_of(measure([at_rate.astype(np.float32)], rate_hz))
    assert beat is not None
    assert beat.bpm == pytest.approx(96.0, rel=2e-4)


_COUNTED_EITHER_WAY = {"fog-signal", "harbour-lights", "rope-walk", "tide-table"}
"""72 to 90 BPM, with strokes as strong between the beats as on them: twice that is true too."""
_WITHOUT_STROKES = {"bandstand-waltz", "lifeboat-choir"}
"""Bows and voices: no beat need be found."""


@pytest.mark.parametrize("name", sorted(PROGRAMME))
def test_a_demo_loop_is_a_loop_at_the_tempo_it_was_written_at(name: str) -> None:
    """Held to the score of ``exercises.studio``; no part is cut out of it at another metre."""
    loop = demo_loop(name)
    best = find_loops(np.sum([track.samples for track in loop.tracks], axis=0), 1)[0]
    assert best.whole
    if best.tempo_bpm is None:
        assert name in _WITHOUT_STROKES
        return
    assert loop.tempo_bpm is not None
    assert loop.bars is not None
    times = round(best.tempo_bpm / loop.tempo_bpm)
    assert times in ((1, 2) if name in _COUNTED_EITHER_WAY else (1,))
    assert best.tempo_bpm == pytest.approx(times * loop.tempo_bpm, rel=1e-3)
    assert (best.beats_per_bar, best.bars) == (loop.beats_per_bar, times * loop.bars)


@pytest.mark.parametrize("bpm", [70, 97.3, 126, 174])
@pytest.mark.parametrize("hands", ["steady", "human"])
def test_loops_of_a_song_begin_and_end_at_bar_lines(bpm: float, hands: str) -> None:
    """Each candidate's start within 30 ms of a bar line, its length a whole number of bars.

    Steady music to 0.2 ms; with strokes 8 ms off at random, the spread of a good player, to 20 ms
    (two strokes' difference, two standard deviations). 30 ms is where two strokes begin to be
    heard as two (common practice, no source).
    """
    first_bar_s, bar_s = 0.7, 240.0 / bpm
    wander_s = 0.008 if hands == "human" else 0.0
    found = find_loops(song(bpm, 16, first_bar_s, wander_s=wander_s), count=3)
    assert len(found) >= 1
    for candidate in found:
        bars_before = (candidate.start_frame / RATE_HZ - first_bar_s) / bar_s
        assert abs(bars_before - round(bars_before)) * bar_s < 0.03
        bars = candidate.seconds / bar_s
        off_s = abs(bars - round(bars)) * bar_s
        assert off_s < (0.02 if hands == "human" else 0.0002)
        assert candidate.bars == round(bars)
        assert candidate.tempo_bpm == pytest.approx(bpm, rel=0.005)
        assert 6.0 <= candidate.seconds <= 16.0


@pytest.mark.parametrize("bpm", [75, 108])
def test_three_four_time(bpm: float) -> None:
    first_bar_s, bar_s = 0.4, 180.0 / bpm
    best = find_loops(song(bpm, 16, first_bar_s, beats_per_bar=3))[0]
    assert best.beats_per_bar == 3
    bars_before = (best.start_frame / RATE_HZ - first_bar_s) / bar_s
    assert abs(bars_before - round(bars_before)) * bar_s < 0.03
    assert best.seconds / bar_s == pytest.approx(best.bars, abs=0.001)


def test_music_is_found_between_silence_and_talk() -> None:
    """A minute of recording with one song in it: loops lie in the song and nowhere else."""
    random = np.random.RandomState(9)
    quiet = (1e-4 * random.randn(20 * RATE_HZ, 2)).astype(np.float32)
    middle = song(110, 10, 0.0)
    recording = np.concatenate([quiet, middle, quiet])
    for candidate in find_loops(recording, count=3):
        assert candidate.start_frame >= 19.9 * RATE_HZ
        assert candidate.stop_frame <= len(recording) - 19.9 * RATE_HZ
        assert candidate.reasons.level_db > -6.0


def test_more_bands_are_preferred() -> None:
    """The same song dull, then whole: the best loop comes out of the whole half."""
    whole = song(110, 10)
    spectrum = np.fft.rfft(whole, axis=0)
    spectrum[np.fft.rfftfreq(len(whole), 1 / RATE_HZ) > 300.0] = 0.0
    dull = np.fft.irfft(spectrum, len(whole), axis=0).astype(np.float32)
    best = find_loops(np.concatenate([dull, whole]))[0]
    assert best.start_frame >= len(dull) - 0.1 * RATE_HZ
    assert best.reasons.bands == 10


def test_without_a_beat_a_loop_ends_where_it_sounds_as_it_began() -> None:
    found = find_loops(pad(40.0), count=3)
    assert len(found) == 3
    assert all(candidate.bars is None and candidate.tempo_bpm is None for candidate in found)
    assert all(6.0 <= candidate.seconds <= 16.0 for candidate in found)
    assert found[0].reasons.seam_db < 2.0


def test_candidates_come_best_first_and_apart() -> None:
    found = find_loops(song(104, 24), count=5)
    assert len(found) == 5
    scores = [candidate.score for candidate in found]
    assert scores == sorted(scores, reverse=True)
    for one, other in itertools.pairwise(found):
        common = min(one.stop_frame, other.stop_frame) - max(one.start_frame, other.start_frame)
        assert common <= 0.5 * min(one.seconds, other.seconds) * RATE_HZ + RATE_HZ * 0.1


def test_the_search_is_the_same_however_the_blocks_fall() -> None:
    samples = song(104, 12)
    once = measure([samples], RATE_HZ)
    for frames in (777, 4096, 65_536):
        features = measure(_blocks(samples, frames), RATE_HZ)
        np.testing.assert_allclose(features.powers, once.powers, rtol=1e-4, atol=1e-12)
        for one, other in zip(search(features), search(once), strict=True):
            assert (one.start_frame, one.stop_frame) == (other.start_frame, other.stop_frame)
            assert one.score == pytest.approx(other.score, abs=0.01)


def test_powers_are_those_of_the_sound() -> None:
    """Parseval: the mean of the powers summed over bands is the mean square of both channels.

    To 1 %: a Hann window weighs the frames a little unevenly, and 20 bands leave out what lies
    under 22 Hz and over 22.4 kHz.
    """
    random = np.random.RandomState(4)
    sound = (0.1 * random.randn(10 * RATE_HZ, 2)).astype(np.float32)
    features = measure(_blocks(sound), RATE_HZ)
    assert features.seconds == pytest.approx(10.0, abs=0.02)
    inside = features.powers[10:-10].sum(axis=1).mean()
    share = (22_387 - 22) / 24_000
    assert inside == pytest.approx(share * np.square(sound).sum(axis=1).mean(), rel=0.01)


def test_opposite_channels_do_not_vanish() -> None:
    sound = click_track(100, 10.0) * np.array([1.0, -1.0], dtype=np.float32)
    same = measure([click_track(100, 10.0)], RATE_HZ)
    np.testing.assert_allclose(measure([sound], RATE_HZ).powers, same.powers, rtol=1e-3, atol=1e-9)


@pytest.mark.parametrize("freq_hz", [31.6, 100.0, 1000.0, 12_589.0])
def test_a_sine_shows_in_its_half_octave(freq_hz: float) -> None:
    """Bands by IEC 61260-1: the octave with its middle at 1 kHz spans 708 to 1413 Hz."""
    time_s = np.arange(2 * RATE_HZ) / RATE_HZ
    sine = (0.5 * np.sin(2 * np.pi * freq_hz * time_s)).astype(np.float32)
    powers = measure([np.column_stack([sine, sine])], RATE_HZ).powers[20:-20].mean(axis=0)
    octave = int(np.argmax(powers.reshape(10, 2).sum(axis=1)))
    assert octave == round(np.log10(freq_hz / 1000.0) / 0.3) + 5


def test_too_little_sound_gives_no_candidate() -> None:
    assert search(measure([np.zeros((RATE_HZ, 2), np.float32)], RATE_HZ)) == ()
    assert search(Features(np.zeros((0, 20), np.float32), 0.01)) == ()
    assert len(levels_db(Features(np.zeros((0, 20), np.float32), 0.01))) == 0


@pytest.mark.parametrize("correlation", [0.0, 0.3, 0.7, 1.0])
def test_the_cross_fade_keeps_the_power(correlation: float) -> None:
    """Two noises of that correlation, measured: within 0.1 dB all the way through the fade."""
    random = np.random.RandomState(3)
    shared, own = random.randn(2, 200, 4000)
    going = shared
    coming = correlation * shared + np.sqrt(1.0 - correlation**2) * own
    gain_out, gain_in = fade_gains(4000, correlation)
    power = np.square(going * gain_out + coming * gain_in).mean(axis=0)
    smooth = np.convolve(power, np.ones(400) / 400, mode="valid")
    np.testing.assert_allclose(10 * np.log10(smooth), 0.0, atol=0.1)


def test_the_cross_fade_is_the_known_one_at_either_end() -> None:
    """Equal power is cos and sin; equal gain adds up to one."""
    gain_out, gain_in = fade_gains(960, 0.0)
    np.testing.assert_allclose(np.square(gain_out) + np.square(gain_in), 1.0, atol=1e-12)
    gain_out, gain_in = fade_gains(960, 1.0)
    np.testing.assert_allclose(gain_out + gain_in, 1.0, atol=1e-12)
    assert gain_in[-1] == 1.0
    assert gain_out[-1] == pytest.approx(0.0, abs=1e-12)


def _cut(samples: np.ndarray) -> tuple[np.ndarray, Candidate]:
    best = find_loops(samples)[0]
    return cut_loop(samples, best), best


def test_the_seam_is_the_recording_itself() -> None:
    """The loop's last frame is the one that came before its first, exactly."""
    samples = pad(30.0)
    loop, best = _cut(samples)
    assert len(loop) == best.stop_frame - best.start_frame
    np.testing.assert_array_equal(loop[0], samples[best.start_frame])
    np.testing.assert_allclose(loop[-1], samples[best.start_frame - 1], atol=1e-7)
    untouched = len(loop) - 960
    np.testing.assert_array_equal(
        loop[:untouched], samples[best.start_frame : best.start_frame + untouched]
    )


def _flux(sound: np.ndarray) -> np.ndarray:
    """Rise of the 10 ms spectrum over 10 ms, dB, mean over bins, every 2.5 ms."""
    frames = np.lib.stride_tricks.sliding_window_view(sound[:, 0], 480)[::120]
    levels = 10 * np.log10(np.square(np.abs(np.fft.rfft(frames * np.hanning(480)))) + 1e-6)
    return np.maximum(levels[4:] - levels[:-4], 0.0).mean(axis=1)


@pytest.mark.parametrize("bpm", [84, 126])
@pytest.mark.parametrize("hands", ["steady", "human"])
def test_the_seam_cannot_be_told_from_other_bar_lines(bpm: float, hands: str) -> None:
    """Spectral flux within 30 ms of the seam is no higher than at the loop's other bar lines."""
    loop, best = _cut(song(bpm, 16, 0.7, wander_s=0.006 if hands == "human" else 0.0))
    assert best.bars is not None
    bar = len(loop) // best.bars
    around = np.concatenate([loop[-bar // 2 :], loop, loop[: bar // 2]])
    flux = _flux(around)
    at_lines = [
        flux[max(0, place // 120 - 16) : place // 120 + 13].max()
        for place in range(bar // 2, len(around), bar)
    ]
    seams, others = (at_lines[0], at_lines[-1]), at_lines[1:-1]
    assert len(others) >= 3
    assert max(seams) <= 1.1 * max(others)


@pytest.mark.parametrize("seconds", [7.0, 13.3, 20.0, 31.0])
def test_the_seam_of_a_steady_tone_is_smooth(seconds: float) -> None:
    """Second differences across the seam are no larger than inside: no click."""
    time_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    tone = sum(np.sin(2 * np.pi * freq_hz * time_s) for freq_hz in (110.0, 331.7, 441.3))
    samples = np.column_stack([tone, tone]).astype(np.float32) * 0.2
    samples[:, 1] *= 1.0 + 0.3 * np.sin(2 * np.pi * 0.13 * time_s)
    loop, _ = _cut(samples)
    bend = np.abs(np.diff(np.concatenate([loop, loop]), 2, axis=0))
    inside = bend[: len(loop) - 2000].max()
    assert bend[len(loop) - 1000 : len(loop) + 1000].max() <= 1.05 * inside


@pytest.mark.parametrize(("bpm", "bars"), [(104, 2), (104, 4), (140, 4), (120, 8)])
def test_a_file_that_is_a_loop_is_left_whole(bpm: float, bars: int) -> None:
    """Wrapped round exactly: the song's second time through, cut at bar lines to the sample."""
    frames = round(bars * 240 / bpm * RATE_HZ)
    loop = song(bpm, 3 * bars, 0.0)[frames : 2 * frames]
    found = find_loops(loop)
    assert len(found) == 1
    assert found[0].whole
    assert found[0].tempo_bpm == pytest.approx(bpm, rel=1e-4)
    assert found[0].bars == bars
    np.testing.assert_array_equal(cut_loop(loop, found[0]), loop)


@pytest.mark.parametrize("seed", range(4))
def test_a_file_that_is_no_loop_is_trimmed_to_one(seed: int) -> None:
    """12 s out of a song from anywhere to anywhere: whole bars come out."""
    random = np.random.RandomState(seed)
    start = round(random.uniform(2.0, 8.0) * RATE_HZ)
    piece = song(104, 12, seed=seed)[start : start + round(12.4 * RATE_HZ)]
    best = find_loops(piece)[0]
    assert not best.whole
    bars = best.seconds / (240 / 104)
    assert bars == pytest.approx(round(bars), abs=0.001)


@pytest.mark.parametrize("seconds", [2.0, 2.5, 4.0, 6.0])
@pytest.mark.parametrize("kind", ["song", "pad"])
def test_a_short_file_gives_a_loop(kind: str, seconds: float) -> None:
    samples = song(104, 4) if kind == "song" else pad(8.0)
    piece = samples[5000 : 5000 + round(seconds * RATE_HZ)]
    loop, best = _cut(piece)
    assert 0.5 * seconds - 0.05 <= best.seconds <= seconds
    jump = np.abs(loop[0] - loop[-1]).max()
    assert jump <= 2.0 * np.abs(np.diff(piece, axis=0)).max()


def test_a_passage_outside_the_samples_is_a_mistake() -> None:
    samples = song(104, 8)
    best = find_loops(samples)[0]
    with pytest.raises(ValueError, match=r"frames \d+ to \d+ of 1000"):
        cut_loop(samples[:1000], best)
