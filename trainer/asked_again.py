"""A past answer, heard again: the same question made anew from its kept recipe, exactly."""

from __future__ import annotations

from exercises.question import make_question
from trainer.loop_shelf import LoopShelf
from trainer.record import KeptAnswer
from trainer.round import Round


def reviewed_again(kept: KeptAnswer, shelf: LoopShelf) -> Round:
    """The round as it was answered, its review open; nothing of it is kept a second time.

    Raises:
        BadLoop: its loop is not at hand any more as it was.
    """
    recipe, answer = kept.recipe, kept.answer
    loop = shelf.find(recipe.loop, recipe.fingerprint)
    round_ = Round(make_question(recipe, loop), loop)
    round_.mark_kind(answer.kind)
    if answer.freq_hz is not None:
        round_.mark_freq(answer.freq_hz)
    round_.answer(sure=answer.sure)
    round_.open_review()
    return round_
