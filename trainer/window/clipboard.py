"""What lies in the clipboard, as far as a page that is told a path has a use for it."""

from __future__ import annotations

from typing import Final

import pygame

_TEXT: Final = "text/plain;charset=utf-8"  # the one type that pygame 2 has on SDL 2


def clipboard_line() -> str:
    """The first line of text in the clipboard; nothing where there is none."""
    if not pygame.scrap.get_init():
        pygame.scrap.init()
    text = (pygame.scrap.get(_TEXT) or b"").decode("utf-8", "replace").strip()
    return "".join(char for char in text.partition("\n")[0] if char.isprintable())
