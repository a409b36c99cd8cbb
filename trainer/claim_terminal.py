"""A blind claim in a terminal: plain lines in and out, for a screen reader, by hand, or a script.

The end of input leaves the claim, as ``q`` does; what was begun is kept in the record either way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

from exercises.bands import read_hz
from exercises.samples import Samples
from exercises.with_and_without import Pair
from trainer.claim import POINTINGS, Claim, Stage
from trainer.claim_case import Case
from trainer.claim_words import (
    POINTING_RULES,
    RULES,
    aim_sentences,
    change_sentence,
    claim_sentence,
    evidence_sentences,
    outcome_sentences,
)
from trainer.plain_text import PlainText
from trainer.player import NoAudioDevice
from trainer.terminal_sound import TerminalSound
from trainer.typed_answer import Command, NotUnderstood, VolumeSteps, Wait, read_line
from trainer.words import volume_words

_LISTENING: Final = (
    "s: stop, or play again. + or -: volume. wait 5: listen for 5 seconds; for scripts.",
    "q: leave.",
)
_SAYING_A: Final = frozenset(("1", "x is a", "x=a", "xa"))
_SAYING_B: Final = frozenset(("2", "x is b", "x=b", "xb"))


@dataclass(frozen=True, slots=True)
class _Page:
    """What can be typed at one place: its prompt, its help, and what can be heard."""

    prompt: str
    help: tuple[str, ...]
    sounds: str


_TRIAL: Final = _Page(
    "a, b, x to listen, 1 if X is A, 2 if X is B, q (? for help)",
    (*RULES, "1 or 'x is a': X is A. 2 or 'x is b': X is B.", *_LISTENING),
    "ABX",
)
_POINTING: Final = _Page(
    "a, b to listen, a frequency (200, 3.2k), skip, q (? for help)",
    (POINTING_RULES, "skip: leave the pointing out.", *_LISTENING),
    "AB",
)


def run_claim(
    case: Case,
    claim: Claim,
    text: PlainText,
    sound: TerminalSound,
    volume_set: Callable[[float], None],
    keep: Callable[[], None],
) -> None:
    """Takes a claim from its measurement to its verdict.

    ``volume_set`` is told each new volume; ``keep`` is called after every answer.

    Raises:
        NamefirstError: a frequency cannot be rendered on this stretch.
    """
    text.say(claim_sentence(case), change_sentence(case), *case.stretch.notes)
    text.say(*evidence_sentences(case.evidence))
    text.say("", *RULES, f"Volume {volume_words(sound.playhead.volume_db)}.")
    reader = _Reader(text, sound, volume_set, keep)
    if not _try_x(case, claim, reader):
        text.say(*outcome_sentences(claim))
        return
    text.say(*outcome_sentences(claim), "", POINTING_RULES)
    _point(case, claim, reader)
    text.say(*aim_sentences(claim, case.evidence))


def sounds_of_trial(case: Case, claim: Claim) -> dict[str, Samples]:
    """What can be heard in a trial, X among it; X first, then it is chosen."""
    pair = case.pair
    return {"X": pair.a if claim.x == "A" else pair.b, "A": pair.a, "B": pair.b}


def sounds_of_pointing(pair: Pair) -> dict[str, Samples]:
    """What can be heard while pointing, B first."""
    return {"B": pair.b, "A": pair.a}


def _try_x(case: Case, claim: Claim, reader: _Reader) -> bool:
    """Trials until it is decided; False when the learner left."""
    while claim.stage is Stage.TRIALS:
        reader.load(sounds_of_trial(case, claim))
        plays = " X plays." if reader.sound.playhead.playing else ""
        reader.text.say("", f"Trial {claim.number}, of {claim.rule.most} at most.{plays}")
        while (line := reader.next(_TRIAL)) is not None:
            if line in _SAYING_A | _SAYING_B:
                if not reader.sound.playhead.heard["X"]:
                    louder = "+, then " if reader.sound.playhead.muted else ""
                    reader.text.say(f"Listen to X first ({louder}x).")
                    continue
                claim.say_x("A" if line in _SAYING_A else "B")
                reader.keep()
                break
            reader.text.say("Say 1 if X is A, 2 if X is B.")
        else:
            return False
    return True


def _point(case: Case, claim: Claim, reader: _Reader) -> None:
    """Pointings until all are done, skipped or left."""
    while claim.stage is Stage.POINTING:
        reader.load(sounds_of_pointing(case.pair_at(claim.place_hz)))
        reader.text.say("", f"Pointing {claim.number} of {POINTINGS}.")
        while True:
            line = reader.next(_POINTING)
            if line is None or line == "skip":
                claim.skip_pointing()
                break
            freq_hz = read_hz(line)
            if freq_hz is not None:
                claim.point(freq_hz)
                reader.keep()
                break
            reader.text.say(f"'{line[:40]}' is no frequency from 20 Hz to 20 kHz; try: 200")


@dataclass(slots=True)
class _Reader:
    """Lines read, with all that is about listening done at once."""

    text: PlainText
    sound: TerminalSound
    volume_set: Callable[[float], None]
    keep: Callable[[], None]

    def load(self, sounds: dict[str, Samples]) -> None:
        """Takes the sounds of the next trial; what plays goes on playing."""
        playhead = self.sound.playhead
        at_frame = playhead.position_frames if playhead.frames else 0
        playhead.load(sounds, at_frame=at_frame % len(next(iter(sounds.values()))))

    def next(self, page: _Page) -> str | None:
        """The next line that is not about listening, in small letters; None to leave."""
        while (line := self.text.ask(page.prompt)) is not None:
            self.text.say(*self.sound.notices())
            plain = " ".join(line.lower().split())
            try:
                if plain in ("q", "quit", "exit"):
                    return None
                if len(plain) == 1 and plain.upper() in page.sounds:
                    self.sound.hear(plain.upper())
                    self.text.say(f"{plain.upper()}.")
                elif plain in ("?", "h", "help"):
                    self.text.say(*page.help)
                elif not self._listened(plain):
                    return plain
            except (NotUnderstood, NoAudioDevice) as error:
                self.text.say(str(error))
        return None

    def _listened(self, plain: str) -> bool:
        """Does what ``plain`` asks of the sound; False if it is about something else."""
        if not (plain.startswith("wait") or plain in Command.PLAY_OR_STOP.value or _steps(plain)):
            return False
        typed = read_line(plain)
        said: Iterable[str] = ()
        if isinstance(typed, Wait):
            self.sound.wait(typed.seconds)
        elif isinstance(typed, VolumeSteps):
            volume_db = self.sound.step_volume(typed.steps)
            self.volume_set(volume_db)
            said = (f"Volume {volume_words(volume_db)}.",)
        else:
            said = ("Playing." if self.sound.play_or_stop() else "Stopped.",)
        self.text.say(*said)
        return True


def _steps(plain: str) -> bool:
    return bool(plain) and plain.strip("+=-\N{MINUS SIGN}") == ""
