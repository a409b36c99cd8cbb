"""Where a session starts, its steps and limits, and when a rest is due."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer import volume

ANY_DB = st.floats(-200.0, 200.0)


def test_first_session_ever_starts_at_minus_40_db() -> None:
    assert volume.start_volume_db(None) == -40.0


@pytest.mark.parametrize(
    ("last_db", "start_db"), [(0.0, -12.0), (-10.0, -22.0), (-50.0, -60.0), (-60.0, -60.0)]
)
def test_session_starts_12_db_below_the_last(last_db: float, start_db: float) -> None:
    assert volume.start_volume_db(last_db) == start_db


@given(ANY_DB)
def test_start_is_never_above_minus_12_db_nor_out_of_range(last_db: float) -> None:
    assert -60.0 <= volume.start_volume_db(last_db) <= -12.0


@given(ANY_DB)
def test_steps_are_2_db_and_stay_within_limits(volume_db: float) -> None:
    held = volume.within_limits_db(volume_db)
    assert -60.0 <= held <= 0.0
    assert volume.louder_db(held) == min(0.0, held + 2.0)
    assert volume.softer_db(held) == max(-60.0, held - 2.0)


def test_a_volume_that_is_not_a_number_is_refused() -> None:
    with pytest.raises(ValueError, match="not a number"):
        volume.within_limits_db(math.nan)


@pytest.mark.parametrize(
    ("seconds", "rests"),
    [(0.0, 0), (1799.9, 0), (1800.0, 1), (3599.0, 1), (3600.0, 2), (-5.0, 0)],
)
def test_a_rest_is_due_every_half_hour_of_sound(seconds: float, rests: int) -> None:
    assert volume.rests_due(seconds) == rests
