"""Recipes: everything needed to make a question again, as plain data.

A recipe names a loop (and its fingerprint), what is heard of it, and the problem in figures. It is
checked whole when it is made; a recipe that exists makes a question. Draws are those of
``random.Random(seed).random()``, a stream that Python promises to keep.
"""

from __future__ import annotations

import dataclasses
import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from exercises.bands import Band, octaves
from exercises.errors import BadRecipe
from exercises.kinds import (
    DYNAMICS,
    LARGEST_SIZE_DB,
    LEVEL,
    TONE,
    Help,
    Kind,
    Shape,
    Style,
)
from exercises.problems import Problem

VERSION: Final = 1
LOWEST_PROBLEM_HZ: Final = 25.0
HIGHEST_PROBLEM_HZ: Final = 17_500.0
SMALLEST_Q, LARGEST_Q = 0.3, 12.0

_Item = TypeVar("_Item")


@dataclass(frozen=True, slots=True)
class Recipe:
    """One question in figures.

    - ``size_db`` is the gain of the boost or cut, the gain reduction or lift, or the level change:
      always positive, 0 for *nothing*.
    - ``freq_hz`` is set for *too much* and *too little* alone, and so is ``q`` for a peak: the
      shelves have one slope. ``style`` says how *squashed* was done.
    - ``track`` is the track that the problem sits on (None: the whole mix); with ``alone`` only
      that track is heard. With ``passage`` the problem is there only while that passage plays.
    - ``second`` is a second problem on the same track and passage: of another family (tone,
      dynamics, level), or both tone and an octave apart or more.
    - ``other_passage`` is the loop's only other passage, where it has just two: a level too loud
      in the one is, once matched, the same sound as too quiet in the other (``other_names``).
    - ``help`` is what of A is given; ``ask_track`` and ``ask_passage`` say whether the answer must
      name the place. ``seed`` is what the recipe was drawn from.

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
    shape: Shape = Shape.PEAK
    style: Style = Style.OVER_COMPRESSED
    passage: str | None = None
    help: Help = Help.A_AT_HAND
    second: Problem | None = None
    ask_track: bool = False
    ask_passage: bool = False
    other_passage: str | None = None
    version: int = VERSION

    def __post_init__(self) -> None:
        _check(self)

    @property
    def problem(self) -> Problem:
        """The (first) problem."""
        return Problem(self.kind, self.size_db, self.freq_hz, self.q, self.shape, self.style)

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What is hidden: one problem, or two."""
        return (self.problem,) if self.second is None else (self.problem, self.second)

    def to_dict(self) -> dict[str, Any]:
        """Plain data for JSON; ``read_recipe`` takes it back."""
        fields = dataclasses.asdict(self) | {"help": int(self.help)} | _words(self.problem)
        return fields | {"second": _second_to_dict(self.second)}


def read_recipe(fields: Mapping[str, Any]) -> Recipe:
    """The recipe in ``fields``, as ``Recipe.to_dict`` gave them.

    Raises:
        BadRecipe: a field is unknown, missing, of the wrong type or out of range.
    """
    _check_names(fields, Recipe, "")
    read = dict(fields) | _read_words(fields, "")
    if "help" in fields:
        known = type(fields["help"]) is int and fields["help"] in set(Help)
        _require(known, "help", f"{fields['help']!r} is none of 0, 1 and 2")
        read["help"] = Help(fields["help"])
    if fields.get("second") is not None:
        second = fields["second"]
        _require(isinstance(second, Mapping), "second", f"{second!r} is not a problem's fields")
        _check_names(second, Problem, "second.")
        read["second"] = Problem(**(dict(second) | _read_words(second, "second.")))
    return Recipe(**read)


_WORDS: Final[dict[str, type[Kind] | type[Shape] | type[Style]]] = {
    "kind": Kind,
    "shape": Shape,
    "style": Style,
}


def _words(problem: Problem) -> dict[str, str]:
    return {name: getattr(problem, name).value for name in _WORDS}


def _second_to_dict(second: Problem | None) -> dict[str, Any] | None:
    return None if second is None else dataclasses.asdict(second) | _words(second)


