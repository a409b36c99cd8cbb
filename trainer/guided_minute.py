"""One minute of guided listening: its steps, and where the learner stands in it.

    LISTENING --pass_time, go_on--> LISTENING ... --> OVER

A step is one loop with a few *parts* (the loop as it should be, the problem at some size, a
neighbour, a region alone) that take turns under one playhead. The minute goes on by itself as
sound is heard; whoever chooses a part by hand stays on the step until they go on. Nothing is
scored. Pure: no sound, no screen, no clock. A move that does not fit raises IllegalMove and
changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from exercises.bands import show_hz
from exercises.kinds import LEVEL, TONE, Kind
from exercises.problems import Problem
from exercises.recipe import Recipe
from exercises.tone_curve import USUAL_Q
from trainer.judging import Answer, Verdict
from trainer.round import IllegalMove
from trainer.study_texts import text_of
from trainer.subject import Subject, place_name, subject_of

LOOPS_WANTED: Final = 3
PLAIN_DB: Final = 6.0
PLAIN_LEVEL_DB: Final = 3.0
"""Well audible, where the loop does not ask for more (common practice, no source)."""
LARGEST_DB: Final = 12.0
LARGEST_LEVEL_DB: Final = 6.0
USUAL_FINEST_DB: Final = 3.0
FADE_STEPS: Final = 5


@dataclass(frozen=True, slots=True)
class Part:
    """One thing to hear: ``problem`` None is the loop as it should be.

    ``name`` is its key and plate: A and B where a loop is heard without and with the problem,
    else a number. ``words`` say what it is. With ``region_hz`` only
    the octave around it is heard.
    """

    name: str
    words: str
    problem: Problem | None
    region_hz: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to listen for: ``turns`` are part names and seconds, one after another.

    ``like`` is a question whose track, passage and other problem the parts share; None: the
    problem sits on the whole mix.
    """

    title: str
    listen: str
    loop: str
    parts: tuple[Part, ...]
    turns: tuple[tuple[str, float], ...]
    like: Recipe | None = None

    @property
    def seconds(self) -> float:
        """How long it takes by itself."""
        return sum(seconds for _, seconds in self.turns)


@dataclass(frozen=True, slots=True)
class Ground:
    """A loop to study a subject on: the smallest sizes, dB, to be heard on it of the subject and
    of its neighbours (as far as they can be heard at all)."""

    loop: str
    smallest_db: float
    neighbours_db: tuple[float | None, ...]


def minute_of(
    subject: Subject, grounds: Sequence[Ground], finest_db: float | None
) -> tuple[Step, ...]:
    """The steps of a subject on one to three loops; ``finest_db`` is None where it is not known.

    Raises:
        ValueError: there is no loop.
    """
    if not grounds:
        raise ValueError(f"no loop to study '{subject.key}' on")
    first = grounds[0]
    second, third = grounds[1 % len(grounds)], grounds[-1]
    steps = [_without_and_with(subject, first, "Without and with", text_of(subject).listen)]
    if subject.freq_hz is not None:
        steps.append(_region_alone(subject, first))
    steps.append(
        _without_and_with(
            subject,
            second,
            "On other music",
            "The same problem on another loop: what stays the same is what to remember.",
        )
    )
    steps.append(_faded(subject, second, finest_db))
    steps.append(_side_by_side(subject, third))
    if subject.freq_hz is None:
        steps.append(
            _without_and_with(
                subject, third, "And once more", "Say its name to yourself each time it comes."
            )
        )
    return tuple(steps)


def plain_db(subject: Subject, ground: Ground) -> float:
    """A size that is well audible on this loop, dB."""
    usual = PLAIN_LEVEL_DB if subject.kind in LEVEL else PLAIN_DB
    return min(_largest_db(subject.kind), max(usual, 1.5 * ground.smallest_db))


def problem_of(subject: Subject, size_db: float) -> Problem:
    """The subject as a problem of this size."""
    q = USUAL_Q if subject.kind in TONE else None
    return Problem(subject.kind, size_db, subject.freq_hz, q)


