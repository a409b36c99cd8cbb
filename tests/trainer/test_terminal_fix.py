"""The choice of a fix in a terminal's drill, from its front door: a script through a pipe."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from exercises.demo_loops import demo_loop
from exercises.fix_candidates import fix_candidates
from exercises.question import make_question
from trainer.choice_round import ChoiceRound
from trainer.fix_reasons import why_sentence
from trainer.fix_round import Sort
from trainer.fix_words import choice_sentence, fix_words, order_sentence, residual_words
from trainer.kept_fixes import KeptFix, kept_fixes
from trainer.record import Record
from trainer.words import truth_sentence

ROOT = Path(__file__).parents[2]
LOOP = "gull-parade"
ASKED = ("--terminal", "--learner", "ann", "--loops", LOOP)
QUESTION = "b\nwait 1.5\nnothing\n\n"
TWO_QUESTIONS = 2 * QUESTION
A_FIX = "\n?\n2\na\nwait 0.1\n1 2\n3\n3 1 4\n+\ns\n\n1\nnonsense\n\n"


def drill(home: Path, script: str, *words: str) -> list[str]:
    """What a drill on one loop says when ``script`` is typed."""
    done = subprocess.run(
        [sys.executable, "-m", "trainer", "drill", *ASKED, *words],
        cwd=ROOT,
        env=os.environ
        | {
            "NAMEFIRST_HOME": str(home),
            "SDL_AUDIODRIVER": "dummy",
            "PYTHONIOENCODING": "utf-8",
        },
        input=script,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def kept_in(home: Path) -> list[KeptFix]:
    record = Record(home, "ann", "test")
    try:
        return list(kept_fixes(record))
    finally:
        record.close()


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    home = tmp_path_factory.mktemp("home")
    return home, drill(home, f"{TWO_QUESTIONS}{A_FIX}q\n", "--fixes", "8")


def test_a_fix_is_asked_told_and_kept(said: tuple[Path, list[str]]) -> None:
    home, lines = said
    (kept,) = kept_in(home)
    assert kept.result.sort is Sort.CHOICE
    assert kept.number == 3
    loop = demo_loop(LOOP)
    question = make_question(kept.result.recipe, loop)
    round_ = ChoiceRound(question, loop, fix_candidates(question, loop), kept.result.seed)
    for number in (3, 1, 4):
        round_.mark(number)
    assert kept.result.marked == (3, 1, 4)
    assert kept.result.true_order == round_.true_order
    assert kept.result.fix == round_.offered[2].fix
    start = next(at for at, line in enumerate(lines) if line.startswith("Before question 3, a fix"))
    assert lines[start + 1] == truth_sentence(kept.result.recipe).replace("\N{MINUS SIGN}", "-")
    assert lines[start + 2].startswith("Four fixes: 1 is ")
    # Said again when another was heard after it, which Enter would not take.
    assert lines.count("In this order: 1 2. Enter takes it.") == 2
    rest = lines[start + 3 :]
    assert "Hear one first: 1 to 4." in rest
    for heard in ("2, ", "3, ", "1, "):
        assert any(line.startswith(heard) and "move" in line for line in rest)
    result = round_.choose()
    assert "In this order: 3 1 4. Enter takes it." in rest
    assert choice_sentence(round_, result) in rest
    assert order_sentence(result) in rest
    for number, candidate in enumerate(round_.offered, 1):
        row = f"{number}: {fix_words(candidate.fix)}; {residual_words(candidate.judgement)}."
        assert row in rest
        why = why_sentence(candidate, question.recipe, loop).replace("\N{MINUS SIGN}", "-")
        assert f"   {why}" in rest
    assert any("'nonsense' means nothing here" in line for line in rest)
    assert any(line.startswith("Question 3") for line in rest)


def test_the_moves_are_not_told_before_the_choice(said: tuple[Path, list[str]]) -> None:
    _, lines = said
    start = next(at for at, line in enumerate(lines) if line.startswith("Before question 3, a fix"))
    stop = next(at for at, line in enumerate(lines) if line.startswith("You picked"))
    assert not any("shelf" in line or "compress" in line for line in lines[start:stop])


def test_taken_up_again_it_is_not_asked_twice(said: tuple[Path, list[str]]) -> None:
    home, _ = said
    lines = drill(home, "q\n", "--fixes", "8")
    assert any(line.startswith("Question 3") for line in lines)
    assert not any("a fix." in line for line in lines)
    assert len(kept_in(home)) == 1


def test_left_in_the_middle_nothing_is_kept_and_it_is_asked_again(tmp_path: Path) -> None:
    lines = drill(tmp_path, f"{TWO_QUESTIONS}1\nq\n", "--fixes", "8")
    assert "Left. 2 answers are kept; start the drill again today to go on from here." in lines
    assert kept_in(tmp_path) == []
    again = drill(tmp_path, "q\n", "--fixes", "8")
    assert any(line.startswith("Before question 3, a fix") for line in again)


def test_none_where_none_were_asked_for(tmp_path: Path) -> None:
    lines = drill(tmp_path, QUESTION * 5 + "q\n", "--fixes", "0")
    assert any(line.startswith("Question 6") for line in lines)
    assert not any("a fix." in line for line in lines)
