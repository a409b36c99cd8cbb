"""The rules of loudness for the ears' sake: where a session starts, steps, limits, rests.

Volume is a gain in dB on sound that never passes -1 dBTP; a program cannot know the level at the
ear, so it starts quiet and lets the learner raise it by hand. The drop at each start, and a rest
every half hour, follow common practice in safe listening (no single source for the figures).
"""

from __future__ import annotations

import math
from typing import Final

VOLUME_SETTING: Final = "volume_db"
"""The record's setting that holds the volume last set, in dB; not there before the first."""
LOUDEST_DB: Final = 0.0
SOFTEST_DB: Final = -60.0  # means silence
STEP_DB: Final = 2.0
FIRST_START_DB: Final = -40.0
START_DROP_DB: Final = 12.0
REST_EVERY_S: Final = 30.0 * 60.0


def within_limits_db(volume_db: float) -> float:
    """``volume_db`` held to -60 (silence) to 0 dB.

    Raises:
        ValueError: it is not a number.
    """
    if math.isnan(volume_db):
        raise ValueError("volume in dB is not a number")
    return min(LOUDEST_DB, max(SOFTEST_DB, volume_db))


def start_volume_db(last_used_db: float | None) -> float:
    """Where a session starts, dB: 12 dB below the last volume used, -40 dB the first time ever."""
    if last_used_db is None:
        return FIRST_START_DB
    return within_limits_db(within_limits_db(last_used_db) - START_DROP_DB)


def louder_db(volume_db: float) -> float:
    """One step up, dB, not above 0."""
    return within_limits_db(volume_db + STEP_DB)


def softer_db(volume_db: float) -> float:
    """One step down, dB, not below -60 (silence)."""
    return within_limits_db(volume_db - STEP_DB)


def rests_due(seconds_played: float) -> int:
    """How many rests should have been taken after ``seconds_played`` s of sound: one per half hour.

    A reminder is due whenever this exceeds the number already shown.
    """
    return int(max(0.0, seconds_played) // REST_EVERY_S)