def confused_step(recipe: Recipe, answer: Answer, verdict: Verdict) -> Step | None:
    """What was there against what was named, on the question's own loop; None if nothing was
    confused: the answer counts, or one of the two is "nothing"."""
    truth, named = verdict.parts[0].truth, verdict.parts[0].named
    if verdict.parts[0].credit == 1.0 or Kind.NOTHING in (truth.kind, named.kind):
        return None
    size_db = min(truth.size_db, _largest_db(named.kind))
    other = Problem(named.kind, size_db, named.freq_hz, USUAL_Q if named.kind in TONE else None)
    if named.kind in TONE and truth.kind in TONE:
        other = replace(other, q=truth.q, shape=truth.shape)
    there, said = pair_words(recipe, answer, verdict)
    parts = (
        Part("A", "as it should be", None),
        Part("1", there, truth),
        Part("2", said, other),
    )
    words = [_word(subject_of(one.kind, one.freq_hz)) for one in (truth, named)]
    listen = f"1 is what was there: {there}{words[0]}. 2 is what you named: {said}{words[1]}."
    turns = (("A", 2.0), ("1", 3.0), ("2", 3.0), ("1", 3.0), ("2", 3.0), ("A", 2.0))
    return Step("What was confused", listen, recipe.loop, parts, turns, recipe)


def pair_words(recipe: Recipe, answer: Answer, verdict: Verdict) -> tuple[str, str]:
    """The truth and what was named for it, as short as they can be: "250 Hz", "500 Hz"."""
    truth, named = verdict.parts[0].truth, verdict.parts[0].named
    if truth.kind is named.kind and truth.freq_hz and named.freq_hz:
        return show_hz(truth.freq_hz), show_hz(named.freq_hz)
    there, said = (
        one.kind.value if one.freq_hz is None else f"{one.kind} at {show_hz(one.freq_hz)}"
        for one in (truth, named)
    )
    return there, said


class GuidedMinute:
    """Where the learner stands: at which step, and what should be heard of it.

    ``held`` says that a part was chosen by hand, so that the step does not end by itself.
    """

    def __init__(self, steps: Sequence[Step]) -> None:
        if not steps:
            raise ValueError("a minute without steps")
        self.steps = tuple(steps)
        self._at = 0
        self._heard_s = 0.0
        self._chosen: str | None = None

    @property
    def over(self) -> bool:
        """Whether the last step is done."""
        return self._at == len(self.steps)

    @property
    def number(self) -> int:
        """The step's number, from 1."""
        return min(self._at, len(self.steps) - 1) + 1

    @property
    def step(self) -> Step:
        """The step, or the last one when all is over."""
        return self.steps[self.number - 1]

    @property
    def held(self) -> bool:
        """Whether the step waits for the learner to go on."""
        return self._chosen is not None

    @property
    def part(self) -> str:
        """The part that should be heard now."""
        if self._chosen is not None:
            return self._chosen
        reached = 0.0
        for name, seconds in self.step.turns:
            reached += seconds
            if self._heard_s < reached:
                return name
        return self.step.turns[-1][0]

    @property
    def seconds_left(self) -> float:
        """What is left of the minute, if it is left to itself."""
        rest = sum(step.seconds for step in self.steps[self._at :])
        return max(0.0, rest - self._heard_s)

    def pass_time(self, seconds: float) -> None:
        """So many seconds of this step have been heard; at its end, the next one begins."""
        self._must_go_on()
        if seconds < 0.0:
            raise IllegalMove("time runs forwards only")
        if not self.held:
            self._heard_s += seconds
            if self._heard_s >= self.step.seconds:
                self.go_on()

    def choose(self, name: str) -> None:
        """Hears one part, and stays on this step."""
        self._must_go_on()
        if name not in {part.name for part in self.step.parts}:
            raise IllegalMove(f"this step has no part '{name}'")
        self._chosen = name

    def go_on(self) -> None:
        """The next step, from its beginning; after the last one, the minute is over."""
        self._must_go_on()
        self._go_to(self._at + 1)

    def go_back(self) -> None:
        """The step before, or the first one again."""
        self._go_to(max(0, self._at - 1))

    def _go_to(self, at: int) -> None:
        self._at, self._heard_s, self._chosen = at, 0.0, None

    def _must_go_on(self) -> None:
        if self.over:
            raise IllegalMove("the minute is over")


