"""Taking a set without a screen: journals, tries, terms, and the result that comes of it."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from exercises.errors import NamefirstError
from exercises.kinds import TONE, Help, Kind
from exercises.loop_writing import write_loop
from exercises.loops import read_loop
from tests.simulated_class import MADE, class_set, taken
from tests.synthetic_loops import small_band
from trainer.assignments.handing_in import write_latest_result
from trainer.assignments.known_sets import known_set, known_sets, remember
from trainer.assignments.practice_set import (
    BadSet,
    Counts,
    PracticeSet,
    Review,
    Rule,
    SetLoop,
    Terms,
)
from trainer.assignments.result import (
    ChainState,
    Result,
    ability_after,
    checksum,
    finest_of,
    read_result,
    result_text,
)
from trainer.assignments.set_archive import own_loop_files, write_set
from trainer.assignments.set_questions import draw_questions
from trainer.assignments.strangers import Refused
from trainer.assignments.taking import Taking, open_set
from trainer.chain import Reach
from trainer.loop_shelf import LoopShelf
from trainer.record import Listening, Record
from trainer.round import Round

LISTENED = Listening(8.0, 3, 4.0, 3.5, 0.5)
VERSION = "0.1.0"


def own_set(tmp_path: Path, *, adaptive: bool = False, count: int = 4, **terms: object) -> Path:
    """A zip with a set on one short loop of the teacher's own."""
    folder = tmp_path / "loops" / "my-loop"
    if not folder.exists():
        write_loop(replace(small_band(level_db=-12.0), name="my-loop"), folder)
    loop = SetLoop("my-loop", read_loop(folder).fingerprint, own_loop_files(folder))
    rule = Rule((3, 5), (*TONE, Kind.NOTHING), () if adaptive else (9.0,), (Help.A_AT_HAND,))
    made = PracticeSet(
        "Mud, box",
        "M. Quill",
        "Slowly.",
        MADE,
        Terms(**terms),  # type: ignore[arg-type]
        11,
        rule,
        adaptive,
        (loop,),
        draw_questions(rule, (loop,), count, 11, lambda _loop, _kind, _hz: 2.0),
    )
    path = tmp_path / f"{made.id}.zip"
    write_set(made, path, tmp_path / "loops", force=True)
    return path


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    made = Record(tmp_path / "home", "Ada", VERSION)
    yield made
    made.close()


def begin(
    path: Path, tmp_path: Path, record: Record, now: datetime = MADE, *, out: str = "out"
) -> Taking:
    """A try of the set at ``path``; its results go to ``out``."""
    folder, outbox = tmp_path / "home" / "sets", tmp_path / out
    outbox.mkdir(exist_ok=True)
    shelf = LoopShelf(tmp_path / "home" / "loops")
    return Taking(open_set(path, folder), shelf, folder, outbox, record, now, VERSION)


def say(round_: Round, kind: Kind, freq_hz: float | None) -> None:
    round_.mark_kind(kind)
    if freq_hz is not None:
        round_.mark_freq(freq_hz)


def answer(taking: Taking, now: datetime, *, right: bool = True) -> Round:
    """Answers the next question, rightly or with what it is not."""
    round_ = taking.next_round()
    truth = round_.question.truth
    if right:
        say(round_, truth.kind, truth.freq_hz)
    else:
        say(round_, Kind.TOO_LOUD, None)
    taking.answer(round_, sure=True, listening=LISTENED, now=now)
    return round_


def through(taking: Taking, now: datetime = MADE) -> datetime:
    while taking.seconds_left(now) > 0.0:
        now += timedelta(seconds=20)
        answer(taking, now)
    taking.end()
    taking.close()
    return now


def test_a_set_is_taken_and_its_result_is_read_back(tmp_path: Path, record: Record) -> None:
    taking = begin(own_set(tmp_path), tmp_path, record)
    through(taking)
    assert taking.result_path is not None
    assert taking.result_path.parent == tmp_path / "out"
    result = read_result(taking.result_path.read_bytes(), "x")
    assert result.student == "Ada"
    assert result.answers == tuple(taking.answers)
    assert [kept.recipe for kept in result.answers] == [q.recipe for q in taking.set.questions]
    assert all(kept.verdict.named for kept in result.answers)
    assert result.answers[0].listening == LISTENED
    assert result.finished_at == taking.answers[-1].answered_at
    assert result.chain is None
    assert result.finest == finest_of(ability_after(result.answers))


