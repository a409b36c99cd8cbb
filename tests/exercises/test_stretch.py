"""Which stretch of a file, a folder of tracks or a loop a claim is about, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from exercises.equaliser import filter_loop, peaking
from exercises.errors import BadAudio, BadLoop
from exercises.loop_writing import write_loop
from exercises.samples import RATE_HZ, Samples, as_samples
from exercises.stretch import Asked, stretch_of_loop, stretch_of_path
from tests.exercises.test_build_up import pink
from tests.synthetic_loops import small_band


def written(path: Path, samples: Samples, rate_hz: int = RATE_HZ) -> Path:
    soundfile.write(path, samples, rate_hz, subtype="FLOAT")
    return path


def stretch(path: Path, asked: Asked | None = None):  # type: ignore[no-untyped-def]
    return stretch_of_path(path, asked or Asked(), 200.0, hollow=False)


def test_short_file_is_taken_whole(tmp_path: Path) -> None:
    sound = pink(5.0, 1)
    taken = stretch(written(tmp_path / "song.wav", sound))
    assert np.array_equal(taken.mix, sound)
    assert np.array_equal(taken.part, sound)
    assert (taken.title, taken.start_s, taken.found, taken.seamless) == ("song.wav", 0.0, 0, 0)


def test_of_a_long_file_the_stretch_with_the_build_up_is_found(tmp_path: Path) -> None:
    plain, thick = pink(32.0, 2), filter_loop(pink(32.0, 2), peaking(200.0, 8.0, 1.4))
    sound = plain.copy()
    sound[16 * RATE_HZ : 24 * RATE_HZ] = thick[16 * RATE_HZ : 24 * RATE_HZ]
    taken = stretch(written(tmp_path / "song.wav", sound))
    assert taken.found
    assert (taken.start_s, taken.seconds) == (16.0, 8.0)


def test_the_asked_stretch_is_taken_at_its_place(tmp_path: Path) -> None:
    sound = pink(12.0, 3)
    taken = stretch(written(tmp_path / "song.wav", sound), Asked(None, 2.5, 6.0))
    assert np.array_equal(taken.mix, sound[round(2.5 * RATE_HZ) : 6 * RATE_HZ])
    assert taken.start_s == 2.5
    assert not taken.found


@pytest.mark.parametrize(
    ("asked", "match"),
    [
        (Asked(None, 3.0, 4.0), "2 to 60 seconds"),
        (Asked(None, 8.0, 3.0), "2 to 60 seconds"),
        (Asked(None, 0.0, 70.0), "2 to 60 seconds"),
        (Asked(None, 30.0, 40.0), "it ends at 12.0 s"),
        (Asked("bass"), "leave --track out"),
    ],
)
def test_a_stretch_that_is_not_there_is_refused(tmp_path: Path, asked: Asked, match: str) -> None:
    path = written(tmp_path / "song.wav", pink(12.0, 3))
    with pytest.raises(BadAudio, match=match):
        stretch(path, asked)


def test_tracks_of_a_folder_are_summed_and_one_is_the_part(tmp_path: Path) -> None:
    drums, bass = pink(4.0, 4), pink(4.0, 5)
    written(tmp_path / "drums.wav", drums)
    written(tmp_path / "bass.wav", bass)
    taken = stretch(tmp_path, Asked("bass"))
    assert np.allclose(taken.mix, drums + bass, atol=1e-7)
    assert np.array_equal(taken.part, bass)
    with pytest.raises(BadAudio, match="no track 'keys'; it has bass, drums"):
        stretch(tmp_path, Asked("keys"))


def test_a_whole_loop_goes_round_without_a_seam_and_knows_its_passages(tmp_path: Path) -> None:
    loop = small_band(4.0)
    taken = stretch_of_loop(loop, Asked("bass"))
    assert taken.seamless
    assert np.array_equal(taken.part, loop.track("bass").samples)
    part = stretch_of_loop(loop, Asked(None, 1.0, 3.5))
    assert not part.seamless
    assert np.array_equal(part.mix, loop.mix()[RATE_HZ : round(3.5 * RATE_HZ)])
    with pytest.raises(BadAudio, match=r"it ends at 4\.00 s"):
        stretch_of_loop(loop, Asked(None, 1.0, 5.0))
    with pytest.raises(BadLoop, match="no track 'harp'"):
        stretch_of_loop(loop, Asked("harp"))
    write_loop(small_band(4.0, level_db=-12.0), tmp_path / "band")
    assert stretch(tmp_path / "band").seamless


def test_silence_and_nothing_are_refused(tmp_path: Path) -> None:
    silent = written(tmp_path / "silent.wav", as_samples(np.zeros((4 * RATE_HZ, 2))))
    with pytest.raises(BadAudio, match="silent here"):
        stretch(silent)
    with pytest.raises(BadAudio, match="no such file"):
        stretch(tmp_path / "nothing.wav")
    (tmp_path / "empty").mkdir()
    with pytest.raises(BadAudio, match="0 audio files"):
        stretch(tmp_path / "empty")
