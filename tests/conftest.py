"""How the tests are spread: the whole suite over several processes, named files in this one.

While one process waits for a window another works. A file stays in one process, since its tests
share what they made. ``-n0`` runs everything in this process.
"""

from __future__ import annotations

import os
from typing import Final

import pytest

# Two processes with a pool of threads each would wait for one another. Before numpy is loaded.
if "PYTEST_XDIST_WORKER" in os.environ:
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

MOST_PROCESSES: Final = 4
"""Each holds in memory the loops that it meets."""
WINDOWS: Final = frozenset(("tests.screen", "tests.browser"))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """What ``-n auto`` means: asked of the process that was started, never of a worker."""
    if config.args_source is not pytest.Config.ArgsSource.TESTPATHS:
        return 0
    return min(MOST_PROCESSES, os.cpu_count() or 1)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """In several processes what opens a window or a browser begins first: it takes longest."""
    if "PYTEST_XDIST_WORKER" in os.environ:
        items.sort(key=lambda item: not _opens_windows(item))


def _opens_windows(item: pytest.Item) -> bool:
    held = vars(getattr(item, "module", object)).values()
    return any(getattr(each, "__module__", None) in WINDOWS for each in held)
