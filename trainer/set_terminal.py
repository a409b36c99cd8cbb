"""Taking a set in a terminal: the drill's rounds, with the teacher's note before them."""

from __future__ import annotations

from exercises.errors import NamefirstError
from trainer.assignments.practice_set import Review
from trainer.assignments.set_words import (
    end_sentence,
    late_sentence,
    result_sentence,
    terms_sentences,
)
from trainer.assignments.taking import Taking
from trainer.claim_command import now
from trainer.plain_text import PlainText
from trainer.record import Record
from trainer.terminal import QUIET_START, TerminalDrill
from trainer.terminal_sound import TerminalSound
from trainer.volume import VOLUME_SETTING
from trainer.words import CAUTION, answer_sentence, named_share_sentence, truth_sentence


class TerminalSet(TerminalDrill):
    """One try of a set at a terminal."""

    def __init__(
        self, text: PlainText, sound: TerminalSound, record: Record, taking: Taking
    ) -> None:
        self._text = text
        self._sound = sound
        self._record = record
        self._drill = self._taking = taking
        self._looked_at = now()
        taking.begin_next()

    def _greet(self) -> None:
        made = self._taking.set
        by = f", from {made.teacher}" if made.teacher else ""
        self._text.say(f"{made.title}{by}.", *made.note.splitlines(), *terms_sentences(made, now()))
        if self._record.setting(VOLUME_SETTING) is None:
            self._text.say(QUIET_START)
        if self._taking.answered:
            self._text.say(f"{self._taking.answered} answered before; here is the next.")
        elif self._taking.try_number > 1:
            self._text.say(f"This is try {self._taking.try_number}.")
        self._text.say("Your ears:", CAUTION)

    def _left(self) -> str:
        began, self._looked_at = self._looked_at, now()
        if late := late_sentence(self._taking.set.terms, began, self._looked_at):
            self._text.say(late)
        of = f" of {self._taking.count}"
        return of if self._taking.set.terms.minutes is None else f"{of}{super()._left()}"

    def _say_left(self) -> None:
        count = self._taking.answered
        self._text.say(
            f"Left with {count} of {self._taking.count} answered. Take the set again to go on."
        )

    def _end(self) -> None:
        taking = self._taking
        taking.end()
        self._text.say("", end_sentence(taking.set, taking.answered))
        if taking.set.terms.review is Review.AT_THE_END:
            self._say_truths()
        if taking.set.terms.review is not Review.NOT_AT_ALL:
            self._text.say(named_share_sentence(taking.answers), taking.wrap_up().sentence)
        if taking.result_path is None:
            raise NamefirstError("the time was up before the first answer; there is no result")
        self._text.say(result_sentence(taking.result_path, taking.set))

    def _say_truths(self) -> None:
        for kept in self._taking.answers:
            said = answer_sentence(kept.recipe, kept.answer, kept.verdict)
            self._text.say(f"{kept.id}. {truth_sentence(kept.recipe)} {said}")