def test_a_try_goes_on_after_a_crash_with_nothing_lost(tmp_path: Path, record: Record) -> None:
    path = own_set(tmp_path)
    first = begin(path, tmp_path, record)
    answer(first, MADE + timedelta(seconds=10))
    answer(first, MADE + timedelta(seconds=20), right=False)
    first.close()
    journal = next((tmp_path / "home" / "sets").glob("*/*.jsonl"))
    with journal.open("ab") as out:  # the power went while the third was being written
        out.write(b'{"number": 3, "answered_at": "2026-0')
    again = begin(path, tmp_path, record, MADE + timedelta(hours=1))
    assert again.answers == first.answers
    assert again.number == 3
    through(again, MADE + timedelta(hours=1))
    assert again.result_path is not None
    result = read_result(again.result_path.read_bytes(), "x")
    assert [kept.id for kept in result.answers] == [1, 2, 3, 4]
    assert result.started_at == MADE


def test_a_try_cut_off_before_its_first_answer_begins_anew(tmp_path: Path, record: Record) -> None:
    path = own_set(tmp_path)
    first = begin(path, tmp_path, record)
    answer(first, MADE)
    first.close()
    journal = next((tmp_path / "home" / "sets").glob("*/*.jsonl"))
    journal.write_bytes(journal.read_bytes().split(b"\n")[0] + b'\n{"number"')
    again = begin(path, tmp_path, record)
    assert again.number == 1
    through(again)
    assert len(result_of(again).answers) == 4


def result_of(taking: Taking) -> Result:
    assert taking.result_path is not None
    return read_result(taking.result_path.read_bytes(), "x")


def test_a_damaged_journal_is_told_and_left_alone(tmp_path: Path, record: Record) -> None:
    path = own_set(tmp_path)
    first = begin(path, tmp_path, record)
    answer(first, MADE)
    first.close()
    journal = next((tmp_path / "home" / "sets").glob("*/*.jsonl"))
    journal.write_bytes(journal.read_bytes().replace(b'"too', b'"far too', 1) + b"soup\n")
    before = journal.read_bytes()
    with pytest.raises(BadSet, match="move it aside"):
        begin(path, tmp_path, record)
    assert journal.read_bytes() == before


def test_the_tries_are_counted(tmp_path: Path, record: Record) -> None:
    path = own_set(tmp_path, tries=2, counts=Counts.LAST, count=2)
    through(begin(path, tmp_path, record))
    second = begin(path, tmp_path, record, MADE + timedelta(days=1))
    assert second.try_number == 2
    through(second, MADE + timedelta(days=1))
    with pytest.raises(BadSet, match="all 2 tries are used by 'Ada'"):
        begin(path, tmp_path, record, MADE + timedelta(days=2))
    assert len(list((tmp_path / "out").glob("*.result.json"))) == 2
    other = Record(tmp_path / "home", "Bo", VERSION)
    try:
        assert begin(path, tmp_path, other).try_number == 1
    finally:
        other.close()


@pytest.mark.parametrize(
    ("review", "shown", "recorded"),
    [(Review.AT_ONCE, True, 2), (Review.AT_THE_END, False, 2), (Review.NOT_AT_ALL, False, 0)],
)
def test_when_the_truth_is_shown(
    review: Review, shown: bool, recorded: int, tmp_path: Path, record: Record
) -> None:
    taking = begin(own_set(tmp_path, review=review, count=2), tmp_path, record)
    round_ = taking.next_round()
    say(round_, Kind.NOTHING, None)
    given = taking.answer(round_, sure=False, listening=LISTENED, now=MADE)
    assert (given is not None) is shown
    assert record.count_answers() == 0  # a look at past answers would show the truth too soon
    through(taking)
    assert record.count_answers() == recorded


def test_minutes_end_a_set_and_what_is_open_stays_open(tmp_path: Path, record: Record) -> None:
    taking = begin(own_set(tmp_path, minutes=0.5), tmp_path, record)
    assert taking.seconds_left(MADE) == 30.0
    answer(taking, MADE + timedelta(seconds=20))
    assert taking.seconds_left(MADE + timedelta(seconds=20)) == pytest.approx(22.0)
    answer(taking, MADE + timedelta(seconds=60))
    assert taking.seconds_left(MADE + timedelta(seconds=60)) == 0.0
    taking.end()
    assert len(result_of(taking).answers) == 2


