"""Text in the clipboard of a virtual screen, as if another program had copied it."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from collections.abc import Iterator

# X11 keeps no text: whoever copied it hands it over when it is asked for, and must still be there.
_OWNER = """
import sys
import pygame
pygame.display.init()
pygame.display.set_mode((1, 1), pygame.HIDDEN)
pygame.scrap.init()
pygame.scrap.put("text/plain;charset=utf-8", sys.argv[1].encode())
print("copied", flush=True)
while True:
    pygame.event.wait(20)
"""


@contextlib.contextmanager
def copied(text: str, display: str) -> Iterator[None]:
    """``text`` lies in the clipboard of ``display`` for as long as the block lasts."""
    # A class of its own: the window under test is found by its class.
    own = {"DISPLAY": display, "SDL_VIDEODRIVER": "x11", "SDL_VIDEO_X11_WMCLASS": "clipboard"}
    owner = subprocess.Popen(
        [sys.executable, "-c", _OWNER, text],
        env=os.environ | own | {"PYGAME_HIDE_SUPPORT_PROMPT": "1"},
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert owner.stdout is not None
        assert owner.stdout.readline() == "copied\n"
        yield
    finally:
        owner.kill()
        owner.communicate()
