"""Fix rounds in a terminal: the choice, and the way to the open one (``terminal_open_fix``).

Of a choice, 1 to 4 are heard by their numbers; Enter takes the one heard last, or an order that
was typed. Which moves each fix makes is told when one was chosen, as in the window.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import datetime
from typing import TYPE_CHECKING, Final

from exercises.errors import NamefirstError
from trainer.fix_maker import FixMaker, FixPlace
from trainer.pace import ActiveTime
from trainer.plain_text import PlainText
from trainer.player import NoAudioDevice
from trainer.record import Record
from trainer.terminal_sound import TerminalSound
from trainer.typed_answer import Command, NotUnderstood, VolumeSteps, Wait, read_command
from trainer.volume import VOLUME_SETTING
from trainer.words import heard_part, truth_sentence, volume_words

if TYPE_CHECKING:
    from trainer.choice_round import ChoiceRound
    from trainer.drill import Drill
    from trainer.fix_round import FixResult
    from trainer.limits import Limits
    from trainer.loop_shelf import LoopShelf

_CHOOSING: Final = (
    "1 to 4, an order (2 4 1), a, b, s, + or -, q, or Enter for the one heard last (? for help)"
)
_REVIEWING: Final = "1 to 4, a, b, s, + or -, q, or Enter for the question (? for help)"
_HELP: Final = (
    "1 to 4: hear a fix. a: A, as it should be. b: B, the problem.",
    "All are as loud as one another. The simplest that works is the one with the fewest moves, "
    "of those that bring B back to A.",
    "Enter takes the one heard last. Or type two or more in order, the simplest that works first: "
    "2 4 1, then Enter.",
    "s: stop, or play again. + or -: volume. wait 5: listen for 5 seconds, for scripts. q: leave.",
)


class TerminalFixes:
    """Asks the fix rounds of a drill at a terminal."""

    def __init__(
        self,
        text: PlainText,
        sound: TerminalSound,
        record: Record,
        shelf: LoopShelf,
        limits: Limits,
    ) -> None:
        self._text = text
        self._sound = sound
        self._record = record
        self._maker = FixMaker(record, shelf, limits)

    def begin_if_due(self, drill: Drill) -> None:
        """Starts making a round in the background if one comes before the next question."""
        if self._maker.due(drill) is not None:
            self._maker.begin()

    def ask_if_due(self, drill: Drill) -> bool:
        """Asks a round if one is due now; whether to go on with the drill."""
        place = self._maker.due(drill)
        if place is None:
            return True
        self.begin_if_due(drill)
        if not self._maker.ready:
            self._text.say("Working out fixes...")
        try:
            round_ = self._maker.take()
        except NamefirstError as error:
            # The drill goes on without.
            self._text.say(str(error))
            return True
        from trainer.open_round import OpenRound

        if isinstance(round_, OpenRound):
            from trainer.terminal_open_fix import ask_open

            return ask_open(self._text, self._sound, self._maker, round_, place, self._do)
        return self._ask(round_, place)

    def close(self) -> None:
        """Lets go of the worker."""
        self._maker.close()

    def _ask(self, round_: ChoiceRound, place: FixPlace) -> bool:
        recipe = round_.question.recipe
        self._sound.playhead.load(round_.sounds())
        at_it = ActiveTime(time.monotonic())
        self._text.say(
            "",
            f"Before question {place.number}, a fix. {round_.loop.title}, {heard_part(recipe)}.",
            truth_sentence(recipe),
            *_offer_lines(round_),
            "Which is the simplest that works?",
        )
        while self._listen(round_, _CHOOSING, at_it):
            if round_.picked is None:
                self._text.say("Hear one first: 1 to 4.")
                continue
            result = round_.choose()
            now = datetime.now().astimezone()
            self._maker.keep(result, at_it.seconds, now, place)
            self._text.say(*_review_lines(round_, result))
            went_on = self._listen(round_, _REVIEWING, None)
            round_.close()
            return went_on
        return False

    def _listen(self, round_: ChoiceRound, prompt: str, at_it: ActiveTime | None) -> bool:
        """Plays what is asked for until Enter; False when the learner leaves.

        ``at_it`` counts the time until the answer; None: it was given.
        """
        marking = at_it is not None
        while (line := self._text.ask(prompt)) is not None:
            if at_it is not None:
                at_it.act(time.monotonic())
            self._text.say(*self._sound.notices())
            try:
                said = line.strip()
                numbers = said.split()
                if all(_is_one_of(number, round_) for number in numbers) and numbers:
                    if len(numbers) == 1:
                        self._hear(round_, said, marking=marking)
                    elif marking:
                        self._order(round_, [int(number) for number in numbers])
                    continue
                typed = read_command(line)
                if typed is Command.QUIT:
                    return False
                if typed is Command.GO_ON:
                    return True
                self._text.say(*self._do(typed))
            except (NotUnderstood, NoAudioDevice) as error:
                self._text.say(str(error))
        return False

    def _order(self, round_: ChoiceRound, numbers: list[int]) -> None:
        for number in round_.marked:
            round_.unmark(number)
        for number in numbers:
            round_.mark(number)
        self._text.say(_takes_words(round_))

    def _hear(self, round_: ChoiceRound, number: str, *, marking: bool) -> None:
        from trainer.fix_words import moves_words

        if marking:
            round_.hear(int(number))
        self._sound.hear(number)
        self._text.say(f"{number}, {moves_words(round_.offered[int(number) - 1].moves)}.")
        if marking and round_.marked:
            self._text.say(_takes_words(round_))

    def _do(self, typed: object) -> Iterator[str]:
        if isinstance(typed, Wait):
            self._sound.wait(typed.seconds)
        elif isinstance(typed, VolumeSteps):
            volume_db = self._sound.step_volume(typed.steps)
            self._record.set_setting(VOLUME_SETTING, volume_db)
            yield f"Volume {volume_words(volume_db)}."
        elif typed is Command.PLAY_OR_STOP:
            yield "Playing." if self._sound.play_or_stop() else "Stopped."
        elif typed is Command.A or typed is Command.B:
            letter = "A" if typed is Command.A else "B"
            self._sound.hear(letter)
            yield "A, as it should be." if letter == "A" else "B, the problem."
        else:
            yield from _HELP


def _takes_words(round_: ChoiceRound) -> str:
    return f"In this order: {' '.join(map(str, round_.marked))}. Enter takes it."


def _is_one_of(word: str, round_: ChoiceRound) -> bool:
    return word.isdecimal() and int(word) in round_.numbers


def _offer_lines(round_: ChoiceRound) -> Iterator[str]:
    from trainer.fix_words import moves_words

    offers = (
        f"{number} is {moves_words(candidate.moves)}"
        for number, candidate in zip(round_.numbers, round_.offered, strict=True)
    )
    yield f"Four fixes: {', '.join(offers)}."


def _review_lines(round_: ChoiceRound, result: FixResult) -> Iterator[str]:
    from trainer.fix_reasons import why_sentence
    from trainer.fix_words import (
        IN_ORDER,
        choice_sentence,
        fix_words,
        order_sentence,
        residual_words,
    )

    yield choice_sentence(round_, result)
    if order_sentence(result):
        yield order_sentence(result)
    yield IN_ORDER
    for number in round_.true_order:
        candidate = round_.offered[number - 1]
        left = residual_words(candidate.judgement)
        yield f"{number}: {fix_words(candidate.fix)}; {left}."
        yield f"   {why_sentence(candidate, round_.question.recipe, round_.loop)}"
