"""A fix done to a mix, and to what a question asks about.

A fix is worked on *stems*: tracks that sum to what is heard (one stem for a file of one's own). A
track's moves are done first, then the tracks are summed, then the mix's moves are done, each in
the order listed, but for rides: the fader comes after the rest, as on any desk.

Loudness is matched as in a question: a track that was filtered or compressed is made up to the
loudness it had, before its fader, and in the end all that is heard is brought to A's.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from exercises import loudness
from exercises.kinds import LEVEL
from exercises.loops import WHOLE_MIX, Loop, Track
from exercises.mixdown import mixdown, scaled, stem_without_level
from exercises.moves import Move, Ride, apply_moves
from exercises.question import HIGHEST_PEAK_DBTP, Question
from exercises.samples import Samples, as_samples, db_to_gain, gain_to_db
from exercises.true_peak import true_peak


def apply_fix(stems: Sequence[Track], fix: Sequence[Move], *, made_up: bool = True) -> Samples:
    """What is heard, (frames, 2), with ``fix`` done to ``stems``.

    With ``made_up``, each track that was changed keeps its loudness but for its rides; the whole
    is not matched to anything.

    Raises:
        ValueError: a move on a track that is not among the stems, or as ``apply_move``.
    """
    names = [stem.name for stem in stems]
    for move in fix:
        if move.track is not None and move.track not in names:
            raise ValueError(f"no track '{move.track}' to move; there are {', '.join(names)}")
    total = np.zeros(stems[0].samples.shape, dtype=np.float64, order="F")
    for stem in stems:
        moves = [move for move in fix if move.track == stem.name]
        total += _done(stem.samples, moves, made_up=made_up)
    return _done(as_samples(total), [move for move in fix if move.track is None], made_up=False)


def _done(samples: Samples, moves: Sequence[Move], *, made_up: bool) -> Samples:
    """``moves`` done in order but for rides, then the make-up gain, then the rides."""
    inserts = [move for move in moves if not isinstance(move, Ride)]
    moved = apply_moves(samples, inserts)
    if inserts and made_up:
        moved = matched_to(moved, loudness.loudness_lufs(samples))
    return apply_moves(moved, [move for move in moves if isinstance(move, Ride)])


def matched_to(sound: Samples, target_lufs: float) -> Samples:
    """``sound`` turned to ``target_lufs``; silence stays silent."""
    gain_db = loudness.matching_gain_db(loudness.block_powers(sound), target_lufs)
    return as_samples(sound * np.float32(db_to_gain(gain_db)))


def stems_of(question: Question, loop: Loop) -> tuple[Track, ...]:
    """B as tracks that sum to it: what a fix works on. A track heard alone is one stem."""
    recipe = question.recipe
    if recipe.alone:
        return (Track(recipe.track or WHOLE_MIX, question.b),)
    made = mixdown(recipe, loop)
    factor = db_to_gain(question.gain_db)
    stems = []
    for track in loop.tracks:
        level = made.level if recipe.track in (None, track.name) else 1.0
        samples = stem_without_level(made, loop, track.name)
        stems.append(Track(track.name, scaled(samples, factor * level)))
    return tuple(stems)


def level_at_stake(question: Question) -> bool:
    """Whether the whole is not matched in loudness, since its level, or a track's, is asked."""
    kinds = {problem.kind for problem in question.recipe.problems}
    return question.recipe.passage is None and not kinds.isdisjoint(LEVEL)


def few_stems_of(question: Question, loop: Loop) -> tuple[Track, ...]:
    """B as few tracks that sum to it, for fixes that all sit where the problem is: quicker."""
    track = question.recipe.track
    if track is None or question.recipe.alone:
        return (Track(track or WHOLE_MIX, question.b),)
    stems = stems_of(question, loop)
    rest = sum(stem.samples for stem in stems if stem.name != track)
    moved = next(stem for stem in stems if stem.name == track)
    return (moved, Track("the rest", as_samples(np.asarray(rest))))


def fix_question(
    question: Question,
    stems: Sequence[Track],
    fix: Sequence[Move],
    a_lufs: float | None = None,
) -> Samples:
    """B with ``fix`` done, as it is to be played; (frames, 2).

    At A's loudness (``a_lufs``, where it was measured before), unless its level is at stake; never
    above the question's peak limit, for which it is turned down by itself.
    """
    fixed = fixed_at_level(question, stems, fix, a_lufs)
    return as_samples(fixed * np.float32(db_to_gain(-over_limit_db(fixed))))


def fixed_at_level(
    question: Question,
    stems: Sequence[Track],
    fix: Sequence[Move],
    a_lufs: float | None = None,
) -> Samples:
    """The same whatever its peaks: to be played beside A, both turned down alike."""
    matched = not level_at_stake(question)
    fixed = apply_fix(stems, fix, made_up=matched)
    if not matched:
        return fixed
    return matched_to(fixed, loudness.loudness_lufs(question.a) if a_lufs is None else a_lufs)


def over_limit_db(sound: Samples) -> float:
    """How far the peaks of ``sound`` lie above a question's limit, in dB; 0 where they do not."""
    return max(0.0, gain_to_db(true_peak(sound)) - HIGHEST_PEAK_DBTP)
