"""The chain check in a terminal: bursts are played, their count is typed."""

from __future__ import annotations

from exercises.check_noise import TRAIN_S, burst_train
from exercises.samples import Samples
from trainer.chain import ChainCheck, Presentation, is_believable
from trainer.chain_words import NO_HEARING_TEST, RULES, check_sentence, void_sentence
from trainer.claim_command import now
from trainer.kept_chains import keep_check
from trainer.plain_text import PlainText
from trainer.record import Record
from trainer.terminal_sound import TerminalSound
from trainer.words import volume_words

_PROMPT = "How many? 0, 1, 2, 3; r plays it again; q leaves"
_SOUNDING_S = TRAIN_S - 0.2  # what follows the last burst is silence; then it would come round


def run_chain(
    check: ChainCheck,
    output: str,
    text: PlainText,
    sound: TerminalSound,
    record: Record,
    sounding_s: float = _SOUNDING_S,
) -> None:
    """Asks until every band is known; keeps the check unless silence was counted as sound.

    Raises:
        NoAudioDevice: nothing can be played.
    """
    text.say(*RULES, f"Output '{output}', volume {volume_words(sound.playhead.volume_db)}.")
    while (shown := check.current) is not None:
        text.say("", f"Number {len(check.counted) + 1}, {check.left} to go.")
        said = _ask(shown, text, sound, sounding_s)
        if said is None:
            text.say("Left before the end; nothing was kept.")
            return
        check.say(said)
    if not is_believable(check.counted):
        text.say("", void_sentence(check.counted))
        return
    kept = keep_check(record, output, check.counted, sound.playhead.volume_db, now())
    text.say("", check_sentence(kept), NO_HEARING_TEST)


def _ask(
    shown: Presentation, text: PlainText, sound: TerminalSound, sounding_s: float
) -> int | None:
    """Plays and asks until a count is typed; None when the learner leaves."""
    train = burst_train(shown.band_index, shown.bursts, loud=shown.loud, seed=shown.seed)
    _play(train, sound, sounding_s)
    while (line := text.ask(_PROMPT)) is not None:
        plain = line.strip().lower()
        if plain in ("q", "quit", "exit"):
            return None
        if plain in ("0", "1", "2", "3"):
            return int(plain)
        if plain == "r":
            _play(train, sound, sounding_s)
        else:
            text.say("Type 0, 1, 2 or 3.")
    return None


def _play(train: Samples, sound: TerminalSound, sounding_s: float) -> None:
    sound.playhead.load({"bursts": train})
    sound.hear("bursts")
    sound.wait(sounding_s)
    sound.playhead.stop()
    sound.wait(min(sounding_s, 0.1))
