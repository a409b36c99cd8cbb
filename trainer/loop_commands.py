"""``namefirst loops``: the learner's own loops from the command line; and the drill's ``--loop``.

``loops add`` shows what would loop in the material. By hand each can be heard and one chosen; from
a script the best is taken, or the one that ``--choose`` names.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from exercises.askable_table import AskableTable
from exercises.audibility import LARGEST_ASKED_DB
from exercises.audio_handle import shown_name
from exercises.bands import BANDS
from exercises.errors import BadLoop
from exercises.kinds import TONE, Kind
from exercises.loops import Loop
from exercises.own_loop import loop_from_file
from exercises.samples import RATE_HZ
from trainer.counted_tempo import FACTORS, counted_at
from trainer.home import tables_folder
from trainer.kept_tables import table_of
from trainer.loop_choices import LoopChoices, choices_in
from trainer.loop_shelf import LoopShelf
from trainer.loop_sounds import MIX, loop_sounds
from trainer.loop_words import loop_words, size_words
from trainer.plain_text import PlainText
from trainer.player import NoAudioDevice
from trainer.skills import SKILLS
from trainer.terminal_sound import TerminalSound
from trainer.typed_answer import Command, NotUnderstood, VolumeSteps, Wait, read_command
from trainer.words import volume_words

_ASKED: Final = {kind for skill in SKILLS for kind in skill.kinds}
_TEMPO_TOLERANCE: Final = 0.03
_WITHOUT_A_PLACE: Final = tuple(kind for kind in Kind if kind in _ASKED - TONE)


def loop_of_file(shelf: LoopShelf, path: Path, text: PlainText) -> str:
    """The name of the best loop of an audio file, put on the shelf unless it is there already.

    Raises:
        BadAudio, BadLoop: no loop can be made of it, or it cannot be written.
    """
    with _progress_bar("searching") as tell:
        loop = loop_from_file(path, tell)
    known = shelf.holding(loop)
    if known is not None:
        return known
    name = shelf.keep(loop)
    text.say(f"{shown_name(path)}: its best loop, {loop.seconds:.1f} s, is kept as '{name}'.")
    return name


def add_loop(
    shelf: LoopShelf,
    path: Path,
    title: str | None,
    text: PlainText,
    *,
    number: int | None,
    bpm: float | None,
    silent: bool,
) -> None:
    """Makes a loop of a file, or a folder of tracks, and puts it on the shelf.

    ``number`` (from 1) takes that candidate without asking; ``bpm`` says which of half, found and
    twice the tempo it is.

    Raises:
        BadAudio, BadLoop: no loop can be made of it, or it cannot be written.
    """
    with _progress_bar("searching") as tell:
        choices = choices_in(path, title, tell)
    text.say(*choices.notes, choices.heading)
    text.say(*(f"{at}. {': '.join(words)}" for at, words in enumerate(choices.words, start=1)))
    if number is None and text.by_hand and choices.count > 1:
        loop = _choose_by_ear(choices, text, TerminalSound(None, silent=silent))
    else:
        loop = choices.loop(1 if number is None else number)
    if loop is None:
        text.say("No loop was added.")
        return
    if bpm is not None:
        loop = _at_tempo(loop, bpm)
    known = shelf.holding(loop)
    if known is not None:
        text.say(f"This loop is on the shelf already, as '{known}'.")
        return
    name = shelf.keep(loop)
    text.say(f"Added '{name}': {loop_words(loop)}. See: namefirst loops show {name}")


def _at_tempo(loop: Loop, bpm: float) -> Loop:
    """The loop at ``bpm``, which is the tempo that was found, its half or its double.

    Raises:
        BadLoop: it is none of these, or no beat was found.
    """
    found = loop.tempo_bpm
    if found is None:
        raise BadLoop(f"--bpm {bpm:g}: no beat was found in this loop; leave --bpm out")
    for factor in FACTORS:
        if abs(bpm / (found * factor) - 1.0) < _TEMPO_TOLERANCE:
            return counted_at(loop, factor)
    raise BadLoop(
        f"--bpm {bpm:g}: {found:.1f} BPM was found; give that, {found / 2:.1f} or {found * 2:.1f}"
    )


def list_loops(shelf: LoopShelf, text: PlainText) -> None:
    """One line a loop; a damaged one says so and hides no other."""
    own = shelf.own_names()
    for name in shelf.names():
        try:
            loop = shelf.get(name)
        except BadLoop as error:
            text.say(f"{name}: damaged. {error}")
            continue
        whose = "your own" if name in own else "demo"
        text.say(f"{name}: {loop.title}, {whose}, {loop_words(loop)}")


def show_loop(shelf: LoopShelf, called: str, text: PlainText) -> None:
    """What is in a loop, by its name or title, and the smallest problems to be heard on it.

    Raises:
        BadLoop: there is no such loop, or it is damaged.
    """
    name = shelf.named(called)
    loop = shelf.get(name)
    text.say(
        f"{loop.title} ({name}), {loop.style or 'no style given'}",
        f"Length: {loop_words(loop)}",
        f"Loudness: {_loudness(loop)}",
        f"Tracks: {', '.join(track.name for track in loop.tracks)}",
        "Passages: "
        + ", ".join(
            f"{passage.name} ({passage.start_frame / RATE_HZ:.1f} to "
            f"{passage.stop_frame / RATE_HZ:.1f} s)"
            for passage in loop.passages
        ),
        "",
    )
    with _progress_bar("listening") as tell:
        table = table_of(loop, tables_folder(), tell)
    text.say(*_askable_lines(loop, table))


def remove_loop(shelf: LoopShelf, called: str, text: PlainText) -> None:
    """Takes an own loop, by its name or title, off the shelf; nothing is deleted.

    Raises:
        BadLoop: it is not one of the learner's own, or it cannot be moved.
    """
    name = shelf.named(called)
    folder = shelf.remove(name)
    text.say(f"'{name}' is off the shelf; it lies in {folder}, and old answers still find it.")


def _choose_by_ear(choices: LoopChoices, text: PlainText, sound: TerminalSound) -> Loop | None:
    """Plays one after the other until one is kept; None when the learner leaves."""
    number = 1
    text.say(f"Volume {volume_words(sound.playhead.volume_db)}.")
    try:
        while True:
            line = text.ask(
                f"1 to {choices.count} plays one, s stops, + or - volume, "
                f"Enter keeps number {number}, q leaves"
            )
            text.say(*sound.notices())
            if line is None:
                return None
            try:
                if line.strip().isdecimal():
                    number = _hear_number(choices, sound, int(line), number)
                    continue
                typed = read_command(line)
                if typed is Command.QUIT:
                    return None
                if typed is Command.GO_ON:
                    return choices.loop(number)
                if isinstance(typed, VolumeSteps):
                    text.say(f"Volume {volume_words(sound.step_volume(typed.steps))}.")
                elif isinstance(typed, Wait):
                    sound.wait(typed.seconds)
                elif typed is Command.PLAY_OR_STOP and sound.playhead.frames:
                    sound.play_or_stop()
            except (NotUnderstood, NoAudioDevice) as error:
                text.say(str(error))
    finally:
        sound.close()


def _hear_number(choices: LoopChoices, sound: TerminalSound, wanted: int, number: int) -> int:
    """Sounds candidate ``wanted``; the number that is chosen now."""
    if not 1 <= wanted <= choices.count:
        raise NotUnderstood(f"There are 1 to {choices.count}.")
    sound.playhead.load({str(wanted): loop_sounds(choices.loop(wanted))[MIX]})
    sound.hear(str(wanted))
    return wanted


def _loudness(loop: Loop) -> str:
    from exercises.loudness import loudness_lufs

    parts = [("whole mix", loop.mix())]
    if len(loop.tracks) > 1:
        parts += [(track.name, track.samples) for track in loop.tracks]
    return ", ".join(f"{name} {loudness_lufs(samples):.1f} LUFS" for name, samples in parts)


def _askable_lines(loop: Loop, table: AskableTable) -> Iterator[str]:
    """The smallest size of each problem: a table for the whole mix, lines for the tracks."""
    tones = (Kind.TOO_MUCH, Kind.TOO_LITTLE)
    yield "Smallest sizes that can be heard on the whole mix, in dB, at a band's hardest place."
    yield f"{'band':<10}" + "".join(f"{kind:>12}" for kind in tones)
    for band in BANDS:
        sizes_db = [table.smallest_db(None, False, kind, band.index) for kind in tones]
        yield f"{band.name:<10}" + "".join(f"{size_words(size_db):>12}" for size_db in sizes_db)
    for kind in _WITHOUT_A_PLACE:
        yield f"{kind:<10}{size_words(table.smallest_db(None, False, kind)):>12}"
    yield f"never: not even at {LARGEST_ASKED_DB:.0f} dB. What cannot be heard is not asked."
    if len(loop.tracks) == 1:
        return
    for track in loop.tracks:
        for alone, where in ((False, "in the mix"), (True, "alone")):
            for kind in tones:
                sizes = ", ".join(
                    f"{band.name} "
                    f"{size_words(table.smallest_db(track.name, alone, kind, band.index))}"
                    for band in BANDS
                )
                yield f"On {track.name} {where}, {kind}: {sizes}."


@contextmanager
def _progress_bar(doing: str) -> Iterator[Callable[[float], None]]:
    """A bar on standard error, where that is a terminal; told the share that is done."""
    from tqdm import tqdm

    bar_format = "{desc} {bar} {percentage:3.0f} %"
    with tqdm(
        total=1.0, desc=doing, file=sys.stderr, disable=None, leave=False, bar_format=bar_format
    ) as bar:

        def tell(share: float) -> None:
            bar.update(share - bar.n)

        yield tell
