"""Taking a set: its questions one after another, taken up again where they were left.

Works as a ``Drill`` does for a front end (``begin_next``, ``next_round``, ``answer``, ``end``), and
knows no screen. The answers go into a journal of their own and, when the try is over, with it into
a result; into the learner's record they go then too, unless the truth is to be kept from them.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from exercises.bands import band_of
from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.question import make_question
from exercises.recipe import Recipe
from trainer.ability import Ability
from trainer.asked_again import reviewed_again
from trainer.assignments.handing_in import result_of, write_result
from trainer.assignments.journal import Journal, journals_of, new_journal
from trainer.assignments.practice_set import BadSet, PracticeSet, SetQuestion
from trainer.assignments.practice_set import Review as Shown
from trainer.assignments.result import ability_after
from trainer.assignments.set_archive import is_zip, read_set_file, unpack_loops
from trainer.backstage import Backstage
from trainer.loop_shelf import LoopShelf
from trainer.pace import seconds_between, seconds_spent
from trainer.record import KeptAnswer, Listening, Record
from trainer.round import Review, Round
from trainer.scoring import learned
from trainer.sizing import best_size_db, sizes_db
from trainer.skills import skill_of
from trainer.wrapping_up import WrapUp, wrap_up


def open_set(path: Path, folder: Path) -> PracticeSet:
    """The set at ``path``, its own loops unpacked where ``Taking`` looks for them.

    Raises:
        NamefirstError: it is no set, damaged, or does not fit its loops.
    """
    made = read_set_file(path)
    if is_zip(path):
        unpack_loops(path, folder / made.id / "loops")
    return made


class Taking:
    """One try of a set by one student.

    ``folder`` is where sets are kept while they are taken; the result goes to ``outbox``.
    """

    def __init__(
        self,
        made: PracticeSet,
        shelf: LoopShelf,
        folder: Path,
        outbox: Path,
        record: Record,
        now: datetime,
        version: str,
    ) -> None:
        """Opens a try: the one that was left, or the next that is allowed.

        Raises:
            BadSet: all tries are used, or a journal is damaged.
            BadLoop: a loop of the set is not at hand.
        """
        self.set = made
        self.result_path: Path | None = None
        self._shelf = shelf
        self._own_shelf = LoopShelf(folder / made.id / "loops")
        self._outbox = outbox
        self._fallback = folder / made.id
        self._record = record
        self._version = version
        self._journal = _journal_to_take(made, folder / made.id, record.learner, now)
        self._backstage: Backstage[Round] = Backstage()
        self._running_since = now
        self._over = False
        self.ability = ability_after(self.answers)
        self._check_loops()

    @property
    def answers(self) -> list[KeptAnswer]:
        """What was answered in this try."""
        return self._journal.answers

    @property
    def answered(self) -> int:
        """How many answers that are."""
        return len(self.answers)

    @property
    def try_number(self) -> int:
        """Which try this is, from 1."""
        return self._journal.try_number

    @property
    def number(self) -> int:
        """The number of the question being asked, from 1."""
        return self.answered + 1

    @property
    def count(self) -> int:
        """How many questions the set has."""
        return len(self.set.questions)

    def seconds_left(self, now: datetime) -> float:
        """What is left of the set's minutes; infinite where it has none, 0 after its end."""
        if self.answered >= self.count:
            return 0.0
        if self.set.terms.minutes is None:
            return math.inf
        spent = seconds_spent(self.answers) + seconds_between(self._running_since, now)
        return max(0.0, self.set.terms.minutes * 60.0 - spent)

    def begin_next(self) -> None:
        """Starts making the next question in the background, if there is one."""
        if self.answered < self.count:
            question, ability = self.set.questions[self.answered], self.ability
            self._backstage.begin(lambda: self._make(question, ability))

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
            NamefirstError: its loop cannot be read.
        """
        if not self.begun:
            self.begin_next()
        return self._backstage.take()

    def answer(
        self, round_: Round, *, sure: bool, listening: Listening, now: datetime
    ) -> Review | None:
        """Takes the round's draft: written to disk before anything else. The review is given
        where the set shows it at once.

        Raises:
            BadSet: it cannot be written; the round is as it was, and can be answered again.
        """
        given = round_.answer(sure=sure, heard_b_s=listening.heard_b_s)
        recipe = round_.question.recipe
        kept = KeptAnswer(self.number, 0, now, now.date(), recipe, given, listening, self._version)
        try:
            self._journal.keep(kept)
        except BadSet:
            round_.take_back()
            raise
        self.ability = learned(self.ability, kept)
        self._running_since = now
        self.begin_next()
        return round_.open_review() if self.set.terms.review is Shown.AT_ONCE else None

    def end(self, now: datetime | None = None) -> None:
        """The try is over: the result is written, and the record told."""
        if self._over or not self.answers:
            return
        now = self.answers[-1].answered_at if now is None else now
        result = result_of(self.set, self._journal, self._record, self._version)
        finished = replace(result, finished_at=now)
        self.result_path = write_result(finished, self._outbox, self._fallback)
        self._journal.finish(now)
        self._over = True
        if self.set.terms.review is not Shown.NOT_AT_ALL:
            self._tell_record()

    def wrap_up(self) -> WrapUp:
        """The one thing to work on, as far as this try tells."""
        return wrap_up(Ability.fresh(), self.ability)

    def close(self) -> None:
        """Leaves; the try can be taken up again."""
        self._backstage.close()

    def reviewed(self, index: int) -> Round:
        """The question of answer ``index`` as it was answered, its review open.

        Raises:
            NamefirstError: its loop is not at hand any more.
        """
        kept = self.answers[index]
        own = {loop.name for loop in self.set.own_loops}
        return reviewed_again(kept, self._own_shelf if kept.recipe.loop in own else self._shelf)

    def _make(self, question: SetQuestion, ability: Ability) -> Round:
        recipe = question.recipe
        if self.set.adaptive and recipe.kind is not Kind.NOTHING:
            recipe = _sized(question, ability)
        loop = self._loop(recipe)
        return Round(make_question(recipe, loop), loop)

    def _loop(self, recipe: Recipe) -> Loop:
        return loop_of_set(self.set, recipe, self._shelf, self._own_shelf)

    def _check_loops(self) -> None:
        known = {loop.name for loop in self.set.own_loops}
        asked = {question.recipe.loop: question.recipe for question in self.set.questions}
        for name, recipe in asked.items():
            if name in known:
                self._loop(recipe)

    def _tell_record(self) -> None:
        plan: dict[str, Any] = {"set": self.set.id, "try": self.try_number}
        with self._record.transaction():
            drill_id = self._record.start_drill(self.answers[0].day, plan)
            for kept in self.answers:
                self._record.keep(
                    drill_id, kept.answered_at, kept.recipe, kept.answer, kept.listening
                )
            self._record.end_drill(drill_id)


def loop_shelf_of(made: PracticeSet, recipe: Recipe, shelf: LoopShelf, folder: Path) -> LoopShelf:
    """The shelf that a question's loop stands on: the set's own, or everybody's."""
    own = recipe.loop in {loop.name for loop in made.own_loops}
    return LoopShelf(folder / made.id / "loops") if own else shelf


