"""A result: what comes back from someone who took a set, as a JSON file.

    {"format": "namefirst result", "version": 1,
     "set": {"id", "title", "made", "questions", "adaptive", "due", "tries", "counts", "review"},
     "student", "try", "started_at", "finished_at" (null: left before the end),
     "namefirst": version of the program,
     "chain": {"output", "checked_at", "volume_db", "reach": [a word a band]}, or null,
     "finest": [{"skill", "size_db", "low_db", "high_db", "answers"}, ...],
     "answers": [{"number", "answered_at", "recipe", "answer", "seconds", "switches",
                  "heard_a_s", "heard_b_s", "alone_s"}, ...],
     "checksum": SHA-256 of all the rest as JSON with sorted names and no spaces}

The checksum catches damage and slips. Whoever is determined to cheat can make a new one.
``finest`` is what the scorer came to from these answers alone: sizes in dB, 90 % intervals.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import reduce
from typing import Any, Final

from exercises.bands import BANDS
from exercises.errors import BadRecipe
from exercises.recipe import Recipe, read_recipe
from trainer.ability import Ability, Estimate
from trainer.answer_fields import answer_plain, read_answer
from trainer.assignments import practice_set
from trainer.assignments.practice_set import (
    Counts,
    PracticeSet,
    Review,
    Terms,
    recipe_plain,
)
from trainer.assignments.strangers import Fields, Refused, check_format, read_json, shown
from trainer.chain import Reach
from trainer.record import KeptAnswer, Listening
from trainer.scoring import learned
from trainer.skills import SKILLS, Skill, skill_of_key

FORMAT: Final = "namefirst result"
VERSION: Final = 1
LARGEST_FILE_BYTES: Final = 1024 * 1024
_LONGEST_S: Final = 7 * 24 * 3600.0
_MOST_SWITCHES: Final = 1_000_000
_REACHES: Final = tuple(reach.value for reach in Reach)
_SMALLEST_FINEST_DB, _LARGEST_FINEST_DB = 1e-6, 1e6


@dataclass(frozen=True, slots=True)
class SetHead:
    """Which set a result belongs to, and on what terms it was taken."""

    id: str
    title: str
    made: datetime
    questions: int
    adaptive: bool
    terms: Terms


@dataclass(frozen=True, slots=True)
class ChainState:
    """What the latest check of the student's output found: which bands reached them."""

    output: str
    checked_at: datetime
    volume_db: float
    reach: tuple[Reach, ...]

    @property
    def not_reached(self) -> frozenset[int]:
        """Bands that did not sound there: nobody is marked down for them."""
        return frozenset(band for band, reach in enumerate(self.reach) if reach is Reach.NOT)


@dataclass(frozen=True, slots=True)
class Result:
    """One try of one student. ``finished_at`` is None for one that was left before its end."""

    set: SetHead
    student: str
    try_number: int
    started_at: datetime
    finished_at: datetime | None
    version: str
    chain: ChainState | None
    finest: tuple[tuple[Skill, Estimate], ...]
    answers: tuple[KeptAnswer, ...]

    @property
    def handed_in_at(self) -> datetime:
        """When it was finished, or else when something was last done on it."""
        if self.finished_at is not None:
            return self.finished_at
        return self.answers[-1].answered_at if self.answers else self.started_at


def head_of(made: PracticeSet) -> SetHead:
    """What a result says of its set."""
    return SetHead(made.id, made.title, made.made, len(made.questions), made.adaptive, made.terms)


def ability_after(answers: Iterable[KeptAnswer]) -> Ability:
    """What the scorer comes to from these answers alone."""
    return reduce(learned, answers, Ability.fresh())


def finest_of(ability: Ability) -> tuple[tuple[Skill, Estimate], ...]:
    """The finest size of every skill that was asked."""
    found = ((skill, ability.finest(skill)) for skill in SKILLS)
    return tuple((skill, finest) for skill, finest in found if finest.answers)


