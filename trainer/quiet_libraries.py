"""What C libraries print on standard error while they look for a device, kept off the screen."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator


@contextlib.contextmanager
def quiet_libraries() -> Iterator[None]:
    """Nothing reaches standard error within (ALSA would print a page, a screen's library a line):
    what failed is told by the exception."""
    try:
        kept = os.dup(2)
    except OSError:  # there is no standard error, as under pythonw
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(nowhere)
        os.close(kept)
