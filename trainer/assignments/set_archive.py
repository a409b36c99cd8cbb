"""A set on disk: the TOML file by itself, or a zip of it with the teacher's own loops.

    set.toml                        the set
    loops/NAME/loop.toml            each own loop as a folder (see ``exercises.loops``)
    loops/NAME/01-drums.flac

The set's file lists every other file with its SHA-256. A zip holds these and nothing else: no
other path, no link, no entry twice, nothing that unpacks to more than it says. A loop is looked at
before it is decoded, for a minute of silence packs into nothing.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import stat
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Final

from exercises.samples import RATE_HZ
from trainer.assignments.practice_set import BadSet, LoopFile, PracticeSet, SetLoop
from trainer.assignments.set_file import (
    LARGEST_FILE_BYTES,
    PLAIN_FILE,
    PLAIN_NAME,
    read_set,
    set_text,
)
from trainer.assignments.strangers import Refused, read_toml, read_within

SET_NAME: Final = "set.toml"
LARGEST_ZIP_BYTES: Final = 200 * 1024 * 1024
LONGEST_LOOP_S: Final = 120
MOST_TRACKS: Final = 16
_LARGEST_DIRECTORY_BYTES: Final = 64 * 1024
_CHUNK: Final = 1024 * 1024
_END_BYTES: Final = 22
_ZIP64_BYTES: Final = 20
_DAY_ONE: Final = (1980, 1, 1, 0, 0, 0)
_SHAPE: Final = "a set's zip holds set.toml and loops/NAME/FILE alone; ask for the set again"


def is_zip(path: Path) -> bool:
    """Whether a set at ``path`` travels with loops, by its name."""
    return path.suffix.lower() == ".zip"


def own_loop_files(folder: Path) -> tuple[LoopFile, ...]:
    """The files of an own loop's folder, for the set's list.

    Raises:
        BadSet: it cannot be read, or a file's name cannot travel.
    """
    try:
        paths = sorted(path for path in folder.iterdir() if not path.name.startswith("."))
        for path in (folder, *paths):
            plain = PLAIN_NAME if path == folder else PLAIN_FILE
            if not plain.fullmatch(path.name):
                raise BadSet(f"{path}: this name cannot travel; add the loop again to rename it")
        return tuple(
            LoopFile(path.name, hashlib.sha256(path.read_bytes()).hexdigest()) for path in paths
        )
    except OSError as error:
        raise BadSet(f"{folder}: cannot be read ({error.strerror}); check the loop") from None


def write_set(made: PracticeSet, path: Path, own_loops: Path, *, force: bool = False) -> None:
    """Writes the set to ``path``, with the own loops from the folder ``own_loops``.

    Raises:
        BadSet: there is a file already (without ``force``), its ending does not fit, the set is
            too large, or the disk refuses; nothing is left half written.
    """
    wanted = ".zip" if made.own_loops else ".toml"
    if path.suffix.lower() != wanted:
        why = "own loops travel with it" if made.own_loops else "no own loops travel with it"
        raise BadSet(f"{path}: give it a name that ends with {wanted} ({why})")
    text = set_text(made).encode()
    if len(text) > LARGEST_FILE_BYTES:
        raise BadSet("the set is too large for its file; ask fewer questions")
    with fresh_file(path, force=force) as out:
        if not made.own_loops:
            out.write(text)
            return
        with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as packed:
            packed.writestr(zipfile.ZipInfo(SET_NAME, _DAY_ONE), text)
            for loop in made.own_loops:
                for file in loop.files:
                    data = (own_loops / loop.name / file.name).read_bytes()
                    packed.writestr(zipfile.ZipInfo(_inside(loop, file), _DAY_ONE), data)
        if out.tell() > LARGEST_ZIP_BYTES:
            raise BadSet(f"{path}: would be larger than {LARGEST_ZIP_BYTES:,} bytes; fewer loops")


@contextmanager
def fresh_file(path: Path, *, force: bool = False) -> Iterator[IO[bytes]]:
    """A file that appears at ``path`` whole or not at all; over one that is there by force alone.

    Raises:
        BadSet: there is something already, or the disk refuses.
    """
    if path.exists() and not (force and path.is_file()):
        raise BadSet(f"{path}: is already there; choose another name, or say --force")
    building: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=".building-", dir=path.parent)
        building = Path(name)
        with os.fdopen(handle, "w+b") as out:
            yield out
            out.flush()
            os.fsync(out.fileno())
        building.chmod(0o644)
        if force:
            building.replace(path)
        else:
            _appear(building, path)
    except OSError as error:
        raise BadSet(
            f"{path}: cannot be written ({error.strerror}); choose another place"
        ) from None
    finally:
        if building is not None:
            building.unlink(missing_ok=True)


def _appear(building: Path, path: Path) -> None:
    """Gives ``building`` its name, unless someone has taken that name since we looked."""
    try:
        os.link(building, path)
    except FileExistsError:
        raise BadSet(f"{path}: is already there; choose another name, or say --force") from None
    except OSError:  # a file system without links
        building.rename(path)


def read_set_file(path: Path) -> PracticeSet:
    """The set in a file or a zip.

    Raises:
        Refused: it is neither, or does not hold together.
    """
    if not is_zip(path):
        made = read_set(read_within(path, LARGEST_FILE_BYTES), str(path))
        if made.own_loops:
            raise Refused(f"{path}: its own loops travel in a zip; ask for that")
        return made
    with _opened(path) as packed:
        return _set_in(packed, path)


def unpack_loops(path: Path, folder: Path) -> None:
    """Unpacks the own loops of the zip at ``path`` into ``folder``; those that are there stay.

    Raises:
        Refused: a file is not what the set says, or no loop.
        BadSet: the disk refuses.
    """
    with _opened(path) as packed:
        made = _set_in(packed, path)
        for loop in made.own_loops:
            if (folder / loop.name).is_dir():
                continue
            try:
                _unpack(packed, path, loop, folder)
            except OSError as error:
                raise BadSet(
                    f"{folder}: cannot be written ({error.strerror}); make room first"
                ) from None


def _unpack(packed: zipfile.ZipFile, path: Path, loop: SetLoop, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    building = Path(tempfile.mkdtemp(prefix=".building-", dir=folder))
    try:
        for file in loop.files:
            _unpack_file(packed, path, loop, file, building)
        _check_loop(building, f"{path}, loop {loop.name}")
        building.chmod(0o755)
        building.rename(folder / loop.name)
    finally:
        shutil.rmtree(building, ignore_errors=True)


def _unpack_file(
    packed: zipfile.ZipFile, path: Path, loop: SetLoop, file: LoopFile, into: Path
) -> None:
    digest = hashlib.sha256()
    try:
        with packed.open(_inside(loop, file)) as source, (into / file.name).open("xb") as out:
            while chunk := source.read(_CHUNK):
                digest.update(chunk)
                out.write(chunk)
    except (zipfile.BadZipFile, NotImplementedError, EOFError, ValueError, RuntimeError) as error:
        raise Refused(f"{path}: {file.name} is damaged ({error}); ask for the set again") from None
    if digest.hexdigest() != file.sha256:
        raise Refused(f"{path}: {file.name} is not what the set says; ask for the set again")


def _check_loop(folder: Path, where: str) -> None:
    """Refuses a loop that would be slow or large to read, before it is read."""
    import soundfile

    described = folder / "loop.toml"
    if not described.is_file():
        raise Refused(f"{where}: has no loop.toml; ask for the set again")
    fields = read_toml(read_within(described, LARGEST_FILE_BYTES), f"{where}, loop.toml")
    tracks = fields.tables("track", MOST_TRACKS)
    if not tracks:
        fields.refuse("track", "is missing; a loop has one or more")
    for track in tracks:
        name = track.text("file", 65)
        if not PLAIN_FILE.fullmatch(name) or not (folder / name).is_file():
            track.refuse("file", "is none that travels with the set")
        try:
            found = soundfile.info(str(folder / name))
        except (OSError, RuntimeError, ValueError, TypeError):
            track.refuse("file", "is no audio file")
        if (found.format, found.samplerate) != ("FLAC", RATE_HZ) or found.channels > 2:
            track.refuse("file", f"is no mono or stereo FLAC at {RATE_HZ} Hz")
        if not 0 < found.frames <= LONGEST_LOOP_S * RATE_HZ:
            track.refuse("file", f"is longer than {LONGEST_LOOP_S} s, or empty")


@contextmanager
def _opened(path: Path) -> Iterator[zipfile.ZipFile]:
    """The zip at ``path``, its list of contents checked."""
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode) or not _END_BYTES <= found.st_size <= LARGEST_ZIP_BYTES:
            raise Refused(
                f"{path}: is no zip of at most {LARGEST_ZIP_BYTES:,} bytes; choose another file"
            )
        with path.open("rb") as source:
            _check_end(source, path, found.st_size)
            with zipfile.ZipFile(source) as packed:
                _check_entries(packed, path)
                yield packed
    except (zipfile.BadZipFile, NotImplementedError, ValueError, EOFError) as error:
        raise Refused(f"{path}: is no zip, or damaged ({error}); ask for it again") from None
    except OSError as error:
        raise Refused(f"{path}: cannot be read ({error.strerror}); check it") from None


def _check_end(source: IO[bytes], path: Path, size: int) -> None:
    """``zipfile`` reads a zip's whole directory into memory: its length is looked at first."""
    reach = min(size, _END_BYTES + _ZIP64_BYTES)
    source.seek(size - reach)
    tail = source.read(reach)
    end = tail[-_END_BYTES:]
    if end[:4] != b"PK\x05\x06" or tail[:-_END_BYTES].startswith(b"PK\x06\x07"):
        raise Refused(f"{path}: is no plain zip (cut off, commented or zip64); zip it again")
    if int.from_bytes(end[12:16], "little") > _LARGEST_DIRECTORY_BYTES:
        raise Refused(f"{path}: lists too many files; {_SHAPE}")
    source.seek(0)


