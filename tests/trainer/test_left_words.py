"""What is left of a problem is said with the place where most of it is."""

from __future__ import annotations

import numpy as np
import pytest

from exercises.spectrum import Difference
from trainer.words import left_sentence


def left(third_octave: dict[int, float], moment: dict[int, float]) -> Difference:
    tone, level = np.zeros(30), np.zeros(80)
    tone[list(third_octave)] = list(third_octave.values())
    level[list(moment)] = list(moment.values())
    return Difference(tone, level)


@pytest.mark.parametrize(
    ("of", "said"),
    [
        # The eighth third octave from 25 Hz is that of 125 Hz (IEC 61260-1:2014, from memory).
        (left({7: -9.7}, {21: -5.0}), " and both as loud, 9.7 dB is left at most, near 130 Hz."),
        (left({16: 3.0, 17: 2.9}, {}), " and both as loud, 3.0 dB is left at most, near 1 kHz."),
        (
            left({16: 3.0}, {21: -5.04}),
            " and both as loud, 5.0 dB is left at most, at 2.1 s of the loop.",
        ),
        (left({16: 0.04}, {21: -0.04}), ", nothing is left of it."),
    ],
)
def test_what_is_left_is_said_with_its_place(of: Difference, said: str) -> None:
    assert left_sentence(of) == f"With your answer undone{said}"


def test_who_named_nothing_undid_nothing() -> None:
    said = left_sentence(left({7: -9.7}, {21: -5.0}), undone=False)
    assert said == "With B left as it is and both as loud, 9.7 dB is left at most, near 130 Hz."
    assert "undone" not in left_sentence(left({16: 0.04}, {}), undone=False)


def test_a_moment_within_a_passage_is_told_in_seconds_of_the_loop() -> None:
    said = left_sentence(left({16: 3.0}, {21: -5.0}), 8.0)
    undone = "With your answer undone and both as loud"
    assert said == f"{undone}, 5.0 dB is left at most, at 10.1 s of the loop."
