"""When a fix round is due, and what it is about: decided by seeds alone.

A drill has one fix round in ten questions, or as many as were asked for; never before the two
easy questions that it opens with. Choice and open rounds take turns, as the front end can do them.

A choice is about one problem: half of the time a region of the whole mix or of one track, all the
way; else a region in one passage, a level of a passage or of a track in the mix, or dynamics.
What does not make a round of four fixes, each proven to play its role, is drawn again. An open
round may also hide a shelf, a level in one passage, or two
problems, so that one cut is not always the answer.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from typing import Final

from exercises.bands import BANDS, band_of
from exercises.errors import NamefirstError
from exercises.fix_candidates import round_candidates
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind, Shape
from exercises.loops import Loop
from exercises.problems import Problem
from exercises.question import make_question
from exercises.recipe import Recipe, draw_freq_hz, pick
from exercises.residual import residual
from trainer.choice_round import ChoiceRound
from trainer.fix_round import Sort
from trainer.limits import USUAL_FIXES
from trainer.loop_shelf import LoopShelf
from trainer.open_round import OpenRound
from trainer.study import may_open_before

CLEAR_DB: Final = 2.0
"""A choice is about what is plain to hear: change of excitation, well over what can be heard."""
_MOMENT_OVER_DB: Final = 0.5
"""From moment to moment that much more is asked for: held in mind, not side by side."""
_FIRST_PLACE: Final = 3
_TRIES, _DRAWS = 16, 400

_CHOICE_BANDS: Final = BANDS[2:9]
_CHOICE_SIZES_DB: Final = (5.0, 6.0, 7.0)
_CHOICE_QS: Final = (0.7, 0.8, 1.0)
_DYNAMICS_DB: Final = (6.0, 8.0)
_OPEN_SIZES_DB: Final = (5.0, 6.0, 8.0)
_OPEN_QS: Final = (0.7, 1.4, 2.8)
_LEVEL_SIZES_DB: Final = (3.0, 4.0, 6.0)
_SECOND_AWAY: Final = 4
"""Two regions in one open round lie four octave bands apart or more."""

FixRound = ChoiceRound | OpenRound


def fix_round_is_due(seed: int, number: int, in_ten: int = USUAL_FIXES) -> bool:
    """Whether a fix round comes before question ``number`` (from 1) of the drill with ``seed``.

    In every ten questions there are ``in_ten``, at places drawn from the third to the tenth, but
    for those where a guided minute may be opened: the two never fall together.
    """
    ten, place = divmod(number - 1, 10)
    draws = random.Random((seed << 16) + ten)
    lots = {each: draws.random() for each in range(_FIRST_PLACE, 11)}
    places = [each for each in lots if not may_open_before(10 * ten + each)]
    return place + 1 in sorted(places, key=lots.__getitem__)[:in_ten]


def sort_due(kept_before: int) -> Sort:
    """The sort whose turn it is after so many rounds: a choice first, then an open one."""
    return Sort.OPEN if kept_before % 2 else Sort.CHOICE


def make_fix_round(
    shelf: LoopShelf,
    loops: Sequence[str],
    sort: Sort,
    seed: int,
    given_up: Callable[[], bool] = lambda: False,
    bands: Sequence[int] | None = None,
    kinds: Sequence[Kind] | None = None,
) -> FixRound:
    """The round that ``seed`` gives on one of ``loops`` (names on the shelf); takes seconds.

    ``given_up`` is asked between tries whether anyone still wants it; ``bands`` are where a problem
    of tone may lie and ``kinds`` what problems may be (None: any).

    Raises:
        NamefirstError: none of the loops makes a round, or one cannot be read.
    """
    draws = random.Random(seed)
    tried = 0
    for _ in range(_DRAWS):
        if given_up() or tried == _TRIES:
            break
        loop = shelf.get(pick(draws, loops))
        recipe = (_choice_recipe if sort is Sort.CHOICE else _open_recipe)(draws, loop, seed)
        if not _within(recipe, bands, kinds):
            continue
        tried += 1
        made = _made(recipe, loop, sort, seed)
        if made is not None:
            return made
    raise NamefirstError(
        "no fix round can be made within what is asked: add a loop, or widen --loops, --bands or"
        " --kinds"
    )


def _within(recipe: Recipe, bands: Sequence[int] | None, kinds: Sequence[Kind] | None) -> bool:
    """Whether every problem is one of ``kinds``, its frequency, if any, in one of ``bands``."""
    places = [problem.freq_hz for problem in recipe.problems if problem.freq_hz is not None]
    return (bands is None or all(band_of(freq_hz).index in bands for freq_hz in places)) and (
        kinds is None or all(problem.kind in kinds for problem in recipe.problems)
    )


def _made(recipe: Recipe, loop: Loop, sort: Sort, seed: int) -> FixRound | None:
    """The round about ``recipe``; None where it would not be one."""
    question = make_question(recipe, loop)
    if sort is Sort.CHOICE:
        wrong = residual(question.b, question.a, loop.passages)
        if max(wrong.excitation_db, wrong.moment_db - _MOMENT_OVER_DB) < CLEAR_DB:
            return None
        candidates = round_candidates(question, loop)
        return None if candidates is None else ChoiceRound(question, loop, candidates, seed)
    if not residual(question.b, question.a, loop.passages).heard:
        return None
    return OpenRound(question, loop, seed)


def _choice_recipe(draws: random.Random, loop: Loop, seed: int) -> Recipe:
    """A region all the way in four of eight; in one passage in two; else a level, or dynamics."""
    lot = int(draws.random() * 8.0)
    track = _track(draws, loop)
    passage = pick(draws, loop.passages).name if len(loop.passages) > 1 else None
    if lot == 7:
        problem, passage = Problem(pick(draws, sorted(DYNAMICS)), pick(draws, _DYNAMICS_DB)), None
    elif lot == 6 and (passage or track):
        problem = Problem(pick(draws, sorted(LEVEL)), pick(draws, _LEVEL_SIZES_DB[1:]))
        if track is not None and draws.random() < 0.5:
            passage = None
    else:
        freq_hz = draw_freq_hz(draws, pick(draws, _CHOICE_BANDS))
        size_db, q = pick(draws, _CHOICE_SIZES_DB), pick(draws, _CHOICE_QS)
        problem = Problem(pick(draws, sorted(TONE)), size_db, freq_hz, q)
        passage = passage if lot >= 4 else None
    return Recipe(
        seed=seed,
        loop=loop.name,
        fingerprint=loop.fingerprint,
        kind=problem.kind,
        size_db=problem.size_db,
        freq_hz=problem.freq_hz,
        q=problem.q,
        track=track,
        passage=passage,
    )


def _open_recipe(draws: random.Random, loop: Loop, seed: int) -> Recipe:
    """One peak in three of six; else a shelf, a level in a passage, or two peaks."""
    lot = int(draws.random() * 6.0)
    passage = pick(draws, loop.passages).name if len(loop.passages) > 1 else None
    track = _track(draws, loop)
    second = None
    if lot == 4 and passage is not None:
        first = Problem(pick(draws, sorted(LEVEL)), pick(draws, _LEVEL_SIZES_DB))
    else:
        passage = None
        band = int(draws.random() * (len(_CHOICE_BANDS) - (lot == 5) * _SECOND_AWAY))
        first = _peak(draws, band)
        if lot == 3:
            first = _shelf(draws)
        elif lot == 5:
            second = _peak(draws, band + _SECOND_AWAY)
    return Recipe(
        seed=seed,
        loop=loop.name,
        fingerprint=loop.fingerprint,
        kind=first.kind,
        size_db=first.size_db,
        freq_hz=first.freq_hz,
        q=first.q,
        shape=first.shape,
        track=track,
        passage=passage,
        second=second,
    )


def _peak(draws: random.Random, band: int) -> Problem:
    kind = pick(draws, sorted(TONE))
    freq_hz = draw_freq_hz(draws, _CHOICE_BANDS[band])
    return Problem(kind, pick(draws, _OPEN_SIZES_DB), freq_hz, pick(draws, _OPEN_QS))


def _shelf(draws: random.Random) -> Problem:
    kind = pick(draws, (Kind.TOO_MUCH, Kind.TOO_LITTLE))
    shape = pick(draws, (Shape.LOW_SHELF, Shape.HIGH_SHELF))
    freq_hz = draw_freq_hz(draws, BANDS[2] if shape is Shape.LOW_SHELF else BANDS[7])
    return Problem(kind, pick(draws, _OPEN_SIZES_DB), freq_hz, None, shape)


def _track(draws: random.Random, loop: Loop) -> str | None:
    """The whole mix half of the time, else one of the tracks."""
    names: tuple[str | None, ...] = (None,)
    if len(loop.tracks) > 1 and draws.random() >= 0.5:
        names = tuple(track.name for track in loop.tracks)
    return pick(draws, names)
