"""A past answer, heard again: the same question made anew from its kept recipe, exactly."""

from __future__ import annotations

from exercises.errors import NamefirstError
from exercises.question import make_question
from trainer.judging import Answer
from trainer.loop_shelf import LoopShelf
from trainer.record import KeptAnswer
from trainer.round import LEAST_HEARD_S, IllegalMove, Round


def reviewed_again(kept: KeptAnswer, shelf: LoopShelf) -> Round:
    """The round as it was answered, its review open; nothing of it is kept a second time.

    Raises:
        BadLoop: its loop is not at hand any more as it was.
        NamefirstError: the answer does not fit the question (a record changed by hand).
    """
    loop = shelf.find(kept.recipe.loop, kept.recipe.fingerprint)
    round_ = Round(make_question(kept.recipe, loop), loop)
    try:
        _answer(round_, kept.answer)
    except IllegalMove as error:
        raise NamefirstError(
            f"this answer does not fit its question ({error}); it cannot be opened again"
        ) from None
    round_.open_review()
    return round_


def _answer(round_: Round, answer: Answer) -> None:
    """Makes the marks again that led to ``answer``."""
    if answer.track is not None:
        round_.mark_track(answer.track)
    if answer.passage is not None:
        round_.mark_passage(answer.passage)
    for place, named in enumerate(answer.named):
        if place:
            round_.keep_first()
        round_.mark_kind(named.kind)
        if named.freq_hz is not None:
            round_.mark_freq(named.freq_hz)
    round_.answer(sure=answer.sure, heard_b_s=LEAST_HEARD_S)