def loop_of_set(made: PracticeSet, recipe: Recipe, shelf: LoopShelf, own_shelf: LoopShelf) -> Loop:
    """The loop that a question of a set is asked on: its own, or one that everybody has.

    Raises:
        BadSet: it is another one than the teacher's.
        BadLoop: it is not at hand.
    """
    if recipe.loop not in {loop.name for loop in made.own_loops}:
        return shelf.find(recipe.loop, recipe.fingerprint)
    loop = own_shelf.get(recipe.loop)
    if loop.fingerprint != recipe.fingerprint:
        raise BadSet(f"loop '{recipe.loop}' is not the one the set was made on; ask for it again")
    return loop


def _journal_to_take(made: PracticeSet, folder: Path, student: str, now: datetime) -> Journal:
    kept = journals_of(folder, student)
    if kept and kept[-1].finished_at is None:
        return kept[-1]
    if len(kept) >= made.terms.tries:
        once = "the one try is" if made.terms.tries == 1 else f"all {made.terms.tries} tries are"
        raise BadSet(
            f"{once} used by '{student}'; 'namefirst set result FILE' writes the last result again"
        )
    return new_journal(folder, student, len(kept) + 1, now)


def _sized(question: SetQuestion, ability: Ability) -> Recipe:
    """The recipe at the size that tells most about this student, as in the daily drill."""
    recipe = question.recipe
    band_index = None if recipe.freq_hz is None else band_of(recipe.freq_hz).index
    skill = skill_of(recipe.kind, band_index)
    least_db, largest_db = sizes_db(skill)
    size_db = best_size_db(
        ability,
        skill,
        min(largest_db, max(least_db, question.least_db)),
        largest_db,
        easy=False,
        help=int(recipe.help),
    )
    return replace(recipe, size_db=size_db)
