"""Times as they are typed: "0:30", "30", "1:05.5", and stretches, "0:30-0:38"."""

from __future__ import annotations

import re
from typing import Final

_CLOCK: Final = re.compile(r"(?:(\d{1,3}):)?(\d{1,5}(?:[.,]\d+)?)")


def read_seconds(text: str) -> float | None:
    """Seconds from a start; None where ``text`` is no time."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        return None
    return 60.0 * float(match[1] or 0) + float(match[2].replace(",", "."))


def read_from_to(text: str) -> tuple[float, float] | None:
    """Start and end in seconds; None where ``text`` is no stretch of time."""
    start, _, stop = text.partition("-")
    start_s, stop_s = read_seconds(start), read_seconds(stop)
    if start_s is None or stop_s is None or stop_s <= start_s:
        return None
    return start_s, stop_s
