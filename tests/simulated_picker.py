"""Listeners to choices of fixes, each with one way to pick: by ear, by chance, or by what should
give nothing away."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping

from exercises.loudness import loudness_lufs
from exercises.residual import difference, measure
from exercises.samples import Samples
from trainer.choice_round import ChoiceRound

_measured: dict[int, tuple[Samples, float]] = {}
Picker = Callable[[ChoiceRound, Mapping[str, Samples]], int]
"""A round and what is played of it, by name; gives a number from 1."""


def by_ear(round_: ChoiceRound, sounds: Mapping[str, Samples]) -> int:
    """Hears well: of those that cannot be told from A, as they are played, the fewest moves."""

    passages = round_.loop.passages
    a = measure(sounds["A"], passages)

    def key(number: int) -> tuple[bool, int]:
        left = difference(measure(sounds[str(number)], passages), a)
        return left.heard, round_.offered[number - 1].moves

    return min(round_.numbers, key=key)


def by_chance(seed: int) -> Picker:
    """Guesses."""
    draws = random.Random(seed)
    return lambda round_, _: 1 + int(draws.random() * len(round_.numbers))


def always(number: int) -> Picker:
    """Takes the same number every time."""
    return lambda _round, _sounds: number


def most_moves(round_: ChoiceRound, _: Mapping[str, Samples]) -> int:
    """Takes what looks like most work."""
    return max(round_.numbers, key=lambda number: round_.offered[number - 1].moves)


def fewest_moves_by_number(round_: ChoiceRound, _: Mapping[str, Samples]) -> int:
    """Looks at the counts alone: the first of the fewest."""
    return min(round_.numbers, key=lambda number: round_.offered[number - 1].moves)


def loudest(round_: ChoiceRound, sounds: Mapping[str, Samples]) -> int:
    """Takes the loudest, to a tenth of a LU, by BS.1770; of those alike the first."""
    return max(round_.numbers, key=lambda number: _tenths_lufs(sounds[str(number)]))


def softest(round_: ChoiceRound, sounds: Mapping[str, Samples]) -> int:
    """Takes the softest, in the same way."""
    return min(round_.numbers, key=lambda number: _tenths_lufs(sounds[str(number)]))


def longest(round_: ChoiceRound, sounds: Mapping[str, Samples]) -> int:
    """Takes the largest sound, as a file or a buffer."""
    return max(round_.numbers, key=lambda number: sounds[str(number)].nbytes)


def _tenths_lufs(sound: Samples) -> float:
    """Measured once a sound, which is held so that no other takes its identity."""
    if id(sound) not in _measured:
        _measured[id(sound)] = (sound, round(loudness_lufs(sound), 1))
    return _measured[id(sound)][1]
