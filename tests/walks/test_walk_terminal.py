"""A walk by terminal alone, as with a screen reader: from the first start to a claim, no window.

A real pseudo-terminal, typed lines, and ears: what is right is found in what was played. What was
said and typed at each sitting is left as text, to be read as it would be heard.
"""

from __future__ import annotations

import contextlib
import os
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from exercises.demo_loops import demo_loop
from tests.captured_sound import capture_environment, read_capture
from tests.trainer.test_cli import ROOT, run
from tests.walks.blind_listener import BlindListener
from tests.walks.walker import Walker

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")

LOOP = "slipway"
LEARNER = "Ida"
ANSWER = re.escape("or your answer (? for help): ")
REVIEW = re.escape("or Enter for the next (? for help): ")
TRIAL = re.escape("2 if X is B, q (? for help): ")
COLUMNS = 80
CLAIMED_HZ, CUT_DB = 400.0, -6.0
NAMED_WITHIN_OCTAVES = 1.0 / 3.0


@dataclass(frozen=True, slots=True)
class Sitting:
    """One command at the terminal: ``child`` is typed to, ``ear`` hears what it plays."""

    child: Any
    capture: Path

    def type(self, line: str, *then: str) -> list[re.Match[str]]:
        """Types a line, and waits until each of ``then`` has been said (patterns, in order)."""
        self.child.sendline(line)
        return self.hear(*then)

    def hear(self, *said: str) -> list[re.Match[str]]:
        """Waits until each of these has been said; what they were found to be.

        A line may go on in the next one wherever a pattern has a space.
        """
        found = []
        for pattern in said:
            self.child.expect(re.sub(r"\\? ", r"\\s+", pattern))
            found.append(self.child.match)
        return found

    def ends(self) -> None:
        """The command has nothing more to say, and has not failed."""
        import pexpect

        self.child.expect(pexpect.EOF)
        self.child.wait()
        assert self.child.exitstatus == 0

    @property
    def ear(self) -> BlindListener:
        return BlindListener(self.capture, demo_loop(LOOP).mix())


@dataclass(frozen=True, slots=True)
class Terminal:
    """Where the sittings take place, and where they are written down."""

    home: Path
    transcripts: Path

    @contextlib.contextmanager
    def sits_down(self, name: str, *words: str) -> Iterator[Sitting]:
        """``namefirst WORDS`` at a pseudo-terminal of 24 lines of 80."""
        import pexpect

        capture = self.home.with_name(f"{name}.raw")
        with self.transcript(name).open("w", encoding="utf-8", newline="") as written:
            child = pexpect.spawn(
                sys.executable,
                ["-m", "tests.same_draws", "1", *words, "--learner", LEARNER],
                cwd=str(ROOT),
                env=capture_environment(capture) | {"NAMEFIRST_HOME": str(self.home)},
                encoding="utf-8",
                timeout=60,
                dimensions=(24, COLUMNS),
            )
            child.logfile_read = written
            try:
                yield Sitting(child, capture)
            finally:
                child.close(force=True)

    def transcript(self, name: str) -> Path:
        return self.transcripts / f"terminal_{name}.txt"


@pytest.fixture(scope="module")
def terminal(tmp_path_factory: pytest.TempPathFactory) -> Terminal:
    folder = tmp_path_factory.mktemp("terminal")
    transcripts = Path(os.environ.get("NAMEFIRST_PICTURES", folder))
    transcripts.mkdir(parents=True, exist_ok=True)
    return Terminal(folder / "home", transcripts)


def names_place(said_hz: float, place_hz: float) -> bool:
    return max(said_hz / place_hz, place_hz / said_hz) <= 2.0**NAMED_WITHIN_OCTAVES


# The walk, one sitting after another ----------------------------------------------------------


