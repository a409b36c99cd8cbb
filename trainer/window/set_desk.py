"""The desk while a set is taken: question and review as in a drill, going on within the set."""

from __future__ import annotations

import time
from datetime import datetime

from trainer.assignments.set_words import late_sentence
from trainer.assignments.taking import Taking
from trainer.record import Listening
from trainer.round import Round
from trainer.window.desk import Desk
from trainer.window.frame import Screen
from trainer.words import clock_words


class SetDesk(Desk):
    """Stands in for ``desk`` before Question and Review: its sound, another sitting."""

    def __init__(self, desk: Desk, taking: Taking) -> None:
        # All but the sitting is the desk's own: one sound, one record, one line of notices.
        self.__dict__.update(desk.__dict__)
        self._base = desk
        self._taking = taking
        self._looked_at = _now()

    def open_drill(self) -> Taking:  # type: ignore[override]
        """The try in hand."""
        return self._taking

    def answer(self, round_: Round, *, sure: bool) -> Screen:
        """Takes the answer, has it written to disk; the review, where the set shows it at once."""
        from trainer.window.review_page import ReviewPage

        listening = Listening(
            seconds=time.monotonic() - self._asked_at_s,
            switches=self.sound.switches,
            heard_a_s=self.sound.heard_s("A"),
            heard_b_s=self.sound.heard_s("B"),
            alone_s=self.sound.alone_s,
        )
        review = self._taking.answer(round_, sure=sure, listening=listening, now=_now())
        return self.next_page() if review is None else ReviewPage(self, round_, review)

    def next_page(self) -> Screen:
        """The next question of the set, or its end."""
        from trainer.window.set_end_page import SetEndPage
        from trainer.window.set_wait_page import SetWaitPage

        now = _now()
        if late := late_sentence(self._taking.set.terms, self._looked_at, now):
            self.say(late)
        self._looked_at = now
        if self._taking.seconds_left(now) <= 0.0:
            self.sound.playhead.stop()
            return SetEndPage(self._base, self._taking)
        return SetWaitPage(self, self._taking)

    def leave_drill(self) -> Screen:
        """Back to Today; the set can be taken up again."""
        self._taking.close()
        return self._base.leave_drill()

    def where(self, *, answered: bool = False) -> str:
        """Which question of how many."""
        number = self._taking.number - answered
        dot = "\N{MIDDLE DOT}"
        return f"question {number} of {self._taking.count}  {dot}  {self._taking.set.title}"

    def time_left(self) -> str:
        """What is left of the set's minutes, if it has any."""
        if self._taking.set.terms.minutes is None:
            return ""
        seconds = self._taking.seconds_left(_now())
        return f"{clock_words(seconds)} left" if seconds > 0 else "time is up after this one"

    def say(self, notice: str) -> None:
        """Shows one line over the keys, on the desk that the window looks at."""
        self._base.say(notice)


def _now() -> datetime:
    return datetime.now().astimezone()
