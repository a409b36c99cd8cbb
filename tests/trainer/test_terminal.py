"""The drill in a terminal, from its front door: a piped script whose sound is captured, and a
pseudo-terminal as a person would sit at; left, interrupted, killed, and taken up again.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import soundfile

from exercises.kinds import Kind
from exercises.loop_writing import write_loop
from exercises.loops import read_loop
from exercises.problems import Problem
from exercises.question import make_question, undo_answers
from exercises.samples import RATE_HZ, Samples
from exercises.tone_curve import USUAL_Q
from tests.captured_sound import (
    BETWEEN,
    SILENCE,
    Heard,
    capture_environment,
    read_capture,
    stretches,
    who_sounds,
)
from tests.exercises.songs import song
from tests.synthetic_loops import small_band
from trainer.playhead import FADE_FRAMES
from trainer.record import KeptAnswer, Record
from trainer.words import answer_sentence, truth_sentence

ROOT = Path(__file__).parents[2]
BLOCK_FRAMES = 512
LOOP = "small"
LEARNER = "ann"

# The first two questions of a drill always hide something; here, around 250 Hz.
DRILL = (
    *("-m", "trainer", "drill", "--terminal", "--learner", LEARNER),
    *("--loops", LOOP, "--kinds", "too much", "--bands", "250"),
)

A_WHOLE_DRILL = """\
much
b
wait 1
{louder}
wait 0.3
a
wait 0.5
much
b
wait 1
f
too much 30k
little 2k ?
f
wait 0.5
a
wait 0.5

b
wait 1
s
wait 0.2
1 250
wait {minutes_s}

this line is never read
"""
MINUTES = 0.2
LOUDER_STEPS = 15


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with one short loop of the learner's own."""
    folder = tmp_path_factory.mktemp("home")
    write_loop(small_band(3.0, level_db=-6.0), folder / "loops" / LOOP)
    return folder


def kept_in(home: Path) -> list[KeptAnswer]:
    record = Record(home, LEARNER, "test")
    try:
        return list(record.answers())
    finally:
        record.close()


