"""``python -m tests.same_draws SEED WORDS``: the program, with the same questions every time.

What ``secrets`` draws for a drill, a set or a blind trial is drawn from ``SEED`` instead. So a walk
that fails does so again, and one that passed meets nothing new when all that changed was its luck.
"""

from __future__ import annotations

import random
import secrets
import sys


def main() -> int:
    """Runs the program; gives its exit status."""
    from trainer.cli import main as program

    drawn = random.Random(int(sys.argv[1]))
    secrets.randbelow = lambda exclusive_upper_bound: int(drawn.random() * exclusive_upper_bound)
    sys.argv = ["namefirst", *sys.argv[2:]]
    return program()


if __name__ == "__main__":
    sys.exit(main())
