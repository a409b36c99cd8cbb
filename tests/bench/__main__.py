"""``python -m tests.bench``: the speed table. With names: those benchmarks; ``all``: every one.

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
    wanted = sys.argv[1:] or ["table"]
    names = [module.name for module in pkgutil.iter_modules(tests.bench.__path__)]
    print("| what | ours | reference | ratio | bound |")
    print("| --- | ---: | ---: | ---: | ---: |")
    for name in names:
        if name.startswith("_") or (wanted != ["all"] and name not in wanted):
            continue
        for what, ours, reference, bound in importlib.import_module(f"tests.bench.{name}").rows():
            mark = "" if bound is None else f"{bound:.2f}"
            ratio = ours / reference
            over = " over" if bound is not None and ratio > bound else ""
            print(
                f"| {what} | {ours:.4g} | {reference:.4g} | {ratio:.3f} | {mark}{over} |",
                flush=True,
            )


if __name__ == "__main__":
    main()
