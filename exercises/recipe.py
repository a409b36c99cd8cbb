"""Recipes: everything needed to make a question again, as plain data.

A recipe names a loop (and its fingerprint), what is heard of it, and the problem in figures. It is
checked whole when it is made; a recipe that exists makes a question. ``draw_recipe`` draws one
from a seed; the stream is that of ``random.Random(seed).random()``, which Python promises to keep.
"""

from __future__ import annotations

import dataclasses
import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from exercises.bands import BANDS, Band
from exercises.errors import BadRecipe
from exercises.kinds import LARGEST_SIZE_DB, TONE, Kind

VERSION: Final = 1
LOWEST_PROBLEM_HZ: Final = 25.0
HIGHEST_PROBLEM_HZ: Final = 17_500.0
SMALLEST_Q, LARGEST_Q = 0.3, 12.0

_Item = TypeVar("_Item")


@dataclass(frozen=True, slots=True)
class Recipe:
    """One question in figures.

    ``size_db`` is the gain of the boost or cut, the gain reduction or the level change: always
    positive, 0 for *nothing*. ``freq_hz`` and ``q`` are set for *too much* and *too little* alone.
    ``track`` is the track that the problem sits on (None: the whole mix); with ``alone`` only
    that track is heard. ``seed`` is what it was drawn from.

    Raises:
        BadRecipe: a field is out of range or does not fit the kind; the error names it.
    """

    seed: int
    loop: str
    fingerprint: str
    kind: Kind
    size_db: float
    freq_hz: float | None = None
    q: float | None = None
    track: str | None = None
    alone: bool = False
    version: int = VERSION

    def __post_init__(self) -> None:
        _check(self)

    def to_dict(self) -> dict[str, Any]:
        """Plain data for JSON; ``read_recipe`` takes it back."""
        return dataclasses.asdict(self) | {"kind": self.kind.value}


def read_recipe(fields: Mapping[str, Any]) -> Recipe:
    """The recipe in ``fields``, as ``Recipe.to_dict`` gave them.

    Raises:
        BadRecipe: a field is unknown, missing, of the wrong type or out of range.
    """
    known = {field.name: field for field in dataclasses.fields(Recipe)}
    for name in fields:
        if name not in known:
            raise BadRecipe(str(name), "is not one of this version's fields; remove it")
    for name, field in known.items():
        if name not in fields and field.default is dataclasses.MISSING:
            raise BadRecipe(name, "is missing; add it")
    try:
        kind = Kind(fields["kind"])
    except ValueError:
        raise BadRecipe("kind", f"{fields['kind']!r} is none of {', '.join(Kind)}") from None
    return Recipe(**{**fields, "kind": kind})


def _check(recipe: Recipe) -> None:
    _require(
        type(recipe.version) is int and recipe.version == VERSION,
        "version",
        f"{recipe.version!r} is not {VERSION}, the only one this program makes",
    )
    _require(
        type(recipe.seed) is int and 0 <= recipe.seed < 2**63,
        "seed",
        f"{recipe.seed!r} is not a whole number from 0 to 2^63",
    )
    for name, text in (("loop", recipe.loop), ("fingerprint", recipe.fingerprint)):
        _require(isinstance(text, str) and 0 < len(text) <= 200, name, f"{text!r} is not a name")
    _require(isinstance(recipe.kind, Kind), "kind", f"{recipe.kind!r} is none of {', '.join(Kind)}")
    _require(
        recipe.track is None or (isinstance(recipe.track, str) and recipe.track != ""),
        "track",
        f"{recipe.track!r} is not a track's name",
    )
    _require(isinstance(recipe.alone, bool), "alone", f"{recipe.alone!r} is not true or false")
    _require(
        not recipe.alone or recipe.track is not None,
        "alone",
        "only a named track can be heard alone; name one or leave it out",
    )
    _check_size(recipe)
    if recipe.kind in TONE:
        _require_number("freq_hz", recipe.freq_hz, LOWEST_PROBLEM_HZ, HIGHEST_PROBLEM_HZ)
        _require_number("q", recipe.q, SMALLEST_Q, LARGEST_Q)
    else:
        _require(recipe.freq_hz is None, "freq_hz", f"'{recipe.kind}' has none; leave it out")
        _require(recipe.q is None, "q", f"'{recipe.kind}' has none; leave it out")


def _check_size(recipe: Recipe) -> None:
    if recipe.kind is Kind.NOTHING:
        _require_number("size_db", recipe.size_db, 0.0, 0.0)
    else:
        _require_number("size_db", recipe.size_db, 0.1, LARGEST_SIZE_DB)


def _require_number(field: str, value: object, low: float, high: float) -> None:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    _require(
        number and low <= value <= high,  # type: ignore[operator]
        field,
        f"{value!r} is not a number from {low:g} to {high:g}",
    )


def _require(holds: bool, field: str, message: str) -> None:
    if not holds:
        raise BadRecipe(field, message)


def pick(source: random.Random, items: Sequence[_Item]) -> _Item:
    """One of ``items``, evenly, by one call of ``source.random()``."""
    return items[int(source.random() * len(items))]


def draw_freq_hz(source: random.Random, band: Band) -> float:
    """A frequency in ``band``, evenly along the octave, in steps a mixer would write down."""
    low_hz = max(band.low_hz, LOWEST_PROBLEM_HZ)
    high_hz = min(band.high_hz, HIGHEST_PROBLEM_HZ)
    freq_hz = low_hz * math.pow(high_hz / low_hz, source.random())
    written_hz = round(freq_hz, 3 - math.ceil(math.log10(freq_hz)))
    return written_hz if low_hz <= written_hz < high_hz else freq_hz


@dataclass(frozen=True, slots=True)
class Choices:
    """What ``draw_recipe`` draws from; every sequence holds at least one item."""

    loop: str
    fingerprint: str
    kinds: tuple[Kind, ...] = tuple(Kind)
    bands: tuple[Band, ...] = BANDS
    sizes_db: tuple[float, ...] = (9.0,)
    qs: tuple[float, ...] = (1.4,)
    track: str | None = None
    alone: bool = False


def draw_recipe(seed: int, choices: Choices) -> Recipe:
    """The recipe that ``seed`` gives for ``choices``: the same one everywhere.

    Raises:
        BadRecipe: the choices hold a value that no recipe may have.
    """
    source = random.Random(seed)
    kind = pick(source, choices.kinds)
    size_db = pick(source, choices.sizes_db)
    freq_hz = draw_freq_hz(source, pick(source, choices.bands))
    q = pick(source, choices.qs)
    return Recipe(
        seed=seed,
        loop=choices.loop,
        fingerprint=choices.fingerprint,
        kind=kind,
        size_db=0.0 if kind is Kind.NOTHING else size_db,
        freq_hz=freq_hz if kind in TONE else None,
        q=q if kind in TONE else None,
        track=choices.track,
        alone=choices.alone,
    )
