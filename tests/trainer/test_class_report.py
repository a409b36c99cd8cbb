"""The class report from files to page and grades, without a browser: counts, rules, refusals."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path

import pytest
from scipy import stats

from exercises.bands import band_of
from exercises.errors import NamefirstError
from exercises.kinds import TONE, Kind
from tests.simulated_class import MADE, NAMES, class_set, skills, taken
from trainer.ability import Estimate
from trainer.assignments.practice_set import BadSet, Counts, PracticeSet
from trainer.assignments.result import ChainState, Result, result_text
from trainer.assignments.set_file import set_text
from trainer.chain import Reach
from trainer.class_report import gathering
from trainer.class_report.figures import SetFigures
from trainer.class_report.gathering import RefusedFile, find_files, read_all
from trainer.class_report.ledger import Ledger, student_key
from trainer.class_report.making import _fill, _sets, make_report
from trainer.class_report.student_figures import practise_sentence, students
from trainer.class_report.tries import Handed, judged_tries
from trainer.skills import SKILLS
from trainer.statistics import share_of

NOW = MADE + timedelta(days=30)


def hand_in(folder: Path, results: Sequence[Result], made: PracticeSet | None = None) -> Path:
    """``folder`` with a file for each result, and the set's own."""
    folder.mkdir(exist_ok=True)
    start = len(list(folder.iterdir()))
    for number, result in enumerate(results, start=start):
        (folder / f"{number:03d}.json").write_text(result_text(result))
    if made is not None:
        (folder / f"{made.id}.toml").write_text(set_text(made))
    return folder


def figures(folder: Path, tmp_path: Path, roll: Sequence[str] = ()) -> tuple[SetFigures, ...]:
    """The figures of every set in ``folder``, the oldest first."""
    place = tmp_path / "ledger"
    place.mkdir(exist_ok=True)
    (place / "ledger.sqlite").unlink(missing_ok=True)
    found = find_files([folder])
    ledger = Ledger(place)
    try:
        heads, _ = _fill(ledger, found)
        names = {student_key(name): name for name in roll}
        return tuple(_sets(ledger, heads, found.sets, names))
    finally:
        ledger.close()


def a_class(made: PracticeSet, count: int = 14, **more: object) -> list[Result]:
    return [
        taken(made, name, skill, seed=seed, finest=False, **more)  # type: ignore[arg-type]
        for seed, (name, skill) in enumerate(zip(NAMES, skills(count), strict=False))
    ]


def test_the_counts_are_those_of_a_plain_count(tmp_path: Path) -> None:
    made = class_set(40)
    results = a_class(made)
    (found,) = figures(hand_in(tmp_path / "in", results, made), tmp_path)
    by_name = {result.student: result for result in results}
    assert [row.name for row in found.rows] == sorted(by_name)
    for row in found.rows:
        answers = by_name[row.name].answers
        assert row.named == sum(kept.verdict.named for kept in answers)
        for column in range(10):
            there = [
                kept
                for kept in answers
                if kept.recipe.freq_hz is not None and band_of(kept.recipe.freq_hz).index == column
            ]
            assert row.cells[column] == (sum(k.verdict.named for k in there), len(there))
    kinds = [kept for result in results for kept in result.answers]
    for there, kind in enumerate(Kind):
        for said, other in enumerate(Kind):
            count = sum(k.recipe.kind is kind and k.answer.kind is other for k in kinds)
            assert found.kinds_named[there][said] == count
    tone = [k for k in kinds if k.recipe.kind in TONE and k.answer.freq_hz is not None]
    assert sum(map(sum, found.bands_named)) == len(tone)


def test_questions_are_analysed_as_scipy_would(tmp_path: Path) -> None:
    made = class_set(40)
    results = a_class(made)
    (found,) = figures(hand_in(tmp_path / "in", results, made), tmp_path)
    totals = [sum(k.verdict.named for k in result.answers) for result in results]
    credits = [sum(k.verdict.credit for k in result.answers) for result in results]
    order = sorted(range(len(results)), key=lambda place: (totals[place], credits[place]))
    weakest, best = order[:4], order[-4:]  # 27 % of 14
    for item in found.items:
        right = [int(result.answers[item.number - 1].verdict.named) for result in results]
        assert (item.share.right, item.share.total) == (sum(right), 14)
        assert item.discrimination is not None
        rest = [total - each for total, each in zip(totals, right, strict=True)]
        if 0 < sum(right) < 14:
            expected = stats.pointbiserialr(right, rest).statistic
            assert item.discrimination.correlation == pytest.approx(expected, abs=1e-9)
        else:
            assert item.discrimination.correlation is None
        said = [result.answers[item.number - 1].answer.kind for result in results]
        if made.questions[item.number - 1].recipe.kind is Kind.NOTHING:
            assert item.fooled == sum(kind is not Kind.NOTHING for kind in said)
            assert item.missed is None
        else:
            assert item.missed == sum(kind is Kind.NOTHING for kind in said)
        if len({(totals[p], credits[p]) for p in order}) == len(order):  # no ties to break
            difference = (sum(right[p] for p in best) - sum(right[p] for p in weakest)) / 4
            assert item.discrimination.difference == pytest.approx(difference)


