"""The record carried out and in: whole, once, and all or nothing."""

from __future__ import annotations

import io
import json
from dataclasses import fields, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from exercises.build_up import Hill
from exercises.kinds import Kind
from exercises.problems import Problem
from exercises.recipe import Recipe
from exercises.with_and_without import PointFilter
from tests.filled_record import fill
from trainer.chain import Counted, Presentation
from trainer.claim import Point, Trial
from trainer.exchange import BadExchange, Imported, export_record, import_record
from trainer.judging import Answer, Named
from trainer.kept_chains import bands_not_reproduced, keep_check, kept_checks
from trainer.kept_claims import KeptClaim, kept_claims, write_claim
from trainer.progress import progress_of
from trainer.record import KeptAnswer, Listening, Record
from trainer.scoring import ability_of

TODAY = date(2026, 3, 1)


def _lines(record: Record) -> list[str]:
    out = io.StringIO()
    export_record(record, out)
    return out.getvalue().splitlines(keepends=True)


def _filled(folder: Path, answers: int = 130, **how: int) -> Record:
    record = Record(folder, "ada", "1.0")
    fill(record, answers, **how)
    record.set_setting("volume_db", -30.0)
    return record


def _told(kept: KeptAnswer) -> tuple[object, ...]:
    """An answer but for the numbers that a file of its own gives it."""
    return (
        kept.answered_at,
        kept.day,
        kept.recipe,
        kept.answer,
        kept.listening,
        kept.version,
    )


def test_the_whole_record_comes_back(tmp_path: Path) -> None:
    one = _filled(tmp_path / "one")
    two = Record(tmp_path / "two", "bo", "2.0")
    imported = import_record(two, _lines(one))
    assert imported == Imported("ada", answers=130, drills=3, settings=1, already=0)
    assert list(map(_told, two.answers())) == list(map(_told, one.answers()))
    assert [(d.day, d.plan, d.ended) for d in two.drills()] == [
        (d.day, d.plan, d.ended) for d in one.drills()
    ]
    assert two.setting("volume_db") == -30.0
    lines_one, lines_two = _lines(one), _lines(two)
    assert [line.replace("bo", "ada") for line in lines_two[:1]] == lines_one[:1]
    assert lines_two[1:] == lines_one[1:]
    figures = [progress_of(each, TODAY) for each in (one, two)]
    assert figures[0].strips == figures[1].strips
    assert (figures[0].minutes, figures[0].weeks) == (figures[1].minutes, figures[1].weeks)


def test_a_second_time_changes_nothing(tmp_path: Path) -> None:
    one, two = _filled(tmp_path / "one"), Record(tmp_path / "two", "bo", "2.0")
    lines = _lines(one)
    import_record(two, lines)
    before = _lines(two)
    again = import_record(two, lines)
    assert again == Imported("ada", answers=0, drills=0, settings=0, already=134)
    assert _lines(two) == before
    assert import_record(one, lines).answers == 0


def test_what_is_there_is_left_and_the_rest_joins_it(tmp_path: Path) -> None:
    one, two = _filled(tmp_path / "one"), _filled(tmp_path / "two", 70, seed=2)
    two.set_setting("volume_db", -20.0)
    imported = import_record(two, _lines(one))
    assert imported.answers == 130
    assert len(list(two.answers())) == 200
    assert two.setting("volume_db") == -20.0
    newest = two.latest_answers(200)
    assert [kept.day for kept in newest] == sorted((k.day for k in newest), reverse=True)


def test_older_answers_brought_in_are_learned_from_in_their_place(tmp_path: Path) -> None:
    older, newer = Record(tmp_path / "a", "ada", "1"), Record(tmp_path / "b", "ada", "1")
    both = Record(tmp_path / "c", "ada", "1")
    fill(older, 60)
    fill(newer, 60, seed=2, first_day=date(2026, 2, 2))
    for folder_first in (older, newer):
        import_record(both, _lines(folder_first))
    ability_of(newer, TODAY)  # fills its caches before the older ones come
    import_record(newer, _lines(older))
    assert ability_of(newer, TODAY).to_state() == ability_of(both, TODAY).to_state()
    assert progress_of(newer, TODAY).strips == progress_of(both, TODAY).strips


