"""How fast learners climb the ladder, and how rarely one climbs who cannot: simulated drills.

Finest sizes are those with A at hand on the whole mix; place and no A need 1.2 and 1.5 times that.
"""

from __future__ import annotations

import time
from collections.abc import Iterator

from tests.simulated_climber import Climber, climb

Row = tuple[str, float, float, float | None]
LEARNERS = 12
ANSWERS = 480


def rows() -> Iterator[Row]:
    """Rows of (what, ours, the bound or the other, the most that the ratio may be)."""
    started, asked = time.process_time(), 0
    for finest_db in (1.5, 2.0, 3.0, 4.0):
        there = []
        for seed in range(LEARNERS):
            steps = climb(Climber(finest_db), ANSWERS, 1000 * seed)
            asked += ANSWERS
            there.append(steps.index(7) if 7 in steps else ANSWERS)
        median = sorted(there)[LEARNERS // 2]
        bound = {1.5: 120.0, 2.0: 180.0, 3.0: 360.0, 4.0: None}[finest_db]
        yield (
            f"answers to the last step, finest size {finest_db:g} dB (median)",
            float(median),
            float(median) if bound is None else bound,
            None if bound is None else 1.0,
        )
    for finest_db in (6.0, 9.0, 20.0):
        moved = [climb(Climber(finest_db), 240, 1000 * seed)[-1] > 1 for seed in range(LEARNERS)]
        asked += 240 * LEARNERS
        share = sum(moved) / LEARNERS
        yield f"share moved up in 240 answers, finest size {finest_db:g} dB", share, 0.05, 1.0
    each_s = (time.process_time() - started) / asked
    yield "plan, learn and climb, s of processor a question (10 ms)", each_s, 0.010, 1.0