def test_discrimination_is_not_told_of_a_few(tmp_path: Path) -> None:
    made = class_set(10)
    (found,) = figures(hand_in(tmp_path / "in", a_class(made)[:9], made), tmp_path)
    assert all(item.discrimination is None for item in found.items)


# Tries, late, missing --------------------------------------------------------------------------


def handed(*tries: tuple[int, float, int]) -> list[Handed]:
    return [
        Handed(number, "ada", started, started + 100.0, 10, named, float(named))
        for number, started, named in tries
    ]


@pytest.mark.parametrize(
    ("counts", "tries", "chosen"),
    [
        (Counts.BEST, 3, 2),
        (Counts.FIRST, 3, 1),
        (Counts.LAST, 3, 3),
        (Counts.BEST, 1, 1),
        (Counts.LAST, 2, 2),
    ],
)
def test_the_rule_decides_which_try_counts(counts: Counts, tries: int, chosen: int) -> None:
    terms = replace(class_set(1).terms, tries=tries, counts=counts)
    judged = judged_tries(handed((1, 0.0, 5), (2, 1000.0, 9), (3, 2000.0, 7)), terms)
    assert [each.id for each in judged if each.counted] == [chosen]
    for each in judged[tries:]:
        assert "not allowed" in each.status
    assert all(bool(each.status) is not each.counted for each in judged)


def test_a_try_handed_in_twice_is_one_try() -> None:
    terms = replace(class_set(1).terms, tries=1)
    judged = judged_tries(handed((1, 0.0, 5), (2, 0.0, 5)), terms)
    assert [each.counted for each in judged] == [True, False]
    assert judged[1].status == "the same try, handed in again"


def test_late_unfinished_and_missing_are_told(tmp_path: Path) -> None:
    made = class_set(10)
    assert made.terms.due is not None
    results = [
        taken(made, "Ada Brook", 0.9, finest=False),
        taken(made, "Bram Field", 0.9, finest=False, started=made.terms.due),
        taken(made, "Cleo Marsh", 0.9, finest=False, answered=4),
    ]
    folder = hand_in(tmp_path / "in", results, made)
    (found,) = figures(folder, tmp_path, ["Ada Brook", "  dag   HOLT "])
    assert found.late == ("Bram Field",)
    assert found.unfinished == ("Cleo Marsh",)
    assert found.missing == ("  dag   HOLT ",)
    cleo = next(row for row in found.rows if row.name == "Cleo Marsh")
    assert (cleo.answered, cleo.asked) == (4, 10)


def test_one_student_under_two_spellings(tmp_path: Path) -> None:
    made = class_set(6)
    results = [
        taken(made, "Ada Brook", 0.9, finest=False),
        taken(made, "ada  BROOK", 0.2, finest=False, started=MADE + timedelta(days=2)),
    ]
    (found,) = figures(hand_in(tmp_path / "in", results, made), tmp_path)
    assert len(found.rows) == 1
    assert len(found.others) == 1


def test_the_sets_own_terms_hold_over_those_a_result_states(tmp_path: Path) -> None:
    made = class_set(6, tries=1)
    bent = replace(made, terms=replace(made.terms, tries=5, due=None))
    results = [
        taken(bent, "Ada", 0.2, seed=seed, finest=False, started=MADE + timedelta(days=9 + seed))
        for seed in range(3)
    ]
    (found,) = figures(hand_in(tmp_path / "in", results, made), tmp_path)
    assert len(found.others) == 2
    assert found.late == ("Ada",)


def test_answers_to_other_questions_than_the_sets_are_refused(tmp_path: Path) -> None:
    made = class_set(6)
    result = taken(made, "Ada", 0.5, finest=False)
    kept = result.answers[2]
    easier = replace(kept, recipe=replace(kept.recipe, seed=999))
    cheated = replace(result, answers=(*result.answers[:2], easier, *result.answers[3:]))
    folder = hand_in(tmp_path / "in", [cheated], made)
    found = find_files([folder])
    (refused,) = read_all(found.results, found.sets)
    assert isinstance(refused, RefusedFile)
    assert "question 3 is not the set's" in refused.why


