"""Work behind the curtain that tells how far it is, and that can be given up."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event
from typing import Generic, TypeVar

from trainer.backstage import Backstage

Made = TypeVar("Made")


class _GivenUp(Exception):
    """Ends work that nobody waits for any more, from within."""


class WatchedWork(Generic[Made]):
    """Makes one thing at a time; ``share`` of it is done, 0 to 1."""

    def __init__(self) -> None:
        self.share = 0.0
        self._backstage: Backstage[Made] = Backstage()
        self._stop = Event()

    def begin(self, make: Callable[[Callable[[float], None]], Made]) -> None:
        """Starts making something, and gives up what was being made; ``make`` is to tell its share
        now and then."""
        self.give_up()
        stop = self._stop = Event()

        def tell(share: float) -> None:
            if stop.is_set():
                raise _GivenUp
            self.share = share

        self._backstage.begin(lambda: make(tell))

    @property
    def begun(self) -> bool:
        """Whether something was begun and neither taken nor given up."""
        return self._backstage.begun

    @property
    def ready(self) -> bool:
        """Whether ``take`` would return (or raise) at once."""
        return self._backstage.ready

    def take(self) -> Made:
        """What was begun; waits for it, and raises what making it raised."""
        return self._backstage.take()

    def give_up(self) -> None:
        """Forgets what was begun; it ends when it next tells its share."""
        self._stop.set()
        self._backstage.close()
        self._backstage = Backstage()
        self.share = 0.0
