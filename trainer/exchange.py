"""The whole record as JSON Lines, out and in again: to keep a copy, to move, to join two computers.

The first line says what it is and how much follows; then one line for each sitting, answer, fix
round, claim, chain check and setting, in the order in which they were kept:

    {"format": "namefirst record", "version": 1, "learner": "ada", "drills": 1, "answers": 1, ...}
    {"drill": {"number": 1, "day": "2026-03-05", "plan": {...}, "ended": true}}
    {"answer": {"drill": 1, "answered_at": "2026-03-05T19:30:00+00:00", "recipe": {...}, ...}}
    {"fix_round": {"drill": 1, "answered_at": "2026-03-05T19:40:00+00:00", "fix": [...], ...}}
    {"claim": {"claimed_at": "2026-03-05T20:00:00+00:00", "title": "mix.wav", ...}}
    {"chain_check": {"checked_at": "2026-03-05T20:10:00+00:00", "output": "laptop", ...}}
    {"setting": {"name": "volume_db", "value": -30.0}}

Coming in adds and never overwrites: what is there already is left as it is, so that the same file
can be brought in twice. A line that cannot be understood refuses the file whole.

    BadExchange     a file that is no export, or a damaged one; nothing was brought in
"""

from __future__ import annotations

import json
import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import IO, Any, Final, NoReturn

from exercises.errors import BadRecipe, NamefirstError
from exercises.recipe import Recipe, read_recipe
from trainer.answer_fields import answer_plain, read_answer
from trainer.judging import Answer
from trainer.kept_chains import check_to_dict, kept_checks, read_kept_check, write_check
from trainer.kept_claims import claim_to_dict, kept_claims, read_kept_claim, write_claim
from trainer.kept_fixes import KeptFix, keep_fix, kept_fix_to_dict, kept_fixes, read_kept_fix
from trainer.record import KeptAnswer, Listening, Record
from trainer.scoring import CACHE_SETTING, forget_ability

FORMAT: Final = "namefirst record"
VERSION: Final = 1
_COUNTED: Final = ("drill", "answer", "fix_round", "claim", "chain_check", "setting")
_ADDED_LATER: Final = ("fix_round", "claim", "chain_check")


class BadExchange(NamefirstError):
    """A file that cannot be brought in; the message names the line."""


@dataclass(frozen=True, slots=True)
class Imported:
    """What was brought in, what was there already, and whose record the file says it is."""

    learner: str
    answers: int
    drills: int
    settings: int
    already: int
    fix_rounds: int = 0
    claims: int = 0
    chain_checks: int = 0


def export_record(record: Record, out: IO[str]) -> None:
    """Writes every sitting, answer, fix round, claim, check and setting of the learner."""
    drills = list(record.drills())
    settings = {name: v for name, v in record.settings().items() if name != CACHE_SETTING}
    newest = record.last_id()
    fixes = list(kept_fixes(record))
    claims, checks = list(kept_claims(record)), list(kept_checks(record))
    followed = (len(fixes), len(claims), len(checks), len(settings))
    counts = (len(drills), record.count_answers(), *followed)
    _write(
        out,
        {
            "format": FORMAT,
            "version": VERSION,
            "learner": record.learner,
            **{f"{name}s": count for name, count in zip(_COUNTED, counts, strict=True)},
        },
    )
    for drill in drills:
        plain = {"number": drill.id, "day": drill.day.isoformat(), "plan": drill.plan}
        _write(out, {"drill": plain | {"ended": drill.ended}})
    for kept in record.answers(until_id=newest):
        _write(out, {"answer": _answer_plain(kept)})
    for fix in fixes:
        _write(out, {"fix_round": {"drill": fix.drill_id} | kept_fix_to_dict(fix)})
    for claim in claims:
        _write(out, {"claim": claim_to_dict(claim)})
    for check in checks:
        _write(out, {"chain_check": check_to_dict(check)})
    for name, value in settings.items():
        _write(out, {"setting": {"name": name, "value": value}})


def import_record(record: Record, lines: Iterable[str]) -> Imported:
    """Adds to the record's learner what an export holds and the record does not, all or nothing.

    Raises:
        BadExchange: a line is damaged or foreign, or the file ends too soon; nothing is changed.
        RecordError: the record cannot be written; nothing is changed.
    """
    with record.transaction():
        incoming = _Incoming(record)
        head: dict[str, Any] | None = None
        number = 0
        for number, line in enumerate(lines, start=1):
            if not line.strip():
                continue
            fields = _object(line, number)
            if head is None:
                head = _checked_head(fields, number)
            else:
                incoming.take(fields, number)
        if head is None:
            raise BadExchange("the file is empty; choose one that 'namefirst export' wrote")
        for name in _COUNTED:
            if incoming.seen[name] != head[f"{name}s"]:
                raise BadExchange(
                    f"line {number}: the file ends with {incoming.seen[name]}"
                    f" {name.replace('_', ' ')}s of"
                    f" {head[f'{name}s']}; it was cut or changed, export it again"
                )
        if incoming.added["answer"]:
            forget_ability(record)
    added = incoming.added
    return Imported(
        head["learner"],
        added["answer"],
        added["drill"],
        added["setting"],
        sum(incoming.seen.values()) - sum(added.values()),
        added["fix_round"],
        added["claim"],
        added["chain_check"],
    )


