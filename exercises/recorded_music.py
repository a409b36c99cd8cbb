"""What recorded music measures like, octave by octave: the range that one's own mix lies in or not.

Power in each octave band (31.5 Hz to 16 kHz), in dB re the whole mix: 10th percentile, median and
90th percentile of 267 full mixes of openly licensed game music, each at least 60 s long, from nine
Debian packages (0ad-data, hyperrogue-music, nexuiz-music, singularity-music, supertuxkart-data,
ufoai-music, unknown-horizons, warzone2100-music, hedgewars-data), Welch, 8192 points, measured in
2026. The figures are for whole mixes; single tracks have their own.
"""

from __future__ import annotations

from typing import Final

OCTAVE_LOW_DB: Final = (-43, -20, -13, -12, -15, -19, -24, -29, -39, -50)
OCTAVE_MEDIAN_DB: Final = (-17, -7, -8, -8, -9, -12, -16, -20, -25, -33)
OCTAVE_HIGH_DB: Final = (-7, -4, -5, -5, -5, -7, -11, -14, -17, -22)
