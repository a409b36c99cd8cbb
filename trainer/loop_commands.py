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

from exercises.audio_handle import shown_name
from exercises.bands import BANDS
from exercises.errors import BadLoop
from exercises.kinds import TONE, Kind
from exercises.loop_search import Candidate
from exercises.loops import Loop, read_loop
from exercises.own_loop import Material, loop_from_file, make_loop, survey
from exercises.samples import RATE_HZ
from trainer.loop_shelf import LoopShelf
from trainer.plain_text import PlainText
from trainer.player import NoAudioDevice
from trainer.skills import SKILLS
from trainer.terminal_sound import TerminalSound
from trainer.typed_answer import Command, NotUnderstood, VolumeSteps, Wait, read_line
from trainer.words import volume_words

_ASKED: Final = {kind for skill in SKILLS for kind in skill.kinds}
_WITHOUT_A_PLACE: Final = tuple(kind for kind in Kind if kind in _ASKED - TONE)


def loop_of_file(shelf: LoopShelf, path: Path, text: PlainText) -> str:
    """The name of the best loop of an audio file, put on the shelf unless it is there already.

    Raises:
        BadAudio, BadLoop: no loop can be made of it, or it cannot be written.
    """
    with _progress_bar("searching") as tell:
        loop = loop_from_file(path, tell)
    known = _name_on_shelf(shelf, loop)
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
    silent: bool,
) -> None:
    """Makes a loop of a file, or a folder of tracks, and puts it on the shelf.

    ``number`` (from 1) takes that candidate without asking.

    Raises:
        BadAudio, BadLoop: no loop can be made of it, or it cannot be written.
    """
    if (path / "loop.toml").is_file():
        loop: Loop | None = read_loop(path)
    else:
        with _progress_bar("searching") as tell:
            material = survey(path, progress=tell)
        text.say(*material.notes, *_found_lines(material))
        choices = _Choices(material, title)
        if number is None and text.by_hand and len(material.candidates) > 1:
            loop = _choose_by_ear(choices, text, TerminalSound(None, silent=silent))
        else:
            loop = choices.loop(1 if number is None else number)
    if loop is None:
        text.say("No loop was added.")
        return
    known = _name_on_shelf(shelf, loop)
    if known is not None:
        text.say(f"This loop is on the shelf already, as '{known}'.")
        return
    name = shelf.keep(loop)
    text.say(f"Added '{name}': {_described(loop)}. See: namefirst loops show {name}")


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
        text.say(f"{name}: {loop.title}, {whose}, {_described(loop)}")


def show_loop(shelf: LoopShelf, name: str, text: PlainText) -> None:
    """What is in a loop, and the smallest problems that can be heard on it.

    Raises:
        BadLoop: there is no such loop, or it is damaged.
    """
    loop = shelf.get(name)
    text.say(
        f"{loop.title} ({name}), {loop.style or 'no style given'}",
        f"Length: {_described(loop)}",
        f"Loudness: {_loudness(loop)}",
        f"Tracks: {', '.join(track.name for track in loop.tracks)}",
        "Passages: "
        + ", ".join(
            f"{passage.name} ({passage.start_frame / RATE_HZ:.1f} to "
            f"{passage.stop_frame / RATE_HZ:.1f} s)"
            for passage in loop.passages
        ),
        "",
        *_askable_lines(loop),
    )


def remove_loop(shelf: LoopShelf, name: str, text: PlainText) -> None:
    """Takes an own loop off the shelf; nothing is deleted.

    Raises:
        BadLoop: it is not one of the learner's own, or it cannot be moved.
    """
    folder = shelf.remove(name)
    text.say(f"'{name}' is off the shelf; it lies in {folder}, and old answers still find it.")


class _Choices:
    """The candidates of one material, each cut when it is first wanted."""

    def __init__(self, material: Material, title: str | None) -> None:
        self._material = material
        self._title = title
        self._cut: dict[int, Loop] = {}
        self.count = len(material.candidates)

    def loop(self, number: int) -> Loop:
        """The loop of candidate ``number``, from 1. Raises BadAudio: there is none."""
        if number not in self._cut:
            self._cut[number] = make_loop(self._material, number - 1, self._title)
        return self._cut[number]


