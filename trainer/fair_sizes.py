"""How small a problem may be on each loop of a shelf, so that no unfair question is asked.

The ear's view of a loop takes a moment to work out and is kept in memory for the latest loops.
This module loads what is slow to import, so import it behind the first screen.
"""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock
from typing import Final

from exercises.audibility import smallest_askable_db
from exercises.heard import HeardLoop, ear_of
from exercises.kinds import Kind
from trainer.loop_shelf import LoopShelf

_KEPT: Final = 24


class FairSizes:
    """Smallest askable sizes on the whole mix of each loop; safe to use from several threads."""

    def __init__(self, shelf: LoopShelf) -> None:
        self._shelf = shelf
        self._heard: OrderedDict[str, HeardLoop] = OrderedDict()
        self._lock = Lock()

    def __call__(self, loop: str, kind: Kind, freq_hz: float | None) -> float | None:
        """Smallest size in dB that can be heard on ``loop``, None if none can (or 12 dB cannot)."""
        return smallest_askable_db(self._ear(loop), kind, freq_hz)

    def _ear(self, name: str) -> HeardLoop:
        with self._lock:
            if name not in self._heard:
                self._heard[name] = ear_of(self._shelf.get(name))
                if len(self._heard) > _KEPT:
                    self._heard.popitem(last=False)
            self._heard.move_to_end(name)
            return self._heard[name]
