"""Level or tone? Three recipes that are easily taken for one another, and what tells them apart.

The same passage of the same loop comes too thick, too loud or squashed, matched in loudness over
the whole. The loud one is as loud as thickness makes the other, so that level alone does not tell.

What tells is measured passage by passage: the difference in level, in LU; the difference in tone
with that level taken out; and how unevenly moments of a tenth of a second have changed. A table of
the octave bands' changes in dB, moment by moment, is split into a column (what each band gained
over the passage) and a row (what most bands gained at each moment, so that a build-up in one band
does not count): how far the row spreads is what dynamics did.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from exercises.bands import BANDS, THIRD_OCTAVE_MID_HZ
from exercises.heard import FINE_EDGES_HZ, passage_powers
from exercises.kinds import Help, Kind
from exercises.loops import Loop, Passage
from exercises.loudness import weighted_powers
from exercises.moments import (
    MOMENT_FRAMES,
    Flags,
    band_sums,
    k_weighting_db,
    moment_powers,
    weighted_bins,
)
from exercises.passage_weight import RAMP_S
from exercises.question import make_question
from exercises.recipe import Recipe, draw_freq_hz, pick
from exercises.samples import RATE_HZ, Floats, Samples
from exercises.tone_curve import USUAL_Q

LEAST_LEVEL_DB: Final = 1.5
TONE_DB: Final = 1.0
DYNAMICS_DB: Final = 1.0
LEVEL_LU: Final = 0.5
# What lies more than 30 dB under the strongest does not carry a passage's tone, or its moments.
_COUNTED: Final = 1e-3
_FINE_HZ: Final = (FINE_EDGES_HZ[1:] + FINE_EDGES_HZ[:-1]) / 2.0
# The outer third octaves also take what lies beyond them.
_THIRDS_START: Final = np.append(
    0, np.searchsorted(_FINE_HZ, np.array(THIRD_OCTAVE_MID_HZ[1:]) * 10.0**-0.05)
)


class Cause(StrEnum):
    """What the difference between two sounds mostly is."""

    TONE = "tone"
    LEVEL = "level"
    DYNAMICS = "dynamics"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class PassageChange:
    """How B differs from A in one passage.

    ``level_lu``: by how much it is louder. ``third_octave_db`` (30,): tone, that level taken out;
    0 where A has next to nothing. ``tone_db`` is the largest of them, signed, at ``tone_hz``.
    ``dynamics_db``: how far moments lie apart (middle four fifths) in what most bands gained.
    """

    passage: str
    level_lu: float
    third_octave_db: Floats
    tone_db: float
    tone_hz: float
    dynamics_db: float


@dataclass(frozen=True, slots=True)
class Finding:
    """What it was, in figures: ``cause``, and the largest of each measure over the passages.

    ``level_lu`` is how much louder ``passage`` got than the rest of the loop.
    """

    cause: Cause
    passage: str
    level_lu: float
    tone_db: float
    tone_hz: float
    dynamics_db: float


def level_or_tone_recipes(
    loop: Loop,
    passage: str,
    seed: int,
    *,
    size_db: float = 9.0,
    track: str | None = None,
    help: Help = Help.A_AT_HAND,
) -> tuple[Recipe, Recipe, Recipe]:
    """Recipes for ``passage`` too thick, too loud and squashed, all of ``seed``.

    Too thick by ``size_db``, somewhere from 90 to 350 Hz; squashed by as much; too loud by what
    the thickness adds to the passage over the rest, and by 1.5 dB at least. Whether each can be
    heard is for ``audibility.askable`` to say.

    Raises:
        BadRecipe: the loop has no such passage or track, or it is silent there.
    """
    source = random.Random(seed)
    thick = Recipe(
        seed=seed,
        loop=loop.name,
        fingerprint=loop.fingerprint,
        kind=Kind.TOO_MUCH,
        size_db=size_db,
        freq_hz=draw_freq_hz(source, pick(source, BANDS[2:4])),
        q=USUAL_Q,
        track=track,
        passage=passage,
        help=help,
    )
    question = make_question(thick, loop)
    a, b = question.a, question.b
    if question.a_alone is not None and question.b_alone is not None:
        a, b = question.a_alone, question.b_alone
    changes = passage_changes(a, b, loop.passages)
    louder_lu = _over_the_rest(changes, passage)
    loud_db = round(max(LEAST_LEVEL_DB, louder_lu), 1)
    without_place = replace(thick, kind=Kind.SQUASHED, freq_hz=None, q=None)
    return thick, replace(without_place, kind=Kind.TOO_LOUD, size_db=loud_db), without_place


def passage_changes(
    a: Samples, b: Samples, passages: Sequence[Passage]
) -> tuple[PassageChange, ...]:
    """How ``b`` differs from ``a``, both (frames, 2), in each of ``passages``.

    The last moments of a passage, in which hands already move for the next, are left out.
    """
    weighted = [weighted_powers(sound) for sound in (a, b)]
    moments = [_moments(sound) for sound in (a, b)]
    changes = []
    for passage in (_settled(passage, len(a)) for passage in passages):
        inside = slice(passage.start_frame, passage.stop_frame)
        was, is_now = (float(power[inside].sum()) for power in weighted)
        level_lu = float(_ratio_db(np.array(is_now), np.array(was)))
        third_octave_db, carries = _tone(a, b, passage, level_lu)
        largest = int(np.argmax(np.abs(third_octave_db) * carries))
        middles = (np.arange(moments[0].shape[1]) + 0.5) * MOMENT_FRAMES
        at = (middles >= passage.start_frame) & (middles < passage.stop_frame)
        changes.append(
            PassageChange(
                passage.name,
                level_lu,
                third_octave_db,
                float(third_octave_db[largest]),
                THIRD_OCTAVE_MID_HZ[largest],
                _unevenness_db(*(powers[:, at] for powers in moments)),
            )
        )
    return tuple(changes)


def finding(changes: Sequence[PassageChange]) -> Finding:
    """What a difference mostly is: the least simple of the things that it shows.

    What squashes also changes tone and level a little, what thickens also makes louder; a level
    does nothing else. So dynamics are looked for first, then tone, then level.
    """
    uneven = max(changes, key=lambda change: change.dynamics_db)
    toned = max(changes, key=lambda change: abs(change.tone_db))
    levels = {change.passage: _over_the_rest(changes, change.passage) for change in changes}
    # Of two passages, one louder is the other softer: the louder one is named.
    moved = max(levels, key=lambda passage: (round(abs(levels[passage]), 6), levels[passage]))
    if uneven.dynamics_db >= DYNAMICS_DB:
        cause, passage = Cause.DYNAMICS, uneven.passage
    elif abs(toned.tone_db) >= TONE_DB:
        cause, passage = Cause.TONE, toned.passage
    elif abs(levels[moved]) >= LEVEL_LU:
        cause, passage = Cause.LEVEL, moved
    else:
        cause, passage = Cause.NOTHING, moved
    return Finding(
        cause, passage, levels[passage], toned.tone_db, toned.tone_hz, uneven.dynamics_db
    )


def _over_the_rest(changes: Sequence[PassageChange], passage: str) -> float:
    """How much louder a passage got than the other passages did on average, in LU."""
    others = [change.level_lu for change in changes if change.passage != passage]
    (own,) = (change.level_lu for change in changes if change.passage == passage)
    return own - (float(np.mean(others)) if others else 0.0)


def _settled(passage: Passage, frames: int) -> Passage:
    ramp = round(RAMP_S * RATE_HZ)
    length = passage.stop_frame - passage.start_frame
    if length >= frames or length <= 2 * ramp:
        return passage
    return replace(passage, stop_frame=passage.stop_frame - ramp)


def _moments(sound: Samples) -> Floats:
    count = max(1, round(len(sound) / MOMENT_FRAMES))
    bands = band_sums(weighted_bins(sound), None, len(sound))
    return moment_powers([band.part for band in bands], count)


def _tone(a: Samples, b: Samples, passage: Passage, level_lu: float) -> tuple[Floats, Flags]:
    """Change of each third octave with the level taken out, and whether it carries the tone."""
    was, is_now = (
        np.add.reduceat(
            passage_powers(sound, passage.start_frame, passage.stop_frame), _THIRDS_START
        )
        for sound in (a, b)
    )
    change_db = np.where(was > was.max() * 1e-6 + 1e-20, _ratio_db(is_now, was) - level_lu, 0.0)
    weighted = was * 10.0 ** (k_weighting_db(np.array(THIRD_OCTAVE_MID_HZ)) / 10.0)
    return change_db, weighted > weighted.max() * _COUNTED


def _unevenness_db(was: Floats, is_now: Floats) -> float:
    """How far moments (bands, moments) lie apart in what most of their bands gained, in dB."""
    counts = was > was.max() * _COUNTED
    sounding = counts.any(axis=0)
    if not sounding.any():
        return 0.0
    change_db = _ratio_db(is_now, was)
    by_band = (change_db * counts).sum(axis=1) / np.maximum(counts.sum(axis=1), 1)
    gained = np.where(counts, change_db - by_band[:, None], np.nan)[:, sounding]
    low_db, high_db = np.quantile(np.nanmedian(gained, axis=0), [0.1, 0.9])
    return float(high_db - low_db)


def _ratio_db(powers: Floats, reference: Floats) -> Floats:
    decibels: Floats = 10.0 * np.log10(np.maximum(powers, 1e-20) / np.maximum(reference, 1e-20))
    return decibels