def test_the_file_says_what_it_is_and_is_plain_ascii(tmp_path: Path) -> None:
    record = Record(tmp_path, "Zoë", "1")
    fill(record, 3)
    lines = _lines(record)
    assert all(line.isascii() for line in lines)
    assert json.loads(lines[0]) == {
        "format": "namefirst record",
        "version": 1,
        "learner": "Zoë",
        "drills": 1,
        "answers": 3,
        "fix_rounds": 0,
        "claims": 0,
        "chain_checks": 0,
        "settings": 0,
    }


def test_every_field_of_an_answer_is_carried(tmp_path: Path) -> None:
    """A field that an answer gains must be carried as well."""
    lines = _lines(_filled(tmp_path, 1))
    carried = set(json.loads(lines[2])["answer"])
    assert carried >= {each.name for each in (*fields(Answer), *fields(Listening))}
    ours = {"id", "day", "drill_id", "answer", "listening"}  # of this file, or said otherwise
    assert carried >= {each.name for each in fields(KeptAnswer)} - ours


def test_places_and_a_second_problem_are_carried(tmp_path: Path) -> None:
    one, two = Record(tmp_path / "one", "ada", "1"), Record(tmp_path / "two", "ada", "1")
    second = Problem(Kind.TOO_LITTLE, 4.0, 2000.0, 1.4)
    recipe = Recipe(
        1, "quay", "f" * 64, Kind.SQUASHED, 6.0, second=second, ask_track=True, ask_passage=True
    )
    named = Named(Kind.TOO_LITTLE, 2100.0)
    answer = Answer(Kind.SQUASHED, None, True, "guitar", "open chords", named)
    at = datetime(2026, 3, 1, 12, tzinfo=UTC)
    one.keep(one.start_drill(at.date(), {}), at, recipe, answer, Listening(9, 0, 0, 9, 4.5))
    import_record(two, _lines(one))
    (kept,) = two.answers()
    assert (kept.recipe, kept.answer) == (recipe, answer)
    assert kept.listening.alone_s == 4.5
    assert kept.verdict.track_right is False


def test_two_answers_of_one_moment_are_both_kept(tmp_path: Path) -> None:
    one = Record(tmp_path / "one", "ada", "1")
    at = datetime(2026, 3, 1, 12, tzinfo=UTC)
    drill_id = one.start_drill(at.date(), {})
    for seed in (1, 2):
        recipe = Recipe(seed, "quay", "f" * 64, Kind.NOTHING, 0.0)
        one.keep(drill_id, at, recipe, Answer(Kind.NOTHING, None, True), Listening(1, 0, 0, 1))
    two = Record(tmp_path / "two", "ada", "1")
    assert import_record(two, _lines(one)).answers == 2


def test_sittings_alike_stay_apart(tmp_path: Path) -> None:
    one, two = Record(tmp_path / "one", "ada", "1"), Record(tmp_path / "two", "ada", "1")
    for _ in range(2):
        one.start_drill(TODAY, {"minutes": 10})
    lines = _lines(one)
    assert import_record(two, lines).drills == 2
    assert import_record(two, lines).drills == 0
    assert len(list(two.drills())) == 2


def test_an_unended_sitting_is_ended_by_a_later_copy(tmp_path: Path) -> None:
    one, two = Record(tmp_path / "one", "ada", "1"), Record(tmp_path / "two", "ada", "1")
    drill_id = one.start_drill(TODAY, {})
    import_record(two, _lines(one))
    assert two.open_drill(TODAY) is not None
    one.end_drill(drill_id)
    import_record(two, _lines(one))
    assert two.open_drill(TODAY) is None


def _edited(line: str, what: str, **changed: object) -> str:
    plain = json.loads(line)
    for name, value in changed.items():
        if value is None:
            plain[what].pop(name, None)
        else:
            plain[what][name] = value
    return json.dumps(plain) + "\n"


