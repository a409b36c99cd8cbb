"""What a fix leaves behind: by third octave and passage, in dB, and whether it can be heard.

Each sound is first brought to A's loudness. Then, in every *cell* (one third octave in one
passage), the level of B over A is what was wrong, and the level of the fixed sound over A is what
there is now. What there is now is split in two:

- *left*: what is still there of what was wrong: of the same sign, and no more of it;
- *damage*: all the rest, which the fix put there: what was right in B and is not any more, and
  what went beyond the cure and out on the other side.

So wrong = cured + left, and now = left + damage, exactly and cell by cell. The same split is made
of excitation patterns, in order to say what of each is heard.

*Heard* is judged by the same two measures and limits as whether a question may be asked
(``audibility``): a change of excitation in some passage, or of the loud and soft moments in some
octave band.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises import loudness, moments
from exercises.audibility import DIP_WEIGHT, EXCITATION_CRITERION_DB, MOMENT_CRITERION_DB
from exercises.bands import THIRD_OCTAVE_MID_HZ
from exercises.excitation import FILTERS_HZ, quiet_power
from exercises.heard import (
    FINE_EDGES_HZ,
    excitation_of_fine,
    inner_ear_gain,
    passage_powers,
)
from exercises.loops import Passage
from exercises.question import REFERENCE_LUFS
from exercises.samples import Floats, Samples

_CELL_FLOOR_DB: Final = -60.0
_OWN_SHARE: Final = 0.01
_FINE_HZ: Final = (FINE_EDGES_HZ[1:] + FINE_EDGES_HZ[:-1]) / 2.0
# The outer third octaves also take what lies beyond them.
_THIRDS_START: Final = np.append(
    0, np.searchsorted(_FINE_HZ, np.array(THIRD_OCTAVE_MID_HZ[1:]) * 10.0**-0.05)
)


@dataclass(frozen=True, slots=True)
class Sounding:
    """A sound as measured passage by passage, as it is played.

    ``third_octaves`` (passages, 30) mean powers re full scale; ``excitation`` (passages, filters)
    re 0 dB SPL, the threshold of hearing added; ``passage_lufs`` (passages,); ``moments`` (octave
    bands, moments) K-weighted powers.
    """

    third_octaves: Floats
    excitation: Floats
    passage_lufs: Floats
    moments: Floats


@dataclass(frozen=True, slots=True)
class Residual:
    """What differs from A, in dB over A's.

    ``third_octave_db`` (passages, 30), 0 where A has next to nothing (60 dB under its strongest);
    ``passage_lu`` (passages,); ``excitation_db`` the largest change of excitation (a dip counts
    less, see ``audibility``); ``moment_db`` the change of an octave band's level from moment to
    moment that a tenth of the moments reach.
    """

    third_octave_db: Floats
    passage_lu: Floats
    excitation_db: float
    moment_db: float

    @property
    def heard(self) -> bool:
        """Whether a person would hear that it is not A."""
        return (
            self.excitation_db >= EXCITATION_CRITERION_DB or self.moment_db >= MOMENT_CRITERION_DB
        )

    @property
    def most_db(self) -> float:
        """The largest difference in any cell, without its sign."""
        return float(np.abs(self.third_octave_db).max())

    @property
    def most_lu(self) -> float:
        """The largest difference in level of any passage, in LU, without its sign."""
        return float(np.abs(self.passage_lu).max())


@dataclass(frozen=True, slots=True)
class Judgement:
    """A fix judged: what there is ``now``, what was ``wrong`` in B, and the split of it.

    ``left_db`` and ``damage_db`` are (passages, 30); ``left_excitation_db`` and
    ``damage_excitation_db`` the largest of each in the ear, held against the same limit.
    """

    now: Residual
    wrong: Residual
    left_db: Floats
    damage_db: Floats
    left_excitation_db: float
    damage_excitation_db: float

    @property
    def cured_db(self) -> Floats:
        """What was wrong and is gone, (passages, 30)."""
        return self.wrong.third_octave_db - self.left_db

    @property
    def damage_heard(self) -> bool:
        """Whether what the fix spoiled can be heard."""
        return self.damage_excitation_db >= EXCITATION_CRITERION_DB


def measure(sound: Samples, passages: Sequence[Passage], gain_db: float | None = None) -> Sounding:
    """``sound`` (frames, 2) measured as played at -23 LUFS, or ``gain_db`` up if that is given."""
    if gain_db is None:
        gain_db = loudness.matching_gain_db(loudness.block_powers(sound), REFERENCE_LUFS)
    spans = [(passage.start_frame, passage.stop_frame) for passage in passages]
    factor = 10.0 ** (gain_db / 10.0)
    fine = np.stack([passage_powers(sound, *span) for span in spans])
    thirds = np.add.reduceat(fine, _THIRDS_START, axis=1) * factor
    weighted = fine @ 10.0 ** (moments.k_weighting_db(_FINE_HZ) / 10.0) * factor
    bands = moments.band_sums(moments.weighted_bins(sound), None, len(sound))
    count = max(1, round(len(sound) / moments.MOMENT_FRAMES))
    return Sounding(
        thirds,
        excitation_of_fine(fine * inner_ear_gain(gain_db)) + quiet_power(FILTERS_HZ),
        -0.691 + 10.0 * np.log10(np.maximum(weighted, 1e-20)),
        moments.moment_powers([band.part for band in bands], count) * factor,
    )


def difference(now: Sounding, a: Sounding) -> Residual:
    """How ``now`` differs from ``a``, both measured over the same passages."""
    total = a.moments.sum(axis=0, keepdims=True)
    return Residual(
        _cells_db(now, a),
        now.passage_lufs - a.passage_lufs,
        _most_heard_db(_excitation_db(now, a)),
        moments.moment_change_db(
            a.moments,
            now.moments,
            a.moments > _OWN_SHARE * total,
            moments.sounding_moments(a.moments),
        ),
    )


def residual(
    fixed: Samples, a: Samples, passages: Sequence[Passage], *, matched: bool = True
) -> Residual:
    """What is left between ``fixed`` and ``a``, both (frames, 2), after level-matching.

    With ``matched`` false, as for a problem of level, both are turned by what brings A to its
    level, and the difference in level counts.
    """
    return difference(*_measured([fixed, a], passages, matched=matched))


def judge(
    fixed: Samples,
    b: Samples,
    a: Samples,
    passages: Sequence[Passage],
    *,
    matched: bool = True,
) -> Judgement:
    """What a fix of ``b`` left of what was wrong, and what it spoiled."""
    return judge_measured(*_measured([fixed, b, a], passages, matched=matched))


def judge_measured(now: Sounding, b: Sounding, a: Sounding) -> Judgement:
    """The same of sounds already measured."""
    here, wrong = difference(now, a), difference(b, a)
    left_db = _left(here.third_octave_db, wrong.third_octave_db)
    now_ear_db = _excitation_db(now, a)
    left_ear_db = _left(now_ear_db, _excitation_db(b, a))
    return Judgement(
        here,
        wrong,
        left_db,
        here.third_octave_db - left_db,
        _most_heard_db(left_ear_db),
        _most_heard_db(now_ear_db - left_ear_db),
    )


def _measured(
    sounds: Sequence[Samples], passages: Sequence[Passage], *, matched: bool
) -> list[Sounding]:
    """Measures of ``sounds``, of which the last is A."""
    gain_db = None
    if not matched:
        gain_db = loudness.matching_gain_db(loudness.block_powers(sounds[-1]), REFERENCE_LUFS)
    return [measure(sound, passages, gain_db) for sound in sounds]


def _left(now_db: Floats, wrong_db: Floats) -> Floats:
    """What of ``now_db`` is still of ``wrong_db``: the same sign, and no more."""
    return np.sign(wrong_db) * np.clip(now_db * np.sign(wrong_db), 0.0, np.abs(wrong_db))


def _cells_db(now: Sounding, a: Sounding) -> Floats:
    floor = a.third_octaves.max() * 10.0 ** (_CELL_FLOOR_DB / 10.0) + 1e-20
    counted = a.third_octaves > floor
    ratio = np.where(
        counted, np.maximum(now.third_octaves, 1e-20) / np.maximum(a.third_octaves, floor), 1.0
    )
    decibels: Floats = 10.0 * np.log10(ratio)
    return decibels


def _excitation_db(now: Sounding, a: Sounding) -> Floats:
    decibels: Floats = 10.0 * np.log10(now.excitation / a.excitation)
    return decibels


def _most_heard_db(change_db: Floats) -> float:
    return float(np.maximum(change_db, -DIP_WEIGHT * change_db).max())
