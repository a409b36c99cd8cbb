"""The kinds of problem that can be hidden in a loop, and what each one needs to be told."""

from __future__ import annotations

from enum import IntEnum, StrEnum
from typing import Final


class Kind(StrEnum):
    """What was done to B. The values are the words the learner sees and the record keeps."""

    TOO_MUCH = "too much"
    TOO_LITTLE = "too little"
    SQUASHED = "squashed"
    LIFTED = "lifted"
    TOO_LOUD = "too loud"
    TOO_QUIET = "too quiet"
    NOTHING = "nothing"


TONE: Final = frozenset({Kind.TOO_MUCH, Kind.TOO_LITTLE})
"""Kinds that sit at a frequency: the answer names one."""

DYNAMICS: Final = frozenset({Kind.SQUASHED, Kind.LIFTED})
"""Kinds that change how far loud lies from soft: held down, or lifted by upward expansion."""

LEVEL: Final = frozenset({Kind.TOO_LOUD, Kind.TOO_QUIET})
"""Kinds whose loudness is the problem: over the whole loop never matched in loudness."""

LARGEST_SIZE_DB: Final = 18.0


class Shape(StrEnum):
    """The curve of a tone problem."""

    PEAK = "peak"
    LOW_SHELF = "low shelf"
    HIGH_SHELF = "high shelf"


class Style(StrEnum):
    """How *squashed* was done.

    Over-compressed is quick and dulls the attacks; pumping lets go slowly of what the low end
    has pressed down.
    """

    OVER_COMPRESSED = "over-compressed"
    PUMPING = "pumping"


class Help(IntEnum):
    """What of A the learner gets: at hand all the time, heard once, or not at all."""

    A_AT_HAND = 0
    A_ONCE = 1
    NO_A = 2
