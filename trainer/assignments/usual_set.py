"""What a set is drawn by unless its teacher says otherwise: in the window as by command."""

from __future__ import annotations

from typing import Final

from exercises.kinds import Kind

USUAL_COUNT: Final = 20
USUAL_KINDS: Final = (Kind.TOO_MUCH, Kind.TOO_LITTLE, Kind.NOTHING)
USUAL_SIZES_DB: Final = (6.0, 9.0)
USUAL_BANDS: Final = range(1, 9)
"""63 Hz to 8 kHz: what lies beyond need not reach every student, as in the drill."""
