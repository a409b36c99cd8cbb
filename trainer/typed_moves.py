"""What a line typed in an open round means: a move, one taken out, or something to do. Pure.

    cut 6 at 186          cut 6 at 3.2k q 2       boost 3 at 200
    shelf low 120 -3      shelf high 8k +2        ride open -2
    compress 4            compress 4 ratio 6      expand 3 slow
    2 cut 5 at 200        in the place of move 2
    take out 2            hear                    done

A passage is shortened to what is clear, as in an answer. Attack and release go by one word.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum
from typing import Final

from exercises.bands import read_hz
from exercises.loops import Passage
from exercises.moves import EqPoint, HighShelf, LowShelf, Move, Ride
from exercises.time_fitting import TIMINGS
from trainer.own_moves import Dynamics, OwnSort, first_of
from trainer.typed_answer import Said, Typed, read_line
from trainer.typed_place import NotUnderstood, Places, named_track, shown


class OpenCommand(Enum):
    """What can be asked for beside what any round knows."""

    HEAR = ("hear", "f", "yours")
    LIST = ("list", "moves")
    DONE = ("done", "")


@dataclass(frozen=True, slots=True)
class TypedMove:
    """A move, and the number of the one whose place it takes; None: a new one."""

    move: Move
    number: int | None = None


@dataclass(frozen=True, slots=True)
class TakeOut:
    """The move of this number goes out."""

    number: int


_EXAMPLES: Final = {
    "cut": "cut 6 at 186",
    "boost": "boost 3 at 2k",
    "shelf": "shelf low 120 -3",
    "ride": "ride {passage} -2",
    "compress": "compress 4 ratio 6",
    "expand": "expand 3 slow",
    "take": "take out 2",
}
_SPEEDS: Final = dict(zip(("quick", "middle", "slow"), TIMINGS, strict=True))
_NUMBER: Final = r"[-+]?\d+(?:[.,]\d+)?"
_POINT: Final = re.compile(
    rf"(?P<turn>cut|boost) (?P<db>{_NUMBER})(?: at)? (?P<hz>\S+(?: hz)?)(?: q (?P<q>{_NUMBER}))?"
)
_SHELF: Final = re.compile(
    rf"(?:shelf (?P<end>low|high)|(?P<end_first>low|high) shelf) (?P<hz>\S+) (?P<db>{_NUMBER})"
)
_RIDE: Final = re.compile(rf"ride (?P<passage>.+) (?P<db>{_NUMBER})")
_DYNAMICS: Final = re.compile(
    rf"(?P<sort>compress|expand) (?P<db>{_NUMBER})(?: ratio (?P<ratio>{_NUMBER}))?"
    rf"(?: (?P<speed>{'|'.join(_SPEEDS)}))?"
)
_OUT: Final = re.compile(r"(?:take )?out (?P<number>\d+)")
_IN_PLACE: Final = re.compile(r"(?P<number>\d) (?P<rest>[a-z].*)")


def read_open_line(
    line: str, track: str | None, passages: Sequence[Passage]
) -> Typed | OpenCommand | TypedMove | TakeOut:
    """What ``line`` means where the problem sits on ``track`` of a loop of ``passages``.

    Raises:
        NotUnderstood: nothing; the message is for the learner.
    """
    text = " ".join(line.lower().replace("\N{MINUS SIGN}", "-").split())
    for command in OpenCommand:
        if text in command.value:
            return command
    text = re.sub(r"(?<=\d) ?db\b", "", text)
    if out := _OUT.fullmatch(text):
        return TakeOut(int(out["number"]))
    if there := _IN_PLACE.fullmatch(text):
        return TypedMove(_read_move(there["rest"], track, passages), int(there["number"]))
    if _rule_of(text) is not None:
        return TypedMove(_read_move(text, track, passages))
    try:
        typed = read_line(line)
    except NotUnderstood:
        typed = None
    if typed is None or isinstance(typed, Said):  # an answer to a question is none here
        raise NotUnderstood(f"'{shown(text)}' is no move; try: cut 6 at 186, or ? for help")
    return typed


def _rule_of(text: str) -> str | None:
    """The word that says which rule a line must follow."""
    words = text.split()[:2]
    return next((word for word in words if word in _EXAMPLES), None)


def _read_move(text: str, track: str | None, passages: Sequence[Passage]) -> Move:
    if found := _POINT.fullmatch(text):
        size_db = abs(_number(found["db"]))
        gain_db = -size_db if found["turn"] == "cut" else size_db
        point = EqPoint(_hz(found["hz"]), gain_db, track=track)
        return replace(point, q=_number(found["q"])) if found["q"] else point
    if found := _SHELF.fullmatch(text):
        low = (found["end"] or found["end_first"]) == "low"
        return (LowShelf if low else HighShelf)(_hz(found["hz"]), _number(found["db"]), track)
    if (found := _RIDE.fullmatch(text)) and len(passages) > 1:
        name = named_track(found["passage"], Places(tuple(each.name for each in passages)))
        passage = next(each for each in passages if each.name == name)
        return Ride(_number(found["db"]), passage, track)
    if found := _DYNAMICS.fullmatch(text):
        sort = OwnSort.COMPRESSOR if found["sort"] == "compress" else OwnSort.EXPANDER
        move = first_of(sort, track, passages)
        assert isinstance(move, Dynamics)
        return replace(
            move,
            size_db=_number(found["db"]),
            ratio=_number(found["ratio"]) if found["ratio"] else move.ratio,
            timing=_SPEEDS[found["speed"]] if found["speed"] else move.timing,
        )
    rule = _rule_of(text) or "cut"
    if rule == "ride" and len(passages) < 2:
        raise NotUnderstood("this loop is one passage: there is nothing to ride")
    example = _EXAMPLES[rule].format(passage=passages[0].name if passages else "")
    raise NotUnderstood(f"'{shown(text)}' is not clear; try: {example}")


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _hz(text: str) -> float:
    freq_hz = read_hz(text)
    if freq_hz is None:
        raise NotUnderstood(f"'{shown(text)}' is no frequency from 20 Hz to 20 kHz")
    return freq_hz
