"""The demo loops that come with the program, rendered by ``python -m exercises.studio``.

They lie in ``exercises/assets/loops`` once installed, and in ``assets/loops`` of a checkout.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from exercises.errors import BadLoop
from exercises.loops import Loop, read_loop


def assets_folder() -> Path:
    """The folder that holds ``loops``, inside the package or beside it.

    Raises:
        BadLoop: neither place has it (a damaged installation).
    """
    here = Path(__file__).resolve().parent
    for folder in (here / "assets", here.parent / "assets"):
        if (folder / "loops").is_dir():
            return folder
    raise BadLoop(f"{here}: the demo loops are missing; install namefirst again")


def demo_loop_names() -> tuple[str, ...]:
    """Names of the demo loops, sorted."""
    loops = assets_folder() / "loops"
    return tuple(sorted(folder.parent.name for folder in loops.glob("*/loop.toml")))


# Some 20 MB each, and another is read in a fifth of a second while the learner listens.
@lru_cache(maxsize=4)
def demo_loop(name: str) -> Loop:
    """The demo loop ``name``, read once and kept.

    Raises:
        BadLoop: there is no such loop, or its folder is damaged.
    """
    if name not in demo_loop_names():
        raise BadLoop(f"no demo loop '{name}'; there are {', '.join(demo_loop_names())}")
    return read_loop(assets_folder() / "loops" / name)
