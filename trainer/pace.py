"""How long a sitting has taken: minutes of the learner's own, from one answer to the next.

A review counts with the answer that follows it. A gap counts up to ninety seconds (beyond that
someone went to the door). A fix round takes as long as it takes: its own seconds count, in which no
gap between two acts was longer than that, up to ten minutes; and the gap before it as any other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from heapq import merge
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from trainer.record import KeptAnswer

LONGEST_GAP_S: Final = 90.0
LONGEST_FIX_S: Final = 600.0


@dataclass(frozen=True, slots=True)
class FixTime:
    """When a fix round was answered, and the seconds that the learner was at it."""

    answered_at: datetime
    seconds: float


class ActiveTime:
    """Seconds from act to act, each gap counted like one between answers."""

    def __init__(self, begun_s: float) -> None:
        """``begun_s`` and every later time are seconds of one clock."""
        self.seconds = 0.0
        self._last_s = begun_s

    def act(self, now_s: float) -> None:
        """Something was done now."""
        self.seconds += _counted(now_s - self._last_s)
        self._last_s = now_s


def seconds_between(then: datetime, now: datetime) -> float:
    """How much of the time from ``then`` to ``now`` counts, in seconds."""
    return _counted((now - then).total_seconds())


def seconds_spent_on(seconds: float, last: datetime | None, answered_at: datetime) -> float:
    """Seconds of practice that an answer stands for: since the ``last`` one of the sitting, or its
    own ``seconds`` where that is more or there is none before it."""
    return _counted(seconds if last is None else max(seconds, seconds_between(last, answered_at)))


def seconds_spent_on_fix(fix: FixTime, last: datetime | None) -> float:
    """The same of a fix round; ``last`` is what was answered before it in the sitting, if it was
    in one.

    When the round began is not kept, only its seconds: what was idle within it passes for a gap
    before it, and can count for up to ninety seconds more.
    """
    own = min(LONGEST_FIX_S, max(0.0, fix.seconds))
    begun = fix.answered_at - timedelta(seconds=own)
    return own + (0.0 if last is None else seconds_between(last, begun))


def seconds_spent(answers: Sequence[KeptAnswer], fixes: Sequence[FixTime] = ()) -> float:
    """Seconds that the answers and the fix rounds of one sitting stand for."""
    total, last = 0.0, None
    both: list[Iterable[KeptAnswer | FixTime]] = [answers, fixes]
    # Each in the order in which it was given, though the clock may have been set back.
    for each in merge(*both, key=lambda each: each.answered_at):
        if isinstance(each, FixTime):
            total += seconds_spent_on_fix(each, last)
        else:
            total += seconds_spent_on(each.listening.seconds, last, each.answered_at)
        last = each.answered_at
    return total


def _counted(seconds: float) -> float:
    return min(LONGEST_GAP_S, max(0.0, seconds))
