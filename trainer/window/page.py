"""What every page does alike: its keys stand along the bottom, and a change of what it shows shows.

A page says what can change of it (``_state``) and draws all but the keys (``_draw``).
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from typing import Final

import pygame

from trainer.window.canvas import Canvas
from trainer.window.frame import Screen, draw_keys
from trainer.window.keys import KeyWords

_NEVER: Final = object()


class Page(ABC):
    """A ``Screen`` that lacks its title, its keys and what they do, and what it looks like."""

    _shown: object = _NEVER

    @property
    @abstractmethod
    def title(self) -> str:
        """What the window's title says of it."""

    @property
    @abstractmethod
    def keys(self) -> Sequence[KeyWords]:
        """The keys that stand along the bottom, and what they do."""

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        """Every key, for the ``?`` page: those along the bottom, unless there are more."""
        return self.keys

    @abstractmethod
    def key(self, event: pygame.event.Event) -> Screen | None:
        """Takes a key press; gives the screen to show next (None: leave the program)."""

    def tick(self) -> Screen | None:
        """Called between events; gives the screen to show next."""
        return self

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        """Draws what moves; gives the changed pixels: none, unless something does."""
        return []

    @property
    def drawn(self) -> bool:
        """Whether it was ever on the screen: what takes long can wait until then."""
        return self._shown is not _NEVER

    @property
    def stale(self) -> bool:
        """Whether what it shows is other than what it was drawn with."""
        return self._shown != self._state()

    def draw(self, canvas: Canvas) -> None:
        """Draws everything on a cleared canvas."""
        self._shown = self._state()
        self._draw(canvas)
        draw_keys(canvas, self.keys)

    def _state(self) -> object:
        """All that it shows and that can change while it is up, to be compared."""
        return None

    @abstractmethod
    def _draw(self, canvas: Canvas) -> None:
        """Draws everything but the keys."""