def result_text(result: Result) -> str:
    """The text of a result's file; ``read_result`` takes it back."""
    plain = _plain(result)
    plain["checksum"] = checksum(plain)
    lines = [
        f"{json.dumps(name)}: {_list_text(value) if name == 'answers' else json.dumps(value)}"
        for name, value in plain.items()
    ]
    return "{" + ",\n ".join(lines) + "}\n"


def checksum(plain: dict[str, Any]) -> str:
    """SHA-256 of everything but the checksum itself, as 64 hex digits."""
    rest = {name: value for name, value in plain.items() if name != "checksum"}
    return hashlib.sha256(
        json.dumps(rest, sort_keys=True, separators=(",", ":")).encode()
    ).hexdigest()


def read_result(data: bytes, where: str) -> Result:
    """The result in the bytes of a file that is called ``where``.

    Raises:
        Refused: it is no result, of another version, damaged, or cannot be true.
    """
    fields = read_json(data, where)
    check_format(fields, FORMAT, VERSION)
    if fields.text("checksum", 64) != checksum(fields.values):
        raise Refused(f"{where}: was damaged or changed (its checksum does not fit); send it again")
    head = _read_head(fields.table("set"))
    version = fields.name("namefirst", 40)
    result = Result(
        set=head,
        student=fields.name("student"),
        try_number=fields.whole("try", 1, 1000),
        started_at=fields.moment("started_at"),
        finished_at=None if fields.take("finished_at") is None else fields.moment("finished_at"),
        version=version,
        chain=_read_chain(fields),
        finest=tuple(map(_read_finest, fields.tables("finest", len(SKILLS)))),
        answers=tuple(
            read_answered(entry, version) for entry in fields.tables("answers", head.questions)
        ),
    )
    fields.no_more()
    _check_order(fields, result)
    return result


def answered_plain(kept: KeptAnswer) -> dict[str, Any]:
    """One answer as JSON holds it; ``read_answered`` takes it back."""
    listening = kept.listening
    answer = {name: value for name, value in answer_plain(kept.answer).items() if value is not None}
    return {
        "number": kept.id,
        "answered_at": kept.answered_at.isoformat(),
        "recipe": recipe_plain(kept.recipe),
        "answer": answer,
        "seconds": round(listening.seconds, 3),
        "switches": listening.switches,
        "heard_a_s": round(listening.heard_a_s, 3),
        "heard_b_s": round(listening.heard_b_s, 3),
        "alone_s": round(listening.alone_s, 3),
    }


def read_answered(fields: Fields, version: str = "") -> KeptAnswer:
    """One answer; its ``id`` is the question's number in the set."""
    answered_at = fields.moment("answered_at")
    answer = fields.table("answer")
    try:
        recipe = _recipe(fields.table("recipe").values)
        given = read_answer(answer.values)
    except (BadRecipe, ValueError, TypeError) as error:
        raise Refused(f"{fields.where}: {shown(str(error), 120)}") from None
    answer.taken |= {"kind", "freq_hz", "sure", "track", "passage", "second"}
    answer.no_more()
    kept = KeptAnswer(
        id=fields.whole("number", 1, practice_set.MOST_QUESTIONS),
        drill_id=0,
        answered_at=answered_at,
        day=answered_at.date(),
        recipe=recipe,
        answer=given,
        listening=Listening(
            fields.number("seconds", 0.0, _LONGEST_S),
            fields.whole("switches", 0, _MOST_SWITCHES),
            fields.number("heard_a_s", 0.0, _LONGEST_S),
            fields.number("heard_b_s", 0.0, _LONGEST_S),
            fields.number("alone_s", 0.0, _LONGEST_S),
        ),
        version=version,
    )
    fields.no_more()
    return kept


def _recipe(plain: dict[str, Any]) -> Recipe:
    """A class answers the same recipes over and over: checking each of them once is enough."""
    text = repr(plain)
    if len(text) > 2000:
        return read_recipe(plain)
    if text not in _checked_recipes:
        if len(_checked_recipes) >= _MOST_CHECKED:
            _checked_recipes.clear()
        _checked_recipes[text] = read_recipe(plain)
    return _checked_recipes[text]


