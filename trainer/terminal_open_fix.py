"""The open round in a terminal: moves are typed, one a line, and heard with ``hear``.

Plain lines that can be followed by ear; what a line may be is in ``typed_moves``.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Final

from exercises.moves import describe
from trainer.fix_maker import FixMaker, FixPlace
from trainer.fix_round import Attempt
from trainer.fix_words import attempt_sentence, fix_words, open_sentence, place_of
from trainer.open_round import OpenReview, OpenRound
from trainer.open_sound import YOURS, OpenSound
from trainer.own_moves import MOST_MOVES, details
from trainer.pace import ActiveTime
from trainer.plain_text import PlainText
from trainer.player import NoAudioDevice
from trainer.round import IllegalMove
from trainer.terminal_sound import TerminalSound
from trainer.typed_answer import Command, NotUnderstood
from trainer.typed_moves import OpenCommand, TakeOut, TypedMove, read_open_line
from trainer.words import heard_part

_MAKING: Final = "A move, hear, take out 1, done, a, b, s, + or -, or q (? for help)"
_REVIEWING: Final = "yours, simplest, a, b, s, + or -, q, or Enter for the question (? for help)"
_SIMPLEST: Final = "simplest"
_HELP: Final = (
    "A move: cut 6 at 186, or boost 3 at 2k q 2. shelf low 120 -3, shelf high 8k 2. "
    "compress 4 ratio 6, expand 3 slow (or quick, middle).",
    "2 cut 5 at 200 puts another move in the place of move 2. take out 2 takes it out. "
    "list says the moves.",
    "a: A, as it should be. b: B, as it was. hear: B with your moves. All are as loud as one "
    "another.",
    "s: stop, or play again. + or -: volume. wait 5: listen for 5 seconds, for scripts. "
    "done: hand in. q: leave.",
)

Do = Callable[[object], Iterator[str]]


def ask_open(
    text: PlainText,
    sound: TerminalSound,
    maker: FixMaker,
    round_: OpenRound,
    place: FixPlace,
    do: Do,
) -> bool:
    """Asks ``round_`` and keeps it; whether to go on with the drill.

    ``do`` does what any round knows (stop, volume, a wait) and says what there is to say.
    """
    heard = OpenSound(round_, sound.playhead)
    sound.playhead.load(heard.sounds())
    at_it = ActiveTime(time.monotonic())
    try:
        text.say(*_asked_lines(round_, place))
        if not _made(text, sound, round_, heard, at_it, do):
            return False
        text.say("Measuring what is left...")
        review = round_.open_review()
        maker.keep(review.result, at_it.seconds, datetime.now().astimezone(), place)
        passage = place_of(round_.question.recipe, round_.loop)
        text.say(*_review_lines(review, passage))
        went_on = _reviewed(text, sound, round_, review, do)
        round_.close()
        return went_on
    finally:
        heard.close()


def _made(
    text: PlainText,
    sound: TerminalSound,
    round_: OpenRound,
    heard: OpenSound,
    at_it: ActiveTime,
    do: Do,
) -> bool:
    """Takes moves until they are handed in; False when the learner leaves."""
    track, passages = round_.question.recipe.track, round_.loop.passages
    while (line := text.ask(_MAKING)) is not None:
        at_it.act(time.monotonic())
        text.say(*sound.notices())
        try:
            typed = read_open_line(line, track, passages)
            if typed is Command.QUIT:
                return False
            if typed is OpenCommand.DONE:
                round_.hand_in(heard.heard_s)
                return True
            if typed is OpenCommand.HEAR or typed is Command.FIX:
                heard.finish()
                sound.hear(YOURS)
                text.say(f"B with your moves: {fix_words(round_.moves)}.")
            elif typed is Command.A or typed is Command.B:
                text.say(_hear_plain(sound, typed))
            elif _needs_help(typed):
                text.say(*_HELP)
            elif isinstance(typed, TypedMove | TakeOut) or typed is OpenCommand.LIST:
                if typed is not OpenCommand.LIST:
                    _change(round_, typed)
                    heard.moved()
                text.say(*_move_lines(round_))
            else:
                text.say(*do(typed))
        except (NotUnderstood, IllegalMove, NoAudioDevice) as error:
            text.say(str(error))
    return False


def _change(round_: OpenRound, typed: object) -> None:
    if isinstance(typed, TakeOut):
        round_.take_out(typed.number - 1)
    elif isinstance(typed, TypedMove):
        if typed.number is None:
            round_.add(typed.move)
        else:
            round_.change(typed.number - 1, typed.move)


def _needs_help(typed: object) -> bool:
    """Whether it is a word that other rounds know, or asks for help."""
    return isinstance(typed, Command) and typed is not Command.PLAY_OR_STOP


def _hear_plain(sound: TerminalSound, command: Command) -> str:
    letter = "A" if command is Command.A else "B"
    sound.hear(letter)
    return "A, as it should be." if letter == "A" else "B, as it was."


def _reviewed(
    text: PlainText, sound: TerminalSound, round_: OpenRound, review: OpenReview, do: Do
) -> bool:
    """Plays what is asked for until Enter; False when the learner leaves."""
    from trainer.fix_round import as_loud_as_the_softest

    sounds = {"B": round_.question.b, "A": round_.question.a}
    sounds |= {YOURS: review.yours.sound, _SIMPLEST: review.smallest.sound}
    sound.playhead.load(as_loud_as_the_softest(sounds))
    while (line := text.ask(_REVIEWING)) is not None:
        text.say(*sound.notices())
        try:
            word = line.strip().lower()
            if word in (YOURS, _SIMPLEST):
                sound.hear(word)
                attempt = review.yours if word == YOURS else review.smallest
                text.say(f"{word.capitalize()}: {fix_words(attempt.fix)}.")
                continue
            typed = read_open_line(line, None, ())
            if typed is Command.QUIT:
                return False
            if typed is OpenCommand.DONE or typed is Command.GO_ON:
                return True
            if typed is Command.A or typed is Command.B:
                text.say(_hear_plain(sound, typed))
            elif isinstance(typed, TypedMove | TakeOut | OpenCommand):
                text.say("The fix is handed in. Enter goes on.")
            else:
                text.say(*(_HELP[2:] if _needs_help(typed) else do(typed)))
        except (NotUnderstood, NoAudioDevice) as error:
            text.say(str(error))
    return False


def _asked_lines(round_: OpenRound, place: FixPlace) -> Iterator[str]:
    recipe = round_.question.recipe
    yield ""
    yield (
        f"Before question {place.number}, a fix to make. {round_.loop.title}, {heard_part(recipe)}."
    )
    where = "" if recipe.track is None else f"the {recipe.track} of "
    yield f"Turn {where}B back into A, in {MOST_MOVES} moves at the most; fewer is better."
    if len(round_.loop.passages) > 1:
        names = ", ".join(passage.name for passage in round_.loop.passages)
        yield f"Passages to ride: {names}. As in: ride {round_.loop.passages[0].name} -2."


def _move_lines(round_: OpenRound) -> Iterator[str]:
    if not round_.moves:
        yield "No moves."
    for number, move in enumerate(round_.moves, 1):
        more = f", {details(move)}" if details(move) else ""
        yield f"{number}: {describe(move)}{more}."


def _review_lines(review: OpenReview, passage: int | None) -> Iterator[str]:
    def told(who: str, attempt: Attempt) -> str:
        return f"{who}: {fix_words(attempt.fix)}. {attempt_sentence(attempt, passage)}"

    yield open_sentence(review)
    yield told("Yours", review.yours)
    yield told("The simplest that the program found", review.smallest)