def test_without_minutes_there_is_no_end_but_the_last_question(
    tmp_path: Path, record: Record
) -> None:
    taking = begin(own_set(tmp_path, count=1), tmp_path, record)
    assert taking.seconds_left(MADE + timedelta(days=9)) == math.inf
    answer(taking, MADE)
    assert taking.seconds_left(MADE) == 0.0


def test_sizes_follow_the_student_in_an_adaptive_set(tmp_path: Path, record: Record) -> None:
    path = own_set(tmp_path, adaptive=True, count=12)
    good = begin(path, tmp_path, record)
    other = Record(tmp_path / "home", "Bo", VERSION)
    bad = begin(path, tmp_path, other)
    sizes: dict[bool, list[float]] = {True: [], False: []}
    for taking, right in ((good, True), (bad, False)):
        for place in range(12):
            round_ = answer(taking, MADE + timedelta(seconds=20 * place), right=right)
            recipe = round_.question.recipe
            asked = taking.set.questions[place].recipe
            assert replace(recipe, size_db=asked.size_db) == asked  # all but the size is settled
            if recipe.kind in TONE:
                assert recipe.size_db >= 2.0  # what can be heard on that loop
                sizes[right].append(recipe.size_db)
    other.close()
    assert sizes[True][0] == sizes[False][0]
    assert sizes[True][-1] < sizes[True][0] < sizes[False][-1] + 0.05


def test_the_result_is_written_again_where_it_was_lost(tmp_path: Path, record: Record) -> None:
    path = own_set(tmp_path, count=2)
    with pytest.raises(BadSet, match="has answered nothing"):
        write_again(path, tmp_path, record)
    taking = begin(path, tmp_path, record)
    through(taking)
    first = result_of(taking)
    assert taking.result_path is not None
    taking.result_path.unlink()
    assert read_result(write_again(path, tmp_path, record).read_bytes(), "x") == first


def write_again(path: Path, tmp_path: Path, record: Record) -> Path:
    folder = tmp_path / "home" / "sets"
    return write_latest_result(open_set(path, folder), folder, tmp_path / "out", record, VERSION)


def test_a_result_goes_elsewhere_where_its_place_cannot_be_written(
    tmp_path: Path, record: Record
) -> None:
    taking = begin(own_set(tmp_path, count=1), tmp_path, record, out="gone")
    (tmp_path / "gone").rmdir()
    through(taking)
    assert taking.result_path is not None
    assert taking.result_path.parent == tmp_path / "home" / "sets" / taking.set.id


def test_another_loop_under_the_name_is_not_taken_for_the_teachers(
    tmp_path: Path, record: Record
) -> None:
    path = own_set(tmp_path)
    made = open_set(path, tmp_path / "home" / "sets")
    there = tmp_path / "home" / "sets" / made.id / "loops" / "my-loop"
    for file in there.iterdir():
        file.unlink()
    there.rmdir()
    write_loop(replace(small_band(level_db=-9.0), name="my-loop"), there)
    with pytest.raises(BadSet, match="not the one the set was made on"):
        begin(path, tmp_path, record)


def test_sets_seen_here_are_listed_with_their_state(tmp_path: Path, record: Record) -> None:
    folder = tmp_path / "home" / "sets"
    path = own_set(tmp_path, count=2, review=Review.NOT_AT_ALL)
    made = open_set(path, folder)
    remember(made, folder)
    remember(class_set(3, made=MADE + timedelta(days=1)), folder, made_here=True)
    (folder / "damaged").mkdir()
    (folder / "damaged" / "set.toml").write_text("soup")
    assert [each.state for each in known_sets(folder, "Ada")] == ["made here", "not begun"]
    taking = begin(path, tmp_path, record)
    answer(taking, MADE)
    taking.close()
    assert known_set(made, folder, "Ada").state == "1 of 2 answered"
    through(begin(path, tmp_path, record))
    finished = known_set(made, folder, "Ada")
    assert (finished.state, finished.may_take, finished.reviewable) == ("finished", False, None)


def test_todays_drill_stays_open_while_a_set_is_taken(tmp_path: Path, record: Record) -> None:
    drill_id = record.start_drill(MADE.date(), {"limits": {}})
    through(begin(own_set(tmp_path, count=1), tmp_path, record))
    kept = record.open_drill(MADE.date())
    assert kept is not None
    assert kept.id == drill_id


# Results --------------------------------------------------------------------------------------


CHAIN = ChainState("old headphones", MADE, -30.0, (Reach.NOT, *(Reach.REPRODUCED,) * 9))


