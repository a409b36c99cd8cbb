"""The questions of a set, drawn by rule or taken from a teacher's list.

By rule, places are dealt like cards: every pair of a tone kind and a band once before any comes
again, what has no band twice in that time, so that a class can be compared band by band. One in
eight hides nothing, where that may be asked. Only what can be heard on a loop is dealt; a card
that no loop can carry at any of the sizes is laid aside. The stream is that of
``random.Random(seed).random()``, which Python promises to keep.
"""

from __future__ import annotations

import csv
import random
from collections.abc import Callable, Iterator, Sequence
from typing import Final, TypeVar

from exercises.bands import BANDS, read_hz
from exercises.errors import BadRecipe
from exercises.kinds import TONE, Help, Kind
from exercises.recipe import Recipe, draw_freq_hz, pick
from exercises.tone_curve import USUAL_Q
from trainer.assignments.practice_set import (
    MOST_QUESTIONS,
    BadSet,
    Rule,
    SetLoop,
    SetQuestion,
)
from trainer.sizing import sizes_db
from trainer.skills import skill_of

ADAPTIVE_START_SHARE: Final = 0.75
"""The size in an adaptive set's recipes, as a share of the largest; it is chosen when taken."""
_TRIES: Final = 6

NOTHING_SHARE: Final = 1.0 / 8.0
BANDLESS_SHARE: Final = 2

SmallestAskable = Callable[[str, Kind, float | None], float | None]
"""(loop name, kind, frequency in Hz or None) -> the smallest size, dB, that can be heard there;
None when none can."""

Told = Callable[[int, int], None]
"""Told how many questions are drawn, of how many."""

_Item = TypeVar("_Item")
_Card = tuple[Kind, int | None]


def draw_questions(
    rule: Rule,
    loops: Sequence[SetLoop],
    count: int,
    seed: int,
    smallest_askable: SmallestAskable,
    *,
    told: Told = lambda _done, _of: None,
) -> tuple[SetQuestion, ...]:
    """``count`` questions by ``rule`` on ``loops``: the same for the same arguments.

    An empty ``rule.sizes_db`` is adaptive.

    Raises:
        BadSet: the rule leaves nothing that could be heard.
    """
    if not 1 <= count <= MOST_QUESTIONS:
        raise BadSet(f"{count} questions: a set has 1 to {MOST_QUESTIONS:,}")
    if not (loops and rule.kinds and rule.help):
        raise BadSet("a set needs a loop, a kind and a step of help to ask with")
    source = random.Random(seed)
    loops_in_turn = _dealt(source, loops)
    cards = _dealt(source, _deck(rule)) if _deck(rule) else None
    nothing = Kind.NOTHING in rule.kinds
    if cards is None and not nothing:
        raise BadSet("the bands and kinds leave nothing to ask: widen one of them")
    drawn: list[SetQuestion] = []
    laid_aside = 0
    while len(drawn) < count:
        at = next(loops_in_turn)
        if nothing and (source.random() < NOTHING_SHARE or cards is None):
            recipe = _recipe(source, at, Kind.NOTHING, 0.0, None, pick(source, rule.help))
            drawn.append(SetQuestion(recipe))
        else:
            assert cards is not None
            question = _place(source, rule, next(cards), at, loops, smallest_askable)
            laid_aside = 0 if question else laid_aside + 1
            if laid_aside > 2 * len(_deck(rule)):
                raise BadSet(
                    "nothing of these bands, kinds and sizes can be heard on these loops: "
                    "allow larger sizes, or other loops"
                )
            drawn += [question] if question else []
        told(len(drawn), count)
    return tuple(drawn)


def _deck(rule: Rule) -> list[_Card]:
    deck: list[_Card] = []
    for kind in rule.kinds:
        if kind in TONE:
            deck += [(kind, band) for band in rule.bands]
        elif kind is not Kind.NOTHING:
            deck += [(kind, None)] * BANDLESS_SHARE
    return deck


def _dealt(source: random.Random, items: Sequence[_Item]) -> Iterator[_Item]:
    """All of ``items`` in drawn order, then all of them in another, for ever."""
    while True:
        pack = list(items)
        while pack:
            yield pack.pop(int(source.random() * len(pack)))


