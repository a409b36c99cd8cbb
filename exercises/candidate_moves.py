"""The moves of four fixes of one problem, worked out from the problem: one list for each role.

- *Tone*. One: the point that fits the change best, all the way or in its passage. Two, all the
  way: where the one cuts, a low and a high shelf boost all round it (or the other way round), by
  least squares; in a passage: the cut all the way, and taken back where it was right. Many: the
  fader ridden bar by bar. Clever: the compressor, or lift of loud parts, that looks most like what
  the tone did to the level over time.
- *Level* of one passage. One: its ride. Two and many: the same by halves and by quarters. Clever:
  the compressor or lift that looks most like the ride.
- *Level* of one track in the mix. One: its fader. Two: a low and a high shelf that meet, which are
  a fader. Many: the fader bar by bar. Clever: what an equaliser on the whole mix makes of it.
- *Dynamics*. One: the device that undoes it, by as much. Two: two of half the size in a row. Many:
  the fader ridden bar by bar. Clever: what an equaliser makes of it.

All are found from the part with the problem (*before*) and without (*after*), (frames, 2) and in
step. A list can come out empty, where there is nothing of that sort to do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import Enum, StrEnum, auto
from typing import Final

import numpy as np

from exercises.kinds import DYNAMICS, TONE
from exercises.loops import Loop, Passage
from exercises.measured_change import ToneChange, time_change, tone_change, tone_of
from exercises.mixdown import mixdown, part_in_b
from exercises.moves import (
    EqPoint,
    Fix,
    HighShelf,
    LowShelf,
    Ride,
    ToneMove,
    apply_move,
    on_track,
)
from exercises.problems import signed_db
from exercises.question import Question
from exercises.recipe import Recipe
from exercises.residual import measure
from exercises.samples import Samples
from exercises.time_fitting import fit_dynamics
from exercises.tone_fitting import fit_tone
from exercises.tone_refining import refine

SMALLEST_CLEVER_DB: Final = 3.0
"""A clever move does at least this much, so that it can be heard to work."""

_LARGEST_CLEVER_DB: Final = 9.0
_SMALLEST_RIDE_DB: Final = 0.1
_FEWEST_RIDES: Final = 3
_MEETING_HZ: Final = 632.0
"""The middle of 20 Hz to 20 kHz."""


class Role(StrEnum):
    """What a candidate is there to show. The values are the words a learner sees."""

    ONE_MOVE = "one move"
    TWO_MOVES = "two moves"
    MANY_MOVES = "many moves"
    CLEVER = "clever"


class Family(Enum):
    """Problems whose fixes are worked out, and explained, alike."""

    TONE = auto()
    DYNAMICS = auto()
    PASSAGE_LEVEL = auto()
    TRACK_LEVEL = auto()


def family_of(recipe: Recipe) -> Family:
    """The family of ``recipe``'s one problem."""
    if recipe.kind in TONE:
        return Family.TONE
    if recipe.kind in DYNAMICS:
        return Family.DYNAMICS
    return Family.TRACK_LEVEL if recipe.passage is None else Family.PASSAGE_LEVEL


@dataclass(frozen=True, slots=True)
class Case:
    """A problem to be fixed: ``before`` and ``after`` are the part with it and without;
    ``heard_before`` and ``heard_after`` the same of all that is heard."""

    question: Question
    loop: Loop
    passage: Passage | None
    before: Samples
    after: Samples
    heard_before: Samples
    heard_after: Samples


def case_of(question: Question, loop: Loop) -> Case:
    """The case of ``question``'s one problem."""
    made = mixdown(question.recipe, loop)
    return Case(question, loop, made.passage, part_in_b(made), made.part, question.b, question.a)


def moves_of(role: Role, case: Case) -> Fix:
    """The moves of the fix with that role, on the tracks they sit on."""
    recipe = case.question.recipe
    family = family_of(recipe)
    moves = _MOVES[family][role](case)
    if family is Family.TRACK_LEVEL and role is Role.CLEVER:
        return moves  # on the whole mix, which is what is wrong with it
    return tuple(on_track(move, recipe.track) for move in moves)


