"""The learner's own files and folders as loops, through the files themselves."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from exercises.errors import BadAudio
from exercises.loops import WHOLE_MIX, Loop
from exercises.own_loop import loop_from_file, make_loop, survey
from exercises.samples import RATE_HZ
from tests.exercises.awkward_files import AWKWARD, Awkward, music, wav_header, write
from tests.exercises.songs import pad, song

BAR_S = 240.0 / 104.0


def _stems() -> dict[str, np.ndarray]:
    """A song split at 200 Hz and 4 kHz: three tracks that sum to it."""
    whole = song(104, 14, 0.7)
    spectrum = np.fft.rfft(whole, axis=0)
    freqs_hz = np.fft.rfftfreq(len(whole), 1 / RATE_HZ)[:, None]
    parts = {"bass": freqs_hz < 200, "guitar": (freqs_hz >= 200) & (freqs_hz < 4000)}
    parts["cymbals"] = freqs_hz >= 4000
    return {
        name: np.fft.irfft(spectrum * inside, len(whole), axis=0).astype(np.float32)
        for name, inside in parts.items()
    }


def _folder_of_stems(folder: Path, **how: str) -> Path:
    folder.mkdir()
    for name, samples in _stems().items():
        write(folder / f"Night train - {name}.wav", samples, subtype=how.get("subtype", "FLOAT"))
    return folder


@pytest.mark.parametrize("suffix", ["wav", "aiff", "flac", "ogg", "mp3"])
def test_a_song_becomes_a_loop_of_whole_bars(suffix: str, tmp_path: Path) -> None:
    write(tmp_path / f"Night train.{suffix}", song(104, 14, 0.7))
    loop = loop_from_file(tmp_path / f"Night train.{suffix}")
    assert (loop.title, loop.name) == ("Night train", "night-train")
    assert [track.name for track in loop.tracks] == ["Night train"]
    assert loop.bars is not None
    assert loop.seconds == pytest.approx(loop.bars * BAR_S, abs=0.001)
    assert loop.tempo_bpm == pytest.approx(104.0, abs=0.02)
    assert 6.0 <= loop.seconds <= 16.0
    assert loop.tracks[0].samples.dtype == np.float32
    assert 0.1 < np.abs(loop.mix()).max() < 1.0


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 96_000])
def test_the_rate_of_the_file_changes_nothing(rate_hz: int, tmp_path: Path) -> None:
    """A song written at another rate, by soxr: the loop begins at a bar line of it all the same."""
    import soxr

    write(tmp_path / "a.wav", soxr.resample(song(104, 14, 0.7), RATE_HZ, rate_hz), rate_hz)
    material = survey(tmp_path / "a.wav")
    best = material.candidates[0]
    bars_before = (best.start_frame / RATE_HZ - 0.7) / BAR_S
    assert abs(bars_before - round(bars_before)) * BAR_S < 0.03
    assert best.seconds / BAR_S == pytest.approx(best.bars, abs=0.001)
    assert len(make_loop(material).tracks[0].samples) == best.stop_frame - best.start_frame


def test_each_candidate_can_be_had(tmp_path: Path) -> None:
    write(tmp_path / "a.flac", song(104, 24, 0.7), subtype="PCM_24")
    material = survey(tmp_path / "a.flac", count=4)
    loops = [make_loop(material, choice) for choice in range(len(material.candidates))]
    assert len({loop.fingerprint for loop in loops}) == len(loops) >= 3
    assert make_loop(material, 1, "Second verse").title == "Second verse"
    with pytest.raises(BadAudio, match=r"a\.flac: no loop number 9; 1 to \d were found"):
        make_loop(material, 8)


def test_the_same_file_gives_the_same_loop(tmp_path: Path) -> None:
    write(tmp_path / "a.flac", song(104, 14, 0.7))
    first, second = (loop_from_file(tmp_path / "a.flac") for _ in range(2))
    assert first.fingerprint == second.fingerprint


def test_passages_share_the_bars_out(tmp_path: Path) -> None:
    write(tmp_path / "a.wav", song(104, 14, 0.7))
    loop = loop_from_file(tmp_path / "a.wav")
    assert loop.bars == 4
    assert [passage.name for passage in loop.passages] == ["bars 1-2", "bars 3-4"]
    _check_passages(loop)


@pytest.mark.parametrize(
    ("bpm", "bars", "names"),
    [
        (150, 8, ["bars 1-2", "bars 3-4", "bars 5-6", "bars 7-8"]),
        (70, 2, ["bar 1", "bar 2"]),
        (90, 3, ["first half", "second half"]),
    ],
)
def test_names_of_passages(bpm: float, bars: int, names: list[str], tmp_path: Path) -> None:
    frames = round(bars * 240 / bpm * RATE_HZ)
    write(tmp_path / "a.wav", song(bpm, 3 * bars)[frames : 2 * frames], subtype="FLOAT")
    loop = loop_from_file(tmp_path / "a.wav")
    assert loop.frames == frames, "a loop already, and left whole"
    assert [passage.name for passage in loop.passages] == names
    _check_passages(loop)


def test_music_without_beat(tmp_path: Path) -> None:
    write(tmp_path / "clouds.ogg", pad(40.0))
    loop = loop_from_file(tmp_path / "clouds.ogg")
    assert (loop.tempo_bpm, loop.bars) == (None, None)
    assert [passage.name for passage in loop.passages] == ["first half", "second half"]
    _check_passages(loop)


def _check_passages(loop: Loop) -> None:
    assert loop.passages[0].start_frame == 0
    assert loop.passages[-1].stop_frame == loop.frames
    for one, other in zip(loop.passages[:-1], loop.passages[1:], strict=True):
        assert one.stop_frame == other.start_frame


def test_a_folder_becomes_tracks_that_sum_to_the_mix(tmp_path: Path) -> None:
    """The same cut for all: the tracks' sum is the loop that the mixed file would give.

    Fades differ by each track's own correlation, so the last 20 ms are left out; float rounding.
    """
    loop = make_loop(survey(_folder_of_stems(tmp_path / "Night train")))
    assert loop.title == "Night train"
    assert [track.name for track in loop.tracks] == ["bass", "cymbals", "guitar"]
    write(tmp_path / "mixed.wav", song(104, 14, 0.7), subtype="FLOAT")
    mixed = loop_from_file(tmp_path / "mixed.wav")
    assert loop.frames == mixed.frames
    np.testing.assert_allclose(loop.mix()[:-960], mixed.mix()[:-960], atol=1e-5)


def test_tracks_are_turned_down_alike(tmp_path: Path) -> None:
    """One track 12 dB over full scale: the balance stays."""
    folder = tmp_path / "hot"
    folder.mkdir()
    for name, samples in _stems().items():
        write(folder / f"{name}.wav", samples * 6.0, subtype="FLOAT")
    hot = make_loop(survey(folder))
    plain = make_loop(survey(_folder_of_stems(tmp_path / "plain")))
    assert np.abs(hot.mix()).max() <= 1.0
    ratios = [
        float(np.abs(hot.track(name).samples).max() / np.abs(plain.track(name).samples).max())
        for name in ("bass", "cymbals", "guitar")
    ]
    assert ratios == pytest.approx([ratios[0]] * 3, rel=1e-4)


def test_a_silent_track_is_left_out(tmp_path: Path) -> None:
    folder = _folder_of_stems(tmp_path / "a")
    silent = np.zeros((len(song(104, 14, 0.7)), 2))
    write(folder / "Night train - voice.wav", silent)
    assert [track.name for track in make_loop(survey(folder)).tracks] == [
        "bass",
        "cymbals",
        "guitar",
    ]


def test_what_is_not_audio_in_a_folder_is_passed_over(tmp_path: Path) -> None:
    folder = _folder_of_stems(tmp_path / "a")
    (folder / "notes.txt").write_text("take 3 is the one")
    (folder / "._Night train - bass.wav").write_bytes(b"resource fork")
    (folder / "cover.png").write_bytes(b"\x89PNG")
    assert len(make_loop(survey(folder)).tracks) == 3


def test_track_names_stay_apart(tmp_path: Path) -> None:
    folder = tmp_path / "a"
    folder.mkdir()
    samples = song(104, 14, 0.7) * 0.4
    for name in ("drums.wav", "drums.flac", f"{WHOLE_MIX}.wav"):
        write(folder / name, samples)
    names = [track.name for track in make_loop(survey(folder)).tracks]
    assert len(set(names)) == 3
    assert WHOLE_MIX not in names


def test_tracks_of_different_length_are_refused(tmp_path: Path) -> None:
    folder = _folder_of_stems(tmp_path / "a")
    write(folder / "Night train - late.wav", song(104, 14, 0.7)[:-9600])
    with pytest.raises(
        BadAudio,
        match=r"^a: Night train - late.wav lasts 33\.31 s and Night train - bass.wav 33\.51 s; "
        r"export all tracks from one start to one end$",
    ):
        make_loop(survey(folder))


def test_a_few_frames_more_or_less_do_not_matter(tmp_path: Path) -> None:
    folder = _folder_of_stems(tmp_path / "a")
    write(folder / "Night train - late.wav", song(104, 14, 0.7)[:-500])
    assert len(make_loop(survey(folder)).tracks) == 4


def test_tracks_at_different_rates_are_refused(tmp_path: Path) -> None:
    folder = _folder_of_stems(tmp_path / "a")
    write(folder / "other.wav", music(33.5, 44_100), 44_100)
    with pytest.raises(BadAudio, match=r"a: tracks at 44100 and 48000 Hz; export them all at one"):
        make_loop(survey(folder))


def test_a_bad_file_among_the_tracks_is_named(tmp_path: Path) -> None:
    folder = _folder_of_stems(tmp_path / "a")
    (folder / "broken.wav").write_bytes(b"text" * 1000)
    with pytest.raises(BadAudio, match=r"^broken\.wav: not audio"):
        make_loop(survey(folder))


def test_a_folder_without_audio(tmp_path: Path) -> None:
    with pytest.raises(BadAudio, match="no audio files in it; choose a folder"):
        make_loop(survey(tmp_path))


def test_too_many_tracks(tmp_path: Path) -> None:
    for number in range(25):
        (tmp_path / f"{number}.wav").write_bytes(b"")
    with pytest.raises(BadAudio, match="25 audio files; at most 24 tracks"):
        make_loop(survey(tmp_path))


def test_a_folder_for_a_file(tmp_path: Path) -> None:
    with pytest.raises(BadAudio, match="a folder; choose an audio file in it"):
        loop_from_file(tmp_path)


@pytest.mark.parametrize(
    "case", [case for case in AWKWARD if case.refusal], ids=lambda case: ascii(case.name[:30])
)
def test_what_cannot_be_read_makes_no_loop(case: Awkward, tmp_path: Path) -> None:
    """The same line as from reading it."""
    try:
        case.build(tmp_path / case.name)
    except (OSError, UnicodeError) as error:
        pytest.skip(f"this file system has no such name: {error}")
    with pytest.raises(BadAudio, match=str(case.refusal)) as caught:
        loop_from_file(tmp_path / case.name)
    assert str(caught.value).isprintable()


@pytest.mark.parametrize(
    "name",
    [
        "5.1.flac",
        "8 kHz.wav",
        "44.101 kHz.wav",
        "192 kHz.wav",
        "1.8 hours.flac",
        "2.0 s.wav",
        "12 dB over.wav",
        "integers as floats.wav",
        "damaged.flac",
        "no length.flac",
    ],
)
def test_awkward_files_make_loops(name: str, tmp_path: Path) -> None:
    next(case for case in AWKWARD if case.name == name).build(tmp_path / name)
    loop = loop_from_file(tmp_path / name)
    mix = loop.mix()
    assert 1.0 <= loop.seconds <= 3.0
    assert 0.2 < np.abs(mix).max() <= 1.0


def test_notes_come_with_the_file_they_are_about(tmp_path: Path) -> None:
    folder = tmp_path / "a"
    folder.mkdir()
    for case in AWKWARD:
        if case.name == "5.1.flac":
            case.build(folder / case.name)
    assert survey(folder).notes == (
        "5.1.flac: 6 channels, taken as L R C LFE Ls Rs, folded down to stereo",
    )


def test_silence_with_one_spike_is_refused(tmp_path: Path) -> None:
    """Turned down until the spike fits, nothing else is left."""
    sound = np.zeros((10 * RATE_HZ, 2))
    sound[100_000] = 1e6
    write(tmp_path / "spike.wav", sound, subtype="FLOAT")
    with pytest.raises(BadAudio, match=r"spike\.wav: this passage is silent; choose another"):
        loop_from_file(tmp_path / "spike.wav")


def test_progress_goes_from_nothing_to_one(tmp_path: Path) -> None:
    write(tmp_path / "a.flac", song(104, 24, 0.7))
    shares: list[float] = []
    survey(tmp_path / "a.flac", progress=shares.append)
    assert len(shares) > 10
    assert shares == sorted(shares)
    assert 0.0 < shares[0] < 0.2
    assert shares[-1] == 1.0


def test_a_file_that_shrinks_after_the_search(tmp_path: Path) -> None:
    write(tmp_path / "a.wav", song(104, 24, 0.7))
    material = survey(tmp_path / "a.wav")
    write(tmp_path / "a.wav", music())
    with pytest.raises(BadAudio, match=r"a\.wav: changed while it was read; try again"):
        make_loop(material)


_MEMORY_TEST = """
import re, sys
from exercises.own_loop import loop_from_file
loop = loop_from_file(sys.argv[1])
# Not getrusage: its figure survives exec, so it would be that of the test run if larger.
peak_kb = re.search(r"VmHWM:\\s+(\\d+)", open("/proc/self/status").read())[1]
print(loop.seconds, loop.tempo_bpm, int(peak_kb) / 1024)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="peak memory is read the way of Linux")
def test_two_hours_fit_into_half_a_gigabyte(tmp_path: Path) -> None:
    """Peak resident memory of a process that makes a loop of two hours of 8 kHz FLAC.

    As 48 kHz stereo floats that file comes to 2.8 GB. (Two hours at 44.1 kHz: tests/bench.)
    """
    path = tmp_path / "long.flac"
    piece = song(104, 24, 0.3)[: 48 * RATE_HZ : 6, :1] * 0.5
    with soundfile.SoundFile(path, "w", 8_000, 1, "PCM_16") as file:
        for _ in range(7200 // 48):
            file.write(piece)
    done = subprocess.run(
        [sys.executable, "-c", _MEMORY_TEST, str(path)],
        check=True,
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )
    seconds, bpm, megabytes = map(float, done.stdout.split())
    assert 6.0 <= seconds <= 16.0
    assert bpm == pytest.approx(104.0, abs=0.1)
    assert megabytes < 500.0


def test_a_long_silence_is_refused_after_reading(tmp_path: Path) -> None:
    with open(tmp_path / "quiet.wav", "wb") as handle:
        frames = 25 * 8000
        handle.write(wav_header(frames * 2, 8000, 1))
        handle.truncate(44 + frames * 2)
    with pytest.raises(BadAudio, match=r"quiet\.wav: silent"):
        loop_from_file(tmp_path / "quiet.wav")