def test_bands_that_did_not_sound_do_not_count_for_the_class(tmp_path: Path) -> None:
    made = class_set(30)
    reach = tuple(Reach.NOT if band == 2 else Reach.REPRODUCED for band in range(10))
    deaf = replace(
        taken(made, "Ada", 0.0, finest=False), chain=ChainState("laptop", MADE, -30.0, reach)
    )
    good = taken(made, "Bo", 1.0, finest=False)
    (found,) = figures(hand_in(tmp_path / "in", [deaf, good], made), tmp_path)
    asked = found.rows[0].cells[2][1]
    assert asked > 0
    assert (found.class_shares[2].right, found.class_shares[2].total) == (asked, asked)
    assert found.class_shares[3].total == 2 * found.rows[0].cells[3][1]
    assert found.rows[0].asked_unheard == asked


# Change, finest sizes, what to practise ---------------------------------------------------------


def test_change_since_the_set_before(tmp_path: Path) -> None:
    first, second = class_set(30), class_set(30, title="Again", made=MADE + timedelta(days=7))
    second = replace(second, questions=second.questions[::-1])
    folder = hand_in(tmp_path / "in", [taken(first, "Ada", 0.3)], first)
    hand_in(folder, [taken(second, "Ada", 0.9)], second)
    before, after = figures(folder, tmp_path)
    assert (before.head.title, after.head.title) == ("Mud or box", "Again")
    assert all(change is None for change in before.change)
    column = after.columns[0]
    now, then = after.class_shares[column].share, before.class_shares[column].share
    assert now is not None
    assert then is not None
    assert after.change[column] == pytest.approx(now - then)


def test_stated_finest_sizes_are_held_against_the_answers(tmp_path: Path) -> None:
    made = class_set(20)
    honest = taken(made, "Ada", 0.6)
    skill, finest = honest.finest[0]
    better = Estimate(finest.size_db / 2, finest.low_db / 2, finest.high_db, finest.answers)
    boasting = replace(honest, student="Bo", finest=((skill, better), *honest.finest[1:]))
    other = replace(honest, student="Cy", version="9.9")
    folder = hand_in(tmp_path / "in", [honest, boasting, other], made)
    (found,) = figures(folder, tmp_path)
    assert [row.finest_check for row in found.rows] == ["agreed", "differs", "other version"]


def test_a_student_is_told_finest_sizes_of_the_newest_set(tmp_path: Path) -> None:
    first, second = class_set(60), class_set(50, made=MADE + timedelta(days=7))
    results = [taken(first, "Ada", 0.3), taken(second, "Ada", 0.9)]
    folder = hand_in(tmp_path / "in", results)
    found = find_files([folder])
    ledger = Ledger(tmp_path)
    heads, _ = _fill(ledger, found)
    _sets(ledger, heads, {}, {})
    (student,) = students(ledger, heads)
    ledger.close()
    assert student.finest == results[1].finest
    assert student.before == dict(results[0].finest)
    assert [each.share.total for each in student.standings] == [60, 50]
    assert student.standings[1].change is not None


PRACTISE = [
    ([], (), share_of(0, 0), "Not enough answers yet"),
    (
        [(SKILLS[3], Estimate(5.0, 3.0, 8.0, 9))],
        (),
        share_of(0, 0),
        "too much 250: named from about 5.0 dB",
    ),
    ([(SKILLS[3], Estimate(5.0, 3.0, 8.0, 7))], (), share_of(0, 0), "Not enough answers yet"),
    (
        [],
        (("too much 250", "too much 500", 4),),
        share_of(0, 0),
        r"taken for too much 500 \(4 times",
    ),
    ([], (), share_of(9, 10), "Let more pass: a problem named in 9 of 10"),
]


@pytest.mark.parametrize(("finest", "confusions", "alarms", "words"), PRACTISE)
def test_what_to_practise(finest, confusions, alarms, words) -> None:  # type: ignore[no-untyped-def]
    assert re.search(words, practise_sentence(finest, confusions, alarms))


def test_the_surely_weakest_is_named_not_the_least_asked() -> None:
    weak = (SKILLS[2], Estimate(6.0, 4.0, 9.0, 20))
    unsure = (SKILLS[5], Estimate(8.0, 2.0, 30.0, 8))
    assert practise_sentence([unsure, weak], (), share_of(0, 0)).startswith("too much 125")


# Files ------------------------------------------------------------------------------------------


def test_a_large_class_is_read_side_by_side_in_the_same_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = class_set(6)
    folder = hand_in(tmp_path / "in", a_class(made), made)
    (folder / "junk.json").write_text("{")
    found = find_files([folder])
    monkeypatch.setattr(gathering, "CHECKED_BYTES", 0)
    alone = list(read_all(found.results, found.sets))
    monkeypatch.setattr(gathering, "_SEVERAL", 1)
    monkeypatch.setattr(gathering, "_BATCH", 4)
    several = list(read_all(found.results, found.sets))
    assert [each.file for each in several] == [each.file for each in alone]
    settled = [
        replace(each, finest_checked="") if hasattr(each, "head") else each for each in alone
    ]
    assert [
        replace(each, finest_checked="") if hasattr(each, "head") else each for each in several
    ] == settled


