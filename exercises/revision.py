"""What a revision changed: two files of the same music, before and after, as the fewest moves.

The two are aligned first: the later one is slid along the earlier to the sample where their
waveforms agree best (cross-correlation of the octaves round 1 kHz, where a mix revision moves
least), and both are cut to what they share. They are the same music if band by band their levels
rise and fall together; if not, they are refused, since moves would explain nothing.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises.errors import BadAudio
from exercises.loops import Passage
from exercises.loudness import loudness_lufs
from exercises.measured_change import (
    HOP_FRAMES,
    ToneChange,
    frame_powers,
    tone_change,
    tone_of,
)
from exercises.move_fitting import fit_moves
from exercises.moves import Fix, apply_moves, describe
from exercises.residual import Residual, residual
from exercises.samples import RATE_HZ, Floats, Samples, as_samples

SHORTEST_S: Final = 2.0
LEAST_ALIKE: Final = 0.7
LEAST_SHARED: Final = 0.5
_ALIGNED_FROM_HZ, _ALIGNED_TO_HZ = 350.0, 5_600.0
_FADE_S: Final = 0.01
_STRETCH_S: Final = 10.0
_FLOOR_DB: Final = 50.0
_SAME_LU: Final = 0.1
_SAME_START_S: Final = 0.0005
_NOTHING_DB: Final = 0.05


@dataclass(frozen=True, slots=True)
class Revision:
    """What became of *before*.

    ``later_s``: how much later the same music starts in *after*; ``seconds`` what they share;
    ``louder_lu`` how much louder it became; ``fix`` the moves, rides named by their seconds from
    where the shared stretch starts; ``left`` what is left when they have been made, *after*
    as A, in stretches of some 10 s; ``tone`` the measured change of tone, for a picture;
    ``explained`` 0 to 1, the share of the difference (in dB, rms) that the moves explain.
    """

    later_s: float
    seconds: float
    louder_lu: float
    fix: Fix
    left: Residual
    tone: ToneChange
    explained: float


def explain_revision(before: Samples, after: Samples) -> Revision:
    """The fewest moves that explain what ``after`` is of ``before``; both (frames, 2) at 48 kHz.

    Raises:
        BadAudio: one of them is silent or too short, or they are not the same music.
    """
    for name, sound in (("before", before), ("after", after)):
        if len(sound) < SHORTEST_S * RATE_HZ:
            raise BadAudio(f"'{name}' lasts under {SHORTEST_S:g} s; give a longer stretch of both")
        if not np.any(np.abs(sound) > 1e-4):
            raise BadAudio(f"'{name}' is silent; give two files with music in them")
    later_frames = offset_frames(before, after)
    before, after = shared(before, after, later_frames)
    likeness = alike(before, after)
    if likeness < LEAST_ALIKE:
        raise BadAudio(
            "before and after are not the same music (their levels do not rise and fall together); "
            "give two versions of one mix"
        )
    found = fit_moves(before, after)
    left = residual(apply_moves(before, found.fix), after, _stretches(len(before)))
    explained = 1.0
    if found.unexplained_db > _NOTHING_DB:
        explained = max(0.0, 1.0 - found.error_db / found.unexplained_db)
    return Revision(
        later_s=later_frames / RATE_HZ,
        seconds=len(before) / RATE_HZ,
        louder_lu=loudness_lufs(after) - loudness_lufs(before),
        fix=found.fix,
        left=left,
        tone=tone_change(before, tone_of(after)),
        explained=explained,
    )


def revision_text(revision: Revision) -> str:
    """A few plain lines: level, the moves in order, and what is left."""
    lines = []
    if abs(revision.later_s) >= _SAME_START_S:
        word = "later" if revision.later_s > 0.0 else "earlier"
        lines.append(f"After starts {abs(revision.later_s):.3f} s {word}; compared in step.")
    lu = revision.louder_lu
    loudness = "As loud as before"
    if abs(lu) >= _SAME_LU:
        loudness = f"{abs(lu):.1f} LU {'louder' if lu > 0.0 else 'quieter'} than before"
    if not revision.fix:
        changed = "nothing else changed"
        if revision.left.heard:
            changed = "it also sounds different, in a way that no move explains"
        return "\n".join([*lines, f"{loudness}; {changed}."])
    count = len(revision.fix)
    lines.append(
        f"{loudness}; {'1 move explains' if count == 1 else f'{count} moves explain'} the rest:"
    )
    lines += [f"{number}. {describe(move)}" for number, move in enumerate(revision.fix, 1)]
    lines.append(
        f"{'It explains' if count == 1 else 'They explain'} {revision.explained:.0%} of the "
        "difference; what is left "
        + ("can be heard." if revision.left.heard else "is too small to be heard.")
    )
    return "\n".join(lines)


def offset_frames(before: Samples, after: Samples) -> int:
    """How many frames later the same music lies in ``after`` than in ``before``."""
    from scipy.fft import irfft, next_fast_len, rfft

    length = next_fast_len(len(before) + len(after), real=True)
    freqs_hz = np.linspace(0.0, RATE_HZ / 2.0, length // 2 + 1)
    used = (freqs_hz >= _ALIGNED_FROM_HZ) & (freqs_hz <= _ALIGNED_TO_HZ)
    crossed = np.zeros(len(freqs_hz), dtype=np.complex64)
    for channel in range(2):
        spectra = [rfft(sound[:, channel], n=length) for sound in (before, after)]
        crossed[used] += (spectra[1] * spectra[0].conj())[used]
    # By the root of its size: strong partials would else outvote where the attacks lie.
    size = np.sqrt(np.abs(crossed))
    crossed /= np.maximum(size, float(size.max()) * 1e-6 + 1e-30)
    # Either sign: a version with its polarity turned is still the same music.
    agreement = np.abs(irfft(crossed, n=length))
    peak = int(np.argmax(agreement))
    return peak if peak < len(after) else peak - length


def shared(before: Samples, after: Samples, later_frames: int) -> tuple[Samples, Samples]:
    """Both cut to what they share, and faded at its ends.

    Raises:
        BadAudio: they share less than half of the shorter one.
    """
    first_before, first_after = max(0, -later_frames), max(0, later_frames)
    frames = min(len(before) - first_before, len(after) - first_after)
    if frames < max(LEAST_SHARED * min(len(before), len(after)), SHORTEST_S * RATE_HZ):
        raise BadAudio(
            "before and after share too little music to be compared; give two versions of one mix"
        )
    # Lengths with large factors make transforms slow.
    frames -= frames % (2 * HOP_FRAMES)
    ramp = np.sin(0.5 * np.pi * (np.arange(round(_FADE_S * RATE_HZ)) + 0.5) / (_FADE_S * RATE_HZ))
    window = np.ones(frames, dtype=np.float32)
    window[: len(ramp)], window[-len(ramp) :] = ramp, ramp[::-1]
    return (
        as_samples(before[first_before : first_before + frames] * window[:, None]),
        as_samples(after[first_after : first_after + frames] * window[:, None]),
    )


def alike(before: Samples, after: Samples) -> float:
    """How much the levels of third octaves rise and fall together, -1 to 1 (a correlation).

    Each band's own mean is taken out first, so that music of the same tone is not yet alike.
    """
    levels = [_levels_db(frame_powers(sound)) for sound in (before, after)]
    first, second = (level - level.mean(axis=0) for level in levels)
    size = float(np.sqrt(np.sum(first**2) * np.sum(second**2)))
    return float(np.sum(first * second)) / size if size > 0.0 else 0.0


def _stretches(frames: int) -> tuple[Passage, ...]:
    count = max(1, round(frames / (_STRETCH_S * RATE_HZ)))
    edges = [frames * which // count for which in range(count + 1)]
    return tuple(
        Passage(f"from {start / RATE_HZ:.0f} s", start, stop)
        for start, stop in itertools.pairwise(edges)
    )


def _levels_db(powers: Floats) -> Floats:
    floor = powers.max() * 10.0 ** (-_FLOOR_DB / 10.0) + 1e-20
    decibels: Floats = 10.0 * np.log10(powers + floor)
    return decibels
