"""The loops that were found in a file or folder, to be heard and one of them kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from exercises.audio_handle import shown_name
from exercises.errors import BadLoop
from exercises.loops import Loop, read_loop
from exercises.own_loop import Material, Progress, make_loop, survey
from trainer.loop_words import candidate_words, loop_words, minutes_words, reason_words


@dataclass(frozen=True, slots=True)
class LoopChoices:
    """What was found, the best first: for each where it is and why it is good, in ``words``.

    ``heading`` says what it was found in; ``notes`` what was odd about that; ``tempos_bpm`` the
    tempo of each, None without a beat. A loop is cut when it is first wanted.
    """

    heading: str
    notes: tuple[str, ...]
    words: tuple[tuple[str, str], ...]
    tempos_bpm: tuple[float | None, ...]
    cut: Callable[[int], Loop]
    _cut_before: dict[int, Loop] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.words)

    def loop(self, number: int) -> Loop:
        """The loop of choice ``number``, from 1.

        Raises:
            BadLoop: there is none of that number.
            BadAudio: the files have changed.
        """
        if not 1 <= number <= self.count:
            raise BadLoop(f"no loop number {number}; give 1 to {self.count}")
        if number not in self._cut_before:
            self._cut_before[number] = self.cut(number)
        return self._cut_before[number]


def choices_in(
    path: Path, title: str | None = None, progress: Progress | None = None
) -> LoopChoices:
    """What would loop in a file or a folder of tracks; a folder with a loop.toml is one already.

    ``progress`` is told the share that is done, 0 to 1, and may raise to give up.

    Raises:
        BadAudio: no loop can be made of it.
        BadLoop: its loop.toml is damaged.
    """
    if (path / "loop.toml").is_file():
        loop = read_loop(path)
        loop = loop if title is None else replace(loop, title=title)
        words = (f"{loop.title}, {loop_words(loop)}", "it is a loop already.")
        heading = f"{shown_name(path)}: one loop."
        return LoopChoices(heading, (), (words,), (loop.tempo_bpm,), lambda _number: loop)
    return choices_of(survey(path, progress=progress), title)


def choices_of(material: Material, title: str | None = None) -> LoopChoices:
    """What was found in ``material``; a loop is called ``title``, or else after its file."""
    count, tracks = len(material.candidates), len(material.files)
    what = shown_name(material.path) + (f", {tracks} tracks" if tracks > 1 else "")
    loops = "one loop" if count == 1 else f"{count} loops, the best first"
    return LoopChoices(
        f"{what}, {minutes_words(material.seconds)}: {loops}.",
        material.notes,
        tuple((candidate_words(each), reason_words(each)) for each in material.candidates),
        tuple(candidate.tempo_bpm for candidate in material.candidates),
        lambda number: make_loop(material, number - 1, title),
    )