def test_links_and_folders_are_left_out_and_told(tmp_path: Path) -> None:
    folder = hand_in(tmp_path / "in", [taken(class_set(4), "Ada", 0.5, finest=False)])
    (folder / "link.json").symlink_to("/etc/passwd")
    (folder / "folder.json").mkdir()
    (folder / "notes.txt").write_text("mine")
    found = find_files([folder])
    assert [path.name for path in found.results] == ["000.json"]
    assert sorted(Path(each.file).name for each in found.refused) == ["folder.json", "link.json"]


def test_nothing_to_report_is_told_with_the_reason(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    with pytest.raises(NamefirstError, match="no result to report"):
        make_report([folder], tmp_path / "r.html", None, None, NOW)
    (folder / "a.json").write_text("{")
    with pytest.raises(NamefirstError, match="is no JSON"):
        make_report([folder], tmp_path / "r.html", None, None, NOW)
    with pytest.raises(NamefirstError, match="is not there"):
        make_report([tmp_path / "nowhere"], tmp_path / "r.html", None, None, NOW)
    assert not (tmp_path / "r.html").exists()


def test_nothing_is_written_over_unasked(tmp_path: Path) -> None:
    folder = hand_in(tmp_path / "in", [taken(class_set(4), "Ada", 0.5, finest=False)])
    grades = tmp_path / "g.csv"
    grades.write_text("mine")
    with pytest.raises(BadSet, match=r"g\.csv: is already there"):
        make_report([folder], tmp_path / "r.html", grades, None, NOW)
    assert not (tmp_path / "r.html").exists()
    assert grades.read_text() == "mine"
    make_report([folder], tmp_path / "r.html", grades, None, NOW, force=True)
    assert grades.read_text().startswith("student,")


def test_grades_are_plain_cells_for_a_spreadsheet(tmp_path: Path) -> None:
    made = class_set(10)
    names = ("=1+1", "+Bo", "@Cy", 'D"a,n', "Eve")
    results = [taken(made, name, 0.5, seed=n, finest=False) for n, name in enumerate(names)]
    folder = hand_in(tmp_path / "in", results, made)
    roll = tmp_path / "roll.txt"
    roll.write_text("Eve\n\nFay\n", encoding="utf-8")
    make_report([folder], tmp_path / "r.html", tmp_path / "g.csv", roll, NOW)
    with (tmp_path / "g.csv").open(newline="", encoding="utf-8") as lines:
        table = {row["student"]: row for row in csv.DictReader(lines)}
    assert sorted(table) == sorted(["'=1+1", "'+Bo", "'@Cy", 'D"a,n', "Eve", "Fay"])
    eve = table["Eve"]
    named = sum(kept.verdict.named for kept in results[4].answers)
    assert (int(eve["named"]), float(eve["share_of_questions"])) == (named, named / 10)
    assert datetime.fromisoformat(eve["handed_in"]).date() == (MADE + timedelta(days=1)).date()
    assert (table["Fay"]["state"], table["Fay"]["named"]) == ("missing", "")


class _Reader(HTMLParser):
    """Tags and text of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_whatever_is_in_a_name_stays_text(tmp_path: Path) -> None:
    hostile = '"><script>alert(1)</script><img src=x onerror=y>'
    made = replace(class_set(4), title="<b>&amp; {{ 7*7 }}")
    folder = hand_in(tmp_path / "in", [taken(made, hostile, 0.5, finest=False)], made)
    (folder / "<i>bad.json").write_text("{")
    page = tmp_path / "r.html"
    make_report([folder], page, None, None, NOW)
    reader = _Reader()
    reader.feed(page.read_text(encoding="utf-8"))
    tags = [tag for tag, _ in reader.tags]
    assert tags.count("script") == 1
    assert {"img", "b", "i"} & set(tags) <= {"b"}
    assert all(not name.startswith("on") for _, attributes in reader.tags for name in attributes)
    assert any(hostile in words for words in reader.words)
    assert any("{{ 7*7 }}" in words for words in reader.words)
    sources = [each.get("src") or each.get("href") for _, each in reader.tags]
    assert [source for source in sources if source] == ["data:,"]  # nothing from elsewhere


def test_a_file_that_is_named_and_no_set_is_told(tmp_path: Path) -> None:
    path = tmp_path / "set.toml"
    path.write_text("soup")
    found = find_files([path])
    assert found.refused[0].file == str(path)
    assert "no TOML" in found.refused[0].why