class _Incoming:
    """The lines of one file on their way into a record."""

    def __init__(self, record: Record) -> None:
        self._record = record
        self.seen = dict.fromkeys(_COUNTED, 0)
        self.added = dict.fromkeys(_COUNTED, 0)
        self._drill_ids: dict[int, int] = {}
        # Sittings are told apart by day and plan; the same of both is met in the same order.
        self._here: dict[tuple[str, str], list[tuple[int, bool]]] = defaultdict(list)
        for drill in record.drills():
            key = (drill.day.isoformat(), _canonical(drill.plan))
            self._here[key].append((drill.id, drill.ended))
        self._settings = set(record.settings())
        self._fixes = {_fix_identity(kept) for kept in kept_fixes(record)}
        self._claims = {kept.claimed_at for kept in kept_claims(record)}
        self._checks = {(kept.checked_at, kept.output) for kept in kept_checks(record)}
        self._day: date | None = None
        self._known: set[tuple[object, ...]] = set()

    def take(self, fields: dict[str, Any], number: int) -> None:
        """One line after the first."""
        entries: dict[str, Callable[[_Fields], bool]] = {
            "drill": self._drill,
            "answer": self._answer,
            "fix_round": self._fix_round,
            "claim": self._claim,
            "chain_check": self._chain_check,
            "setting": self._setting,
        }
        what = next(iter(fields), "")
        if len(fields) != 1 or what not in entries:
            _refuse(
                number,
                "holds no drill, answer, fix round, claim, chain check or setting; remove it, or"
                " export again",
            )
        if not isinstance(fields[what], dict):
            _refuse(number, f"the {what} is no JSON object; export it again")
        self.seen[what] += 1
        self.added[what] += entries[what](_Fields(fields[what], number))

    def _drill(self, fields: _Fields) -> bool:
        day, plan, ended = fields.day("day"), fields.of("plan", dict), fields.of("ended", bool)
        matching = self._here[day.isoformat(), _canonical(plan)]
        fresh = not matching
        drill_id, was_ended = (
            (self._record.start_drill(day, plan), False) if fresh else matching.pop(0)
        )
        self._drill_ids[fields.count("number")] = drill_id
        if ended and not was_ended:
            self._record.end_drill(drill_id)
        return fresh

    def _answer(self, fields: _Fields) -> bool:
        recipe = fields.recipe("recipe")
        answered_at = fields.moment("answered_at")
        answer = fields.answer()
        drill_id = self._drill_ids.get(fields.count("drill"))
        if drill_id is None:
            fields.refuse("drill", "is of no drill above it")
        listening = Listening(
            fields.seconds("seconds"),
            fields.count("switches"),
            fields.seconds("heard_a_s"),
            fields.seconds("heard_b_s"),
            fields.seconds("alone_s"),
        )
        version = fields.of("version", str)
        identity = _identity(answered_at, recipe, answer)
        if identity in self._answers_on(answered_at.date()):
            return False
        self._record.keep(drill_id, answered_at, recipe, answer, listening, version=version)
        self._known.add(identity)
        return True

    def _fix_round(self, fields: _Fields) -> bool:
        drill_id = None
        if fields.values.get("drill") is not None:
            drill_id = self._drill_ids.get(fields.count("drill"))
            if drill_id is None:
                fields.refuse("drill", "is of no drill above it")
        answered_at, recipe = fields.moment("answered_at"), fields.recipe("recipe")
        try:
            kept = read_kept_fix(fields.values, answered_at, recipe, drill_id)
        except ValueError as error:
            _refuse(fields.line, f"{error}; export it again")
        identity = _fix_identity(kept)
        if identity in self._fixes:
            return False
        keep_fix(self._record, kept)
        self._fixes.add(identity)
        return True

    def _claim(self, fields: _Fields) -> bool:
        claimed_at = fields.moment("claimed_at")
        try:
            kept = read_kept_claim(fields.values, claimed_at)
        except ValueError as error:
            _refuse(fields.line, f"{error}; export it again")
        if claimed_at in self._claims:
            return False
        write_claim(self._record, kept)
        self._claims.add(claimed_at)
        return True

    def _chain_check(self, fields: _Fields) -> bool:
        checked_at = fields.moment("checked_at")
        try:
            kept = read_kept_check(fields.values, checked_at)
        except ValueError as error:
            _refuse(fields.line, f"{error}; export it again")
        if (checked_at, kept.output) in self._checks:
            return False
        write_check(self._record, kept)
        self._checks.add((checked_at, kept.output))
        return True

    def _setting(self, fields: _Fields) -> bool:
        name = fields.of("name", str)
        if "value" not in fields.values:
            fields.refuse("value", "is missing")
        if name == CACHE_SETTING or name in self._settings:
            return False
        self._record.set_setting(name, fields.values["value"])
        self._settings.add(name)
        return True

    def _answers_on(self, day: date) -> set[tuple[object, ...]]:
        """What tells apart the answers that the record holds of one day; a file goes by days."""
        if day != self._day:
            self._day = day
            self._known = {
                _identity(kept.answered_at, kept.recipe, kept.answer)
                for kept in self._record.answers_on(day)
            }
        return self._known


