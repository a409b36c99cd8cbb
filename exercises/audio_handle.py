"""Opening an audio file: only a regular one, by a handle and never by name.

A name that is not UTF-8, or that ends in .raw, confuses the decoder, and a named pipe would block.
Decoding is libsndfile's, by way of soundfile.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO, Final

from exercises.errors import BadAudio

_LONGEST_NAME: Final = 80


def shown_name(path: Path | str) -> str:
    """The file's name as it can be printed: one line, at most 80 characters, always valid text."""
    name = os.fsencode(Path(path).name or str(path)).decode("utf-8", "replace")
    name = "".join(char if char.isprintable() else "\N{REPLACEMENT CHARACTER}" for char in name)
    half = _LONGEST_NAME // 2
    return name if len(name) <= _LONGEST_NAME else f"{name[: half - 1]}…{name[-half:]}"


@contextmanager
def open_regular_file(path: Path) -> Iterator[BinaryIO]:
    """The file, open for reading its bytes; closed at the end of the ``with``.

    Raises:
        BadAudio: it is missing, locked, a folder, a pipe or a device.
    """
    shown = shown_name(path)
    # Without O_NONBLOCK, opening a named pipe would wait for someone to write to it.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        if path.is_dir():
            raise BadAudio(f"{shown}: a folder; choose an audio file in it")
        descriptor = os.open(path, flags)
    except FileNotFoundError:
        raise BadAudio(f"{shown}: no such file; check the path") from None
    except PermissionError:
        raise BadAudio(f"{shown}: may not be read; change its permissions") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise BadAudio(f"{shown}: cannot be opened ({reason}); check the path") from None
    with open(descriptor, "rb") as handle:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            raise BadAudio(f"{shown}: a pipe or a device; choose an ordinary file")
        yield handle


def open_decoder(path: Path, handle: BinaryIO) -> Any:
    """A soundfile.SoundFile on ``handle``, to be read from front to back; the caller closes it.

    Raises:
        BadAudio: libsndfile does not know it for audio.
    """
    import soundfile

    class FrontToBack(soundfile.SoundFile):  # type: ignore[misc]
        """soundfile without its seek after each read, which makes FLAC and MP3 decode twice."""

        def seekable(self) -> bool:
            return False

    try:
        return FrontToBack(_NamelessHandle(handle))
    except (OSError, RuntimeError, ValueError, TypeError):
        shown = shown_name(path)
        if os.fstat(handle.fileno()).st_size == 0:
            raise BadAudio(f"{shown}: empty; export it again") from None
        raise BadAudio(
            f"{shown}: not audio, or damaged; give a WAV, AIFF, FLAC, OGG or MP3 file"
        ) from None


class _NamelessHandle:
    """The three calls that libsndfile makes on a file, none of which raises.

    An exception inside a callback would be printed and passed over; and without a ``name``
    soundfile does not guess the format from it.
    """

    def __init__(self, handle: BinaryIO) -> None:
        self.tell: Callable[[], int] = handle.tell
        self._handle = handle

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        """Move, or stay where that cannot be; where the handle then stands."""
        try:
            return self._handle.seek(offset, whence)
        except (OSError, ValueError, OverflowError):
            return self._handle.tell()

    def readinto(self, buffer: Any) -> int:
        """Fill ``buffer``; how many bytes came, 0 at the end or after a fault of the disk."""
        try:
            return int(self._handle.readinto(buffer))  # type: ignore[attr-defined]
        except OSError:
            return 0