REFUSED_ANSWERS = {
    "no drill": ({"drill": 99}, "'drill' is of no drill above it"),
    "no sure": ({"sure": None}, "'sure' None is no bool"),
    "sure as number": ({"sure": 1}, "'sure' 1 is no bool"),
    "no zone": ({"answered_at": "2026-03-05T19:30:00"}, "'answered_at' says no time zone"),
    "no moment": ({"answered_at": "yesterday"}, "'answered_at' is no moment"),
    "unknown kind": ({"kind": "fuzzy"}, "'fuzzy' is not a valid Kind"),
    "frequency that cannot be": ({"freq_hz": 1e9}, "'freq_hz' 1000000000.0 is no frequency"),
    "tone without frequency": ({"kind": "too much", "freq_hz": None}, "too much"),
    "negative time": ({"seconds": -1}, "'seconds' -1 is no length of time"),
    "no track": ({"track": 3}, "'track' 3 is no name"),
    "no second": ({"second": "loud"}, "'second' 'loud' is no answer"),
    "second without kind": ({"second": {"freq_hz": None}}, "'' is not a valid Kind"),
    "half a switch": ({"switches": 1.5}, "'switches' 1.5 is no int"),
    "no recipe": ({"recipe": "loud"}, "'recipe' 'loud' is no dict"),
    "damaged recipe": ({"recipe": {"seed": 1}}, "recipe field 'loop': is missing"),
}


@pytest.mark.parametrize(("changed", "message"), REFUSED_ANSWERS.values(), ids=REFUSED_ANSWERS)
def test_a_damaged_answer_refuses_the_file_and_names_its_line(
    tmp_path: Path, changed: dict[str, object], message: str
) -> None:
    lines = _lines(_filled(tmp_path / "one", 10))
    lines[4] = _edited(lines[4], "answer", **changed)
    _must_refuse(tmp_path, lines, "line 5: .*" + message.replace("(", r"\("))


REFUSED_LINES = {
    "no JSON": ('{"answer": \n', "line 5: is no JSON"),
    "not a number": ('{"setting": {"name": "x", "value": NaN}}\n', "line 5: is no JSON"),
    "bottomless": ("[" * 100_000 + "\n", "line 5: is no JSON"),
    "a list": ("[1]\n", "line 5: is no JSON object"),
    "foreign": (
        '{"track": 1}\n',
        "line 5: holds no drill, answer, fix round, claim, chain check or setting",
    ),
    "two in one": (
        '{"drill": {}, "answer": {}}\n',
        "line 5: holds no drill, answer, fix round, claim, chain check or setting",
    ),
    "hollow": ('{"drill": 3}\n', "line 5: the drill is no JSON object"),
    "no day": (
        '{"drill": {"number": 9, "day": "soon", "plan": {}, "ended": true}}\n',
        "line 5: 'day' is no day",
    ),
    "valueless setting": ('{"setting": {"name": "x"}}\n', "line 5: 'value' is missing"),
}


@pytest.mark.parametrize(("line", "message"), REFUSED_LINES.values(), ids=REFUSED_LINES)
def test_a_line_that_is_none_of_ours_refuses_the_file(
    tmp_path: Path, line: str, message: str
) -> None:
    lines = _lines(_filled(tmp_path / "one", 10))
    _must_refuse(tmp_path, [*lines[:4], line, *lines[5:]], message)


REFUSED_FILES = {
    "empty": ([], "the file is empty"),
    "blank": (["\n", " \n"], "the file is empty"),
    "another format": (['{"format": "songs"}\n'], "line 1: is not the first line of a"),
    "newer": (
        ['{"format": "namefirst record", "version": 2}\n'],
        "line 1: version 2 is not 1; update",
    ),
    "no counts": (
        ['{"format": "namefirst record", "version": 1, "learner": "ada"}\n'],
        "line 1: 'drills' None is no int",
    ),
}


