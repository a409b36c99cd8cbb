"""Plain sentences for what was done and what was said: the same in the window and the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from exercises.bands import THIRD_OCTAVE_MID_HZ, octaves, show_hz
from exercises.kinds import Kind, Shape
from exercises.loops import WHOLE_MIX
from exercises.problems import Problem
from exercises.recipe import Recipe
from exercises.spectrum import SLICE_S, Difference
from trainer.judging import Answer, Named, Part, Verdict
from trainer.record import KeptAnswer
from trainer.statistics import wilson_interval
from trainer.volume import SOFTEST_DB

if TYPE_CHECKING:
    from exercises.level_or_tone import PassageChange

_THICK_FROM_HZ, _THICK_TO_HZ = 80.0, 355.0
_MORE_LESS: Final = ("more", "less")
_NUMBERS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip

ABOUT: Final = {
    Kind.TOO_MUCH: "of one region",
    Kind.TOO_LITTLE: "of one region",
    Kind.SQUASHED: "no life left",
    Kind.LIFTED: "too lively",
    Kind.TOO_LOUD: "all of it",
    Kind.TOO_QUIET: "all of it",
    Kind.NOTHING: "leave it alone",
}
"""A word or three under each kind."""

CAUTION: Final = (
    "Start low: turn it up until it is comfortable, no further. Long or loud listening can harm "
    "hearing for good; rest every half hour, stop if your ears ring, and follow local rules and "
    "the advice of hearing professionals."
)

NOTHING_UNDONE: Final = "You said that nothing was changed: there is no fix to hear."
REST: Final = "Half an hour of listening. Rest your ears for some minutes, then go on."


def heard_part(recipe: Recipe) -> str:
    """What is heard, as far as the question may say: "whole mix", "guitar alone"."""
    if recipe.track is None or recipe.ask_track:
        return WHOLE_MIX
    return f"{recipe.track} alone" if recipe.alone else f"{recipe.track} in the mix"


def truth_sentence(recipe: Recipe) -> str:
    """What was done to B."""
    if recipe.kind is Kind.NOTHING:
        return "Nothing: A and B are the same."
    said = " and ".join(_problem_words(problem) for problem in recipe.problems)
    place = f", on the {recipe.track}" if recipe.track and not recipe.alone else ""
    if recipe.passage:
        place += f", in '{recipe.passage}'"
    return f"{said[0].upper()}{said[1:]}{place}."


def _problem_words(problem: Problem) -> str:
    size = f"{problem.size_db:.1f} dB"
    if problem.freq_hz is not None:
        sign = "+" if problem.kind is Kind.TOO_MUCH else "\N{MINUS SIGN}"
        where = {
            Shape.PEAK: f"at {show_hz(problem.freq_hz)}",
            Shape.LOW_SHELF: f"below {show_hz(problem.freq_hz)} (a shelf)",
            Shape.HIGH_SHELF: f"above {show_hz(problem.freq_hz)} (a shelf)",
        }[problem.shape]
        return f"{problem.kind} {where}, {sign}{size}"
    if problem.kind is Kind.SQUASHED:
        return f"squashed by {size} at the tops ({problem.style})"
    if problem.kind is Kind.LIFTED:
        return f"loud parts lifted by {size} at the tops"
    return f"{problem.kind} by {size}"


def answer_sentence(recipe: Recipe, answer: Answer, verdict: Verdict) -> str:
    """What the learner said, and whether it counts."""
    if answer.kind is Kind.NOTHING:
        said = "You said nothing was changed"
    else:
        said = "You said " + " and ".join(_named_words(named) for named in answer.named)
        said += f", on the {answer.track}" if answer.track else ""
        said += f", in '{answer.passage}'" if answer.passage else ""
    misses = [miss for part in verdict.parts if (miss := _distance(part)) is not None]
    if misses:
        said += ": " + " and ".join(miss_words(miss) for miss in misses)
    if verdict.named:
        return f"{said}. That counts."
    if recipe.kind is Kind.NOTHING:
        return f"{said}. There was nothing to mend."
    if verdict.kind_right and not verdict.place_right:
        return f"{said}. The place was another."
    if verdict.kind_right:
        return f"{said}. Only up to a third counts."
    another = "Something was" if answer.kind is Kind.NOTHING else "The kind was another"
    return f"{said}. {another}."


def _distance(part: Part) -> float | None:
    """How far off the place was, in octaves, whatever the kind; None where one of them has none."""
    true_hz, named_hz = part.truth.freq_hz, part.named.freq_hz
    return None if true_hz is None or named_hz is None else octaves(named_hz, true_hz)


def _named_words(named: Named) -> str:
    if named.freq_hz is None:
        return named.kind.value
    return f"{named.kind} at {show_hz(named.freq_hz)}"


def miss_words(miss_octaves: float) -> str:
    """A miss in words: "0.20 octave high", "spot on"."""
    if abs(miss_octaves) < 0.005:
        return "spot on"
    side = "high" if miss_octaves > 0 else "low"
    return f"{abs(miss_octaves):.2f} octave{'s' if abs(miss_octaves) > 1 else ''} {side}"


def left_sentence(left: Difference, begins_s: float = 0.0, *, undone: bool = True) -> str:
    """What is left in B once the answer is undone as a fix, and where most of it is; what was
    measured begins ``begins_s`` seconds into the loop.

    "With your answer undone and both as loud, 9.7 dB is left at most, near 130 Hz." ``undone`` is
    False where the answer was that there is nothing to undo.
    """
    if left.most_db < 0.05:
        return (
            "With your answer undone, nothing is left of it."
            if undone
            else "B was left as it is, and nothing is left to mend."
        )
    how = "With your answer undone" if undone else "With B left as it is"
    said = f"{how} and both as loud, {left.most_db:.1f} dB is left at most"
    tone_db = abs(left.third_octave_db)
    if tone_db.max() < left.most_db:
        at_s = begins_s + abs(left.slice_db).argmax() * SLICE_S
        return f"{said}, at {at_s:.1f} s of the loop."
    return f"{said}, near {show_hz(float(f'{THIRD_OCTAVE_MID_HZ[tone_db.argmax()]:.2g}'))}."


def level_or_tone_sentence(changes: Sequence[PassageChange], passage: str) -> str:
    """What became of ``passage`` in figures, and whether that was level or tone.

    "'damped strokes' was 0.9 LU louder than the rest, but 5.8 dB thicker near 190 Hz: tone, not
    level." ``changes`` are those of ``level_or_tone.passage_changes``.
    """
    from exercises.level_or_tone import Cause, finding

    found = finding(changes)
    (own,) = (each for each in changes if each.passage == passage)
    rest = [each.level_lu for each in changes if each.passage != passage]
    level_lu = own.level_lu - (sum(rest) / len(rest) if rest else 0.0)
    side = "louder" if level_lu >= 0 else "softer"
    said = f"'{passage}' was {abs(level_lu):.1f} LU {side} than the rest"
    if found.cause is Cause.DYNAMICS:
        return f"{said}, but its moments moved by up to {found.dynamics_db:.1f} dB: dynamics."
    if found.cause is Cause.TONE:
        gains_db = own.third_octave_db + level_lu
        most = int(abs(gains_db).argmax())
        hz, gain_db = THIRD_OCTAVE_MID_HZ[most], float(gains_db[most])
        more, less = ("thicker", "thinner") if _THICK_FROM_HZ <= hz <= _THICK_TO_HZ else _MORE_LESS
        tone = f"{abs(gain_db):.1f} dB {more if gain_db > 0 else less} near {show_hz(hz)}"
        return f"{said}, but {tone}: tone, not level."
    if found.cause is Cause.LEVEL:
        return f"{said}, and its tone stayed as it was: level, not tone."
    return f"{said}: hardly anything to call level or tone."


def volume_words(volume_db: float) -> str:
    """The volume as it is read off: "\N{MINUS SIGN}28 dB", "silent"."""
    if volume_db <= SOFTEST_DB:
        return "silent"
    sign = "\N{MINUS SIGN}" if volume_db < 0 else ""
    return f"{sign}{abs(volume_db):.0f} dB"


def due_sentence(minutes: float, answered: int, seconds_left: float, *, done: bool = False) -> str:
    """What is due today, for the first page; ``done``: a drill of today came to its end."""
    if answered == 0 and done:
        return f"Today's drill is done. Another one: {minutes_words(minutes)}."
    if answered == 0:
        return f"Today: {minutes_words(minutes)}. Hear A, hear B, say what changed and where."
    return (
        f"Today's drill stopped after {counted(answered, 'question')}; "
        f"{clock_words(seconds_left)} are left."
    )


def counted(count: int, one: str, many: str = "") -> str:
    """ "1 result", "3 results"; ``many`` where an s does not do."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def minutes_words(minutes: float) -> str:
    """Whole minutes in words: "ten minutes", "45 minutes", "less than a minute"."""
    if minutes < 1.0:
        return "less than a minute"
    whole = int(minutes + 0.5)
    number = _NUMBERS[whole] if whole < len(_NUMBERS) else str(whole)
    return f"{number} minute{'s' if whole > 1 else ''}"


def clock_words(seconds: float) -> str:
    """A span in minutes and tens of seconds: "6 min 40 s"."""
    minutes, rest = divmod(round(seconds / 10.0) * 10, 60)
    return f"{minutes:.0f} min {rest:02.0f} s" if minutes else f"{rest:.0f} s"


def named_share_sentence(answers: Sequence[KeptAnswer]) -> str:
    """How many of a drill's questions were named, with the interval that so few allow."""
    if not answers:
        return "No question was answered."
    named = sum(kept.verdict.named for kept in answers)
    low, high = wilson_interval(named, len(answers))
    return (
        f"{named} of {len(answers)} named. So few say only that your share lies between "
        f"{100.0 * low:.0f} % and {100.0 * high:.0f} % (95 % interval)."
    )
