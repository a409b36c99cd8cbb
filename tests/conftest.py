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
LONG: Final = frozenset(("tests.screen", "tests.browser", "tests.window_pages"))
"""What opens windows or a browser, or draws every page."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """What ``-n auto`` means: asked of the process that was started, never of a worker."""
    if config.args_source is not pytest.Config.ArgsSource.TESTPATHS:
        return 0
    # One more than there are cores: about a quarter of what windows and terminals take is waiting.
    return min(MOST_PROCESSES, (os.cpu_count() or 1) + 1)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """In several processes what takes longest begins first."""
    if "PYTEST_XDIST_WORKER" in os.environ:
        items.sort(key=lambda item: not _is_long(item))


def _is_long(item: pytest.Item) -> bool:
    held = vars(getattr(item, "module", object)).values()
    return item.path.parent.name == "walks" or any(
        getattr(each, "__module__", None) in LONG for each in held
    )
