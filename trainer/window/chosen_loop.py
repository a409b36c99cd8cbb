"""The chosen loop: read in the background, heard whole or a track of it, and what is asked on it.

It knows keys by what they do, and nothing of how it is drawn (``chosen_loop_drawing``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from exercises.errors import NamefirstError
from exercises.loops import Loop
from exercises.samples import Samples
from trainer.backstage import Backstage
from trainer.home import tables_folder
from trainer.loop_shelf import LoopShelf
from trainer.watched_work import WatchedWork
from trainer.window.desk import Desk
from trainer.window.wave import Wave

if TYPE_CHECKING:
    from exercises.askable_table import AskableTable


@dataclass(frozen=True, slots=True)
class _ReadLoop:
    """A loop, its sounds, and its strip."""

    name: str
    loop: Loop
    sounds: dict[str, Samples]
    wave: Wave


class ChosenLoop:
    """One loop of the shelf at a time; another can be chosen while one is still being read."""

    def __init__(self, desk: Desk, name: str) -> None:
        self._desk = desk
        self._name = name
        self._track: int | None = None
        self._alone = True
        self._read: _ReadLoop | None = None
        self._reading: Backstage[_ReadLoop] = Backstage()
        self._being_read = ""
        self._wanted_to_play = False
        self._troubles: dict[str, str] = {}
        self._table: AskableTable | None = None
        self._working: WatchedWork[AskableTable] = WatchedWork()

    @property
    def loop(self) -> Loop | None:
        """The loop, once it has been read."""
        return None if self._fitting is None else self._fitting.loop

    @property
    def wave(self) -> Wave | None:
        """Its strip, once it has been read."""
        return None if self._fitting is None else self._fitting.wave

    @property
    def trouble(self) -> str | None:
        """Why it cannot be read, if it cannot."""
        return self._troubles.get(self._name)

    @property
    def track(self) -> str | None:
        """The track that is stepped to; None for all of them."""
        if self.loop is None or self._track is None:
            return None
        return self.loop.tracks[self._track].name

    @property
    def alone(self) -> bool:
        """Whether that track is heard by itself, and not in the mix."""
        return self._alone and self.track is not None

    @property
    def has_several_tracks(self) -> bool:
        """Whether there is a track to step to."""
        return self.loop is not None and len(self.loop.tracks) > 1

    @property
    def table(self) -> AskableTable | None:
        """What can be heard on it, once that has been worked out."""
        loop, table = self.loop, self._table
        if loop is None or table is None or table.fingerprint != loop.fingerprint:
            return None
        return table

    @property
    def share(self) -> float:
        """How much of that is worked out, 0 to 1."""
        return self._working.share

    @property
    def playing(self) -> bool:
        """Whether it sounds."""
        return self._desk.sound.playhead.playing

    @property
    def state(self) -> object:
        """All that can change of it, to be compared."""
        return (
            self._name,
            self._track,
            self._alone,
            self.loop is None,
            self.trouble,
            self.table is None,
            round(100 * self.share),
            self.playing,
        )

    def choose(self, name: str) -> None:
        """Another loop; all of it is heard first."""
        if name != self._name:
            self._name, self._track, self._alone = name, None, True
            self._wanted_to_play = False

    def step_track(self, step: int) -> None:
        """Sounds the track after (1) or before (-1); the whole mix comes between last and first."""
        if self.loop is None or not self.has_several_tracks:
            return
        at = 0 if self._track is None else self._track + 1
        at = (at + step) % (len(self.loop.tracks) + 1)
        self._track = None if at == 0 else at - 1
        self._hear()

    def turn_alone(self) -> None:
        """The track by itself, or in the mix again."""
        if self.track is not None:
            self._alone = not self._alone
            self._hear()

    def play(self) -> None:
        """Sounds it, as soon as it has been read."""
        if self.loop is None:
            self._wanted_to_play = True
        else:
            self._hear()

    def tick(self) -> None:
        """Takes what has been read or worked out, and begins what is to be."""
        if self._reading.ready:
            try:
                self._take(self._reading.take())
            except NamefirstError as error:
                self._troubles[self._being_read] = str(error)
        if self.loop is None and not self._reading.begun and self.trouble is None:
            self._being_read = self._name
            self._reading.begin(partial(_read_loop, self._desk.shelf, self._name))
        if self._working.ready:
            try:
                self._table = self._working.take()
            except NamefirstError as error:
                self._desk.say(str(error))

    def close(self) -> None:
        """Silence; what is under way is given up."""
        self._reading.close()
        self._working.give_up()
        self._desk.sound.playhead.stop()

    @property
    def _fitting(self) -> _ReadLoop | None:
        """What was read, if it is the chosen loop."""
        read = self._read
        return read if read is not None and read.name == self._name else None

    def _take(self, read: _ReadLoop) -> None:
        """Puts a loop under the playhead, if it is still the chosen one."""
        if read.name != self._name:
            return
        self._read = read
        self._desk.sound.take(read.sounds)
        if self._wanted_to_play:
            self._wanted_to_play = False
            self._hear()
        if self.table is None:
            self._working.begin(partial(_table_of, read.loop))

    def _hear(self) -> None:
        """Sounds the mix, or the track that is to be heard alone."""
        from trainer.loop_sounds import MIX, solo_of

        self._desk.sound.choose(solo_of(self._track or 0) if self.alone else MIX)


def _read_loop(shelf: LoopShelf, name: str) -> _ReadLoop:
    from trainer.loop_sounds import MIX, loop_sounds

    loop = shelf.get(name)
    sounds = loop_sounds(loop)
    return _ReadLoop(name, loop, sounds, Wave(sounds[MIX], loop.passages))


def _table_of(loop: Loop, tell: Callable[[float], None]) -> AskableTable:
    from trainer.kept_tables import table_of

    return table_of(loop, tables_folder(), tell)