def _largest_db(kind: Kind) -> float:
    return LARGEST_LEVEL_DB if kind in LEVEL else LARGEST_DB


def _without_and_with(subject: Subject, ground: Ground, title: str, listen: str) -> Step:
    size_db = plain_db(subject, ground)
    parts = (
        Part("A", "without", None),
        Part("B", f"with, {size_db:.0f} dB", problem_of(subject, size_db)),
    )
    return Step(title, listen, ground.loop, parts, _turns("ABAB", 3.0))


def _region_alone(subject: Subject, ground: Ground) -> Step:
    size_db = plain_db(subject, ground)
    parts = (
        Part("1", "alone, without", None, subject.freq_hz),
        Part("2", "alone, with", problem_of(subject, size_db), subject.freq_hz),
        Part("3", "all, with", problem_of(subject, size_db)),
    )
    more = "swells" if subject.kind is Kind.TOO_MUCH else "sinks"
    listen = f"Only the region itself: hear what lives there, and how it {more}; then all again."
    turns = (("1", 2.5), ("2", 2.5), ("1", 2.5), ("2", 2.5), ("3", 3.0))
    return Step("The region alone", listen, ground.loop, parts, turns)


def _faded(subject: Subject, ground: Ground, finest_db: float | None) -> Step:
    """Exaggerated, then less and less, down to the learner's finest size or what can be heard."""
    largest = _largest_db(subject.kind)
    usual = USUAL_FINEST_DB if subject.kind not in LEVEL else USUAL_FINEST_DB / 2.0
    goal = usual if finest_db is None else finest_db
    smallest = min(0.75 * largest, max(goal, ground.smallest_db))
    sizes = [largest * (smallest / largest) ** (k / (FADE_STEPS - 1)) for k in range(FADE_STEPS)]
    parts = [
        Part(name, f"{size:.1f} dB", problem_of(subject, round(size, 2)))
        for name, size in zip("12345", sizes, strict=True)
    ]
    end = "your finest size" if finest_db is not None and smallest == finest_db else "a fine one"
    listen = f"Far too large first, then less and less, down to {end}: keep hold of it."
    turns = (*_turns("12345", 2.2), ("A", 1.6))
    return Step("Fading", listen, ground.loop, (Part("A", "without", None), *parts), turns)


def _side_by_side(subject: Subject, ground: Ground) -> Step:
    """The subject between its neighbours, all of one size that is plain for each."""
    smallest = [size for size in (ground.smallest_db, *ground.neighbours_db) if size is not None]
    size_db = plain_db(subject, Ground(ground.loop, max(smallest), ()))
    parts = [Part("1", _short(subject), problem_of(subject, size_db))]
    for name, neighbour in zip("23", subject.neighbours, strict=False):
        size = min(size_db, _largest_db(neighbour.kind))
        if subject.kind in LEVEL and neighbour.kind not in LEVEL:
            size = PLAIN_DB
        parts.append(Part(name, _short(neighbour), problem_of(neighbour, size)))
    order = "12131" if len(parts) == 3 else "12121"
    return Step(
        "Side by side", text_of(subject).apart, ground.loop, tuple(parts), _turns(order, 2.6)
    )


def _word(subject: Subject | None) -> str:
    """A tone's first word, in brackets; nothing for the rest, whose name says it."""
    if subject is None or subject.band_index is None:
        return ""
    return f" ({text_of(subject).words[0]})"


def _short(subject: Subject) -> str:
    return subject.kind.value if subject.band_index is None else place_name(subject.band_index)


def _turns(order: str, seconds: float) -> tuple[tuple[str, float], ...]:
    return tuple((name, seconds) for name in order)
