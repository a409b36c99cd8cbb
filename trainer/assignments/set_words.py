"""Plain sentences about a set: what it is, on what terms, and how a try of it went."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from exercises.bands import BANDS
from exercises.kinds import Help, Kind
from trainer.assignments.practice_set import Counts, PracticeSet, Review, Rule, Terms
from trainer.words import counted, heard_part, truth_sentence

_HELP = {Help.A_AT_HAND: "A at hand", Help.A_ONCE: "A heard once", Help.NO_A: "no A"}
_REVIEW = {
    Review.AT_ONCE: "The truth is shown after each answer.",
    Review.AT_THE_END: "The truth is shown at the end.",
    Review.NOT_AT_ALL: "The truth is not shown.",
}


def moment_words(at: datetime) -> str:
    """A moment with its day: "Fri 6 Mar 2026, 18:00"."""
    return f"{at:%a} {at.day} {at:%b %Y, %H:%M}"


def tries_words(terms: Terms) -> str:
    """How often it may be taken, and which try counts."""
    if terms.tries == 1:
        return "one try"
    which = {Counts.BEST: "best", Counts.FIRST: "first", Counts.LAST: "last"}[terms.counts]
    return f"{terms.tries} tries, the {which} counts"


def terms_sentences(made: PracticeSet, now: datetime | None = None) -> tuple[str, ...]:
    """How it is to be taken, in a few sentences; whether it is overdue ``now``."""
    terms = made.terms
    asked = counted(len(made.questions), "question")
    minutes = (
        ""
        if terms.minutes is None
        else f", at most {terms.minutes:g} minute{'' if terms.minutes == 1 else 's'}"
    )
    said = [f"{asked}{minutes}; {tries_words(terms)}."]
    if terms.due is not None:
        said.append(f"Due {moment_words(terms.due.astimezone())}.")
        if now is not None and now > terms.due:
            said.append("That is past: a result from now on is marked as late.")
    return (*said, _REVIEW[terms.review])


def late_sentence(terms: Terms, began: datetime, now: datetime) -> str:
    """That it became due between the two moments; else nothing."""
    if terms.due is None or not began <= terms.due < now:
        return ""
    return f"It was due {moment_words(terms.due.astimezone())}: the result is marked as late."


def end_sentence(made: PracticeSet, answered: int) -> str:
    """That it is over, and how much of it was answered where the time was up before."""
    if answered >= len(made.questions):
        return "That was the set."
    return f"The time is up: {answered} of {counted(len(made.questions), 'question')} answered."


def rule_sentence(made: PracticeSet) -> str:
    """What the questions were drawn from; nothing of any one question."""
    if made.rule is None:
        return "Questions in the teacher's order."
    rule = made.rule
    sizes = "sizes that follow whoever takes it"
    if not made.adaptive:
        sizes = ", ".join(f"{size:g}" for size in rule.sizes_db) + " dB"
    helps = " or ".join(_HELP[help_] for help_ in rule.help)
    return f"Drawn from {_kinds_words(rule)}; {sizes}; {helps}."


def _kinds_words(rule: Rule) -> str:
    kinds = ", ".join(rule.kinds)
    tone = {Kind.TOO_MUCH, Kind.TOO_LITTLE} & set(rule.kinds)
    if not tone:
        return kinds
    if len(rule.bands) == len(BANDS):
        return f"{kinds} in all bands"
    return f"{kinds} in the bands {', '.join(BANDS[index].name for index in rule.bands)}"


def question_sentence(made: PracticeSet, number: int) -> str:
    """One question with its truth, for the teacher."""
    recipe = made.questions[number - 1].recipe
    truth = truth_sentence(recipe)
    if made.adaptive and recipe.kind is not Kind.NOTHING:
        truth = f"{truth.removesuffix('.')}, to begin with."
    help_ = "" if recipe.help is Help.A_AT_HAND else f", {_HELP[recipe.help]}"
    return f"{number}. {loop_title(recipe.loop)}, {heard_part(recipe)}{help_}: {truth}"


def loop_title(name: str) -> str:
    """The name of a loop as it is read: "ferry-crossing" is "Ferry crossing"."""
    words = name.replace("-", " ")
    return words[:1].upper() + words[1:]


def result_sentence(path: Path, made: PracticeSet) -> str:
    """Where the result is, and what to do with it."""
    to = f" to {made.teacher}" if made.teacher else " to your teacher"
    return f"Your result is written to {path}. Send that file{to}."
