"""The drill in a terminal: the same rounds as in the window, with typed answers.

Plain lines in and out, so it works with a screen reader, by hand, and from a script through
standard input. At the end of input the drill is left, as by ``q``: what was answered is kept, and
on the same day the same command takes it up again.
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Final, Literal

from exercises.errors import NamefirstError
from exercises.kinds import Help, Kind
from exercises.loops import WHOLE_MIX, Passage
from exercises.question import stem_alone
from trainer.chain_words import unasked_sentence
from trainer.drill import Drill
from trainer.ladder import step_sentence
from trainer.loop_shelf import LoopShelf
from trainer.plain_text import PlainText
from trainer.planner import Limits
from trainer.plates import Plates
from trainer.player import NoAudioDevice
from trainer.record import Listening, Record
from trainer.round import LEAST_HEARD_S, Round
from trainer.sitting import Sitting
from trainer.study import SEEN_SETTING
from trainer.terminal_fix import TerminalFixes
from trainer.terminal_sound import TerminalSound
from trainer.typed_answer import (
    Alone,
    Command,
    NotUnderstood,
    Said,
    Typed,
    VolumeSteps,
    Wait,
    read_command,
    read_line,
)
from trainer.typed_place import Places
from trainer.volume import VOLUME_SETTING
from trainer.words import (
    CAUTION,
    NOTHING_UNDONE,
    answer_sentence,
    clock_words,
    due_sentence,
    heard_part,
    left_sentence,
    level_or_tone_sentence,
    named_share_sentence,
    truth_sentence,
    volume_words,
)

QUIET_START: Final = (
    "You have set no level yet: it starts very quiet. Turn it up by steps (+), or "
    "leave and set a level from silence: namefirst level --terminal."
)
_CAUTIONED: Final = "cautioned"
_A_STEP_S: Final = 0.02

_HEARING: Final = {
    Command.A: ("A", "A, as it should be."),
    Command.B: ("B", "B, the one to judge."),
    Command.FIX: ("fix", "B with your answer undone."),
    Command.EXAGGERATED: ("X", "B, exaggerated."),
    Command.REGION: ("R", "The region alone."),
}
_KINDS: Final = ", ".join(f"{number} {kind}" for number, kind in enumerate(Kind, start=1))
_LISTENING_HELP: Final = (
    "a or b: hear A or B. s: stop, or play again. + or -: volume, up to three steps at once (+++).",
    "wait 5: listen for 5 seconds before the next line is read; for scripts.",
    "q: leave; the drill can be taken up again today.",
)


@dataclass(frozen=True, slots=True)
class _Page:
    """What can be typed at one place: its prompt, its help, and the sounds that can be heard."""

    prompt: str
    help: tuple[str, ...]
    sounds: tuple[str, ...]


_QUESTION: Final = _Page(
    "a, b, s, + or -, q, or your answer (? for help)",
    (
        "A is the loop as it should be, B the one to judge. Say what was changed, and where.",
        f"What it can be: {_KINDS}.",
        "Too much and too little have a place, in Hz: too much 200. Or by number: 1 3.2k.",
        "Put a question mark behind it when you are guessing: too much 200? Else it is sure.",
        "Where track and passage are asked, name them too, in any order and as short as is clear:",
        "too much 200 guitar damped. Say on guitar, or in verse, where a word could be either.",
        "l: the track that you have named alone, or everything again. l bass: that track alone.",
        *_LISTENING_HELP,
    ),
    ("A", "B"),
)
_REVIEW: Final = _Page(
    "a, b, f, x, r, w, s, + or -, q, or Enter for the next (? for help)",
    (
        "f: hear B with your answer undone; a right answer sounds as A does.",
        "x: the problem exaggerated. r: its region alone. w: one passage only, then the next.",
        "l: the track that it is on alone, or everything again.",
        "Enter: the next question.",
        *_LISTENING_HELP,
    ),
    ("A", "B", "fix", "X", "R"),
)


class TerminalDrill:
    """One sitting at a terminal."""

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
        self._shelf = shelf
        self._limits = limits
        self._drill: Sitting = Drill(record, shelf, limits, secrets.randbelow(2**31), _now())
        self._drill.begin_next()
        self._fixes = TerminalFixes(text, sound, record, shelf, limits)
        self._looped: Passage | None = None

    def run(self) -> None:
        """Asks until the minutes are up, ``q`` is typed or the input ends.

        Raises:
            NamefirstError: no question can be made, or an answer cannot be written.
        """
        try:
            self._greet()
            while not self._time_is_up():
                if not self._ask_one() and not self._time_is_up():
                    self._say_left()
                    return
            self._end()
        finally:
            self._sound.close()
            if isinstance(self._drill, Drill):
                self._fixes.close()
                self._drill.leave(_now())
            self._drill.close()

    def _time_is_up(self) -> bool:
        return self._drill.answered > 0 and self._drill.seconds_left(_now()) <= 0.0

    def _greet(self) -> None:
        drill = self._drill
        self._text.say(
            due_sentence(self._limits.minutes, drill.answered, drill.seconds_left(_now())),
            *self._step_sentences(),
            *self._unasked_sentences(),
        )
        if not self._record.setting(_CAUTIONED, False):
            self._text.say("Your ears:", CAUTION, *_QUESTION.help)
            self._record.set_setting(_CAUTIONED, True)
        if self._record.setting(VOLUME_SETTING) is None:
            self._text.say(QUIET_START)
        self._text.say(f"Volume {volume_words(self._sound.playhead.volume_db)}.")

    def _unasked_sentences(self) -> Iterator[str]:
        """Which bands a drill leaves out, if it does; a set asks what it asks."""
        unasked = unasked_sentence(self._record, self._limits)
        if isinstance(self._drill, Drill) and unasked is not None:
            yield unasked

    def _step_sentences(self) -> Iterator[str]:
        """The step of the ladder that is asked, where there is one."""
        if isinstance(self._drill, Drill):
            yield step_sentence(self._drill.step)

    def _ask_one(self) -> bool:
        """One question and its review, a fix round before it if one is due; whether to go on."""
        if isinstance(self._drill, Drill) and not self._fixes.ask_if_due(self._drill):
            return False
        round_ = self._next_round()
        self._study_if_due(round_)
        answered = self._question(round_)
        return answered and (round_.review is None or self._review(round_))

    def _study_if_due(self, round_: Round) -> None:
        """Now and then, by hand, a guided minute of what is new or weak before the question."""
        if not (self._text.by_hand and isinstance(self._drill, Drill)):
            return
        opened = self._drill.study_before(round_, self._record.setting(SEEN_SETTING, {}))
        if opened is None:
            return
        subject, need = opened
        self._text.say(
            "", f"First a minute of study: {subject.title} ({need.value}). q goes to the question."
        )
        from trainer.study_sounds import StudyMaker
        from trainer.terminal_study import TerminalStudy

        maker, ability = StudyMaker(self._shelf), self._drill.ability
        try:
            TerminalStudy(self._text, self._sound, maker, self._record, ability).run([subject])
        except NamefirstError as error:
            # The drill goes on without.
            self._text.say(str(error))

    def _next_round(self) -> Round:
        if not self._drill.ready:
            self._text.say("Getting the loop ready...")
        return self._drill.next_round()

    def _question(self, round_: Round) -> bool:
        """Plays and asks until the answer is whole; False when the learner leaves."""
        question = round_.question
        self._plates = Plates(self._sound.playhead, {"B": question.b, "A": question.a})
        self._round = round_
        asked_at_s = time.monotonic()
        part = heard_part(question.recipe)
        self._text.say(
            "",
            f"Question {self._drill.number}{self._left()}. {round_.loop.title}, {part}.",
            *_what_is_asked(round_),
        )
        guessing = False
        while (said := self._read(_QUESTION)) is not None:
            if not isinstance(said, Said):
                self._text.say("Not answered yet. Try: too much 200, or nothing.")
                continue
            if self._plates.heard_s("B") < LEAST_HEARD_S:
                muted = self._sound.playhead.muted
                first = "turn the volume up (+), then listen" if muted else "listen"
                self._text.say(f"Not taken: {first} to B for a second first (b).")
                continue
            guessing = guessing or said.guessing
            if said.kind is not None:
                round_.mark_kind(said.kind)
            if said.freq_hz is not None:
                round_.mark_freq(said.freq_hz)
            if said.track is not None:
                round_.mark_track(said.track)
            if said.passage is not None:
                round_.mark_passage(said.passage)
            if round_.missing is not None:
                self._text.say(round_.missing)
            elif round_.wants_another:
                round_.keep_first()
                self._text.say("And the other problem, on the same track and passage?")
            else:
                self._answer(round_, not guessing, time.monotonic() - asked_at_s)
                return True
        return False

    def _left(self) -> str:
        """What is left of the sitting, to stand after the question's number."""
        seconds_left = self._drill.seconds_left(_now())
        return f". {clock_words(seconds_left)} left" if seconds_left > 0 else ". The last one"

    def _answer(self, round_: Round, sure: bool, seconds: float) -> None:
        plates = self._plates
        listening = Listening(
            seconds, plates.switches, plates.heard_s("A"), plates.heard_s("B"), plates.alone_s
        )
        review = self._drill.answer(round_, sure=sure, listening=listening, now=_now())
        if isinstance(self._drill, Drill):
            self._fixes.begin_if_due(self._drill)
        if review is None:
            return
        recipe = round_.question.recipe
        self._text.say(
            truth_sentence(recipe),
            answer_sentence(recipe, review.answer, review.verdict),
            left_sentence(review.left, review.begins_s, undone=review.undone),
            *_level_or_tone(round_),
        )
        if review.undone:
            self._plates.add({"fix": review.fixed})

    def _review(self, round_: Round) -> bool:
        """Lets the truth be heard; whether to go on."""
        self._looped = None
        while (said := self._read(_REVIEW)) is not None:
            if not isinstance(said, Said):
                self._sound.playhead.loop_region(None)
                round_.close()
                return True
            self._text.say("This one is answered. Enter goes on to the next.")
        return False

    def _read(self, page: _Page) -> Said | Literal[Command.GO_ON] | None:
        """The next line that is an answer or goes on, with all that comes before it done.

        None when the learner leaves.
        """
        while (line := self._text.ask(page.prompt)) is not None:
            self._text.say(*self._sound.notices())
            try:
                asked = page is _QUESTION
                typed = read_line(line, self._places()) if asked else read_command(line)
                if typed is Command.QUIT:
                    return None
                if isinstance(typed, Said) or typed is Command.GO_ON:
                    return typed
                self._text.say(*self._do(typed, page))
            except (NotUnderstood, NoAudioDevice) as error:
                self._text.say(str(error))
        return None

    def _do(self, typed: Typed, page: _Page) -> Iterable[str]:
        """Does what was asked for, and gives what there is to say of it."""
        if isinstance(typed, Wait):
            self._sound.wait(typed.seconds)
            return ()
        if isinstance(typed, VolumeSteps):
            volume_db = self._sound.step_volume(typed.steps)
            self._record.set_setting(VOLUME_SETTING, volume_db)
            return (f"Volume {volume_words(volume_db)}.",)
        if typed is Command.PLAY_OR_STOP:
            return ("Playing." if self._sound.play_or_stop() else "Stopped.",)
        if isinstance(typed, Alone):
            return (self._solo(typed.track),)
        if typed is Command.ALONE:
            return (self._solo_or_mix(),)
        if typed is Command.PASSAGE and page is _REVIEW:
            return (self._loop_next_passage(),)
        if isinstance(typed, Command) and typed in _HEARING:
            name, words = _HEARING[typed]
            if name not in page.sounds:
                return ("That is heard once you have answered.",)
            if not self._plates.has(name) and not self._made_for_review(name):
                return (NOTHING_UNDONE if name == "fix" else "This problem has no such thing.",)
            return self._hear(name, words)
        return page.help

    def _made_for_review(self, name: str) -> bool:
        """Makes what a review sounds by ``name``; whether there is such a thing."""
        from exercises.truth_sounds import truth_sound

        made = truth_sound(name, self._round.question, self._round.loop)
        if made is not None:
            self._plates.add({name: made})
        return made is not None

    def _loop_next_passage(self) -> str:
        """The next passage by itself, and after the last one the whole loop again."""
        passages = (*self._round.loop.passages, None)
        self._looped = passages[(passages.index(self._looped) + 1) % len(passages)]
        if self._looped is None:
            self._sound.playhead.loop_region(None)
            return "The whole loop."
        self._sound.playhead.loop_region(self._looped.start_frame, self._looped.stop_frame)
        return f"Only '{self._looped.name}'."

    def _hear(self, name: str, words: str) -> Iterable[str]:
        """Sounds A, B or the fix, as far as the question lets A be heard."""
        heard_a_s = self._plates.heard_s("A")
        if name == "A" and not self._round.a_may_sound(heard_a_s, sounding=False):
            return ("A was heard once." if heard_a_s else "There is no A here, as in real work.",)
        self._sound.hear(self._plates.named(name))
        if name != "A" or self._round.a_may_sound(self._round.loop.seconds, sounding=True):
            return (words,)
        # Once round in one go; then B.
        until_s = time.monotonic() + 2.0 * self._round.loop.seconds
        while self._sound.playhead.playing and time.monotonic() < until_s:
            if not self._round.a_may_sound(self._plates.heard_s("A"), sounding=True):
                break
            self._sound.wait(_A_STEP_S)
        self._sound.hear(self._plates.named("B"))
        return ("That was A, as it should be; it is not heard again. Now B.",)

    def _places(self) -> Places:
        """What may be named beside the kind."""
        return Places(self._round.tracks, self._round.passages)

    def _solo_or_mix(self) -> str:
        """The track in question alone, or everything again."""
        if self._plates.soloed is not None:
            return self._solo(None)
        recipe = self._round.question.recipe
        asked = recipe.ask_track and self._round.review is None
        track = self._round.track if asked else recipe.track
        if recipe.alone or (track is None and not asked):
            return "Here everything is heard as it is."
        return "Say which track, as in: l bass." if track is None else self._solo(track)

    def _solo(self, track: str | None) -> str:
        track = None if track == WHOLE_MIX else track
        self._plates.solo(track, partial(stem_alone, self._round.question, self._round.loop))
        return "Everything again." if track is None else f"{track} alone."

    def _say_left(self) -> None:
        count = self._drill.answered
        if count == 0:
            self._text.say("Left before the first answer.")
            return
        answers = "1 answer is" if count == 1 else f"{count} answers are"
        self._text.say(f"Left. {answers} kept; start the drill again today to go on from here.")

    def _end(self) -> None:
        share = named_share_sentence(self._drill.answers)
        self._drill.end()
        self._text.say("", "That was today's drill.", share, self._drill.wrap_up().sentence)


def _level_or_tone(round_: Round) -> Iterator[str]:
    """Whether it was level or tone, of a problem in one passage."""
    passage = round_.question.recipe.passage
    if round_.review is not None and round_.review.passages and passage is not None:
        yield level_or_tone_sentence(round_.review.passages, passage)


def _what_is_asked(round_: Round) -> Iterator[str]:
    """What this question asks beside kind and frequency, and what of A it gives."""
    recipe = round_.question.recipe
    if recipe.second is not None:
        yield "There are two problems at once: name one, then the other."
    if round_.tracks:
        yield f"Say on which track: {', '.join(round_.tracks)}."
    if round_.passages:
        yield f"Say in which passage: {', '.join(round_.passages)}."
    if recipe.help is Help.A_ONCE:
        yield "A can be heard once."
    if recipe.help is Help.NO_A:
        yield "There is no A, as in real work."


def _now() -> datetime:
    return datetime.now().astimezone()