_MOST_CHECKED: Final = 50_000
_checked_recipes: dict[str, Recipe] = {}


def _read_head(fields: Fields) -> SetHead:
    due = fields.take("due")
    head = SetHead(
        fields.name("id", 16),
        fields.name("title", practice_set.LONGEST_TITLE),
        fields.moment("made"),
        fields.whole("questions", 1, practice_set.MOST_QUESTIONS),
        fields.flag("adaptive"),
        Terms(
            None if due is None else fields.moment("due"),
            None,
            fields.whole("tries", 1, practice_set.MOST_TRIES),
            fields.word("counts", Counts),
            fields.word("review", Review),
        ),
    )
    fields.no_more()
    return head


def _read_finest(fields: Fields) -> tuple[Skill, Estimate]:
    try:
        skill = skill_of_key(fields.name("skill"))
    except ValueError as error:
        raise Refused(f"{fields.where}: {shown(str(error), 90)}") from None
    low_db, size_db, high_db = (
        fields.number(name, _SMALLEST_FINEST_DB, _LARGEST_FINEST_DB)
        for name in ("low_db", "size_db", "high_db")
    )
    if not low_db <= size_db <= high_db:
        fields.refuse("size_db", "lies outside its interval")
    answers = fields.whole("answers", 1, practice_set.MOST_QUESTIONS)
    fields.no_more()
    return skill, Estimate(size_db, low_db, high_db, answers)


def _read_chain(fields: Fields) -> ChainState | None:
    if fields.take("chain") is None:
        return None
    chain = fields.table("chain")
    words = chain.items("reach", len(BANDS))
    if len(words) != len(BANDS) or any(not isinstance(word, str) for word in words):
        chain.refuse("reach", f"is not a word for each of the {len(BANDS)} bands")
    if not set(words) <= set(_REACHES):
        chain.refuse("reach", f"holds another word than {', '.join(_REACHES)}")
    state = ChainState(
        chain.name("output"),
        chain.moment("checked_at"),
        chain.number("volume_db", -200.0, 0.0),
        tuple(Reach(word) for word in words),
    )
    chain.no_more()
    return state


def _check_order(fields: Fields, result: Result) -> None:
    numbers = [kept.id for kept in result.answers]
    if any(number > result.set.questions for number in numbers) or numbers != sorted(set(numbers)):
        fields.refuse("answers", "answers a question twice, out of order, or one that is not there")
    if result.finished_at is not None and result.finished_at < result.started_at:
        fields.refuse("finished_at", "lies before the start")
    if len({skill for skill, _ in result.finest}) != len(result.finest):
        fields.refuse("finest", "names a skill twice")


def _plain(result: Result) -> dict[str, Any]:
    head, terms = result.set, result.set.terms
    return {
        "format": FORMAT,
        "version": VERSION,
        "set": {
            "id": head.id,
            "title": head.title,
            "made": head.made.isoformat(),
            "questions": head.questions,
            "adaptive": head.adaptive,
            "due": None if terms.due is None else terms.due.isoformat(),
            "tries": terms.tries,
            "counts": terms.counts.value,
            "review": terms.review.value,
        },
        "student": result.student,
        "try": result.try_number,
        "started_at": result.started_at.isoformat(),
        "finished_at": None if result.finished_at is None else result.finished_at.isoformat(),
        "namefirst": result.version,
        "chain": None if result.chain is None else _chain_plain(result.chain),
        "finest": [
            {
                "skill": skill.key,
                "size_db": finest.size_db,
                "low_db": finest.low_db,
                "high_db": finest.high_db,
                "answers": finest.answers,
            }
            for skill, finest in result.finest
        ],
        "answers": [answered_plain(kept) for kept in result.answers],
    }


def _chain_plain(chain: ChainState) -> dict[str, Any]:
    return {
        "output": chain.output,
        "checked_at": chain.checked_at.isoformat(),
        "volume_db": chain.volume_db,
        "reach": [reach.value for reach in chain.reach],
    }


def _list_text(listed: Sequence[Any]) -> str:
    return "[" + ",\n  ".join(json.dumps(each) for each in listed) + "]"
