"""One to eight channels folded down to stereo.

Gains follow ITU-R BS.775-3, annex 4 (a 3/2 source for a 2/0 listener): the centre and each
surround go in 3 dB down, the low-frequency effects channel is left out. A single back centre, which
the recommendation leaves open, goes to both sides 3 dB lower again, as half of a surround pair.

A file rarely says which loudspeaker a channel is for, so an order is assumed from the container:
that of FLAC (RFC 9639, section 9.1.3), which is also that of WAVE_FORMAT_EXTENSIBLE's channel mask,
for everything but Ogg, and that of the Vorbis I specification (section 4.3.9) for Ogg.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from exercises.samples import Floats, Samples, as_samples

MOST_CHANNELS: Final = 8

_DOWN_3_DB: Final = math.sqrt(0.5)

_GAINS: Final[dict[str, tuple[float, float]]] = {
    "L": (1.0, 0.0),
    "R": (0.0, 1.0),
    "C": (_DOWN_3_DB, _DOWN_3_DB),
    "LFE": (0.0, 0.0),
    "Ls": (_DOWN_3_DB, 0.0),
    "Rs": (0.0, _DOWN_3_DB),
    "Lb": (_DOWN_3_DB, 0.0),
    "Rb": (0.0, _DOWN_3_DB),
    "Cb": (0.5, 0.5),
    "M": (1.0, 1.0),
}

_FLAC_ORDER: Final = {
    1: "M",
    2: "L R",
    3: "L R C",
    4: "L R Ls Rs",
    5: "L R C Ls Rs",
    6: "L R C LFE Ls Rs",
    7: "L R C LFE Cb Ls Rs",
    8: "L R C LFE Lb Rb Ls Rs",
}
_VORBIS_ORDER: Final = {
    1: "M",
    2: "L R",
    3: "L C R",
    4: "L R Ls Rs",
    5: "L C R Ls Rs",
    6: "L C R Ls Rs LFE",
    7: "L C R Ls Rs Cb LFE",
    8: "L C R Ls Rs Lb Rb LFE",
}


def channel_order(channels: int, container: str) -> tuple[str, ...]:
    """The loudspeakers that ``channels`` channels of a ``container`` ("WAV", "OGG") are taken for.

    M mono, L R front, C centre, LFE low-frequency effects, Ls Rs surround, Lb Rb back, Cb back
    centre.
    """
    orders = _VORBIS_ORDER if container == "OGG" else _FLAC_ORDER
    return tuple(orders[channels].split())


def fold_gains(order: tuple[str, ...]) -> Floats:
    """Gains of each channel into left and right, (channels, 2)."""
    return np.array([_GAINS[channel] for channel in order])


def fold_down(samples: Samples, order: tuple[str, ...]) -> Samples:
    """``samples`` (frames, channels) as stereo (frames, 2); mono comes out of both sides.

    May exceed full scale, since channels add up; the caller turns the whole down.
    """
    if order == ("L", "R"):
        return as_samples(samples)
    return as_samples(samples @ fold_gains(order).astype(np.float32))