@pytest.mark.parametrize(("lines", "message"), REFUSED_FILES.values(), ids=REFUSED_FILES)
def test_a_file_that_is_no_export_is_refused(
    tmp_path: Path, lines: list[str], message: str
) -> None:
    _must_refuse(tmp_path, lines, message)


@pytest.mark.parametrize("kept", [1, 2, 6, 11])
def test_a_file_that_was_cut_is_refused(tmp_path: Path, kept: int) -> None:
    lines = _lines(_filled(tmp_path / "one", 10))
    _must_refuse(tmp_path, lines[:kept], f"line {kept}: the file ends with .* it was cut")


def _must_refuse(tmp_path: Path, lines: list[str], message: str) -> None:
    """Refused in one line, and the record that it was meant for is left as it was."""
    record = _filled(tmp_path / "two", 20, seed=3)
    before = _lines(record)
    with pytest.raises(BadExchange, match=message) as refused:
        import_record(record, lines)
    assert "\n" not in str(refused.value)
    assert _lines(record) == before
    assert record.open_drill(date(2026, 1, 5) + timedelta(days=1)) is None


def _claimed(record: Record) -> None:
    claim = KeptClaim(
        claimed_at=datetime(2026, 3, 1, 20, 0, tzinfo=UTC),
        title="mix.wav",
        track="bass",
        start_s=30.0,
        seconds=8.0,
        change=PointFilter(200.0, -6.0, 1.4),
        nearest=Hill(186.0, 5.2, 0.33),
        outcome="heard",
        trials=(Trial("A", "A"), Trial("B", "A")),
        points=(Point(180.0, 190.5),),
        version="1.0",
    )
    write_claim(record, claim)
    later = replace(claim, claimed_at=claim.claimed_at + timedelta(hours=1))
    write_claim(record, replace(later, track=None, nearest=None, points=()))
    counted = (Counted(Presentation(3, True, 2, 7), 2), Counted(Presentation(0, False, 0, 0), 0))
    keep_check(record, "laptop", counted, -24.0, datetime(2026, 3, 1, 21, 0, tzinfo=UTC))


def test_claims_and_chain_checks_are_carried_once(tmp_path: Path) -> None:
    one, two = _filled(tmp_path / "one", 3), Record(tmp_path / "two", "bo", "2.0")
    _claimed(one)
    imported = import_record(two, _lines(one))
    assert (imported.claims, imported.chain_checks) == (2, 1)
    assert list(kept_claims(two)) == list(kept_claims(one))
    assert list(kept_checks(two)) == list(kept_checks(one))
    assert bands_not_reproduced(two, "laptop") == frozenset(range(10)) - {3}
    again = import_record(two, _lines(one))
    assert (again.claims, again.chain_checks) == (0, 0)
    assert len(list(kept_claims(two))) == 2


@pytest.mark.parametrize(
    ("what", "field", "value"),
    [
        ("claim", "trials", [{"x": "C", "said": "A"}]),
        ("claim", "points", [{"true_hz": 0, "named_hz": 1}]),
        ("claim", "change", {"freq_hz": "200", "gain_db": 1, "q": 1}),
        ("claim", "outcome", "maybe"),
        ("claim", "claimed_at", "noon"),
        ("chain_check", "reach", ["not"]),
        ("chain_check", "counts", [[1, 2]]),
    ],
)
def test_a_damaged_claim_or_check_refuses_the_file(
    tmp_path: Path, what: str, field: str, value: object
) -> None:
    one, two = _filled(tmp_path / "one", 3), Record(tmp_path / "two", "bo", "2.0")
    _claimed(one)
    lines = _lines(one)
    place = next(at for at, line in enumerate(lines) if line.startswith(f'{{"{what}"'))
    fields = json.loads(lines[place])
    fields[what][field] = value
    lines[place] = json.dumps(fields)
    with pytest.raises(BadExchange, match=f"line {place + 1}: "):
        import_record(two, lines)
    assert two.count_answers() == 0
    assert list(kept_claims(two)) == []
