"""What can be heard of a question, and how long each was, in the window as in the terminal."""

from __future__ import annotations

import numpy as np
import pytest

from exercises.samples import RATE_HZ, Samples
from trainer.plates import Plates
from trainer.playhead import Playhead


def level(value: float) -> Samples:
    return np.full((2 * RATE_HZ, 2), value, dtype=np.float32)


def alone(track: str) -> tuple[Samples, Samples]:
    assert track == "bass"
    return level(0.3), level(0.4)


@pytest.fixture
def playhead() -> Playhead:
    return Playhead(0.0)


@pytest.fixture
def plates(playhead: Playhead) -> Plates:
    made = Plates(playhead, {"B": level(0.2), "A": level(0.1)})
    playhead.play()
    return made


def sounded(playhead: Playhead, seconds: float = 1.0) -> float:
    """What sounds after ``seconds`` more."""
    out = np.empty((round(seconds * RATE_HZ), 2), dtype=np.float32)
    playhead.fill(out)
    return float(out[-1, 0])


def test_a_track_alone_is_heard_in_both_and_counts_for_its_letter(
    playhead: Playhead, plates: Plates
) -> None:
    assert (plates.letter, sounded(playhead)) == ("B", pytest.approx(0.2))
    plates.solo("bass", alone)
    assert (plates.soloed, plates.letter, sounded(playhead)) == ("bass", "B", pytest.approx(0.4))
    playhead.choose(plates.named("A"))
    assert (plates.letter, sounded(playhead)) == ("A", pytest.approx(0.3))
    plates.solo(None, alone)
    assert (plates.soloed, plates.letter, sounded(playhead)) == (None, "A", pytest.approx(0.1))
    assert plates.heard_s("B") == pytest.approx(2.0, abs=0.05)
    assert plates.heard_s("A") == pytest.approx(2.0, abs=0.05)
    assert plates.alone_s == pytest.approx(2.0, abs=0.05)


def test_what_comes_in_or_is_put_in_place_leaves_the_rest_as_it_was(
    playhead: Playhead, plates: Plates
) -> None:
    sounded(playhead)
    playhead.choose("A")
    sounded(playhead)
    plates.add({"fix": level(0.5)})
    assert plates.has("fix")
    assert (plates.letter, sounded(playhead)) == ("A", pytest.approx(0.1))
    plates.replace("A", level(0.6))
    assert sounded(playhead) == pytest.approx(0.6)
    assert plates.heard_s("A") == pytest.approx(3.0, abs=0.05)
    assert plates.switches == 1


def test_the_window_sounds_the_same_plates() -> None:
    pytest.importorskip("pygame")
    from trainer.window.sound import Sound

    sound = Sound(0.0, lambda said: None, silent=True)
    assert not sound.has("B")
    sound.take({"B": level(0.2), "A": level(0.1)})
    sound.choose("A")
    sound.next_of(("A", "B"))
    sound.solo("bass", alone)
    assert (sound.soloed, sound.letter, sound.playhead.playing) == ("bass", "B", True)
    assert sounded(sound.playhead) == pytest.approx(0.4)
    sound.take({"B": level(0.7), "A": level(0.1)})
    assert (sound.soloed, sound.letter, sound.heard_s("B"), sound.switches) == (None, "B", 0.0, 0)
    assert sounded(sound.playhead) == pytest.approx(0.7)


def test_a_passage_that_is_repeated_still_is_when_a_sound_comes_in(
    playhead: Playhead, plates: Plates
) -> None:
    start, stop = RATE_HZ // 2, RATE_HZ
    playhead.loop_region(start, stop)
    sounded(playhead)
    plates.add({"X": level(0.5)})
    playhead.choose("X")
    for _ in range(9):
        assert sounded(playhead, 0.3) == pytest.approx(0.5)
        assert start <= playhead.position_frames < stop
    plates.solo("bass", alone)
    sounded(playhead)
    assert start <= playhead.position_frames < stop
    assert playhead.region == (start, stop)
    Plates(playhead, {"B": level(0.2)})
    assert playhead.region is None
