"""The open round in a terminal's drill, typed at a pseudo-terminal as by hand."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pexpect

from exercises.compressor import Timing
from exercises.moves import Compressor, EqPoint
from tests.trainer.test_terminal_fix import ASKED, ROOT, TWO_QUESTIONS
from tests.trainer.test_window_fixes import prepare
from trainer.fix_round import Sort
from trainer.kept_fixes import kept_fixes
from trainer.record import Record

PATIENCE_S = 120


def test_a_fix_is_made_by_typing_heard_judged_and_kept(tmp_path: Path) -> None:
    prepare(tmp_path, a_choice_behind=True, learner="ann")
    words = ["-m", "trainer", "drill", *ASKED, "--fixes", "8"]
    child = pexpect.spawn(
        sys.executable,
        words,
        cwd=str(ROOT),
        env=os.environ | {"NAMEFIRST_HOME": str(tmp_path), "SDL_AUDIODRIVER": "dummy"},
        encoding="utf-8",
        timeout=PATIENCE_S,
        echo=False,
        dimensions=(24, 400),  # a line stays whole
    )

    def typed(line: str, said: str) -> None:
        child.sendline(line)
        child.expect_exact(said)

    for line in TWO_QUESTIONS.splitlines():
        child.sendline(line)
    child.expect_exact("a fix to make.")
    child.expect_exact("3 moves at the most")
    typed("done", "Make a move first.")
    typed("hear", "B with your moves: nothing done.")
    typed("cut 6 at 186", "1: cut 6 dB at 186 Hz")
    typed("compress 4 ratio 3 slow", "ratio 3:1, attack 30 ms, release 300 ms.")
    typed("ride verse", "is not clear; try: ride ")
    typed("boost 3 at 2k", "3: boost 3 dB at 2 kHz")
    typed("cut 1 at 100", "3 moves at the most: take one out first.")
    typed("out 3", "2: compress by 4 dB")
    typed("a", "A, as it should be.")
    typed("1 cut 5 at 200", "1: cut 5 dB at 200 Hz")
    typed("take out 9", "there is no move 9")
    typed("l", "A move: cut 6 at 186")
    typed("?", "2 cut 5 at 200 puts another move in the place of move 2.")
    typed("done", "Listen to B with your moves first, for a second.")
    child.sendline("hear")
    child.sendline("wait 1.3")
    typed("done", "Yours: cut 5 dB at 200 Hz")
    child.expect_exact("The simplest that the program found: ")
    typed("simplest", "Simplest: ")
    typed("yours", "Yours: cut 5 dB")
    typed("cut 6 at 186", "Enter goes on.")
    typed("compress 4", "Enter goes on.")
    typed("", "Question 3")
    child.sendline("q")
    child.expect(pexpect.EOF)
    child.close()
    assert child.exitstatus == 0
    record = Record(tmp_path, "ann", "test")
    try:
        kept = list(kept_fixes(record))[-1]
    finally:
        record.close()
    track = kept.result.recipe.track
    assert kept.result.sort is Sort.OPEN
    assert kept.number == 3
    assert kept.result.fix == (
        EqPoint(200.0, -5.0, 1.4, track),
        Compressor(4.0, Timing(0.030, 0.300), 3.0, track),
    )
