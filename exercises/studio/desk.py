"""The mixing desk: pan, room, dynamics, and tracks balanced by loudness.

Each part arrives dry on a ring. It gets its place, its share of the shared room and a level in
LU against the others; then the whole mix is brought to one loudness. Loudness here is the
K-weighted mean square of ITU-R BS.1770-5 annex 1 round the ring, without gating (a ring has no
first block). Arrays leave as (frames,) for mono tracks and (frames, 2) otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises.samples import Floats
from exercises.studio.filters import Section
from exercises.studio.ring import convolved, filtered, shaped, smoothed
from exercises.studio.room import Room, impulse_response

MIX_LUFS: Final = -20.0
# BS.1770-5 annex 1, tables 1 and 2, at 48 kHz.
_K_WEIGHTING: Final[tuple[Section, Section]] = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241,
     0.73248077421585),
    (1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Part:
    """A dry part and how it sits in the mix.

    ``ring`` is (frames,) or (frames, 2); ``level_lu`` its loudness against the mix; ``pan`` -1
    left to 1 right (mono rings only); ``room_db`` the room's level against the dry sound;
    ``mono`` keeps the track on one channel, room and all.
    """

    name: str
    ring: Floats
    level_lu: float
    pan: float = 0.0
    room_db: float = -16.0
    mono: bool = False


def loudness_lufs(ring: Floats) -> float:
    """Ungated K-weighted loudness of ``ring``; (frames,) counts as the same sound on two sides."""
    sides = ring if ring.ndim == 2 else np.column_stack([ring, ring])
    power = (filtered(sides, *_K_WEIGHTING) ** 2).mean(axis=0).sum()
    return float(-0.691 + 10.0 * np.log10(power))


def mixed(parts: Sequence[Part], room: Room) -> list[Floats]:
    """The tracks of ``parts``, in order, as they sit in a mix of ``MIX_LUFS``."""
    response = impulse_response(room)
    tracks = [_seated(part, response) for part in parts]
    total = sum((_sides(track) for track in tracks), start=np.zeros((len(tracks[0]), 2)))
    gain = 10.0 ** ((MIX_LUFS - loudness_lufs(total)) / 20.0)
    return [track * gain for track in tracks]


def _sides(track: Floats) -> Floats:
    return track if track.ndim == 2 else np.column_stack([track, track])


def _seated(part: Part, response: Floats) -> Floats:
    wet = 10.0 ** (part.room_db / 20.0) * convolved(part.ring, response)
    if part.mono:
        track = part.ring + wet.mean(axis=1)
    elif part.ring.ndim == 2:
        track = part.ring + wet
    else:
        angle = (part.pan + 1.0) * np.pi / 4.0
        sides = np.sqrt(2.0) * np.array([np.cos(angle), np.sin(angle)])
        track = part.ring[:, None] * sides + wet * (0.7 + 0.3 * sides)
    return np.asarray(track * 10.0 ** ((part.level_lu - loudness_lufs(track)) / 20.0))


def squeezed(
    ring: Floats, ratio: float = 3.0, over_db: float = -4.0, time_s: float = 0.06
) -> Floats:
    """``ring`` compressed round the loop: ``over_db`` sets the threshold against its rms level."""
    power = ring**2 if ring.ndim == 1 else (ring**2).mean(axis=1)
    level = np.maximum(smoothed(power, time_s), 1e-12)
    threshold = power.mean() * 10.0 ** (over_db / 10.0)
    gain = np.maximum(level / threshold, 1.0) ** (0.5 * (1.0 / ratio - 1.0))
    return np.asarray(ring * (gain if ring.ndim == 1 else gain[:, None]))


def tamed(ring: Floats, crest_db: float) -> Floats:
    """``ring`` with peaks softly kept to ``crest_db`` above its rms level, as tape would."""
    ceiling = float(np.sqrt((ring**2).mean())) * 10.0 ** (crest_db / 20.0)

    def tape(x: Floats) -> Floats:
        return np.asarray(ceiling * np.tanh(x / ceiling))

    return shaped(ring, tape)
