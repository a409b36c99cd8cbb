"""A loop as it is listened to outside a question: at the level that questions are played at."""

from __future__ import annotations

import numpy as np

from exercises.loops import Loop
from exercises.loudness import REFERENCE_LUFS, block_powers, matching_gain_db
from exercises.samples import Samples, as_samples, db_to_gain

MIX = "mix"
_HIGHEST_SAMPLE = db_to_gain(-1.0)


def loop_sounds(loop: Loop) -> dict[str, Samples]:
    """The whole mix at -23 LUFS under ``MIX``, and each track as it sits in it under ``solo_of``.

    All turned down alike where a sample would lie over -1 dBFS.
    """
    parts = {MIX: loop.mix()}
    if len(loop.tracks) > 1:
        parts |= {solo_of(index): track.samples for index, track in enumerate(loop.tracks)}
    wanted = db_to_gain(matching_gain_db(block_powers(parts[MIX]), REFERENCE_LUFS))
    highest = max(float(np.abs(samples).max()) for samples in parts.values())
    gain = np.float32(min(wanted, _HIGHEST_SAMPLE / max(highest, 1e-9)))
    return {name: as_samples(samples * gain) for name, samples in parts.items()}


def solo_of(track: int) -> str:
    """The name of the sound of track number ``track``, from 0, alone."""
    return f"track {track}"
