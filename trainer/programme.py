"""What is compared under one playhead: named sources of equal length, and reading round them.

Arrays are (frames, 2) float32 at 48 kHz; a region is (start, stop) in frames, stop not included.
The end of a region is cross-faded over 10 ms with what leads in to its start, so that any passage
can be repeated. For the whole loop that lead-in is the end itself: its seam is left exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from exercises.samples import RATE_HZ, Samples

SEAM_FRAMES: Final = RATE_HZ * 10 // 1000
SHORTEST_REGION_FRAMES: Final = RATE_HZ * 100 // 1000

Region = tuple[int, int]


@dataclass(slots=True, eq=False)
class Programme:
    """Sources of ``frames`` frames each, and what became of them: frames heard, switches made.

    ``asked`` are sounds to be put in the place of sources, the newest of each alone.
    """

    sources: dict[str, Samples]
    frames: int
    heard_frames: dict[str, int]
    switches: int = 0
    asked: dict[str, Samples] = field(default_factory=dict)


NOTHING: Final = Programme({}, 0, {})


def programme_of(sources: Mapping[str, Samples]) -> Programme:
    """A programme of ``sources``, which are not copied.

    Raises:
        ValueError: no sources, unequal lengths, wrong shape or type, samples beyond full scale
            or not finite.
    """
    if not sources:
        raise ValueError("nothing to play: no sources given")
    lengths = set()
    for name, samples in sources.items():
        lengths.add(len(checked(name, samples)))
    if len(lengths) != 1 or 0 in lengths:
        raise ValueError(f"sources must share one length above 0, not {sorted(lengths)} frames")
    return Programme(dict(sources), lengths.pop(), dict.fromkeys(sources, 0))


def checked(name: str, samples: Samples) -> Samples:
    """``samples`` of the source ``name``, if they can be played.

    Raises:
        ValueError: wrong shape or type, samples beyond full scale or not finite.
    """
    if samples.ndim != 2 or samples.shape[1] != 2 or samples.dtype != np.float32:
        got = f"{samples.shape} {samples.dtype}"
        raise ValueError(f"source '{name}' must be (frames, 2) float32, not {got}")
    if not (np.abs(samples) <= 1.0).all():
        raise ValueError(f"source '{name}' holds samples beyond full scale or not finite")
    return samples


def region_of(programme: Programme, region: Region | None) -> Region:
    """``region``, or the whole programme for None.

    Raises:
        ValueError: it is outside the programme, or only a part of it and shorter than 0.1 s.
    """
    whole = (0, programme.frames)
    if region is None or region == whole:
        return whole
    start, stop = region
    if not (start >= 0 and start + SHORTEST_REGION_FRAMES <= stop <= programme.frames):
        raise ValueError(
            f"region {start} to {stop} must be 0.1 s or more within 0 to {programme.frames}"
        )
    return region


def read_round(samples: Samples, region: Region, place: int, out: Samples) -> None:
    """Copy frames of ``samples`` from ``place`` on into ``out``, round and round ``region``."""
    start, stop = region
    done = 0
    while done < len(out):
        count = min(stop - place, len(out) - done)
        piece = out[done : done + count]
        piece[:] = samples[place : place + count]
        late = max(place, stop - SEAM_FRAMES)
        if late < place + count:
            at = np.arange(late, place + count)
            lead_in = samples[(at - (stop - start)) % len(samples)]
            way = ((at - (stop - SEAM_FRAMES) + 1) / SEAM_FRAMES)[:, np.newaxis]
            end = piece[late - place :]
            end += (lead_in - end) * way
        done += count
        place = start if place + count == stop else place + count