def _choose_by_ear(choices: _Choices, text: PlainText, sound: TerminalSound) -> Loop | None:
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
                typed = read_line(line)
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


def _hear_number(choices: _Choices, sound: TerminalSound, wanted: int, number: int) -> int:
    """Sounds candidate ``wanted``; the number that is chosen now."""
    if not 1 <= wanted <= choices.count:
        raise NotUnderstood(f"There are 1 to {choices.count}.")
    sound.playhead.load({str(wanted): choices.loop(wanted).mix()})
    sound.hear(str(wanted))
    return wanted


def _name_on_shelf(shelf: LoopShelf, loop: Loop) -> str | None:
    """The name of the own loop that sounds exactly as ``loop`` does, likely names first."""
    for name in sorted(shelf.own_names(), key=lambda own: not own.startswith(loop.name)):
        try:
            if shelf.get(name).fingerprint == loop.fingerprint:
                return name
        except BadLoop:
            continue
    return None


def _found_lines(material: Material) -> Iterator[str]:
    count = len(material.candidates)
    tracks = len(material.files)
    what = shown_name(material.path) + (f", {tracks} tracks" if tracks > 1 else "")
    loops = "one loop" if count == 1 else f"{count} loops, the best first"
    yield f"{what}, {_minutes(material.seconds)}: {loops}."
    for number, candidate in enumerate(material.candidates, start=1):
        yield f"{number}. {_candidate_words(candidate)}"


def _candidate_words(candidate: Candidate) -> str:
    reasons = candidate.reasons
    at = _minutes(candidate.start_frame / RATE_HZ)
    beat = "no beat"
    if candidate.tempo_bpm is not None:
        bars = "" if candidate.bars is None else f"{candidate.bars} bars at "
        beat = f"{bars}{candidate.tempo_bpm:.1f} BPM"
    if candidate.whole:
        return f"The whole file, {candidate.seconds:.1f} s, {beat}: it is a loop already."
    return (
        f"From {at}, {candidate.seconds:.1f} s, {beat}: seam {reasons.seam_db:.1f} dB, energy in "
        f"{reasons.bands} of 10 bands, {reasons.level_db:+.1f} dB against the loud parts, "
        f"halves {reasons.unevenness_db:.1f} dB apart."
    )


def _described(loop: Loop) -> str:
    beat = ""
    if loop.tempo_bpm is not None:
        bars = "" if loop.bars is None else f"{loop.bars} bars of {loop.beats_per_bar} beats at "
        beat = f", {bars}{loop.tempo_bpm:.4g} BPM"
    tracks = "1 track" if len(loop.tracks) == 1 else f"{len(loop.tracks)} tracks"
    return f"{loop.seconds:.1f} s{beat}, {tracks}"


def _minutes(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"


def _loudness(loop: Loop) -> str:
    from exercises.loudness import loudness_lufs

    parts = [("whole mix", loop.mix())]
    if len(loop.tracks) > 1:
        parts += [(track.name, track.samples) for track in loop.tracks]
    return ", ".join(f"{name} {loudness_lufs(samples):.1f} LUFS" for name, samples in parts)


def _askable_lines(loop: Loop) -> Iterator[str]:
    """The smallest size of each problem on the whole mix, as a table of text."""
    from exercises.audibility import LARGEST_ASKED_DB, smallest_askable_db
    from exercises.heard import ear_of

    ear = ear_of(loop)
    tones = (Kind.TOO_MUCH, Kind.TOO_LITTLE)
    yield "Smallest sizes that can be heard on the whole mix, in dB; smaller ones are not asked."
    yield f"{'band':<10}" + "".join(f"{kind:>12}" for kind in tones)
    for band in BANDS:
        sizes_db = [smallest_askable_db(ear, kind, band.mid_hz) for kind in tones]
        yield f"{band.name:<10}" + "".join(f"{_size(size_db):>12}" for size_db in sizes_db)
    for kind in _WITHOUT_A_PLACE:
        yield f"{kind:<10}{_size(smallest_askable_db(ear, kind)):>12}"
    yield f"never: not even at {LARGEST_ASKED_DB:.0f} dB."


def _size(size_db: float | None) -> str:
    return "never" if size_db is None else f"{size_db:.2f}"


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
