"""Render the demo loops: ``python -m exercises.studio [--check] [NAME ...]``.

Without names, all of them. ``--check`` writes nothing and compares with what is there; it ends
with status 1 if a sample differs by more than one 16-bit step.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

from tqdm import tqdm

from exercises.demo_loops import assets_folder
from exercises.errors import BadLoop
from exercises.studio.programme import PROGRAMME
from exercises.studio.render import furthest_step, rendered, write


def _render(name: str, into: Path, check: bool) -> str:
    rendering = rendered(PROGRAMME[name])
    if not check:
        write(rendering, into / name)
        return ""
    try:
        steps = furthest_step(rendering, into / name)
    except (OSError, ValueError, RuntimeError) as error:
        return str(error)
    return f"{name}: differs by {steps} steps" if steps > 1 else ""


def main(arguments: list[str] | None = None) -> int:
    """Render or check; the exit status."""
    parser = argparse.ArgumentParser(prog="python -m exercises.studio")
    parser.add_argument("names", nargs="*", metavar="NAME", help="loops to render (all)")
    parser.add_argument("--check", action="store_true", help="compare, write nothing")
    parser.add_argument("--into", type=Path, help="folder for the loops (assets/loops)")
    parser.add_argument("--workers", type=int, default=2, help="processes side by side")
    asked = parser.parse_args(arguments)
    unknown = [name for name in asked.names if name not in PROGRAMME]
    if unknown:
        parser.error(f"no loop {', '.join(unknown)}; there are {', '.join(PROGRAMME)}")
    names = asked.names or list(PROGRAMME)
    try:
        into = asked.into or assets_folder() / "loops"
    except BadLoop as error:
        parser.error(f"{error}, or name a folder with --into")
    complaints = []
    with (
        ProcessPoolExecutor(asked.workers) as pool,
        tqdm(total=len(names), unit="loop") as bar,
    ):
        jobs = [pool.submit(_render, name, into, asked.check) for name in names]
        for job in as_completed(jobs):
            complaint = job.result()
            if complaint:
                complaints.append(complaint)
            bar.update()
    for complaint in complaints:
        print(complaint, file=sys.stderr)
    return 1 if complaints else 0


if __name__ == "__main__":
    sys.exit(main())
