"""Setting a safe level in a terminal: noise from silence, turned up by the learner's hand."""

from __future__ import annotations

from collections.abc import Callable

from exercises.check_noise import level_noise
from trainer.level_words import CAUTIONS, HOW_TO, KEPT, SILENT_STILL
from trainer.plain_text import PlainText
from trainer.player import NoAudioDevice
from trainer.record import Record
from trainer.terminal_sound import TerminalSound
from trainer.typed_answer import Command, NotUnderstood, VolumeSteps, Wait, read_line
from trainer.volume import SOFTEST_DB, VOLUME_SETTING
from trainer.words import volume_words

_PROMPT = "+ or - volume (up to +++), s stops, Enter keeps it, q leaves it as it was"


def set_first_level(text: PlainText, sound: TerminalSound, record: Record) -> None:
    """Before anything has sounded, where somebody sits at the terminal, a level that is safe.

    Raises:
        NoAudioDevice: nothing can be played.
    """
    if text.by_hand and record.setting(VOLUME_SETTING) is None:
        set_level(text, sound, lambda db: record.set_setting(VOLUME_SETTING, db))


def set_level(
    text: PlainText, sound: TerminalSound, volume_set: Callable[[float], None]
) -> float | None:
    """Plays noise from silence until a level is kept; gives it in dB, None when the learner left.

    ``volume_set`` is told the level that was kept.

    Raises:
        NoAudioDevice: nothing can be played.
    """
    text.say(HOW_TO, *CAUTIONS)
    playhead = sound.playhead
    before_db = playhead.volume_db
    playhead.set_volume_db(SOFTEST_DB)
    playhead.load({"noise": level_noise()})
    sound.hear("noise")
    while (line := text.ask(_PROMPT)) is not None:
        text.say(*sound.notices())
        try:
            typed = read_line(line)
        except NotUnderstood:
            text.say(_PROMPT)
            continue
        if typed is Command.QUIT:
            break
        if typed is Command.GO_ON:
            if not playhead.muted:
                volume_set(playhead.volume_db)
                playhead.stop()
                text.say(f"Volume {volume_words(playhead.volume_db)}. {KEPT}")
                return playhead.volume_db
            text.say(SILENT_STILL)
        elif isinstance(typed, VolumeSteps):
            text.say(f"Volume {volume_words(sound.step_volume(typed.steps))}.")
        elif isinstance(typed, Wait):
            sound.wait(typed.seconds)
        elif typed is Command.PLAY_OR_STOP:
            try:
                text.say("Playing." if sound.play_or_stop() else "Stopped.")
            except NoAudioDevice as error:
                text.say(str(error))
        else:
            text.say(_PROMPT)
    playhead.stop()
    playhead.set_volume_db(before_db)
    text.say("Left; the level is as it was.")
    return None
