"""The steps of the ladder in a terminal, through a pipe: places named, a track alone, A once or not
at all, two problems one after the other.
"""

from __future__ import annotations

import dataclasses
import io
import os
import subprocess
import sys
from pathlib import Path
from typing import NoReturn

import pytest

from exercises.errors import BadLoop
from exercises.kinds import Help, Kind
from exercises.loop_writing import write_loop
from exercises.loops import Passage
from tests.synthetic_loops import small_band
from trainer.judging import Named
from trainer.ladder import STEPS, step_of, step_sentence
from trainer.limits import Limits
from trainer.loop_shelf import LoopShelf
from trainer.plain_text import PlainText
from trainer.record import KeptAnswer, Record
from trainer.study import Need
from trainer.study_sounds import StudyMaker
from trainer.subject import SUBJECTS, Subject
from trainer.terminal import TerminalDrill
from trainer.terminal_sound import TerminalSound
from trainer.words import truth_sentence

ROOT = Path(__file__).parents[2]
SECONDS = 4.0


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with one short loop of three tracks and two passages."""
    folder = tmp_path_factory.mktemp("home")
    loop = small_band(SECONDS, level_db=-6.0)
    half = loop.frames // 2
    passages = (Passage("damped strokes", 0, half), Passage("open chords", half, loop.frames))
    write_loop(dataclasses.replace(loop, passages=passages), folder / "loops" / "steps")
    return folder


def _drill(home: Path, learner: str, step: int, script: str) -> tuple[list[str], list[KeptAnswer]]:
    """What a drill on one step said to ``script``, and what it kept."""
    done = subprocess.run(
        [
            *(sys.executable, "-m", "trainer", "drill", "--terminal"),
            *("--loops", "steps", "--learner", learner, "--step", str(step)),
        ],
        cwd=ROOT,
        env=os.environ | {"NAMEFIRST_HOME": str(home), "SDL_AUDIODRIVER": "dummy"},
        input=script,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.isascii()
    record = Record(home, learner, "test")
    try:
        return done.stdout.splitlines(), list(record.answers())
    finally:
        record.close()


def test_track_is_asked_for_and_heard_alone(home: Path) -> None:
    script = "b\nwait 1\nl\nl ba\nwait 0.5\nl\nwait 0.5\ntoo much 200\nbanjo\nkeys\n\n"
    lines, (kept,) = _drill(home, "track", 2, script)
    assert step_sentence(2) in lines
    assert "Say on which track: whole mix, drums, bass, keys." in lines
    assert lines.index("Say which track, as in: l bass.") < lines.index("bass alone.")
    assert "Everything again." in lines
    assert "Say which track first." in lines
    assert any("'banjo' is no answer" in line for line in lines)
    assert (kept.answer.track, kept.answer.passage) == ("keys", None)
    assert kept.answer.freq_hz == 200.0
    assert kept.recipe.ask_track
    assert 0.3 < kept.listening.alone_s < kept.listening.heard_b_s
    assert truth_sentence(kept.recipe).replace("\N{MINUS SIGN}", "-") in lines


def test_passage_is_named_in_any_order_and_shortened(home: Path) -> None:
    lines, (kept,) = _drill(home, "passage", 3, "b\nwait 1.5\nopen too much 3.2k?\n\n")
    assert "Say in which passage: whole loop, damped strokes, open chords." in lines
    assert (kept.answer.passage, kept.answer.track) == ("open chords", None)
    assert not kept.answer.sure


def test_a_is_heard_once_and_then_b(home: Path) -> None:
    lines, (kept,) = _drill(home, "once", 4, "a\na\nwait 1.5\ntoo loud damped\na\n\n")
    assert kept.recipe.help is Help.A_ONCE
    at = lines.index("A can be heard once.")
    once = lines.index("That was A, as it should be; it is not heard again. Now B.")
    again = lines.index("A was heard once.")
    assert at < once < again
    # Once round, give or take a moment of the clock.
    assert SECONDS <= kept.listening.heard_a_s < SECONDS + 0.5
    assert kept.listening.heard_b_s > 1.0
    # In the review A is at hand again, and what was level and what tone is said.
    assert "A, as it should be." in lines[again:]
    assert kept.recipe.passage is not None
    assert any(line.startswith(f"'{kept.recipe.passage}' was ") for line in lines[again:])


def test_without_a_two_problems_are_named_one_after_the_other(home: Path) -> None:
    script = "a\nb\nwait 1.5\n1 200 bass damped\nsquashed\n\n"
    lines, (kept,) = _drill(home, "two", 7, script)
    assert kept.recipe.help is Help.NO_A
    assert lines.count("There is no A, as in real work.") == 2  # said before, and when asked for
    assert "There are two problems at once: name one, then the other." in lines
    assert "And the other problem, on the same track and passage?" in lines
    assert kept.answer.second == Named(Kind.SQUASHED)
    assert (kept.answer.kind, kept.answer.track) == (Kind.TOO_MUCH, "bass")
    assert kept.recipe.second is not None
    assert kept.listening.heard_a_s == 0.0


@pytest.mark.parametrize("step", [5, 6])
def test_track_and_passage_are_asked_together(home: Path, step: int) -> None:
    lines, (kept,) = _drill(home, f"both {step}", step, "b\nwait 1.5\nsquashed\ndrums\nchords\n\n")
    assert "Say which track first." in lines
    assert "Say which passage first." in lines
    assert (kept.answer.track, kept.answer.passage) == ("drums", "open chords")
    assert step_of(kept.recipe) == step
    assert kept.recipe.help is STEPS[step - 1].help


def test_a_step_that_is_none_is_one_line_and_status_two(home: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "trainer", "drill", "--terminal", "--silent", "--step", "9"],
        cwd=ROOT,
        env=os.environ | {"NAMEFIRST_HOME": str(home)},
        input="",
        capture_output=True,
        encoding="utf-8",
        timeout=60,
    )
    assert done.returncode == 2
    assert done.stderr == "namefirst: --step 9: give a step from 1 to 7\n"


class Typed(io.StringIO):
    """Lines as if typed by hand."""

    def isatty(self) -> bool:
        return True


def test_a_minute_of_study_that_cannot_be_heard_is_said_and_the_question_comes(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where another loop of the shelf is damaged: the drill is not about that one."""

    def damaged(self: StudyMaker, subject: Subject, finest_db: float | None) -> NoReturn:
        raise BadLoop("quay: is damaged")

    monkeypatch.setattr(StudyMaker, "steps_of", damaged)
    monkeypatch.setattr("trainer.drill.drill_opens", lambda *_: (SUBJECTS[3], Need.WEAK))
    record, shown = Record(home, "study", "test"), io.StringIO()
    record.set_setting("volume_db", -40.0)
    shelf = LoopShelf(home / "loops")
    sound = TerminalSound(-40.0, silent=True)
    TerminalDrill(
        PlainText(Typed("q\n"), shown), sound, record, shelf, Limits(loops=("steps",))
    ).run()
    record.close()
    lines = shown.getvalue().splitlines()
    at = lines.index("quay: is damaged")
    assert any(line.startswith("First a minute of study: ") for line in lines[:at])
    assert any(line.startswith("Question 1. ") for line in lines[at:])
