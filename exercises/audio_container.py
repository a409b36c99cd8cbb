"""What a decoder passes over in silence: files cut short, and streams chained one after another.

libsndfile reads a WAV, AIFF or Ogg file that was cut off as if it were merely shorter, and of a
chained Ogg file only the first stream. Their outer layers tell: the size that a RIFF or FORM chunk
claims (Microsoft/IBM Multimedia Programming Interface 1.0; Apple AIFF 1.3), and the flags and
serial numbers of Ogg pages (RFC 3533, section 6).
"""

from __future__ import annotations

import os
from typing import BinaryIO, Final

_OGG_PAGE_HEADER: Final = 27
_LONGEST_OGG_PAGE: Final = 65_307  # RFC 3533
_LAST_PAGE: Final = 0x04
_UNKNOWN_SIZE: Final = 0xFFFF_FFFF  # written by recorders and pipes that cannot go back


def container_notes(handle: BinaryIO) -> tuple[str, ...]:
    """Sentences about what is missing of the open file; none when nothing is. Moves the handle."""
    size = handle.seek(0, os.SEEK_END)
    handle.seek(0)
    head = handle.read(_OGG_PAGE_HEADER)
    if head[:4] in (b"RIFF", b"FORM", b"RIFX"):
        order = "little" if head[:4] == b"RIFF" else "big"
        claimed = int.from_bytes(head[4:8], order)  # type: ignore[arg-type]
        missing = claimed + 8 - size
        # One byte may be the padding of an odd last chunk, which many writers leave out.
        if missing > 1 and claimed != _UNKNOWN_SIZE:
            return (f"cut short: {missing} of {claimed + 8} bytes are missing; read what is there",)
    if head[:4] == b"OggS":
        return _ogg_notes(handle, head, size)
    return ()


def _ogg_notes(handle: BinaryIO, head: bytes, size: int) -> tuple[str, ...]:
    start = max(0, size - 2 * _LONGEST_OGG_PAGE)
    handle.seek(start)
    tail = handle.read()
    page = tail[tail.rfind(b"OggS") :][:_OGG_PAGE_HEADER]
    if len(page) < _OGG_PAGE_HEADER or not page[5] & _LAST_PAGE:
        return ("cut short: its last page is missing; read what is there",)
    if page[14:18] != head[14:18]:
        return ("several streams one after another; only the first was read",)
    return ()
