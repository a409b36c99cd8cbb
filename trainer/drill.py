"""The drill: the daily ten minutes, question after question, taken up again where it stopped.

A drill knows the record, the scorer and the planner, and no screen. Front ends tell it the time.
Its minutes are the learner's own (``pace``).
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime
from functools import lru_cache
from typing import Any, Final

from exercises.bands import band_of
from exercises.errors import NamefirstError
from exercises.question import make_question
from trainer.ability import Ability
from trainer.backstage import Backstage
from trainer.kept_chains import bands_left_out, within_reach
from trainer.loop_shelf import LoopShelf
from trainer.pace import (
    FixTime,
    seconds_between,
    seconds_spent,
    seconds_spent_on,
    seconds_spent_on_fix,
)
from trainer.planner import Limits, plan_next
from trainer.record import KeptAnswer, Listening, Record, RecordError
from trainer.round import Review, Round
from trainer.scoring import Scored, scored_after, scored_of
from trainer.study import Need, Seen, drill_opens
from trainer.subject import Subject, subject_of
from trainer.wanted import Asked
from trainer.wrapping_up import WrapUp, wrap_up

_PLANS_TRIED: Final = 12
_LEFT: Final = "drill_left"


class Drill:
    """One sitting of one learner: plans, makes, takes and keeps.

    Nothing is written until the first answer; then each answer is on disk before ``answer``
    returns. ``begin_next`` plans and makes the next question in the background.
    """

    def __init__(
        self, record: Record, shelf: LoopShelf, limits: Limits, seed: int, now: datetime
    ) -> None:
        """Opens a sitting, or takes up today's if it was left and asked for the same."""
        self.limits = limits
        self._record = record
        self._shelf = shelf
        self._backstage: Backstage[Round] = Backstage()
        self._plan: dict[str, Any] = {"limits": limits.to_dict(), "seed": seed}
        self._id: int | None = None
        self._asked: list[Asked] = []  # of each answer what the planner needs: they may be many
        self._spent_s = 0.0
        self._last_act: datetime | None = None  # since it was last taken up
        kept = record.open_drill(now.date(), self._plan["limits"])
        if kept is not None:
            self._id, self._plan = kept.id, kept.plan
            answers = self.answers
            self._asked = [_asked(kept) for kept in answers]
            self._spent_s = self._spent_when_left(answers)
        self._running_since: datetime | None = now
        self._scored: Scored = scored_of(record, now.date())
        self._ability_before = self.ability

    @property
    def id(self) -> int | None:
        """The sitting's number in the record; None before its first answer."""
        return self._id

    @property
    def seed(self) -> int:
        """What the sitting's draws come from; the same when it is taken up again."""
        return int(self._plan["seed"])

    @property
    def answers(self) -> list[KeptAnswer]:
        """What was answered so far, read from the record.

        Raises:
            RecordError: it cannot be read.
        """
        return [] if self._id is None else list(self._record.answers(drill_id=self._id))

    @property
    def answered(self) -> int:
        """How many answers that are."""
        return len(self._asked)

    @property
    def number(self) -> int:
        """The number of the question being asked, from 1."""
        return self.answered + 1

    @property
    def ability(self) -> Ability:
        """What is believed of the learner now."""
        return self._scored.ability

    @property
    def step(self) -> int:
        """The step that is asked: what was wanted, or the learner's own."""
        return self.limits.step or self._scored.climb.step

    def seconds_left(self, now: datetime) -> float:
        """What is left of the drill's minutes; never under 0."""
        spent = self._spent_s
        if self._running_since is not None:
            spent += seconds_between(self._running_since, now)
        return max(0.0, self.limits.minutes * 60.0 - spent)

    def hold(self) -> None:
        """It is open, and nobody is at it: until ``run`` no time is counted."""
        self._running_since = self._last_act = None

    def leave(self, now: datetime) -> None:
        """It is left: what it took so far is kept, so that it goes on from there."""
        if self._running_since is not None:
            self._spent_s += seconds_between(self._running_since, now)
        self.hold()
        if self._id is None:
            return
        left = {"drill": self._id, "answers": self.answered, "spent_s": self._spent_s}
        with suppress(RecordError):  # it can be told from the answers, but for what was idle
            self._record.set_setting(_LEFT, left)

    def _spent_when_left(self, answers: Sequence[KeptAnswer]) -> float:
        """What a sitting that is taken up has taken; by its answers where it was never left."""
        left = self._record.setting(_LEFT)
        if isinstance(left, dict):
            spent_s = left.get("spent_s")
            same = (left.get("drill"), left.get("answers")) == (self._id, len(answers))
            if same and isinstance(spent_s, int | float) and spent_s >= 0.0:
                return spent_s
        assert self._id is not None
        return seconds_spent(answers, self._record.fix_times(self._id))

    def run(self, now: datetime) -> None:
        """A question is up: time is counted from now, unless it is already."""
        if self._running_since is None:
            self._running_since = now

    def count_fix(self, fix: FixTime) -> None:
        """A fix round was taken before the next question: its time is of the drill's minutes."""
        self._spent_s += seconds_spent_on_fix(fix, self._last_act)
        self._running_since = self._last_act = fix.answered_at

    def begin_next(self) -> None:
        """Starts planning and making the next question; at once, in the background."""
        seed = self.seed + self.number
        asked, scored = tuple(self._asked), self._scored
        self._backstage.begin(lambda: self._make(scored, asked, seed))

    @property
    def begun(self) -> bool:
        """Whether a question is being made, or is made and not yet taken."""
        return self._backstage.begun

    @property
    def ready(self) -> bool:
        """Whether the next question is made (or has failed)."""
        return self._backstage.ready

    def next_round(self) -> Round:
        """The next question; waits for it where it must.

        Raises:
            NamefirstError: a loop cannot be read, or nothing can be asked within the limits.
        """
        if not self.begun:
            self.begin_next()
        return self._backstage.take()

    def study_before(self, round_: Round, seen: Seen) -> tuple[Subject, Need] | None:
        """The guided minute that opens before a question, if one does, and why.

        Raises:
            RecordError: the answers so far cannot be read.
        """
        hidden = [subject_of(each.kind, each.freq_hz) for each in round_.question.recipe.problems]
        limits = self.limits
        return drill_opens(
            self.ability,
            self.answered,
            lambda: self.answers,
            seen,
            hidden,
            limits.kinds,
            limits.bands,
        )

    def answer(self, round_: Round, *, sure: bool, listening: Listening, now: datetime) -> Review:
        """Takes the round's draft: written to disk, learned from, and only then reviewed.

        Raises:
            RecordError: it cannot be written; the round is as it was, and can be answered again.
        """
        answer = round_.answer(sure=sure, heard_b_s=listening.heard_b_s)
        recipe = round_.question.recipe
        try:
            if self._id is None:
                self._id = self._record.start_drill(now.date(), self._plan)
            kept = self._record.keep(self._id, now, recipe, answer, listening)
        except RecordError:
            round_.take_back()
            raise
        self._count(kept)
        self._scored = scored_after(self._scored, kept)
        self.begin_next()
        return round_.open_review()

    def end(self) -> None:
        """The minutes are up: this sitting is not taken up again."""
        if self._id is not None:
            self._record.end_drill(self._id)

    def close(self) -> None:
        """Leaves; the sitting can be taken up again on the same day."""
        self._backstage.close()

    def wrap_up(self) -> WrapUp:
        """The one thing to work on, after this drill."""
        return wrap_up(self._ability_before, self.ability)

    def _count(self, kept: KeptAnswer) -> None:
        self._asked.append(_asked(kept))
        seconds, now = kept.listening.seconds, kept.answered_at
        self._spent_s += seconds_spent_on(seconds, self._last_act, now)
        self._running_since = self._last_act = now

    def _make(self, scored: Scored, asked: Sequence[Asked], seed: int) -> Round:
        # Loads what is slow to import; this runs in the background.
        from trainer.fair_sizes import fair_sizes_of
        from trainer.planned_recipe import recipes_of

        fair, names, step = fair_sizes_of(self._shelf), self._shelf.names(), scored.climb.step
        # What the output in use does not bring to the ear is neither asked nor scored.
        limits = within_reach(self.limits, bands_left_out(self._record, self.limits))
        for attempt in range(_PLANS_TRIED):
            again = seed + (attempt << 32)
            ask = plan_next(scored.ability, asked, limits, names, fair, again, step)
            loop = self._shelf.get(ask.loop)
            # What was planned problem by problem must be heard as a whole.
            for recipe in filter(fair.askable, recipes_of(ask, loop)):
                return Round(make_question(recipe, loop), loop)
        raise NamefirstError(
            "none of these loops carries a problem that could be heard: "
            "add a loop, or widen --bands, --kinds or --loops"
        )


def _asked(kept: KeptAnswer) -> Asked:
    recipe = kept.recipe
    band_index = None if recipe.freq_hz is None else band_of(recipe.freq_hz).index
    return _once(Asked(recipe.kind, band_index, recipe.loop, recipe.second))


@lru_cache(maxsize=1024)
def _once(asked: Asked) -> Asked:
    """The same object for what is the same: few are, and a long sitting asks each many times."""
    return asked
