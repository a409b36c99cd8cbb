"""Reading what a learner brings: every awkward file loads rightly or is refused in one line."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from exercises.audio_file import (
    inspect,
    open_audio,
    read_audio,
    read_stretch,
)
from exercises.audio_handle import shown_name
from exercises.errors import BadAudio
from exercises.samples import RATE_HZ
from tests.exercises.awkward_files import (
    AWKWARD,
    SECONDS,
    Awkward,
    music,
    wav_header,
    write,
)

LOADED = [case for case in AWKWARD if case.seconds is not None]
REFUSED = [case for case in AWKWARD if case.refusal is not None]


def _label(case: Awkward) -> str:
    return ascii(case.name[:30])


def _built(case: Awkward, folder: Path) -> Path:
    path = folder / case.name
    try:
        case.build(path)
    except (OSError, UnicodeError) as error:
        pytest.skip(f"this file system has no such name: {error}")
    return path


def test_the_corpus_is_there() -> None:
    assert len(LOADED) > 40
    assert len(REFUSED) > 25
    assert len(LOADED) + len(REFUSED) == len(AWKWARD)


@pytest.mark.parametrize("case", LOADED, ids=_label)
def test_loads(case: Awkward, tmp_path: Path) -> None:
    """The sound is there: its length, finite, not over full scale, and as loud as what was saved.

    Lossy coders pad by up to about 0.05 s (an MP3 frame is 24 ms, its decoder's delay 22 ms), and
    of a damaged or cut file the block at the fault is lost: 4,096 frames, 0.085 s. Of Ogg a whole
    page is lost, a quarter of a second and more.
    """
    audio = read_audio(_built(case, tmp_path))
    assert case.seconds is not None
    assert len(audio.samples) / RATE_HZ == pytest.approx(case.seconds, abs=0.14)
    assert audio.samples.shape[1] == 2
    assert audio.samples.dtype == np.float32
    assert np.isfinite(audio.samples).all()
    assert np.abs(audio.samples).max() <= 1.0
    assert 0.03 < np.sqrt(np.mean(np.square(audio.samples))) < 0.6
    if case.note is not None:
        assert re.search(case.note, " / ".join(audio.notes)), audio.notes


@pytest.mark.parametrize("case", REFUSED, ids=_label)
def test_is_refused_in_one_line(case: Awkward, tmp_path: Path) -> None:
    assert case.refusal is not None
    path = _built(case, tmp_path)
    before = path.read_bytes()
    with pytest.raises(BadAudio, match=case.refusal) as caught:
        read_audio(path)
    message = str(caught.value)
    assert message.isprintable()
    assert len(message) < 250
    assert message.startswith(shown_name(path))
    assert ";" in message or "," in message, "says how to mend it"
    message.encode("utf-8")
    assert path.read_bytes() == before


@pytest.mark.parametrize("case", [case for case in LOADED if case.note is None], ids=_label)
def test_a_sound_file_draws_no_remark(case: Awkward, tmp_path: Path) -> None:
    """But for the lossy, whose overshoot may have to be turned down."""
    notes = read_audio(_built(case, tmp_path)).notes
    assert all("over full scale" in note for note in notes)


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(BadAudio, match=r"^gone\.wav: no such file; check the path$"):
        read_audio(tmp_path / "gone.wav")


def test_folder(tmp_path: Path) -> None:
    with pytest.raises(BadAudio, match=r"a folder; choose an audio file in it"):
        inspect(tmp_path)


def test_name_too_long_for_the_system(tmp_path: Path) -> None:
    with pytest.raises(BadAudio, match="cannot be opened") as caught:
        inspect(tmp_path / ("x" * 5000))
    assert len(str(caught.value)) < 250


def test_name_with_a_zero_in_it() -> None:
    with pytest.raises(BadAudio, match=r"a�b\.wav: cannot be opened"):
        inspect("a\0b.wav")


def test_link_to_itself(tmp_path: Path) -> None:
    (tmp_path / "round.wav").symlink_to(tmp_path / "round.wav")
    with pytest.raises(BadAudio, match="cannot be opened"):
        inspect(tmp_path / "round.wav")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_named_pipe_does_not_block(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    with pytest.raises(BadAudio, match="a pipe or a device; choose an ordinary file"):
        inspect(tmp_path / "pipe.wav")


@pytest.mark.skipif(sys.platform == "win32", reason="no such device")
def test_device() -> None:
    with pytest.raises(BadAudio, match="a pipe or a device"):
        inspect("/dev/zero")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all")
def test_unreadable(tmp_path: Path) -> None:
    path = tmp_path / "locked.wav"
    write(path, music())
    path.chmod(0)
    with pytest.raises(BadAudio, match="may not be read; change its permissions"):
        inspect(path)


def test_permission_denied_by_the_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same for root, whom no permission stops."""

    def refuse(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    write(tmp_path / "locked.wav", music())
    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(BadAudio, match="may not be read; change its permissions"):
        inspect(tmp_path / "locked.wav")


def test_inspect_reads_the_header(tmp_path: Path) -> None:
    write(tmp_path / "five.wav", music(channels=5), subtype="PCM_24")
    info = inspect(tmp_path / "five.wav")
    assert (info.container, info.encoding) == ("WAV", "PCM_24")
    assert (info.rate_hz, info.channels, info.seconds) == (48_000, 5, SECONDS)


def test_a_claimed_length_is_not_believed(tmp_path: Path) -> None:
    """A FLAC of unknown length (RFC 9639, 8.2: 0 samples in all) is read to its end."""
    case = next(case for case in AWKWARD if case.name == "no length.flac")
    info = inspect(_built(case, tmp_path))
    assert info.frames is None
    assert info.seconds is None


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "FLOAT"])
def test_48_khz_stereo_comes_through_bit_for_bit(subtype: str, tmp_path: Path) -> None:
    write(tmp_path / "a.wav", music(), subtype=subtype)
    expected, _ = soundfile.read(tmp_path / "a.wav", dtype="float32")
    np.testing.assert_array_equal(read_audio(tmp_path / "a.wav").samples, expected)