def _check_entries(packed: zipfile.ZipFile, path: Path) -> None:
    names = [entry.filename for entry in packed.infolist()]
    if len(set(names)) != len(names):
        raise Refused(f"{path}: holds a file twice; {_SHAPE}")
    if SET_NAME not in names:
        raise Refused(f"{path}: holds no {SET_NAME}; {_SHAPE}")
    for entry in packed.infolist():
        plain = entry.compress_type in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if not plain or entry.flag_bits & 1 or kind not in (0, stat.S_IFREG):
            raise Refused(f"{path}: holds a link, a folder or a locked file; {_SHAPE}")
    if sum(entry.file_size for entry in packed.infolist()) > LARGEST_ZIP_BYTES:
        raise Refused(f"{path}: unpacks to more than {LARGEST_ZIP_BYTES:,} bytes; {_SHAPE}")


def _set_in(packed: zipfile.ZipFile, path: Path) -> PracticeSet:
    if packed.getinfo(SET_NAME).file_size > LARGEST_FILE_BYTES:
        raise Refused(f"{path}: its {SET_NAME} is too large; ask for the set again")
    try:
        data = packed.read(SET_NAME)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError) as error:
        raise Refused(f"{path}: is damaged ({error}); ask for the set again") from None
    made = read_set(data, f"{path}, {SET_NAME}")
    listed = {_inside(loop, file) for loop in made.own_loops for file in loop.files}
    if {*packed.namelist()} != {SET_NAME, *listed}:
        raise Refused(f"{path}: does not hold the files that the set lists; {_SHAPE}")
    return made


def _inside(loop: SetLoop, file: LoopFile) -> str:
    return f"loops/{loop.name}/{file.name}"
