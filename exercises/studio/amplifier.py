"""Amplifiers and their loudspeakers, round a ring.

A guitar amplifier is an equaliser before the valve stages, two asymmetric soft clippers with a
high-pass between them, and a closed cabinet: little under 80 Hz, a bump near 150, a presence
peak, and a steep fall above 5 kHz (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from exercises.samples import Floats
from exercises.studio.filters import Section, highpass, low_shelf, lowpass, peak
from exercises.studio.ring import filtered, shaped

PICKUP: tuple[Section, ...] = (lowpass(4200.0, 1.6),)
CABINET: tuple[Section, ...] = (
    highpass(75.0, 0.9),
    peak(150.0, 6.0, 1.2),
    peak(420.0, -3.0, 0.8),
    peak(2400.0, 3.0, 1.0),
    lowpass(4600.0, 0.8),
    lowpass(6800.0, 0.8),
)
BASS_CABINET: tuple[Section, ...] = (
    highpass(38.0, 0.8),
    peak(80.0, 2.0, 1.0),
    peak(600.0, -3.0, 0.8),
    peak(1800.0, 3.0, 1.0),
    lowpass(4500.0, 0.7),
)


def _valve(drive: float, bias: float) -> Callable[[Floats], Floats]:
    rest = np.tanh(bias)

    def curve(x: Floats) -> Floats:
        return np.asarray(np.tanh(drive * x + bias) - rest)

    return curve


def driven(
    ring: Floats, drive: float, bass_db: float = -6.0, middle_db: float = 4.0, bias: float = 0.25
) -> Floats:
    """A guitar's ``ring`` through pickup, driven amplifier and cabinet; peak 1.

    ``drive`` is the gain into the first stage for a signal whose loud moments lie at 1;
    ``bass_db`` below 180 Hz and ``middle_db`` at 800 Hz colour what goes into it.
    """
    pushed = filtered(
        _levelled(ring), *PICKUP, highpass(70.0), low_shelf(180.0, bass_db), peak(800.0, middle_db)
    )
    first = filtered(shaped(pushed, _valve(drive, bias)), highpass(60.0))
    second = shaped(first, _valve(1.6, -0.1))
    return _levelled(filtered(second, *CABINET))


def clean(ring: Floats, drive: float = 0.7) -> Floats:
    """A guitar's ``ring`` through a clean amplifier: pickup, a touch of valve, open cabinet."""
    warm = shaped(filtered(_levelled(ring), *PICKUP, highpass(70.0)), _valve(drive, 0.1))
    open_back = (highpass(90.0), peak(350.0, -2.0, 0.8), peak(2800.0, 4.0, 0.9), lowpass(6500.0))
    return _levelled(filtered(warm, *open_back))


def bass_amplifier(ring: Floats, drive: float = 0.9, blend: float = 0.5) -> Floats:
    """A bass: the direct signal, lows turned up, with ``blend`` of it through a driven cabinet."""
    direct = _levelled(filtered(ring, low_shelf(110.0, 5.0), lowpass(5500.0)))
    through = _levelled(filtered(shaped(direct, _valve(drive, 0.15)), *BASS_CABINET))
    return _levelled((1.0 - blend) * direct + blend * through)


def _levelled(ring: Floats) -> Floats:
    return np.asarray(ring / np.abs(ring).max())