def test_mono_comes_out_of_both_sides(tmp_path: Path) -> None:
    write(tmp_path / "a.wav", music(channels=1), subtype="FLOAT")
    samples = read_audio(tmp_path / "a.wav").samples
    np.testing.assert_array_equal(samples[:, 0], samples[:, 1])
    np.testing.assert_array_equal(samples[:, 0], music(channels=1)[:, 0].astype(np.float32))


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 44_100, 48_000, 96_000])
@pytest.mark.parametrize(("start_s", "seconds"), [(0.0, 2.5), (1.234567, 2.1), (3.0, None)])
def test_a_stretch_equals_that_stretch_of_the_whole(
    rate_hz: int, start_s: float, seconds: float | None, tmp_path: Path
) -> None:
    """To float32 rounding in the filter, 1e-6 where the sound peaks at 0.5."""
    write(tmp_path / "a.flac", music(6.0, rate_hz), rate_hz, subtype="PCM_24")
    whole = read_audio(tmp_path / "a.flac").samples
    stretch = read_audio(tmp_path / "a.flac", start_s, seconds).samples
    first = round(start_s * RATE_HZ)
    last = len(whole) if seconds is None else first + round(seconds * RATE_HZ)
    assert len(stretch) == last - first
    np.testing.assert_allclose(stretch, whole[first:last], atol=1e-6)


@pytest.mark.parametrize("suffix", ["ogg", "mp3"])
def test_a_stretch_of_a_lossy_file(suffix: str, tmp_path: Path) -> None:
    write(tmp_path / f"a.{suffix}", music(6.0))
    whole = read_audio(tmp_path / f"a.{suffix}").samples
    stretch = read_audio(tmp_path / f"a.{suffix}", 3.1, 2.2).samples
    np.testing.assert_allclose(stretch, whole[148_800 : 148_800 + 105_600], atol=1e-5)


