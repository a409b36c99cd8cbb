"""The learner's own loops, kept as folders beside the record, and the demo loops behind them.

An own loop and a demo loop are got by name alike. Nothing is ever deleted: a removed loop moves to
the folder ``removed``, and old questions that were made from it can still be played.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import replace
from pathlib import Path
from threading import Lock
from typing import Final

from exercises.demo_loops import assets_folder, demo_loop, demo_loop_names
from exercises.errors import BadLoop
from exercises.loop_outline import LoopOutline, read_outline
from exercises.loop_search import Candidate
from exercises.loop_writing import slug, write_loop
from exercises.loops import Loop, read_loop
from exercises.own_loop import Material, Progress, make_loop, survey

_REMOVED: Final = "removed"
# Names that Windows keeps for devices, and our own.
_TAKEN: Final = frozenset((_REMOVED, "con", "prn", "aux", "nul"))
_KEPT_IN_MEMORY: Final = 6


class LoopShelf:
    """Loops by name: those in ``folder``, which need not exist yet, and the demo loops.

    Safe to use from several threads of one program.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._memory: OrderedDict[tuple[Path, int], Loop] = OrderedDict()
        self._lock = Lock()

    def own_names(self) -> tuple[str, ...]:
        """Names of the learner's own loops, sorted."""
        return _names_in(self.folder)

    def names(self) -> tuple[str, ...]:
        """All names: own loops first, then the demo loops."""
        return (*self.own_names(), *demo_loop_names())

    def named(self, called: str) -> str:
        """The name of the loop that is ``called`` so: by its name or, in either case, its title.

        Raises:
            BadLoop: there is none, or its title is that of another too.
        """
        names = self.names()
        if called in names:
            return called
        titled = [name for name in names if self.title(name).casefold() == called.casefold()]
        if not titled:
            raise BadLoop(f"no loop '{called}'; there are {', '.join(names)}")
        if len(titled) > 1:
            raise BadLoop(
                f"more than one loop is called '{called}'; give the name of one: "
                f"{', '.join(titled)}"
            )
        return titled[0]

    def get(self, name: str) -> Loop:
        """The loop called ``name``.

        Raises:
            BadLoop: there is none, or its folder is damaged.
        """
        if name in self.own_names():
            return self._read(self.folder / name)
        if name in demo_loop_names():
            return demo_loop(name)
        raise BadLoop(f"no loop '{name}'; there are {', '.join(self.names())}")

    def stamp(self, name: str) -> int:
        """What tells a loop from another that takes its name later: when its description was
        written, in ns; 0 for a demo loop."""
        try:
            return (self.folder / name / "loop.toml").stat().st_mtime_ns
        except OSError:
            return 0

    def outline(self, name: str) -> LoopOutline:
        """What the loop called ``name`` says of itself; its sound is not read.

        Raises:
            BadLoop: there is none, or its description is damaged.
        """
        if name in self.own_names():
            return read_outline(self.folder / name)
        return read_outline(assets_folder() / "loops" / name)

    def title(self, name: str) -> str:
        """What the loop called ``name`` is called to be read; its name where it is not at hand."""
        try:
            return self.outline(name).title
        except BadLoop:
            return name

    def holding(self, loop: Loop) -> str | None:
        """The name of the own loop that sounds exactly as ``loop`` does, likely names first."""
        for name in sorted(self.own_names(), key=lambda own: not own.startswith(loop.name)):
            try:
                if self.get(name).fingerprint == loop.fingerprint:
                    return name
            except BadLoop:
                continue
        return None

    def find(self, name: str, fingerprint: str) -> Loop:
        """The loop with ``fingerprint``: under ``name``, or another name, or among the removed.

        Raises:
            BadLoop: it is nowhere.
        """
        if name in self.names():
            loop = self.get(name)
            if loop.fingerprint == fingerprint:
                return loop
        removed = self.folder / _REMOVED
        folders = [self.folder / own for own in self.own_names() if own != name]
        folders += [removed / gone for gone in _names_in(removed)]
        for folder in folders:
            try:
                loop = self._read(folder)
            except BadLoop:
                continue
            if loop.fingerprint == fingerprint:
                return loop
        for demo in demo_loop_names():
            if demo != name and demo_loop(demo).fingerprint == fingerprint:
                return demo_loop(demo)
        raise BadLoop(
            f"loop '{name}' is not at hand as it was; add the file or folder again that it came of"
        )

    def candidates(self, path: Path, progress: Progress | None = None) -> tuple[Candidate, ...]:
        """The best loops in a file or a folder of tracks, best first.

        Raises:
            BadAudio: see ``own_loop.survey``.
        """
        return survey(path, progress=progress).candidates

    def add(
        self,
        path: Path,
        choice: int = 0,
        title: str | None = None,
        progress: Progress | None = None,
    ) -> str:
        """Search a file or folder, keep its loop number ``choice`` and give the new loop's name.

        A folder that is a loop already (it has a loop.toml) is taken as it is.

        Raises:
            BadAudio: no loop can be made of it, or it has no such choice.
            BadLoop: its loop.toml is damaged, or it cannot be written here.
        """
        if (path / "loop.toml").is_file():
            loop = read_loop(path)
            return self.keep(loop if title is None else replace(loop, title=title))
        return self.add_surveyed(survey(path, progress=progress), choice, title)

    def add_surveyed(self, material: Material, choice: int = 0, title: str | None = None) -> str:
        """Keep candidate ``choice`` of material that was searched before; its name.

        Raises:
            BadAudio, BadLoop: as ``add``.
        """
        return self.keep(make_loop(material, choice, title))

    def remove(self, name: str) -> Path:
        """Take an own loop off the shelf; where its folder lies now.

        Raises:
            BadLoop: it is a demo loop or none at all, or the disk refuses.
        """
        if name not in self.own_names():
            if name in demo_loop_names():
                raise BadLoop(f"'{name}' is a demo loop; only your own loops can be removed")
            known = ", ".join(self.own_names()) or "none"
            raise BadLoop(f"no loop '{name}' of your own; there are: {known}")
        removed = self.folder / _REMOVED
        folder = self.folder / name
        try:
            removed.mkdir(exist_ok=True)
            target = removed / _free_name(name, {entry.name for entry in removed.iterdir()})
            folder.rename(target)
        except OSError as error:
            raise BadLoop(
                f"loop '{name}' cannot be moved to {removed} ({error.strerror}); mend the rights"
            ) from None
        return target

    def keep(self, loop: Loop) -> str:
        """Put ``loop`` on the shelf under a free name made of its title, and give that name.

        Raises:
            BadLoop: it cannot be written here.
        """
        taken = {*_TAKEN, *self.names()}
        if self.folder.is_dir():
            taken |= {entry.name for entry in self.folder.iterdir()}
        name = _free_name(slug(loop.title), taken)
        write_loop(replace(loop, name=name), self.folder / name)
        return name

    def _read(self, folder: Path) -> Loop:
        try:
            # A folder whose description was changed, or that came back, is another loop.
            key = (folder, (folder / "loop.toml").stat().st_mtime_ns)
        except OSError:
            return read_loop(folder)
        with self._lock:
            if key in self._memory:
                self._memory.move_to_end(key)
                return self._memory[key]
        loop = read_loop(folder)
        with self._lock:
            self._memory[key] = loop
            while len(self._memory) > _KEPT_IN_MEMORY:
                self._memory.popitem(last=False)
        return loop


def _names_in(folder: Path) -> tuple[str, ...]:
    """Folders with a loop.toml, but for half-built ones, which begin with a dot."""
    found = (described.parent.name for described in folder.glob("*/loop.toml"))
    return tuple(sorted(name for name in found if not name.startswith(".")))


def _free_name(name: str, taken: set[str]) -> str:
    free, number = name, 2
    while free in taken:
        free, number = f"{name}-{number}", number + 1
    return free
