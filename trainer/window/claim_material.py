"""What a claim is on, as its form has it: a loop or a file, the whole or a track, all or a part."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from exercises.audio_handle import shown_name
from exercises.errors import NamefirstError
from exercises.loops import WHOLE_MIX, Loop, Passage
from exercises.samples import RATE_HZ
from exercises.stretch import WHOLE_UP_TO_S, Asked, is_a_stretch
from trainer.clock_time import read_from_to
from trainer.window.desk import Desk
from trainer.window.loop_list import LoopLine, loop_lines

ALL_OF_IT: Final = "all of it"
OF_A_FILE: Final = f"its most marked eight seconds (all, up to {WHOLE_UP_TO_S:.0f} s)"


class ClaimMaterial:
    """A file that was dropped or pasted comes before the loops of the shelf."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lines = loop_lines(desk.shelf)
        self._loops: dict[str, Loop | None] = {}
        self._file: Path | None = None
        self._on = self._track = self._part = 0
        self.typed_part = ""

    def open(self, path: Path) -> None:
        """Takes a file or a folder of tracks."""
        self._file = path
        self._on = 0
        self._begin()

    def step_on(self, step: int) -> None:
        """Another loop; the choices that depend on it begin anew."""
        self._on = (self._on + step) % (len(self._lines) + (self._file is not None))
        self._begin()

    def step_track(self, step: int) -> None:
        """Another track."""
        self._track = (self._track + step) % len(self._tracks)

    def step_part(self, step: int) -> None:
        """Another passage."""
        self.typed_part = ""
        self._part = (self._part + step) % (1 + len(self._passages))

    @property
    def on(self) -> Path | str:
        """A path, or a loop's name."""
        return self._here if isinstance(self._here, Path) else self._here.name

    @property
    def on_words(self) -> str:
        """The file's name, or the loop's title."""
        return shown_name(self._here) if isinstance(self._here, Path) else self._here.title

    @property
    def track_words(self) -> str:
        """The track, or that it is the whole mix."""
        return self._tracks[self._track]

    @property
    def part_words(self) -> str:
        """The passage, or what else is taken of it."""
        if self.typed_part:
            return f"{self.typed_part}, in seconds or as 0:30-0:38"
        if isinstance(self._here, Path):
            return OF_A_FILE
        return ALL_OF_IT if self._part == 0 else self._passages[self._part - 1].name

    @property
    def part_understood(self) -> bool:
        """Whether what was typed, if anything was, is a stretch that can be taken."""
        bounds = read_from_to(self.typed_part)
        return not self.typed_part if bounds is None else is_a_stretch(*bounds)

    @property
    def asked(self) -> Asked:
        """The track and the stretch."""
        track = None if self.track_words == WHOLE_MIX else self.track_words
        if self.typed_part:
            bounds = read_from_to(self.typed_part)
            return Asked(track) if bounds is None else Asked(track, *bounds)
        if self._part == 0:
            return Asked(track)
        return Asked(track, *_bounds_s(self._passages[self._part - 1]))

    def state(self) -> object:
        """Something that differs whenever what is chosen does."""
        return self._file, self._on, self._track, self._part, self.typed_part

    def _begin(self) -> None:
        self._track = self._part = 0
        self.typed_part = ""

    @property
    def _here(self) -> Path | LoopLine:
        """The file, or the line of the loop."""
        if self._file is None:
            return self._lines[self._on]
        return self._file if self._on == 0 else self._lines[self._on - 1]

    @property
    def _tracks(self) -> tuple[str, ...]:
        loop = self._loop
        names = () if loop is None else tuple(track.name for track in loop.tracks)
        return (WHOLE_MIX, *names) if len(names) > 1 else (WHOLE_MIX,)

    @property
    def _passages(self) -> tuple[Passage, ...]:
        """Those that are long enough."""
        loop = self._loop
        if loop is None or len(loop.passages) < 2:
            return ()
        return tuple(each for each in loop.passages if is_a_stretch(*_bounds_s(each)))

    @property
    def _loop(self) -> Loop | None:
        """The loop, read once; None for a file, and where it is damaged, which is said."""
        if isinstance(self._here, Path):
            return None
        name = self._here.name
        if name not in self._loops:
            self._loops[name] = None
            try:
                self._loops[name] = self._desk.shelf.get(name)
            except NamefirstError as error:
                self._desk.say(str(error))
        return self._loops[name]


def _bounds_s(passage: Passage) -> tuple[float, float]:
    """Start and end in seconds."""
    return passage.start_frame / RATE_HZ, passage.stop_frame / RATE_HZ