# A script through a pipe ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def drill(
    home: Path, tmp_path_factory: pytest.TempPathFactory
) -> tuple[list[str], Samples, list[KeptAnswer]]:
    """What a whole drill of two questions said, sounded, and left in the record."""
    capture = tmp_path_factory.mktemp("capture") / "captured.raw"
    script = A_WHOLE_DRILL.format(
        louder="\n".join(["+++"] * (LOUDER_STEPS // 3)), minutes_s=MINUTES * 60.0
    )
    done = subprocess.run(
        [sys.executable, *DRILL, "--minutes", str(MINUTES)],
        cwd=ROOT,
        env=capture_environment(capture) | {"NAMEFIRST_HOME": str(home)},
        input=script,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout.splitlines(), read_capture(capture), kept_in(home)


def test_the_answers_are_kept_as_they_were_typed(
    drill: tuple[list[str], Samples, list[KeptAnswer]],
) -> None:
    first, second = drill[2]
    assert (first.answer.kind, first.answer.freq_hz, first.answer.sure) == (
        Kind.TOO_LITTLE,
        2000.0,
        False,
    )
    assert (second.answer.kind, second.answer.freq_hz, second.answer.sure) == (
        Kind.TOO_MUCH,
        250.0,
        True,
    )
    for kept in (first, second):
        assert kept.recipe.kind is Kind.TOO_MUCH
        assert kept.recipe.loop == LOOP
        assert 177.0 < (kept.recipe.freq_hz or 0.0) < 355.0  # the band's edges, IEC 61260-1


def test_the_listening_is_kept_beside_the_answer(
    drill: tuple[list[str], Samples, list[KeptAnswer]],
) -> None:
    first, second = (kept.listening for kept in drill[2])
    assert first.switches == 2  # B, A, B
    assert second.switches == 0
    assert first.seconds >= 2.3  # the waits alone
    # The disk driver runs about three times faster than the clock, on a busy machine less so.
    assert first.heard_a_s > 0.3
    assert first.heard_b_s > first.heard_a_s
    assert second.heard_a_s == 0.0
    assert second.heard_b_s > 0.3


def test_the_truth_is_said_after_each_answer(
    drill: tuple[list[str], Samples, list[KeptAnswer]],
) -> None:
    lines = drill[0]
    for kept in drill[2]:
        at = lines.index(truth_sentence(kept.recipe))
        assert lines[at + 1] == answer_sentence(kept.recipe, kept.answer, kept.verdict)
        assert lines[at + 2].startswith("With your answer undone and both as loud, ")
    assert [line[:11] for line in lines if line.startswith("Question ")] == [
        "Question 1.",
        "Question 2.",
    ]


def test_what_cannot_be_taken_is_said_and_asked_again(
    drill: tuple[list[str], Samples, list[KeptAnswer]],
) -> None:
    lines = drill[0]
    first = lines[: lines.index(truth_sentence(drill[2][0].recipe))]
    assert "Not taken: listen to B for a second first (b)." in first
    assert "Say where it is, too." in first
    assert "That is heard once you have answered." in first
    assert "'30k' is no frequency from 20 Hz to 20 kHz; try: 200, or 3.2k" in first


def test_the_drill_ends_with_its_share_and_one_thing_to_work_on(
    drill: tuple[list[str], Samples, list[KeptAnswer]],
) -> None:
    lines, _, answers = drill
    named = sum(kept.verdict.named for kept in answers)
    assert lines[-3] == "That was today's drill."
    assert lines[-2].startswith(f"{named} of 2 named. ")
    assert lines[-1].startswith("Not enough yet to say what is weakest: ")


def test_a_first_start_is_quiet_and_says_why(
    drill: tuple[list[str], Samples, list[KeptAnswer]],
) -> None:
    lines = drill[0]
    assert any("Start low" in line for line in lines[:4])
    assert "Volume -40 dB." in lines
    assert f"Volume -{40 - 2 * LOUDER_STEPS} dB." in lines


def test_lines_are_plain(drill: tuple[list[str], Samples, list[KeptAnswer]]) -> None:
    """Nothing that a screen reader stumbles over: no escape codes, no tabs, no drawn lines."""
    assert drill[0]
    for line in drill[0]:
        assert line.isprintable()
        assert line.isascii()


def test_what_sounds_is_what_was_asked_to_be_heard(
    home: Path, drill: tuple[list[str], Samples, list[KeptAnswer]]
) -> None:
    """In the captured sound: B, A, B, then in review the fix and A; then the next B."""
    _, captured, (first, second) = drill
    loop = read_loop(home / "loops" / LOOP)
    question, other = make_question(first.recipe, loop), make_question(second.recipe, loop)
    named = Problem(Kind.TOO_LITTLE, first.recipe.size_db, 2000.0, USUAL_Q)
    sources = {
        "A": question.a,
        "B": question.b,
        "fix": undo_answers(question, loop, (named,)),
        "next B": other.b,
    }
    found = stretches(who_sounds(captured, sources), loop.frames)
    heard = [one for one in found if one.name not in (SILENCE, BETWEEN)]
    assert _order(heard) == ["B", "A", "B", "fix", "A", "next B"]
    # A switch moves no playhead: each goes on where the one before it was. When the fix is added,
    # the sound fades out and in again, and may go back by as much as it faded.
    for one, then in pairwise(heard):
        back = (one.place + then.start - one.start - then.place) % loop.frames
        if {one.name, then.name} == {"A", "B"} or then.name == "A":
            assert back == 0, (one, then)
        elif then.name in ("fix", one.name):
            assert back <= FADE_FRAMES + BLOCK_FRAMES, (one, then)
    # It began at -40 dB, no louder before that, and ended as loud as was asked for.
    windows = [one for one in who_sounds(captured, sources) if one.name in sources]
    gains_db = [one.gain_db for one in windows]
    quiet = next(at for at, gain_db in enumerate(gains_db) if abs(gain_db + 40.0) < 0.2)
    assert max(gains_db[: quiet + 1]) < -39.8
    assert (windows[quiet].start - windows[0].start) / RATE_HZ > 0.7  # the first fade in
    assert max(gains_db) == pytest.approx(-40.0 + 2 * LOUDER_STEPS, abs=0.2)
    # It was stopped by hand before the last answer: what follows is silence.
    assert not captured[windows[-1].stop + RATE_HZ // 10 :].any()


def _order(heard: list[Heard]) -> list[str]:
    names = [one.name for one in heard]
    return [name for at, name in enumerate(names) if at == 0 or names[at - 1] != name]


def test_the_end_of_input_leaves_with_what_was_answered(home: Path) -> None:
    """The same as a person's q; and without a last line end the line counts all the same."""
    before = len(kept_in(home))
    done = subprocess.run(
        [sys.executable, *DRILL, "--minutes", "7"],
        cwd=ROOT,
        env=os.environ | {"NAMEFIRST_HOME": str(home), "SDL_AUDIODRIVER": "dummy"},
        input="\n\nb\nwait 1.5\nnothing?",
        capture_output=True,
        encoding="utf-8",
        timeout=120,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.endswith(
        "Left. 1 answer is kept; start the drill again today to go on from here.\n"
    )
    assert done.stdout.count("Not answered yet.") == 2
    assert len(kept_in(home)) == before + 1


# By hand, at a pseudo-terminal ----------------------------------------------------------------

by_hand = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")


@contextmanager
def terminal(home: Path, *arguments: str, size: tuple[int, int] = (40, 200)) -> Iterator[Any]:
    """The command at a pseudo-terminal, without sound reaching anybody."""
    import pexpect

    child = pexpect.spawn(
        sys.executable,
        list(arguments),
        cwd=str(ROOT),
        env=os.environ | {"NAMEFIRST_HOME": str(home), "SDL_AUDIODRIVER": "dummy"},
        encoding="utf-8",
        timeout=60,
        dimensions=size,
    )
    try:
        yield child
    finally:
        child.close(force=True)


def ended(child: Any) -> int | None:
    """The exit status of a command that has nothing more to say."""
    import pexpect

    child.expect(pexpect.EOF)
    child.wait()
    return child.exitstatus  # type: ignore[no-any-return]


def leave_level(child: Any) -> None:
    """Leaves the level as it is, which a first drill by hand asks for, from silence."""
    child.expect("It starts silent")
    child.expect("WHO-ITU H.870")
    child.expect("q leaves it as it was: ")
    child.sendline("q")
    child.expect("Left; the level is as it was.")


def listen(child: Any) -> None:
    """Listens to B for as long as a question asks for, and a little more."""
    for line in ("b", "wait 1.5"):
        child.sendline(line)
        child.expect(ANSWER)


ANSWER = re.escape("or your answer (? for help): ")
REVIEW = re.escape("or Enter for the next (? for help): ")


@by_hand
def test_a_drill_by_hand_is_left_killed_and_taken_up_again(tmp_path: Path) -> None:
    write_loop(small_band(3.0, level_db=-6.0), tmp_path / "loops" / LOOP)
    command = (*DRILL, "--minutes", "20")

    with terminal(tmp_path, *command) as child:
        leave_level(child)
        child.expect("Start low")
        child.expect("Question 1. 20 min 00 s left. Test loop, whole mix.")
        child.expect(ANSWER)
        child.sendline("?")
        child.expect(", ".join(f"{at} {kind}" for at, kind in enumerate(Kind, start=1)))
        child.expect(ANSWER)
        child.sendline("a")
        child.expect("A, as it should be")
        child.expect(ANSWER)
        child.sendline("s")
        child.expect("Stopped")
        child.expect(ANSWER)
        child.sendline("+")
        child.expect("Volume -38 dB")
        child.expect(ANSWER)
        listen(child)
        child.sendline("nothing")
        child.expect("You said nothing was changed")
        child.expect(REVIEW)
        child.sendline("f")
        child.expect("there is no fix to hear")
        child.expect(REVIEW)
        child.sendline("too much 100")
        child.expect("This one is answered")
        child.expect(REVIEW)
        child.sendline("")
        child.expect("Question 2")
        child.expect(ANSWER)
        child.sendline("q")
        child.expect("Left. 1 answer is kept")
        assert ended(child) == 0
    assert len(kept_in(tmp_path)) == 1

    with terminal(tmp_path, *command) as child:
        child.expect("Today's drill stopped after 1 question; ")
        child.expect("Volume -50 dB")  # 12 dB below where it was left
        child.expect("Question 2")
        child.expect(ANSWER)
        listen(child)
        child.sendline("1 250")
        child.expect("Too much at")  # so it is on the disk
        child.kill(signal.SIGKILL)
        child.wait()
        assert child.signalstatus == signal.SIGKILL
    assert [kept.answer.freq_hz for kept in kept_in(tmp_path)] == [None, 250.0]

    with terminal(tmp_path, *command) as child:
        child.expect("Today's drill stopped after 2 questions; ")
        child.expect("Question 3")
        child.expect(ANSWER)
        child.kill(signal.SIGKILL)  # in mid-question
        child.wait()

    with terminal(tmp_path, *command) as child:
        child.expect("Today's drill stopped after 2 questions; ")
        child.expect(ANSWER)
        child.sendeof()  # Ctrl-D
        child.expect("Left. 2 answers are kept")
        assert ended(child) == 0

    answers = kept_in(tmp_path)
    assert len(answers) == 2
    assert len({kept.drill_id for kept in answers}) == 1


@by_hand
def test_ctrl_c_leaves_quietly_and_loses_nothing(tmp_path: Path) -> None:
    write_loop(small_band(3.0, level_db=-6.0), tmp_path / "loops" / LOOP)
    with terminal(tmp_path, *DRILL) as child:
        leave_level(child)
        child.expect(ANSWER)
        listen(child)
        child.sendline("2 300?")
        child.expect(REVIEW)
        child.sendintr()
        assert ended(child) == 130
        assert "Traceback" not in child.before
    assert [kept.answer.freq_hz for kept in kept_in(tmp_path)] == [300.0]


@by_hand
def test_another_drill_is_not_taken_for_the_one_that_was_left(tmp_path: Path) -> None:
    write_loop(small_band(3.0, level_db=-6.0), tmp_path / "loops" / LOOP)
    with terminal(tmp_path, *DRILL) as child:
        leave_level(child)
        child.expect(ANSWER)
        listen(child)
        child.sendline("nothing")
        child.expect(REVIEW)
        child.sendline("q")
        assert ended(child) == 0
    with terminal(tmp_path, *DRILL, "--minutes", "5") as child:
        leave_level(child)
        child.expect("Today: five minutes")
        child.expect(r"Question 1\. (5 min 00|4 min 50) s left")
        child.sendline("q")
        child.expect("Left before the first answer")
        assert ended(child) == 0


@by_hand
def test_loops_are_chosen_by_ear(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "evening song.wav", song(bars=16), 48_000)
    home = tmp_path / "home"
    command = ("-m", "trainer", "loops", "add", str(tmp_path / "evening song.wav"))
    with terminal(home, *command) as child:
        child.expect(r"\d loops, the best first\.")
        child.expect("1. From ")
        child.expect("Enter keeps number 1, q leaves: ")
        child.sendline("q")
        child.expect("No loop was added")
        assert ended(child) == 0
    assert not (home / "loops").exists()

    with terminal(home, *command, "--title", "Chosen") as child:
        child.expect("Volume -40 dB")
        child.expect("Enter keeps number 1, q leaves: ")
        child.sendline("2")
        child.expect("Enter keeps number 2, q leaves: ")
        child.sendline("99")
        child.expect(r"There are 1 to \d\.")
        child.expect("Enter keeps number 2, q leaves: ")
        child.sendline("")
        child.expect("Added 'chosen': ")
        assert ended(child) == 0
    second = subprocess.run(
        [sys.executable, *command, "--choose", "2"],
        cwd=ROOT,
        env=os.environ | {"NAMEFIRST_HOME": str(home)},
        capture_output=True,
        encoding="utf-8",
        timeout=60,
    )
    assert "on the shelf already, as 'chosen'" in second.stdout