def test_a_stretch_behind_the_damage_is_not_there(tmp_path: Path) -> None:
    """Nothing is made up: what cannot be decoded is missing, not silent."""
    case = next(case for case in AWKWARD if case.name == "damaged.flac")
    path = _built(case, tmp_path)
    assert len(read_stretch(path, 0.0, 2.9).samples) < 2.9 * RATE_HZ
    with pytest.raises(BadAudio, match="s long; at least 2 s"):
        read_audio(path, 2.9, 2.5)


def test_a_stretch_beyond_the_end(tmp_path: Path) -> None:
    write(tmp_path / "a.wav", music())
    with pytest.raises(BadAudio, match="ends before 50 s; choose a stretch that begins"):
        read_audio(tmp_path / "a.wav", 50.0)


def test_more_than_ten_minutes_at_once_is_refused(tmp_path: Path) -> None:
    with open(tmp_path / "long.wav", "wb") as handle:
        frames = 611 * 8000
        handle.write(wav_header(frames * 2, 8000, 1))
        handle.truncate(44 + frames * 2)
    with pytest.raises(BadAudio, match="longer than 10 minutes from 0 s on; ask for a stretch"):
        read_audio(tmp_path / "long.wav")
    with pytest.raises(BadAudio, match="601 s is more than is read at once"):
        read_audio(tmp_path / "long.wav", 0.0, 601.0)


def test_blocks_are_small_and_whole(tmp_path: Path) -> None:
    write(tmp_path / "a.wav", music(7.0, channels=4), subtype="FLOAT")
    with open_audio(tmp_path / "a.wav") as stream:
        blocks = list(stream.blocks())
        assert stream.done == 1.0
        assert stream.reached == 7 * RATE_HZ
    assert max(map(len, blocks)) <= 1 << 16
    assert sum(map(len, blocks)) == 7 * RATE_HZ


def test_nothing_is_left_open(tmp_path: Path) -> None:
    """A file can be removed and renamed while the program goes on; refused ones too."""
    fds = Path("/proc/self/fd")
    if not fds.exists():
        pytest.skip("no list of open files here")
    write(tmp_path / "a.wav", music())
    (tmp_path / "b.wav").write_bytes(b"text" * 100)
    write(tmp_path / "c.wav", music(channels=9))
    before = len(list(fds.iterdir()))
    read_audio(tmp_path / "a.wav")
    for name in ("b.wav", "c.wav"):
        with pytest.raises(BadAudio, match=r"not audio|9 channels"):
            read_audio(tmp_path / name)
    assert len(list(fds.iterdir())) == before


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("format_name", ["WAV", "AIFF", "FLAC", "OGG", "MP3"])
def test_bytes_changed_at_random_never_escape(
    format_name: str, seed: int, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Sixty bytes changed, half of them in the first 200: sound, or BadAudio in one line.

    Nothing else reaches the screen but what libmpg123 says of bad MP3, which cannot be stilled.
    """
    path = tmp_path / f"fuzzed.{format_name.lower()}"
    write(path, music(2.5), format=format_name)
    content = bytearray(path.read_bytes())
    random = np.random.RandomState(seed)
    for place in (*random.randint(0, 200, 30), *random.randint(0, len(content), 30)):
        content[place] = random.randint(256)
    path.write_bytes(content)
    with pytest.raises((BadAudio, _Read), match=r"^[^\n]+$"):
        _read(path)
    out, err = capfd.readouterr()
    assert out == ""
    assert "Traceback" not in err
    if format_name != "MP3":
        assert err == ""


class _Read(Exception):
    """Reading went well."""


def _read(path: Path) -> None:
    assert np.isfinite(read_audio(path).samples).all()
    raise _Read("sound")
