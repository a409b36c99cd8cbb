"""How long a sitting has taken: minutes of the learner's own, from one answer to the next.

A review counts with the answer that follows it. A gap counts up to ninety seconds (beyond that
someone went to the door).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from trainer.record import KeptAnswer

LONGEST_GAP_S: Final = 90.0


def seconds_between(then: datetime, now: datetime) -> float:
    """How much of the time from ``then`` to ``now`` counts, in seconds."""
    return _counted((now - then).total_seconds())


def seconds_spent_on(seconds: float, last: datetime | None, answered_at: datetime) -> float:
    """Seconds of practice that an answer stands for: since the ``last`` one of the sitting, or its
    own ``seconds`` where that is more or there is none before it."""
    return _counted(seconds if last is None else max(seconds, seconds_between(last, answered_at)))


def seconds_spent(answers: Sequence[KeptAnswer]) -> float:
    """Seconds that the answers of one sitting stand for."""
    total, last = 0.0, None
    for kept in answers:
        total += seconds_spent_on(kept.listening.seconds, last, kept.answered_at)
        last = kept.answered_at
    return total


def _counted(seconds: float) -> float:
    return min(LONGEST_GAP_S, max(0.0, seconds))
