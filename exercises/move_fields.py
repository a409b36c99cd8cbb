"""Moves as plain data: for a record, a file, or anything that holds JSON.

One object a move: "move" says which, the rest are its fields by their own names and units.

    {"move": "eq point", "freq_hz": 200.0, "gain_db": -6.0, "q": 1.4, "track": "guitar"}
    {"move": "ride", "gain_db": 2.0, "passage": {"name": "verse", "start_frame": 0, ...}}
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from typing import Any, Final

from exercises.compressor import Timing
from exercises.loops import Passage
from exercises.moves import Compressor, EqPoint, Expander, Fix, HighShelf, LowShelf, Move, Ride
from exercises.samples import RATE_HZ

MOST_MOVES: Final = 64
"""More than any fix that was ever offered; a longer list is no fix."""
_LONGEST_FRAMES: Final = 24 * 3600 * RATE_HZ

_NAMES: Final[dict[type[Move], str]] = {
    EqPoint: "eq point",
    LowShelf: "low shelf",
    HighShelf: "high shelf",
    Ride: "ride",
    Compressor: "compressor",
    Expander: "expander",
}
_LATER: Final[dict[type, frozenset[str]]] = dict.fromkeys(
    (EqPoint, LowShelf, HighShelf), frozenset({"passage"})
)
"""Fields that an earlier version did not have; left out where there is none."""
_KINDS: Final = {name: kind for kind, name in _NAMES.items()}
_RANGES: Final = {
    "freq_hz": (10.0, 24_000.0),
    "gain_db": (-60.0, 60.0),
    "q": (0.05, 100.0),
    "size_db": (0.0, 60.0),
    "ratio": (1.0, 1000.0),
    "attack_s": (1e-6, 60.0),
    "release_s": (1e-6, 60.0),
}


def move_to_dict(move: Move) -> dict[str, Any]:
    """The fields of ``move``, as JSON holds them; ``read_move`` takes them back."""
    later = _LATER.get(type(move), frozenset())
    fields = dataclasses.asdict(move).items()
    return {"move": _NAMES[type(move)]} | {
        name: value for name, value in fields if value is not None or name not in later
    }


def fix_to_list(fix: Fix) -> list[dict[str, Any]]:
    """The moves of ``fix`` in order; ``read_fix`` takes them back."""
    return [move_to_dict(move) for move in fix]


def read_move(fields: object) -> Move:
    """The move in ``fields``, as ``move_to_dict`` gave them.

    Raises:
        ValueError: a field is unknown, missing, of the wrong type or out of range; the error
            names it.
    """
    if not isinstance(fields, Mapping):
        raise ValueError(f"{fields!r} is no move")
    name = fields.get("move")
    kind = _KINDS.get(name) if isinstance(name, str) else None
    if kind is None:
        raise ValueError(f"'move' {name!r} is none of {', '.join(_KINDS)}")
    return kind(**_read(kind, {key: value for key, value in fields.items() if key != "move"}))


def read_fix(moves: object) -> Fix:
    """The fix in a list of moves.

    Raises:
        ValueError: it is no list, too long, or as ``read_move``.
    """
    if not isinstance(moves, list) or len(moves) > MOST_MOVES:
        raise ValueError(f"a fix is a list of at most {MOST_MOVES} moves")
    return tuple(read_move(fields) for fields in moves)


def _read(made: type, fields: Mapping[str, Any]) -> dict[str, Any]:
    known = {field.name for field in dataclasses.fields(made)}
    for name in fields:
        if name not in known:
            raise ValueError(f"'{name}' is no field of a {made.__name__.lower()}")
    for name in known - _LATER.get(made, frozenset()):
        if name not in fields:
            raise ValueError(f"'{name}' is missing")
    return {name: _READ_BY.get(name, _number)(name, value) for name, value in fields.items()}


def _number(name: str, value: object) -> float:
    low, high = _RANGES[name]
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not (number and low <= value <= high):  # type: ignore[operator]
        raise ValueError(f"'{name}' {value!r} is no number from {low:g} to {high:g}")
    return float(value)  # type: ignore[arg-type]


def _track(name: str, value: object) -> str | None:
    if value is not None and not (isinstance(value, str) and 0 < len(value) <= 200):
        raise ValueError(f"'{name}' {value!r} is no name")
    return value


def _passage(name: str, value: object) -> Passage | None:
    if value is None:
        return None
    if not isinstance(value, Mapping) or set(value) != {"name", "start_frame", "stop_frame"}:
        raise ValueError(f"'{name}' {value!r} is no passage")
    start, stop = value["start_frame"], value["stop_frame"]
    whole = type(start) is int and type(stop) is int
    if not (whole and 0 <= start < stop <= _LONGEST_FRAMES):
        raise ValueError(f"'{name}' runs from {start!r} to {stop!r}, which is no stretch")
    title = _track(f"{name}.name", value["name"])
    if title is None:
        raise ValueError(f"'{name}.name' is missing")
    return Passage(title, start, stop)


def _timing(name: str, value: object) -> Timing:
    if not isinstance(value, Mapping):
        raise ValueError(f"'{name}' {value!r} is no attack and release")
    return Timing(**_read(Timing, value))


_READ_BY: Final[dict[str, Callable[[str, object], Any]]] = {
    "track": _track,
    "passage": _passage,
    "timing": _timing,
}