@dataclass(frozen=True, slots=True)
class _Fields:
    """The fields of one line, each checked as it is read."""

    values: Mapping[str, Any]
    line: int

    def of(self, name: str, kind: type) -> Any:
        value = self.values.get(name)
        if type(value) is not kind:
            self.refuse(name, f"{value!r} is no {kind.__name__}")
        return value

    def day(self, name: str) -> date:
        try:
            return date.fromisoformat(self.of(name, str))
        except ValueError:
            self.refuse(name, "is no day such as 2026-03-05")

    def moment(self, name: str) -> datetime:
        try:
            at = datetime.fromisoformat(self.of(name, str))
        except ValueError:
            self.refuse(name, "is no moment such as 2026-03-05T19:30:00+01:00")
        if at.tzinfo is None or not 1970 <= at.year < 3000:
            self.refuse(name, "says no time zone, or a year that cannot be")
        return at

    def seconds(self, name: str) -> float:
        value: Any = self.values.get(name)
        if not _is_number(value) or not 0.0 <= value < math.inf:
            self.refuse(name, f"{value!r} is no length of time in seconds")
        return float(value)

    def count(self, name: str) -> int:
        value = self.of(name, int)
        if not 0 <= value < 2**31:
            self.refuse(name, f"{value!r} is no count")
        return int(value)

    def recipe(self, name: str) -> Recipe:
        try:
            return read_recipe(self.of(name, dict))
        except BadRecipe as error:
            _refuse(self.line, f"{error}; export it again")

    def answer(self) -> Answer:
        try:
            return read_answer(self.values)
        except ValueError as error:
            _refuse(self.line, f"{error}; export it again")

    def refuse(self, name: str, why: str) -> NoReturn:
        _refuse(self.line, f"'{name}' {why}; export it again")


def _checked_head(fields: dict[str, Any], number: int) -> dict[str, Any]:
    if fields.get("format") != FORMAT:
        _refuse(number, f"is not the first line of a '{FORMAT}'; choose a file that export wrote")
    if fields.get("version") != VERSION:
        _refuse(number, f"version {fields.get('version')!r} is not {VERSION}; update Namefirst")
    head = _Fields(fields, number)
    head.of("learner", str)
    for name in _ADDED_LATER:
        fields.setdefault(f"{name}s", 0)  # an export from before there were any
    for name in _COUNTED:
        head.count(f"{name}s")
    return fields


def _object(line: str, number: int) -> dict[str, Any]:
    try:
        fields = json.loads(line, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        _refuse(number, "is no JSON; the file is damaged or no export, export it again")
    if not isinstance(fields, dict):
        _refuse(number, "is no JSON object; the file is damaged or no export, export it again")
    return fields


def _is_number(value: object) -> bool:
    return type(value) in (int, float)


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no JSON")


def _refuse(number: int, why: str) -> NoReturn:
    raise BadExchange(f"line {number}: {why}")


def _identity(answered_at: datetime, recipe: Recipe, answer: Answer) -> tuple[object, ...]:
    return answered_at, recipe, answer


def _fix_identity(kept: KeptFix) -> tuple[object, ...]:
    return kept.answered_at, kept.result.recipe, kept.result.sort, kept.result.fix


def _canonical(plan: dict[str, Any]) -> str:
    return json.dumps(plan, sort_keys=True)


def _answer_plain(kept: KeptAnswer) -> dict[str, Any]:
    listening = kept.listening
    return {
        "drill": kept.drill_id,
        "answered_at": kept.answered_at.isoformat(),
        "recipe": kept.recipe.to_dict(),
        **answer_plain(kept.answer),
        "seconds": listening.seconds,
        "switches": listening.switches,
        "heard_a_s": listening.heard_a_s,
        "heard_b_s": listening.heard_b_s,
        "alone_s": listening.alone_s,
        "version": kept.version,
    }


def _write(out: IO[str], fields: dict[str, Any]) -> None:
    out.write(json.dumps(fields) + "\n")
