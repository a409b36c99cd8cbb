"""What speaks for a claim: near or not, in which passages, within the range of recorded music."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from exercises.bands import octaves
from exercises.equaliser import filter_loop, peaking
from exercises.evidence import equal_parts, evidence_for, most_marked
from exercises.loops import Passage
from exercises.samples import RATE_HZ, Samples, as_samples
from tests.exercises.test_build_up import pink, with_note

HALVES = (Passage("damped", 0, 4 * RATE_HZ), Passage("open", 4 * RATE_HZ, 8 * RATE_HZ))


def thick_in_the_first_half(seed: int) -> Samples:
    plain = pink(8.0, seed)
    sound = plain.copy()
    sound[: 4 * RATE_HZ] = filter_loop(plain, peaking(186.0, 7.0, 1.4))[: 4 * RATE_HZ]
    return as_samples(sound)


@pytest.mark.parametrize("seed", range(4))
def test_the_passage_that_has_it_is_named(seed: int) -> None:
    found = evidence_for(thick_in_the_first_half(seed), 200.0, passages=HALVES)
    assert found.there
    assert found.nearest is not None
    assert abs(octaves(found.nearest.centre_hz, 186.0)) < 1.0 / 12.0
    assert found.off_octaves == pytest.approx(octaves(found.nearest.centre_hz, 200.0))
    damped, opened = found.parts
    assert damped.stands_out(hollow=False)
    assert damped.excess_db == pytest.approx(5.3, abs=1.5)
    assert not opened.stands_out(hollow=False)


@pytest.mark.parametrize("level_db", [-6.0, 0.0])
@pytest.mark.parametrize("seed", range(4))
def test_a_bass_note_through_all_of_it_changes_nothing(level_db: float, seed: int) -> None:
    # Only the filter differs between the halves, so only the first may stand out.
    found = evidence_for(
        with_note(thick_in_the_first_half(seed), 110.0, level_db), 200.0, passages=HALVES
    )
    assert found.there
    damped, opened = found.parts
    assert damped.stands_out(hollow=False)
    assert not opened.stands_out(hollow=False)


def test_what_lies_far_away_is_told_but_not_taken_for_it() -> None:
    found = evidence_for(filter_loop(pink(8.0, 9), peaking(2000.0, 6.0, 1.4)), 200.0)
    assert not found.there
    assert found.nearest is not None
    assert abs(octaves(found.nearest.centre_hz, 2000.0)) < 1.0 / 12.0
    assert found.place_hz == 200.0


def test_a_hollow_is_looked_for_when_too_little_is_claimed() -> None:
    sound = filter_loop(pink(8.0, 10), peaking(3000.0, -7.0, 1.4))
    assert evidence_for(sound, 3000.0).nearest is None
    found = evidence_for(sound, 3000.0, hollow=True)
    assert found.there
    assert all(part.stands_out(hollow=True) for part in found.parts)


def test_range_is_that_of_the_band_and_for_a_whole_mix_alone() -> None:
    sound = pink(8.0, 11)
    found = evidence_for(sound, 200.0)
    assert found.range is not None
    assert found.range.band.name == "250"
    # Pink noise from 10 Hz to 24 kHz: 11.2 octaves of equal power.
    assert found.range.power_db == pytest.approx(-10.0 * np.log10(11.2), abs=0.5)
    assert (found.range.low_db, found.range.high_db) == (-12, -5)
    assert evidence_for(sound, 200.0, whole_mix=False).range is None


def test_a_passage_without_sound_is_passed_over() -> None:
    sound = pink(8.0, 12).copy()
    sound[4 * RATE_HZ :] = 0.0
    assert len(evidence_for(sound, 200.0, passages=HALVES).parts) == 1


def test_parts_share_the_stretch_out() -> None:
    parts = equal_parts(9 * RATE_HZ + 1)
    assert parts[0].start_frame == 0
    assert parts[-1].stop_frame == 9 * RATE_HZ + 1
    assert all(one.stop_frame == two.start_frame for one, two in pairwise(parts))
    assert len(parts) in (4, 5)


def test_silence_is_not_taken_for_the_most_marked_stretch() -> None:
    sound = pink(24.0, 13).copy()
    sound[: 8 * RATE_HZ] *= np.float32(1e-4)
    assert most_marked(sound, 200.0)[0] >= 4 * RATE_HZ
