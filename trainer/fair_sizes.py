"""How small a problem may be on each loop of a shelf, so that no unfair question is asked.

The ear's view of a loop, or of one track of it in the mix, takes a moment to work out and is kept
in memory for the latest ones. This module loads what is slow to import, so import it behind the
first screen.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from functools import lru_cache
from threading import Lock
from typing import Final

from exercises.audibility import askable, smallest_askable_db, smallest_askable_sizes_db
from exercises.heard import HeardLoop, ear_of
from exercises.kinds import Kind
from exercises.problems import Problem
from exercises.question import Place
from exercises.recipe import Recipe
from trainer.loop_shelf import LoopShelf
from trainer.planner import Parts

_KEPT: Final = 24


@lru_cache(maxsize=1)
def fair_sizes_of(shelf: LoopShelf) -> FairSizes:
    """The one that the drill and Study share, so that neither measures what the other has."""
    return FairSizes(shelf)


class FairSizes:
    """What can be heard on each loop (``planner.Fairness``); safe to use from several threads."""

    def __init__(self, shelf: LoopShelf) -> None:
        self._shelf = shelf
        self._ears: OrderedDict[tuple[str, int, str | None], HeardLoop] = OrderedDict()
        self._parts: dict[tuple[str, int], Parts] = {}
        self._lock = Lock()

    def __call__(self, loop: str, kind: Kind, freq_hz: float | None) -> float | None:
        """Smallest size in dB on the whole mix of ``loop``, None if none (or 12 dB cannot)."""
        return smallest_askable_db(self._ear(loop, None), kind, freq_hz)

    def parts(self, loop: str) -> Parts:
        """Names of the loop's tracks and passages.

        Raises:
            BadLoop: there is no such loop, or it is damaged.
        """
        key = loop, self._shelf.stamp(loop)
        if key not in self._parts:
            got = self._shelf.get(loop)
            tracks, passages = (tuple(part.name for part in x) for x in (got.tracks, got.passages))
            self._parts[key] = Parts(tracks, passages)
        return self._parts[key]

    def smallest_db(
        self, loop: str, place: Place, problems: Sequence[Problem], given: Sequence[Problem] = ()
    ) -> Sequence[float | None]:
        """Smallest size of each of ``problems``, of one family, at ``place`` and beside ``given``;
        None where 12 dB cannot be heard."""
        ear = self._ear(loop, place.track)
        return smallest_askable_sizes_db(ear, problems, place.passage, given)

    def askable(self, recipe: Recipe) -> bool:
        """Whether a finished recipe is fair to ask."""
        return askable(self._ear(recipe.loop, recipe.track), recipe)

    def _ear(self, name: str, track: str | None) -> HeardLoop:
        key = name, self._shelf.stamp(name), track
        with self._lock:
            if key not in self._ears:
                self._ears[key] = ear_of(self._shelf.get(name), track)
                if len(self._ears) > _KEPT:
                    self._ears.popitem(last=False)
            self._ears.move_to_end(key)
            return self._ears[key]