def test_a_result_is_read_back_as_it_was() -> None:
    result = replace(taken(class_set(40), "Ada", 0.6), chain=CHAIN)
    assert read_result(result_text(result).encode(), "x") == result
    assert result.chain is not None
    assert result.chain.not_reached == {0}


def changed(change: Callable[[dict[str, object]], object], *, signed: bool = True) -> bytes:
    """A result with something changed, its checksum made to fit where ``signed``."""
    plain = json.loads(result_text(replace(taken(class_set(6), "Ada", 0.6), chain=CHAIN)))
    change(plain)
    if signed:
        plain["checksum"] = checksum(plain)
    return json.dumps(plain).encode()


def put(*path: str | int, value: object) -> Callable[[dict[str, object]], object]:
    def change(plain: dict[str, object]) -> None:
        inner: object = plain
        for step in path[:-1]:
            inner = inner[step]  # type: ignore[index]
        inner[path[-1]] = value  # type: ignore[index]

    return change


def twice(plain: dict[str, object]) -> None:
    answers = plain["answers"]
    assert isinstance(answers, list)
    answers[1] = answers[0]


LONG = "x" * 300_000
BAD_RESULTS: list[tuple[Callable[[dict[str, object]], object], str]] = [
    (put("version", value=2), "of version 2"),
    (put("format", value="soup"), "is no namefirst result"),
    (put("student", value=""), "'student' is blank"),
    (put("student", value="a\x1b[2Jb"), "cannot be shown"),
    (put("student", value=LONG), "no text of at most 60"),
    (put("try", value=0), "'try'"),
    (put("try", value=True), "'try'"),
    (put("soup", value=1), "'soup' is not one"),
    (put("started_at", value="yesterday"), "no moment"),
    (put("started_at", value="2026-03-03T09:00:00"), "time zone"),
    (put("started_at", value="9999-12-31T23:59:59-23:59"), "beyond all calendars|cannot be"),
    (put("finished_at", value="2020-01-01T00:00:00+00:00"), "before the start"),
    (put("set", "questions", value=10**9), "'questions'"),
    (put("set", value=[]), r"'set' \(a list\) is no table"),
    (put("answers", 0, "number", value=5), "twice, out of order"),
    (put("answers", 0, "seconds", value=-1), "'seconds'"),
    (put("answers", 0, "seconds", value=10**30), "'seconds' \\(a huge number\\)"),
    (put("answers", 0, "recipe", "size_db", value=99), "size_db"),
    (put("answers", 0, "recipe", "kind", value="soup"), "kind"),
    (put("answers", 0, "recipe", "soup", value=1), "soup"),
    (put("answers", 0, "answer", "freq_hz", value="200"), "freq_hz"),
    (put("answers", 0, "answer", "soup", value=1), "'soup' is not one"),
    (put("answers", 0, "answer", value=None), "'answer' \\(None\\) is no table"),
    (put("answers", value=[{}] * 7), "no list of at most 6"),
    (put("finest", 0, "skill", value="soup"), "soup"),
    (put("finest", 0, "low_db", value=900), "outside its interval"),
    (put("chain", "reach", value=["not"]), "each of the 10 bands"),
    (put("chain", "reach", value=["loud"] * 10), "another word"),
    (twice, "twice, out of order"),
]


@pytest.mark.parametrize(("change", "why"), BAD_RESULTS)
def test_a_bad_result_is_refused_in_one_line(
    change: Callable[[dict[str, object]], object], why: str
) -> None:
    with pytest.raises(Refused, match=why) as caught:
        read_result(changed(change), "x.json")
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 300


def test_the_checksum_catches_any_change() -> None:
    with pytest.raises(Refused, match="checksum does not fit"):
        read_result(changed(put("answers", 0, "answer", "sure", value=5), signed=False), "x.json")


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "is no JSON"),
        (b"[1, 2]", "no JSON object"),
        (b'{"a": NaN}', "NaN is no number"),
        (b'{"a": -Infinity}', "-Infinity is no number"),
        (b'{"a": 1, "a": 2}', "twice"),
        (b'{"a": ' + b"[" * 100_000 + b"]" * 100_000 + b"}", "nested too deeply"),
        (b'{"a": ' + b"9" * 10_000 + b"}", "is no JSON"),
        (b"\xff\xfe", "is no JSON"),
        (b'{"format": "namefirst result", "version": 1e999}', "of version inf"),
    ],
)
def test_what_is_no_result_is_refused(data: bytes, why: str) -> None:
    with pytest.raises(NamefirstError, match=why):
        read_result(data, "x.json")
