"""How much of a problem is there at each moment, when it is there only while one passage plays.

Nothing switches at the bar line. What a hand does (a fader, a compressor brought in) goes over in
a ramp of 150 ms that is done by the bar line, as a mixer moves before the downbeat; it goes back
in the same way before the next passage begins. What the playing does (a build-up, a thinness)
also follows the level of the part: all of it down to 6 dB under the level that the passage passes
a tenth of the time, none of it 24 dB under. It swells in some 10 ms and fades in some 150.
Common practice, no source.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from exercises import compressor
from exercises.dynamics import top_db
from exercises.loops import Passage
from exercises.samples import RATE_HZ, Floats, Samples

RAMP_S: Final = 0.150
FULL_DB: Final = 6.0
NONE_DB: Final = 24.0
FOLLOWING: Final = compressor.Timing(attack_s=0.010, release_s=0.150)


def hand_weight(frames: int, passage: Passage) -> Floats:
    """0 to 1 at each frame, as a hand brings something in for ``passage``; (frames,) float64.

    Raises:
        ValueError: the passage does not lie within the frames.
    """
    start, stop = passage.start_frame, passage.stop_frame
    if not 0 <= start < stop <= frames:
        raise ValueError(f"passage '{passage.name}' does not lie within {frames} frames")
    weight = np.zeros(frames)
    weight[start:stop] = 1.0
    if stop - start < frames:
        # Half the shorter stretch at most, so that each keeps its own state for a moment.
        ramp = max(
            1, min(round(RAMP_S * RATE_HZ), (stop - start) // 2, (frames - stop + start) // 2)
        )
        rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ramp) + 0.5) / ramp)
        weight[(start - ramp + np.arange(ramp)) % frames] = rise
        weight[stop - ramp : stop] = rise[::-1]
    return weight


def playing_weight(part: Samples, passage: Passage) -> Floats:
    """0 to 1 at each frame: ``hand_weight`` times what the playing of ``part`` brings about."""
    share = playing_share(part, passage)
    return hand_weight(len(part), passage) * compressor.drawn_between(share, len(part))


def playing_share(part: Samples, passage: Passage) -> Floats:
    """What the playing brings about, 0 to 1 at the end of each of the detector's blocks."""
    own_db = compressor.levels_db(sounding_alone(part, passage), FOLLOWING)
    level_db = compressor.levels_db(part, FOLLOWING)
    over = (level_db - (top_db(own_db[blocks_in(passage)]) - NONE_DB)) / (NONE_DB - FULL_DB)
    share = np.clip(over, 0.0, 1.0)
    eased: Floats = share * share * (3.0 - 2.0 * share)
    return eased


def sounding_alone(part: Samples, passage: Passage) -> Samples:
    """``part`` with silence outside ``passage``: a detector still hears what was loud before."""
    alone = np.zeros_like(part)
    inside = slice(passage.start_frame, passage.stop_frame)
    alone[inside] = part[inside]
    return alone


def at_block_ends(weight: Floats) -> Floats:
    """A weight (frames,) at the last frame of each of the detector's blocks; (blocks,)."""
    first = compressor.BLOCK_FRAMES - 1
    ends = weight[first :: compressor.BLOCK_FRAMES]
    return ends if len(weight) % compressor.BLOCK_FRAMES == 0 else np.append(ends, weight[-1])


def blocks_in(passage: Passage) -> slice:
    """The blocks of the detector (``compressor.BLOCK_FRAMES`` each) that lie in ``passage``."""
    first = passage.start_frame // compressor.BLOCK_FRAMES
    return slice(first, max(first + 1, passage.stop_frame // compressor.BLOCK_FRAMES))
