"""The kinds of problem that can be hidden in a loop, and what each one needs to be told."""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class Kind(StrEnum):
    """What was done to B. The values are the words the learner sees and the record keeps."""

    TOO_MUCH = "too much"
    TOO_LITTLE = "too little"
    SQUASHED = "squashed"
    TOO_LOUD = "too loud"
    TOO_QUIET = "too quiet"
    NOTHING = "nothing"


TONE: Final = frozenset({Kind.TOO_MUCH, Kind.TOO_LITTLE})
"""Kinds that sit at a frequency: the answer names one."""

LEVEL: Final = frozenset({Kind.TOO_LOUD, Kind.TOO_QUIET})
"""Kinds whose loudness is the problem: never matched in loudness."""

LARGEST_SIZE_DB: Final = 18.0