def spans_to_ride(loop: Loop) -> tuple[Passage, ...]:
    """The loop's passages, or its bars where passages are few and bars are known."""
    if len(loop.passages) >= _FEWEST_RIDES or loop.bars is None:
        return loop.passages
    edges = [loop.frames * bar // loop.bars for bar in range(loop.bars + 1)]
    return tuple(Passage(f"bar {bar + 1}", edges[bar], edges[bar + 1]) for bar in range(loop.bars))


def _tone_change(case: Case) -> ToneChange:
    inside = slice(None)
    if case.passage is not None:
        inside = slice(case.passage.start_frame, case.passage.stop_frame)
    return tone_change(case.before[inside], tone_of(case.after[inside]))


def _point(case: Case) -> tuple[ToneMove, ...]:
    found = fit_tone(_tone_change(case), 1).moves
    return tuple(replace(move, passage=case.passage) for move in found)


def _two_of_tone(case: Case) -> Fix:
    return _shelves_round(case) if case.passage is None else _back_elsewhere(case)


def _back_elsewhere(case: Case) -> Fix:
    """The point all the way, and taken back in all the other passages (one, mostly)."""
    others = [other for other in case.loop.passages if other != case.passage]
    return tuple(
        move
        for point in _point(case)
        for move in (
            replace(point, passage=None),
            *(replace(point, gain_db=-point.gain_db, passage=other) for other in others),
        )
    )


def _shelves_round(case: Case) -> Fix:
    """A low and a high shelf that do on both sides what the one point undoes between them."""
    points = [move for move in _point(case) if isinstance(move, EqPoint)]
    if not points:
        return ()
    (point,) = points
    # Where the shelves of a wide cut come to lie; from there least squares goes on.
    away = 2.0 ** (0.5 / point.q + 0.4)
    low_hz, high_hz = max(point.freq_hz / away, 20.0), min(point.freq_hz * away, 20_000.0)
    start = (LowShelf(low_hz, -point.gain_db), HighShelf(high_hz, -point.gain_db))
    return refine(_tone_change(case), start).moves


def _rides(case: Case) -> Fix:
    """Rides that bring every span to the loudness that it should have."""
    spans = spans_to_ride(case.loop)
    return tuple(
        Ride(gain_lu, span)
        for span, gain_lu in zip(spans, _gains_lu(case, spans), strict=True)
        if abs(gain_lu) >= _SMALLEST_RIDE_DB
    )


def _gains_lu(case: Case, spans: Sequence[Passage]) -> list[float]:
    after, before = (measure(sound, spans).passage_lufs for sound in (case.after, case.before))
    gains: list[float] = (after - before).tolist()
    return gains


def _like_the_level(case: Case) -> Fix:
    change = time_change(case.before, case.after)
    return (fit_dynamics(change, case.before, SMALLEST_CLEVER_DB)[0],)


def _ride_in(parts: int) -> Callable[[Case], Fix]:
    """The passage ridden in so many parts, against what the rest of the loop gained."""

    def rides(case: Case) -> Fix:
        assert case.passage is not None
        spans = _parts(case.passage, parts)
        others = [other for other in case.loop.passages if other != case.passage]
        gains_lu = _gains_lu(case, [*spans, *others])
        rest_lu = float(np.mean(gains_lu[parts:]))
        return tuple(
            Ride(gain_lu - rest_lu, span)
            for span, gain_lu in zip(spans, gains_lu[:parts], strict=True)
        )

    return rides


def _parts(passage: Passage, count: int) -> list[Passage]:
    if count == 1:
        return [passage]
    start, length = passage.start_frame, passage.stop_frame - passage.start_frame
    edges = [start + length * part // count for part in range(count + 1)]
    return [
        Passage(f"{passage.name} {part + 1}/{count}", edges[part], edges[part + 1])
        for part in range(count)
    ]


def _turned_back_db(case: Case) -> float:
    return -signed_db(case.question.recipe.problem)


def _fader(case: Case) -> Fix:
    return (Ride(_turned_back_db(case)),)


def _shelves_that_meet(case: Case) -> Fix:
    """Below and above one frequency by the same gain: a high shelf is a gain and a low shelf the
    other way, so that what is left of the two is the gain."""
    gain_db = _turned_back_db(case)
    return (LowShelf(_MEETING_HZ, gain_db), HighShelf(_MEETING_HZ, gain_db))


def _fader_by_bars(case: Case) -> Fix:
    return tuple(Ride(_turned_back_db(case), span) for span in spans_to_ride(case.loop))


def _tone_of_the_mix(case: Case) -> Fix:
    return (_plain_point(tone_change(case.heard_before, tone_of(case.heard_after))),)


def _device(case: Case) -> Fix:
    return (fit_dynamics(time_change(case.before, case.after), case.before)[0],)


def _two_devices(case: Case) -> Fix:
    """The device by half of its size, and what is then missing."""
    (device,) = _device(case)
    assert not isinstance(device, EqPoint | LowShelf | HighShelf | Ride)
    half = replace(device, size_db=device.size_db / 2.0)
    halfway = apply_move(case.before, half)
    rest = fit_dynamics(time_change(halfway, case.after), halfway)[0]
    return (half, rest)


def _tone_of_the_part(case: Case) -> Fix:
    return (_plain_point(tone_change(case.before, tone_of(case.after))),)


def _plain_point(change: ToneChange) -> EqPoint:
    """The point that most of ``change`` looks like, plain to hear whether it helps or not."""
    level_db = np.average(change.change_db, weights=change.weight)
    most = int(np.argmax(change.weight * np.abs(change.change_db - level_db)))
    start = EqPoint(float(change.freqs_hz[most]), float(change.change_db[most] - level_db), 1.0)
    (found,) = refine(change, (start,)).moves
    assert isinstance(found, EqPoint)
    size_db = min(max(abs(found.gain_db), SMALLEST_CLEVER_DB), _LARGEST_CLEVER_DB)
    return replace(found, gain_db=float(np.copysign(size_db, found.gain_db)))


_MOVES: Final[dict[Family, dict[Role, Callable[[Case], Fix]]]] = {
    Family.TONE: {
        Role.ONE_MOVE: _point,
        Role.TWO_MOVES: _two_of_tone,
        Role.MANY_MOVES: _rides,
        Role.CLEVER: _like_the_level,
    },
    Family.PASSAGE_LEVEL: {
        Role.ONE_MOVE: _ride_in(1),
        Role.TWO_MOVES: _ride_in(2),
        Role.MANY_MOVES: _ride_in(4),
        Role.CLEVER: _like_the_level,
    },
    Family.TRACK_LEVEL: {
        Role.ONE_MOVE: _fader,
        Role.TWO_MOVES: _shelves_that_meet,
        Role.MANY_MOVES: _fader_by_bars,
        Role.CLEVER: _tone_of_the_mix,
    },
    Family.DYNAMICS: {
        Role.ONE_MOVE: _device,
        Role.TWO_MOVES: _two_devices,
        Role.MANY_MOVES: _rides,
        Role.CLEVER: _tone_of_the_part,
    },
}
