"""The log counted by the steps of the ladder: how much was named on each, and how much soloed."""

from __future__ import annotations

from dataclasses import dataclass

from exercises.kinds import Kind
from trainer.ladder import STEPS, step_sentence
from trainer.record import Record
from trainer.statistics import Share, share_of


@dataclass(frozen=True, slots=True)
class StepCount:
    """One step: ``named`` of its questions that hid a problem (Wilson, 95 %).

    ``alone_share`` is the part of its listening, those that hid nothing included, in which one
    track was heard alone; None where nothing was heard, or no track can be.
    """

    step: int
    answers: int
    named: Share
    alone_share: float | None


def step_counts(record: Record) -> tuple[StepCount, ...]:
    """Every step, with answers or without."""
    answers, hidden, named = ([0] * (len(STEPS) + 1) for _ in range(3))
    heard_s, alone_s = ([0.0] * (len(STEPS) + 1) for _ in range(2))
    for step, kind, right, count, heard, alone in record.query(
        "SELECT step, kind, named, count(*), sum(heard_a_s + heard_b_s), sum(alone_s)"
        " FROM answer WHERE learner_id = ? GROUP BY step, kind, named"
    ):
        answers[step] += count
        heard_s[step] += heard
        alone_s[step] += alone
        if Kind(kind) is not Kind.NOTHING:
            hidden[step] += count
            named[step] += count * right
    return tuple(
        StepCount(
            step.number,
            answers[step.number],
            share_of(named[step.number], hidden[step.number]),
            alone_s[step.number] / heard_s[step.number]
            if step.ask_track and heard_s[step.number] > 0.0
            else None,
        )
        for step in STEPS
    )


def step_count_sentence(count: StepCount) -> str:
    """The step, what was named of it, and how much a track was heard alone."""
    from trainer.progress_words import share_words

    answers = "1 answer" if count.answers == 1 else f"{count.answers:,} answers"
    said = f"{step_sentence(count.step)[:-1]}: {answers}"
    if count.named.total:
        said += f", {share_words(count.named)} named"
    if count.alone_share is not None:
        said += f", {count.alone_share * 100:.0f} % of the listening to one track alone"
    return f"{said}."
