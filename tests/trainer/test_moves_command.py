"""``namefirst moves`` on two files made here: the moves told in lines, and drawn."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pygame
import pytest
import soundfile

from exercises.bands import THIRD_OCTAVE_MID_HZ
from exercises.demo_loops import demo_loop
from exercises.moves import EqPoint, Ride, apply_moves
from exercises.revision import explain_revision
from exercises.samples import RATE_HZ
from tests.exercises.songs import song
from trainer.window.picture_shapes import HIGH, WIDE, Block, Stroke, Words, picture_svg
from trainer.window.revision_picture import revision_shapes, thirds_db

ROOT = Path(__file__).parents[2]
CUT = EqPoint(250.0, -6.0, 1.0)
DOWN_DB = -3.0
SVG = "{http://www.w3.org/2000/svg}"


def moves(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "trainer", "moves", *map(str, arguments)],
        cwd=ROOT,
        env=os.environ | {"SDL_VIDEODRIVER": "dummy", "PYTHONIOENCODING": "utf-8"},
        capture_output=True,
        encoding="utf-8",
        timeout=120,
    )


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A mix; and the same with one cut, its second passage ridden down, and half a second late."""
    folder = tmp_path_factory.mktemp("mixes")
    loop = demo_loop("ferry-crossing")
    before = loop.mix() * np.float32(0.5)
    after = apply_moves(before, (CUT, Ride(DOWN_DB, loop.passages[1])))
    after = np.concatenate([np.zeros((RATE_HZ // 2, 2), np.float32), after])
    soundfile.write(folder / "before.wav", before, RATE_HZ, subtype="PCM_24")
    soundfile.write(folder / "after & later.flac", after, RATE_HZ, subtype="PCM_24")
    return folder / "before.wav", folder / "after & later.flac"


def test_two_moves_are_told_and_drawn(files: tuple[Path, Path], tmp_path: Path) -> None:
    picture = tmp_path / "changed.svg"
    done = moves("--before", files[0], "--after", files[1], "--picture", picture)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert "starts 0.500 s later" in lines[0]
    assert "2 moves explain the rest:" in lines[1]
    told = "\n".join(lines[2:4])
    found = re.search(r"cut ([\d.]+) dB at ([\d.]+) Hz, Q ([\d.]+)", told)
    assert found is not None, told
    gain_db, freq_hz, q = map(float, found.groups())
    # A twelfth of an octave, half a decibel, a fifth of Q: what a mixer would call the same move.
    assert abs(np.log2(freq_hz / CUT.freq_hz)) < 1 / 12
    assert gain_db == pytest.approx(-CUT.gain_db, abs=0.5)
    assert q == pytest.approx(CUT.q, rel=0.2)
    ridden = re.search(r"ride down ([\d.]+) dB in '([\d.]+)-([\d.]+) s'", told)
    assert ridden is not None, told
    assert float(ridden[1]) == pytest.approx(-DOWN_DB, abs=0.5)
    assert float(ridden[2]) == pytest.approx(5.0, abs=0.1)
    assert lines[-1] == f"The picture is in {picture}."
    drawn = ET.parse(picture).getroot()
    texts = ["".join(each.itertext()) for each in drawn.iter(f"{SVG}text")]
    assert "before.wav, then after & later.flac" in texts
    assert all(line in texts for line in lines[1:-1])
    assert "rides, over time" in texts
    assert drawn.findtext(f"{SVG}title") == "What changed from before.wav to after & later.flac"


def test_the_same_picture_as_png(files: tuple[Path, Path], tmp_path: Path) -> None:
    picture = tmp_path / "changed.PNG"
    done = moves("--before", files[0], "--after", files[1], "--picture", picture)
    assert done.returncode == 0, done.stderr
    drawn = pygame.image.load(picture)
    assert drawn.get_size() == (2 * WIDE, 2 * HIGH)
    grey = pygame.surfarray.array3d(drawn).astype(int).sum(axis=2)
    assert (grey < 3 * 0x40).sum() > 5000  # ink: letters and bars


def shapes_of_a_cut() -> list[Words | Stroke | Block]:
    mix = demo_loop("gull-parade").mix()
    return revision_shapes(explain_revision(mix, apply_moves(mix, (CUT,))), "one", "two")


def test_bars_show_what_changed_and_that_the_moves_leave_nothing() -> None:
    mix = demo_loop("gull-parade").mix()
    changed, left = thirds_db(explain_revision(mix, apply_moves(mix, (CUT,))))
    lowest = int(np.nanargmin(changed))
    assert round(THIRD_OCTAVE_MID_HZ[lowest]) in (250, 251)
    high = THIRD_OCTAVE_MID_HZ.index(min(THIRD_OCTAVE_MID_HZ, key=lambda hz: abs(hz - 4000.0)))
    assert changed[high] - changed[lowest] == pytest.approx(6.0, abs=0.8)
    assert np.nanmax(np.abs(left)) < 0.3


def test_every_shape_lies_on_the_page() -> None:
    for shape in shapes_of_a_cut():
        if isinstance(shape, Words):
            assert 0 <= shape.x <= WIDE
            assert 0 < shape.baseline < HIGH
        elif isinstance(shape, Block):
            assert 0 <= shape.x <= shape.x + shape.width <= WIDE
            assert 0 <= shape.y <= shape.y + shape.height <= HIGH


def test_nothing_in_a_name_becomes_a_part_of_the_svg() -> None:
    words = Words(10, 10, '<script>"&')
    drawn = ET.fromstring(picture_svg("<b>", [words]).encode())
    assert drawn.findtext(f"{SVG}title") == "<b>"
    assert [each.text for each in drawn.iter(f"{SVG}text")] == ['<script>"&']


def test_the_same_file_twice_has_no_moves(files: tuple[Path, Path]) -> None:
    done = moves("--before", files[0], "--after", files[0])
    assert done.returncode == 0
    assert done.stdout == "As loud as before; nothing else changed.\n"


@pytest.mark.parametrize(
    ("case", "said"),
    [
        ("other music", "not the same music"),
        ("missing", "missing.wav"),
        ("no such picture", ".svg or .png"),
        ("there already", "is already there"),
        ("no folder", "cannot be written"),
        ("one file", "--after"),
    ],
)
def test_what_cannot_be_done_is_one_line_and_writes_nothing(
    files: tuple[Path, Path], tmp_path: Path, case: str, said: str
) -> None:
    before, after = files
    picture = tmp_path / ("picture.jpg" if case == "no such picture" else "picture.svg")
    if case == "other music":
        after = tmp_path / "song.wav"
        soundfile.write(after, song(bars=4), RATE_HZ)
    elif case == "missing":
        after = tmp_path / "missing.wav"
    elif case == "there already":
        picture.write_text("mine")
    elif case == "no folder":
        picture = tmp_path / "nowhere" / "picture.svg"
    words: list[str | Path] = ["--before", before, "--picture", picture]
    done = moves(*words, *([] if case == "one file" else ["--after", after]))
    assert done.returncode == 2
    lines = done.stderr.splitlines()
    assert len(lines) == 1
    assert said in lines[0]
    assert not picture.exists() or picture.read_text() == "mine"