def _read_words(fields: Mapping[str, Any], prefix: str) -> dict[str, Any]:
    read = {}
    for name, words in _WORDS.items():
        if name in fields:
            try:
                read[name] = words(fields[name])
            except ValueError:
                raise BadRecipe(
                    prefix + name, f"{fields[name]!r} is none of {', '.join(words)}"
                ) from None
    return read


def _check_names(fields: Mapping[str, Any], made: type[Recipe | Problem], prefix: str) -> None:
    known = {field.name: field for field in dataclasses.fields(made)}
    for name in fields:
        if name not in known:
            raise BadRecipe(f"{prefix}{name}", "is not one of this version's fields; remove it")
    for name, field in known.items():
        if name not in fields and field.default is dataclasses.MISSING:
            raise BadRecipe(prefix + name, "is missing; add it")


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
    places = {name: getattr(recipe, name) for name in ("track", "passage", "other_passage")}
    for name, place in places.items():
        _require(
            place is None or (isinstance(place, str) and place != ""),
            name,
            f"{place!r} is not a {name}'s name",
        )
    _require(isinstance(recipe.help, Help), "help", f"{recipe.help!r} is none of 0, 1 and 2")
    for name in ("alone", "ask_track", "ask_passage"):
        said = getattr(recipe, name)
        _require(isinstance(said, bool), name, f"{said!r} is not true or false")
    _require(
        recipe.other_passage is None or recipe.passage not in (None, recipe.other_passage),
        "other_passage",
        "goes with a passage, and is another; name the passage or leave it out",
    )
    _require(
        not recipe.alone or recipe.track is not None,
        "alone",
        "only a named track can be heard alone; name one or leave it out",
    )
    _require(
        not (recipe.ask_track and recipe.alone),
        "ask_track",
        "the one track that is heard cannot be asked for; leave it out",
    )
    _check_problem(recipe.problem, "")
    _check_second(recipe)


def _check_problem(problem: Problem, prefix: str) -> None:
    for name, words in _WORDS.items():
        word = getattr(problem, name)
        known = isinstance(word, words)
        _require(known, prefix + name, f"{word!r} is none of {', '.join(words)}")
    low_db, high_db = (0.0, 0.0) if problem.kind is Kind.NOTHING else (0.1, LARGEST_SIZE_DB)
    _require_number(prefix + "size_db", problem.size_db, low_db, high_db)
    has_none = f"'{problem.kind}' has none; leave it out"
    if problem.kind in TONE:
        _require_number(prefix + "freq_hz", problem.freq_hz, LOWEST_PROBLEM_HZ, HIGHEST_PROBLEM_HZ)
    else:
        _require(problem.freq_hz is None, prefix + "freq_hz", has_none)
        _require(problem.shape is Shape.PEAK, prefix + "shape", has_none)
    if problem.kind in TONE and problem.shape is Shape.PEAK:
        _require_number(prefix + "q", problem.q, SMALLEST_Q, LARGEST_Q)
    else:
        shape = problem.shape if problem.kind in TONE else problem.kind
        _require(problem.q is None, prefix + "q", f"'{shape}' has none; leave it out")
    if problem.kind is not Kind.SQUASHED:
        _require(problem.style is Style.OVER_COMPRESSED, prefix + "style", has_none)


def _check_second(recipe: Recipe) -> None:
    second = recipe.second
    if second is None:
        return
    _require(isinstance(second, Problem), "second", f"{second!r} is not a problem")
    _check_problem(second, "second.")
    _require(
        Kind.NOTHING not in (recipe.kind, second.kind),
        "second",
        "'nothing' cannot be there together with a problem; leave it out",
    )
    families = [
        next(family for family in (TONE, DYNAMICS, LEVEL) if kind in family)
        for kind in (recipe.kind, second.kind)
    ]
    if families[0] is not families[1]:
        return
    _require(
        recipe.freq_hz is not None and second.freq_hz is not None,
        "second",
        f"'{second.kind}' and '{recipe.kind}' together are one problem of another size",
    )
    assert recipe.freq_hz is not None
    assert second.freq_hz is not None
    _require(
        abs(octaves(second.freq_hz, recipe.freq_hz)) >= 1.0,
        "second",
        f"{second.freq_hz:g} Hz is less than an octave from {recipe.freq_hz:g} Hz",
    )


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