def _place(
    source: random.Random,
    rule: Rule,
    card: _Card,
    at: SetLoop,
    loops: Sequence[SetLoop],
    smallest_askable: SmallestAskable,
) -> SetQuestion | None:
    """The card's question, on ``at`` if it can carry it, else on another; None if none can."""
    kind, band_index = card
    help_ = pick(source, rule.help)
    largest_db = sizes_db(skill_of(kind, band_index))[1]
    for tried in range(_TRIES):
        freq_hz = None if band_index is None else draw_freq_hz(source, BANDS[band_index])
        wanted_db = pick(source, rule.sizes_db) if rule.sizes_db else largest_db
        others = [loop for loop in loops if loop != at] if tried == _TRIES - 1 else []
        for loop in (at, *others):
            least_db = smallest_askable(loop.name, kind, freq_hz)
            if least_db is None or least_db > max((wanted_db, *rule.sizes_db)):
                continue
            if not rule.sizes_db:
                size_db = max(least_db, round(ADAPTIVE_START_SHARE * largest_db, 1))
                recipe = _recipe(source, loop, kind, size_db, freq_hz, help_)
                return SetQuestion(recipe, max(0.1, least_db))
            fit_db = min(size for size in (wanted_db, *rule.sizes_db) if size >= least_db)
            size_db = wanted_db if wanted_db >= least_db else fit_db
            return SetQuestion(_recipe(source, loop, kind, size_db, freq_hz, help_))
    return None


def _recipe(
    source: random.Random,
    loop: SetLoop,
    kind: Kind,
    size_db: float,
    freq_hz: float | None,
    help_: Help,
) -> Recipe:
    return Recipe(
        seed=int(source.random() * 2**31),
        loop=loop.name,
        fingerprint=loop.fingerprint,
        kind=kind,
        size_db=size_db,
        freq_hz=freq_hz,
        q=USUAL_Q if kind in TONE else None,
        help=help_,
    )


COLUMNS: Final = (
    "kind",
    "freq_hz",
    "size_db",
    "loop",
    "help",
    "track",
    "alone",
    "passage",
    "ask_track",
    "ask_passage",
    "q",
)
"""What a teacher's list may have as columns; kind, size_db and loop it must have."""
_YES: Final = {"": False, "no": False, "yes": True}


def listed_questions(
    lines: Sequence[str], loops: Sequence[SetLoop], where: str
) -> tuple[SetQuestion, ...]:
    """The questions of a teacher's list, in its order: CSV with a head line (see ``COLUMNS``).

    Raises:
        BadSet: a line is not understood; the message names it.
    """
    table = csv.DictReader(lines)
    heads = [head.strip() for head in table.fieldnames or ()]
    wrong = [head for head in heads if head not in COLUMNS]
    if wrong or not {"kind", "size_db", "loop"} <= set(heads):
        found = f"'{wrong[0]}' is no column" if wrong else "kind, size_db and loop are needed"
        raise BadSet(f"{where}: {found}; the columns are {', '.join(COLUMNS)}")
    table.fieldnames = heads
    known = {loop.name: loop for loop in loops}
    questions: list[SetQuestion] = []
    for row in table:
        if len(questions) >= MOST_QUESTIONS:
            raise BadSet(f"{where}: a set has at most {MOST_QUESTIONS:,} questions")
        cells = {name: (row.get(name) or "").strip() for name in COLUMNS}
        at = f"{where}, line {table.line_num}"
        if None in row or cells["loop"] not in known:
            raise BadSet(f"{at}: '{cells['loop']}' is no loop at hand, or there are too many cells")
        try:
            questions.append(SetQuestion(_listed(cells, known[cells["loop"]])))
        except (BadRecipe, ValueError, KeyError) as error:
            raise BadSet(f"{at}: {' '.join(str(error).split())}; mend the line") from None
    if not questions:
        raise BadSet(f"{where}: lists no question; write one a line")
    return tuple(questions)


def _listed(cells: dict[str, str], loop: SetLoop) -> Recipe:
    kind = Kind(cells["kind"].lower())
    freq_hz = read_hz(cells["freq_hz"]) if cells["freq_hz"] else None
    if cells["freq_hz"] and freq_hz is None:
        raise ValueError(f"'{cells['freq_hz']}' is no frequency from 20 Hz to 20 kHz")
    q = float(cells["q"]) if cells["q"] else (USUAL_Q if kind in TONE else None)
    return Recipe(
        seed=0,
        loop=loop.name,
        fingerprint=loop.fingerprint,
        kind=kind,
        size_db=0.0 if kind is Kind.NOTHING else float(cells["size_db"]),
        freq_hz=freq_hz,
        q=q,
        track=cells["track"] or None,
        alone=_YES[cells["alone"].lower()],
        passage=cells["passage"] or None,
        help=Help(int(cells["help"] or 0)),
        ask_track=_YES[cells["ask_track"].lower()],
        ask_passage=_YES[cells["ask_passage"].lower()],
    )
