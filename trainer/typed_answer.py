"""What a line typed during a drill means: an answer, or part of one, or something to do.

An answer is a kind, a frequency, or both: "too much 200", "1 200", "much 3.2k", "nothing". The
kinds may go by their numbers (1 too much, 2 too little ...) and without their "too"; a question
mark at the end says that it is a guess. Where track and passage are asked they come in any order,
shortened to what is clear: "too much 200 guitar damped" (``typed_place``). Pure.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from typing import Final

from exercises.bands import BANDS, read_hz
from exercises.kinds import TONE, Kind
from trainer.typed_place import (
    NOWHERE,
    Places,
    named_track,
    shown,
    split_place,
)
from trainer.typed_place import NotUnderstood as NotUnderstood

LONGEST_WAIT_S: Final = 600.0
_MOST_STEPS: Final = 3


class Command(Enum):
    """What can be asked for by one word, with all that it may be typed as."""

    A = ("a",)
    B = ("b",)
    FIX = ("f", "fix")
    EXAGGERATED = ("x", "exaggerated")
    REGION = ("r", "region")
    PASSAGE = ("w", "passage")
    ALONE = ("l", "alone")
    PLAY_OR_STOP = ("s", "stop", "play")
    HELP = ("?", "h", "help")
    QUIT = ("q", "quit", "exit")
    GO_ON = ("", "n", "next")


@dataclass(frozen=True, slots=True)
class VolumeSteps:
    """So many steps louder, or softer where negative; three at most in one go."""

    steps: int


@dataclass(frozen=True, slots=True)
class Wait:
    """Let the sound go on for so many seconds before the next line is read."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Alone:
    """Let one track be heard by itself."""

    track: str


@dataclass(frozen=True, slots=True)
class Said:
    """An answer or a part of one; what is None was left open."""

    kind: Kind | None
    freq_hz: float | None
    guessing: bool
    track: str | None = None
    passage: str | None = None


Typed = Command | VolumeSteps | Wait | Alone | Said


class NoAnswer(NotUnderstood):
    """What was typed is no answer either; the message says what one is."""


def read_command(line: str) -> Typed:
    """What ``line`` means where nothing is to be answered.

    Raises:
        NotUnderstood: nothing; the message is for the learner.
    """
    try:
        return read_line(line)
    except NoAnswer:
        raise NotUnderstood(
            f"'{shown(line.strip())}' means nothing here; ? tells what can be typed"
        ) from None


def read_line(line: str, places: Places = NOWHERE) -> Typed:
    """What ``line`` means, ``places`` being what may be named beside kind and frequency.

    Raises:
        NotUnderstood: nothing; the message is for the learner.
    """
    text = " ".join(line.lower().split())
    for command in Command:
        if text in command.value:
            return command
    if text.strip("+=") == "":
        return VolumeSteps(min(_MOST_STEPS, len(text)))
    if text.strip("-\N{MINUS SIGN}") == "":
        return VolumeSteps(-min(_MOST_STEPS, len(text)))
    if text.split()[0] == "wait":
        return _read_wait(text)
    if text.split()[0] == Command.ALONE.value[0] and places.tracks:
        return Alone(named_track(text.removeprefix(Command.ALONE.value[0]), places))
    return _read_answer(text, places)


def kind_called(text: str) -> Kind | None:
    """The kind that goes by ``text`` ("too much", "much", "1"), or None."""
    plain = " ".join(text.lower().split())
    for number, kind in enumerate(Kind, start=1):
        if plain in (kind.value, kind.value.removeprefix("too "), str(number)):
            return kind
    return None


def _read_wait(text: str) -> Wait:
    try:
        seconds = float(text.removeprefix("wait").replace(",", "."))
    except ValueError:
        seconds = -1.0
    if not 0.0 <= seconds <= LONGEST_WAIT_S:
        raise NotUnderstood(f"'wait' needs seconds, {LONGEST_WAIT_S:.0f} at most, as in: wait 2")
    return Wait(seconds)


def _read_answer(text: str, places: Places) -> Said:
    guessing = text.endswith("?")
    words = text.rstrip("? ")
    if not places.tracks and not places.passages:
        return _read_problem(words, guessing)
    split = split_place(words, places, lambda words: kind_called(words) is not None)
    said = _read_problem(split.rest, guessing) if split.rest else Said(None, None, guessing)
    return replace(said, track=split.track, passage=split.passage)


def _read_problem(words: str, guessing: bool) -> Said:
    if kind := kind_called(words):
        return Said(kind, None, guessing)
    if freq_hz := read_hz(words):
        return Said(None, freq_hz, guessing)
    kind, place = _split(words)
    if kind is None:
        number, _, place = words.partition(" ")
        if number.isdigit() and read_hz(place) is not None:
            raise NoAnswer(f"there is no kind {number}; they are 1 to {len(Kind)}")
        if words[:1].isdigit():
            raise NoAnswer(_no_frequency(words))
        raise NoAnswer(f"'{shown(words)}' is no answer; try: too much 200, or ? for help")
    if kind not in TONE:
        raise NoAnswer(f"'{kind}' has no frequency; leave out '{shown(place)}'")
    freq_hz = read_hz(place)
    if freq_hz is None:
        raise NoAnswer(_no_frequency(place))
    return Said(kind, freq_hz, guessing)


def _split(words: str) -> tuple[Kind | None, str]:
    """The kind at the front of ``words``, of two words or one, and what follows it."""
    parts = words.split()
    for count in (2, 1):
        kind = kind_called(" ".join(parts[:count]))
        if kind is not None and len(parts) > count:
            rest = parts[count:]
            # "too much at 200" is how it is said.
            return kind, " ".join(rest[1:] if rest[0] == "at" else rest)
    return None, words


def _no_frequency(text: str) -> str:
    for band in BANDS:
        if text in (band.too_much, band.too_little):
            return f"'{text}' is a word for the {band.name} band; say where, as in: 200, or 3.2k"
    return f"'{shown(text)}' is no frequency from 20 Hz to 20 kHz; try: 200, or 3.2k"