def test_1_the_first_drill(terminal: Terminal) -> None:
    words = ("--loops", LOOP, "--kinds", "too much", "--bands", "250,500,1k", "--step", "1")
    with terminal.sits_down("1_first_drill", "drill", "--terminal", *words) as sitting:
        sitting.hear("It starts silent", "q leaves it as it was: ")
        sitting.type("", "It is still silent", "it was: ")
        silent_frames = sitting.ear.heard_frames
        for _ in range(4):
            sitting.type("+++", "Volume -[0-9]+ dB", "it was: ")
        sitting.type("", "Kept", "Question 1.", ANSWER)
        assert not read_capture(sitting.capture)[:silent_frames].any()

        sitting.type("too much 300", "listen to B", ANSWER)
        sitting.type("b", "B, the one to judge", ANSWER)
        heard_hz = sitting.ear.place_hz(sitting.ear.next_piece(2.0), most=True)
        sitting.type("muddy", "'muddy' is no answer", ANSWER)
        truth = r"Too much at ([0-9.]+) (k?)Hz"
        true, *_ = sitting.type(f"too much {heard_hz:.0f}", truth, "That counts", REVIEW)
        true_hz = float(true[1]) * (1000.0 if true[2] else 1.0)
        assert names_place(heard_hz, true_hz)
        sitting.type("f", "B with your answer undone", REVIEW)
        assert abs(sitting.ear.change_at_db(sitting.ear.next_piece(), true_hz)) < 1.5
        sitting.type("x", "B, exaggerated.", REVIEW)
        sitting.type("r", "The region alone.", REVIEW)
        sitting.type("w", "Only '", REVIEW)

        sitting.type("", "Question 2.", ANSWER)
        sitting.type("b", ANSWER)
        sitting.ear.next_piece(1.2)
        sitting.type("nothing", "You said nothing was changed", REVIEW)
        sitting.type("q", "Left. 2 answers are kept")
        sitting.ends()
    first, second = Walker(terminal.home, terminal.transcripts, LEARNER).exported()["answer"]
    assert first["kind"] == "too much"
    assert names_place(first["freq_hz"], first["recipe"]["freq_hz"])
    assert second["kind"] == "nothing"


def test_2_progress(terminal: Terminal) -> None:
    with terminal.sits_down("2_progress", "progress") as sitting:
        sitting.ends()
    told = terminal.transcript("2_progress").read_text(encoding="utf-8")
    assert "2 answers" in told
    assert "  too much: too much 1, nothing 1" in told.splitlines()


def test_3_a_guided_minute(terminal: Terminal) -> None:
    with terminal.sits_down("3_study", "study", "--terminal", "too much", "250") as sitting:
        sitting.hear("Too much at 250 Hz", "Step 1 of", r"q \(\? for help\): ")
        sitting.type("q", "Left. Nothing was scored")
        sitting.ends()
    assert read_capture(sitting.capture).any()


def test_4_a_set(terminal: Terminal) -> None:
    path = terminal.home / "inbox" / "week1.toml"
    path.parent.mkdir()
    made = run(
        terminal.home.with_name("teacher"), "set", "new", str(path), "--title", "Week one",
        "--teacher", "M Quill", "--questions", "2", "--loops", LOOP, "--kinds", "too much",
        "--bands", "250,500,1k",
    )  # fmt: skip
    assert made.returncode == 0, made.stderr
    with terminal.sits_down("4_set", "set", "take", str(path), "--terminal") as sitting:
        for number in (1, 2):
            sitting.hear(f"Question {number} of 2", ANSWER)
            sitting.type("b", ANSWER)
            heard_hz = sitting.ear.place_hz(sitting.ear.next_piece(2.0), most=True)
            sitting.type(f"too much {heard_hz:.0f}", "That counts", REVIEW)
            sitting.child.sendline("")
        sitting.hear("That was the set", "2 of 2 named", "Send that file to M Quill")
        sitting.ends()
    (result,) = path.parent.glob("*.json")
    assert "ida" in result.name


def test_5_a_claim(terminal: Terminal) -> None:
    words = ("claim", LOOP, "--at", f"{CLAIMED_HZ:g}", "--terminal")
    with terminal.sits_down("5_claim", *words) as sitting:
        sitting.hear("Looking near 400 Hz", "The claim: too much near 400 Hz", "Measured: ", TRIAL)
        for number in range(1, 41):
            sitting.type("x", TRIAL)
            cut = sitting.ear.change_at_db(sitting.ear.next_piece(), CLAIMED_HZ) < 0.5 * CUT_DB
            sitting.type("2" if cut else "1", rf"Trial {number + 1},|Heard: |Not shown: ")
            if "Trial" not in sitting.child.after:
                break
            sitting.hear(TRIAL)
        assert sitting.child.after == "Heard: "
        sitting.hear("Pointing 1 of 5", r"\(\? for help\): ")
        sitting.type("skip", "Where it is was not asked")
        sitting.ends()
    (claim,) = Walker(terminal.home, terminal.transcripts, LEARNER).exported()["claim"]
    assert claim["outcome"] == "heard"


def test_every_line_can_be_spoken(terminal: Terminal) -> None:
    """No escape codes, no line that is written over another or that the terminal would break,
    nothing outside ASCII."""
    transcripts = sorted(terminal.transcripts.glob("terminal_[1-5]_*.txt"))
    assert len(transcripts) == 5
    for transcript in transcripts:
        said = transcript.read_bytes().decode()
        assert said.replace("\r\n", "").isprintable(), transcript.name
        assert said.isascii(), transcript.name
        assert "Traceback" not in said
        lines = [line for line in said.split("\r\n") if " " in line]  # a path may be longer
        assert max(map(len, lines)) <= COLUMNS, transcript.name
