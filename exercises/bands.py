"""The ten octave bands that everything is followed by, and distances between frequencies.

Mid-bands are the base-10 exact ones of IEC 61260-1:2014 (1000 Hz times 10^(0.3 k)), shown by
their nominal names of ISO 266 (31.5 Hz to 16 kHz); edges lie 10^(0.15) to either side. The
trade's words are hints for the eye (common practice, no source: mixers disagree by up to an
octave) and never decide whether an answer is right.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

LOWEST_HZ: Final = 20.0
HIGHEST_HZ: Final = 20_000.0


@dataclass(frozen=True, slots=True)
class Band:
    """One octave band: ``index`` 0 to 9, exact mid and edges in Hz, and the trade's words."""

    index: int
    name: str
    mid_hz: float
    low_hz: float
    high_hz: float
    too_much: str
    too_little: str


_NAMES_AND_WORDS: Final = (
    ("31.5", "rumble", "no depth"),
    ("63", "boom", "no weight"),
    ("125", "thick", "thin"),
    ("250", "mud", "thin"),
    ("500", "boxy", "hollow"),
    ("1k", "honk", "hollow"),
    ("2k", "hard", "distant"),
    ("4k", "harsh", "distant"),
    ("8k", "sibilant", "dull"),
    ("16k", "fizz", "no air"),
)


def _octave_band(index: int) -> Band:
    name, too_much, too_little = _NAMES_AND_WORDS[index]
    mid_hz = 1000.0 * 10.0 ** (0.3 * (index - 5))
    edge = 10.0**0.15
    return Band(index, name, mid_hz, mid_hz / edge, mid_hz * edge, too_much, too_little)


BANDS: Final = tuple(_octave_band(index) for index in range(10))

THIRD_OCTAVE_MID_HZ: Final = tuple(1000.0 * 10.0 ** (k / 10) for k in range(-16, 14))
"""Thirty mid-bands, 25 Hz to 20 kHz, exact base-10 (IEC 61260-1:2014)."""


def band_of(freq_hz: float) -> Band:
    """The octave band that holds ``freq_hz``; the outer bands also take what lies beyond them."""
    steps = math.log10(freq_hz / 1000.0) / 0.3
    return BANDS[min(9, max(0, math.floor(steps + 0.5) + 5))]


def octaves(named_hz: float, true_hz: float) -> float:
    """Miss distance in octaves, signed: positive when the name lies above the truth."""
    return math.log2(named_hz / true_hz)


_TYPED: Final = re.compile(r"\s*(\d+(?:[.,]\d*)?|[.,]\d+)\s*(k?)\s*(?:hz)?\s*", re.IGNORECASE)
_THOUSANDS: Final = re.compile(r"(?<=\d),(?=\d{3}\s*(?:hz)?\s*$)", re.IGNORECASE)


def read_hz(text: str) -> float | None:
    """A typed frequency in Hz ("200", "3.2k", "3,2 kHz"), or None if it names none in 20-20000.

    A comma is a decimal one, unless three digits and no k follow: "12,500" is 12.5 kHz.
    """
    match = _TYPED.fullmatch(_THOUSANDS.sub("", text))
    if match is None:
        return None
    freq_hz = float(match[1].replace(",", ".")) * (1000.0 if match[2] else 1.0)
    return freq_hz if LOWEST_HZ <= freq_hz <= HIGHEST_HZ else None


def show_hz(freq_hz: float) -> str:
    """A frequency as a mixer would say it, in three figures: "186 Hz", "31.5 Hz", "3.2 kHz"."""
    if freq_hz < 100.0:
        return f"{freq_hz:.1f}".removesuffix(".0") + " Hz"
    if freq_hz < 999.5:
        return f"{freq_hz:.0f} Hz"
    decimals = 2 if freq_hz < 9_995.0 else 1
    return f"{freq_hz / 1000.0:.{decimals}f}".rstrip("0").rstrip(".") + " kHz"
