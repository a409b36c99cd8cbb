"""Two hundred kills in the midst of a drill: what was told to be kept is kept, and it goes on."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
KILLS = 200


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills what it has forked")
def test_a_drill_killed_at_two_hundred_moments_loses_no_answer_that_was_kept(
    tmp_path: Path,
) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.killed_drill", str(tmp_path), str(KILLS), "5"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    kills = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(kills) == KILLS
    before = 0
    for kill in kills:
        assert kill["whole"] == "ok"
        assert kill["in_order"]  # 1, 2, 3 ... : none is missing, none is there twice
        told = max(before, kill["told"] or 0)
        # One may have been written and not told yet; none that was told is missing.
        assert kill["answers"] >= told
        if kill["told"]:
            assert kill["answers"] <= told + 1
        assert kill["drills"] <= 1  # always the same one, taken up again
        before = kill["answers"]
    assert before > KILLS  # it was killed while answering, not while starting
    assert sum(1 for kill in kills if kill["told"]) > KILLS // 3
