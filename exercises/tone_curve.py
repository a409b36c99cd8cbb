"""The filter of a tone problem: a peak, or one of the shelves, with its gain in dB."""

from __future__ import annotations

from typing import Final

from exercises.equaliser import Biquad, peaking
from exercises.kinds import Shape
from exercises.shelves import high_shelf, low_shelf

USUAL_Q: Final = 1.4


def tone_biquad(shape: Shape, freq_hz: float, gain_db: float, q: float | None = None) -> Biquad:
    """The filter of ``gain_db`` at ``freq_hz``: a peak's centre, or half-way up a shelf.

    ``q`` is a peak's alone (None: 1.4).

    Raises:
        ValueError: there is no such filter.
    """
    if shape is Shape.LOW_SHELF:
        return low_shelf(freq_hz, gain_db)
    if shape is Shape.HIGH_SHELF:
        return high_shelf(freq_hz, gain_db)
    return peaking(freq_hz, gain_db, USUAL_Q if q is None else q)
