"""A loop written as a folder is read back as the same loop, and nothing is ever overwritten."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from exercises.errors import BadLoop
from exercises.loop_writing import slug, write_loop
from exercises.loops import Loop, Passage, Track, fingerprint, read_loop


def _loop(seed: int = 1, kind: str = "noise", frames: int = 50_000) -> Loop:
    random = np.random.RandomState(seed)
    values = {
        "noise": random.uniform(-0.99, 0.99, (2, frames, 2)),
        "16 bits": random.randint(-32767, 32768, (2, frames, 2)) / 32768.0,
        # Half-way between two 16-bit steps, where rounding could go either way, and next to it.
        "ties": (random.randint(-30000, 30000, (2, frames, 2)) + 0.5) / 32768.0,
        "near ties": (random.randint(-30000, 30000, (2, frames, 2)) + 0.4999) / 32768.0,
        "quiet": random.uniform(-2e-5, 2e-5, (2, frames, 2)),
    }[kind].astype(np.float32)
    tracks = (Track("drums", values[0]), Track("Geige / Übung: 2", values[1]))
    return Loop(
        name="a",
        title='Ferry "crossing" — 新しい曲',
        style="own material",
        tracks=tracks,
        passages=(Passage("bars 1-2", 0, 20_000), Passage("bars 3-4", 20_000, frames)),
        fingerprint=fingerprint(tracks),
        tempo_bpm=103.97,
        beats_per_bar=3,
        bars=4,
    )


@pytest.mark.parametrize("kind", ["noise", "16 bits", "ties", "near ties", "quiet"])
def test_the_same_loop_comes_back(kind: str, tmp_path: Path) -> None:
    """Fingerprint to the bit; samples to a 24-bit step and a half (ties move by one more)."""
    loop = _loop(kind=kind)
    write_loop(loop, tmp_path / "shelf" / "a")
    back = read_loop(tmp_path / "shelf" / "a")
    assert back.fingerprint == loop.fingerprint
    for field in ("name", "title", "style", "passages", "tempo_bpm", "beats_per_bar", "bars"):
        assert getattr(back, field) == getattr(loop, field)
    for ours, theirs in zip(loop.tracks, back.tracks, strict=True):
        assert ours.name == theirs.name
        np.testing.assert_allclose(theirs.samples, ours.samples, atol=1.5 * 2.0**-23)


def test_what_is_not_known_is_left_out(tmp_path: Path) -> None:
    write_loop(replace(_loop(), tempo_bpm=None, bars=None), tmp_path / "a")
    back = read_loop(tmp_path / "a")
    assert (back.tempo_bpm, back.bars) == (None, None)


def test_files_are_flac_of_24_bits_with_plain_names(tmp_path: Path) -> None:
    write_loop(_loop(), tmp_path / "a")
    names = sorted(path.name for path in (tmp_path / "a").iterdir())
    assert names == ["01-drums.flac", "02-geige-ubung-2.flac", "loop.toml"]
    info = soundfile.info(tmp_path / "a" / names[0])
    assert (info.format, info.subtype, info.samplerate) == ("FLAC", "PCM_24", 48_000)


@pytest.mark.parametrize("there", ["folder", "empty folder", "file"])
def test_nothing_is_overwritten(there: str, tmp_path: Path) -> None:
    if there == "file":
        (tmp_path / "a").write_text("keep me")
    else:
        (tmp_path / "a").mkdir()
    if there == "folder":
        (tmp_path / "a" / "loop.toml").write_text("keep me")
    with pytest.raises(BadLoop, match="is already there; choose another name or remove it first"):
        write_loop(_loop(), tmp_path / "a")
    assert [path.name for path in tmp_path.iterdir()] == ["a"]
    if there == "file":
        assert (tmp_path / "a").read_text() == "keep me"


def test_over_full_scale_is_refused(tmp_path: Path) -> None:
    hot = Track("drums", np.full((1000, 2), 1.01, dtype=np.float32))
    with pytest.raises(BadLoop, match="track 'drums' exceeds full scale; turn all tracks down"):
        write_loop(replace(_loop(), tracks=(hot,)), tmp_path / "a")
    assert not (tmp_path / "a").exists()


def test_a_fault_in_the_middle_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    written: list[object] = []

    def full_disk(path: object, *_: object, **__: object) -> None:
        written.append(path)
        if len(written) == 2:
            raise OSError(28, "No space left on device")
        Path(str(path)).write_bytes(b"half")

    monkeypatch.setattr(soundfile, "write", full_disk)
    with pytest.raises(BadLoop, match=r"cannot be written .*No space left.*; make room"):
        write_loop(_loop(), tmp_path / "a")
    assert len(written) == 2
    assert list(tmp_path.iterdir()) == []


def test_where_no_folder_can_be(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(BadLoop, match="cannot be written"):
        write_loop(_loop(), tmp_path / "file" / "a")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Ferry crossing", "ferry-crossing"),
        ("Übung für Geige, Nr. 2", "ubung-fur-geige-nr-2"),
        ("../../etc/passwd", "etc-passwd"),
        ("新しい曲", "loop"),
        ("", "loop"),
        ("a" * 100, "a" * 40),
        ("x" * 39 + " y", "x" * 39),
        ("C:\\con?*", "c-con"),
    ],
)
def test_slugs(text: str, expected: str) -> None:
    assert slug(text) == expected
