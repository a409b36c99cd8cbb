"""How many questions still fit: a drill is counted in minutes of the learner's own pace.

The pace is the median of the latest answers' seconds, so that one pause for tea does not slow it.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import Final

USUAL_SECONDS: Final = 10.0
"""A question and its review, before the learner's own pace is known: sixty in ten minutes."""
LATEST: Final = 20
_KNOWN_FROM: Final = 3


def seconds_a_question(latest: Sequence[float]) -> float:
    """The learner's pace from the seconds of earlier questions, oldest first.

    Of fewer than three nothing is concluded. The result lies between 3 and 90 seconds.
    """
    if len(latest) < _KNOWN_FROM:
        return USUAL_SECONDS
    return min(90.0, max(3.0, median(latest[-LATEST:])))


def questions_left(seconds_left: float, latest: Sequence[float]) -> int:
    """How many more questions fit; one that would run over by less than half of it still does."""
    return max(0, round(seconds_left / seconds_a_question(latest) - 1e-9))
