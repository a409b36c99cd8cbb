"""Every benchmark of tests/bench, as one table: ``python -m tests.bench [name ...]``.

Each module here has ``rows()``, which yields (what, ours, reference, bound): two measurements
taken side by side in the same run, and the highest ratio ours/reference that we promise (or None).
Nothing here fails a test run: machines are noisy, so ratios are printed and read.
"""

from __future__ import annotations

import importlib
import pkgutil
import sys

import tests.bench


def main() -> None:
    wanted = sys.argv[1:]
    names = [module.name for module in pkgutil.iter_modules(tests.bench.__path__)]
    print(f"{'what':<58} {'ours':>12} {'reference':>12} {'ratio':>7} {'bound':>6}")
    for name in names:
        if name.startswith("_") or (wanted and name not in wanted):
            continue
        for what, ours, reference, bound in importlib.import_module(f"tests.bench.{name}").rows():
            mark = "" if bound is None else f"{bound:6.2f}"
            ratio = ours / reference
            over = "  over" if bound is not None and ratio > bound else ""
            print(
                f"{what:<58} {ours:12.5g} {reference:12.5g} {ratio:7.3f} {mark:>6}{over}",
                flush=True,
            )


if __name__ == "__main__":
    main()
