"""Work behind the curtain: questions are made while the learner is busy with the last one.

One worker thread; the front end polls ``ready`` and never waits unless it has nothing else to do.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Generic, TypeVar

Made = TypeVar("Made")


class Backstage(Generic[Made]):
    """Makes one thing at a time; asking for another forgets the one before."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="backstage")
        self._future: Future[Made] | None = None

    def begin(self, make: Callable[[], Made]) -> None:
        """Starts making something."""
        self._future = self._pool.submit(make)

    @property
    def begun(self) -> bool:
        """Whether something was begun and not yet taken."""
        return self._future is not None

    @property
    def ready(self) -> bool:
        """Whether ``take`` would return (or raise) at once."""
        return self._future is not None and self._future.done()

    def take(self) -> Made:
        """What was begun last; waits for it, and raises what making it raised."""
        if self._future is None:
            raise RuntimeError("nothing was begun")
        future, self._future = self._future, None
        return future.result()

    def close(self) -> None:
        """Lets go of the worker."""
        self._pool.shutdown(wait=False, cancel_futures=True)
