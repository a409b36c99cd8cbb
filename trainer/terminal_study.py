"""Study in a terminal: the same guided minutes as in the window, said and heard line by line.

Plain lines, so it works with a screen reader, by hand and from a script. A step is said, then
heard: its parts take turns by themselves, and each is named as it begins.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from exercises.bands import BANDS
from exercises.kinds import DYNAMICS, LEVEL, Kind
from trainer.ability import Ability
from trainer.guided_minute import GuidedMinute, Step
from trainer.plain_text import PlainText
from trainer.player import NoAudioDevice
from trainer.record import KeptAnswer, Record
from trainer.study import SEEN_SETTING, Need, Seen, after_opening, finest_db, study_next
from trainer.study_sounds import StudyMaker
from trainer.study_texts import text_of
from trainer.subject import SUBJECTS, Subject
from trainer.terminal_sound import TerminalSound
from trainer.typed_answer import Command, NotUnderstood, VolumeSteps, Wait, read_command
from trainer.volume import VOLUME_SETTING
from trainer.words import volume_words

_PROMPT: Final = "Enter to go on, r, a letter or number, s, + or -, q (? for help)"
_HELP: Final = (
    "Enter: the next step. r: this step again. A letter or a number: hear that part, and stay.",
    "s: stop, or play again. + or -: volume, up to three steps at once (+++).",
    "wait 5: listen for 5 seconds before the next line is read; for scripts. q: leave.",
)
_LEAVE: Final = "leave"
_ON: Final = "on"


def list_subjects(
    text: PlainText, ability: Ability, answers: Sequence[KeptAnswer], seen: Seen
) -> None:
    """Says what can be studied, and what should be next."""
    wanted = study_next(ability, answers, seen)
    needs = dict(wanted)
    if wanted:
        subject, need = wanted[0]
        text.say(f"Next to study: {subject.title} ({need.value}). Type: {_command(subject)}")
    text.say("What can be studied, with the words mixers use:")
    for subject in SUBJECTS:
        said = f"{subject.title}: {', '.join(text_of(subject).words)}"
        found: Need | None = needs.get(subject)
        text.say(f"{said} ({found.value})" if found else said)
    text.say(
        f"A band: {' '.join(band.name for band in BANDS)}. A kind: "
        f"{', '.join(kind.value for kind in Kind if kind in DYNAMICS | LEVEL)}.",
        "As in: namefirst study --terminal 250, or too little 4k, or squashed.",
    )


class TerminalStudy:
    """Guided minutes of one or more subjects, one after another."""

    def __init__(
        self,
        text: PlainText,
        sound: TerminalSound,
        maker: StudyMaker,
        record: Record,
        ability: Ability,
    ) -> None:
        self._text = text
        self._sound = sound
        self._maker = maker
        self._record = record
        self._ability = ability

    def run(self, subjects: Sequence[Subject]) -> None:
        """Goes through the minutes until their end, or until the learner leaves.

        Raises:
            NamefirstError: one cannot be heard on any loop, or a loop cannot be read.
        """
        try:
            self._text.say(f"Volume {volume_words(self._sound.playhead.volume_db)}.")
            for subject in subjects:
                if not self._minute(subject):
                    self._text.say("Left. Nothing was scored.")
                    return
            self._text.say("", "That was it. Nothing was scored.")
        finally:
            self._sound.close()

    def _minute(self, subject: Subject) -> bool:
        """One subject; whether to go on to the next."""
        said = text_of(subject)
        self._text.say(
            "",
            f"{subject.title}. Mixers say: {', '.join(said.words)}.",
            f"What causes it: {said.causes}",
            f"Where it is welcome: {said.welcome}",
            f"How to tell it: {said.apart}",
            f"({said.standing})",
            "Getting the loops ready...",
        )
        seen: Seen = self._record.setting(SEEN_SETTING, {})
        self._record.set_setting(SEEN_SETTING, after_opening(subject, self._ability, seen))
        minute = GuidedMinute(self._maker.steps_of(subject, finest_db(subject, self._ability)))
        while not minute.over:
            if not self._step(minute):
                return False
        return True

    def _step(self, minute: GuidedMinute) -> bool:
        """One step, said, heard and talked over; whether to go on."""
        step, number = minute.step, minute.number
        made = self._maker.sounds_of(step)
        self._sound.playhead.load(made.sounds)
        self._text.say(
            "",
            f"Step {number} of {len(minute.steps)}: {step.title}. On '{made.loop.title}'.",
            step.listen,
            "; ".join(f"{part.name} is {part.words}" for part in step.parts) + ".",
        )
        self._take_turns(step)
        while True:
            line = self._text.ask(_PROMPT)
            self._text.say(*self._sound.notices())
            done = _LEAVE if line is None else self._do(line, step)
            if done == _LEAVE:
                return False
            if done == _ON:
                self._sound.playhead.stop()
                minute.go_on()
                return True

    def _take_turns(self, step: Step) -> None:
        """Every part in its turn, named as it begins; then quiet."""
        words = {part.name: part.words for part in step.parts}
        for name, seconds in step.turns:
            self._text.say(f"{name}: {words[name]}")
            self._sound.hear(name)
            self._sound.wait(seconds)
        self._sound.playhead.stop()

    def _do(self, line: str, step: Step) -> str | None:
        """Does what a line asks for; "on" or "leave" where it ends the step."""
        typed = " ".join(line.lower().split())
        try:
            if typed == "r":
                self._take_turns(step)
                return None
            for part in step.parts:
                if typed == part.name.lower():
                    self._text.say(f"{part.name}: {part.words}")
                    self._sound.hear(part.name)
                    return None
            return self._command(line)
        except (NotUnderstood, NoAudioDevice) as error:
            self._text.say(str(error))
        return None

    def _command(self, line: str) -> str | None:
        meant = read_command(line)
        if meant in (Command.GO_ON, Command.QUIT):
            return _ON if meant is Command.GO_ON else _LEAVE
        if isinstance(meant, Wait):
            self._sound.wait(meant.seconds)
        elif isinstance(meant, VolumeSteps):
            volume_db = self._sound.step_volume(meant.steps)
            self._record.set_setting(VOLUME_SETTING, volume_db)
            self._text.say(f"Volume {volume_words(volume_db)}.")
        elif meant is Command.PLAY_OR_STOP:
            self._text.say("Playing." if self._sound.play_or_stop() else "Stopped.")
        else:
            self._text.say(*_HELP)
        return None


def _command(subject: Subject) -> str:
    if subject.band_index is None:
        return f"namefirst study --terminal {subject.kind}"
    return f"namefirst study --terminal {subject.kind} {BANDS[subject.band_index].name}"
