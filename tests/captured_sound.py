"""What was really played: reading SDL's disk-driver capture and telling the sources apart.

SDL's "disk" audio driver writes what a device would have been given to a raw file. Run the program
in a process of its own with ``capture_environment(file)``, then ask here which source sounded
when, from which place in the loop, how loud, and whether anything clicked. Conventions:
(frames, 2) float32 at 48 kHz; a capture has no header. Pure numpy.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from exercises.samples import RATE_HZ, Floats, Samples

WINDOW_FRAMES: Final = 1024
SILENCE: Final = "silence"
BETWEEN: Final = "between"  # a cross-fade, or something that was never loaded
FITS_DB: Final = -45.0


@dataclass(frozen=True, slots=True)
class Heard:
    """A stretch of a capture, frames ``start`` up to ``stop``, in which ``name`` sounded.

    ``place`` is the loop's frame at ``start`` (-1 where no source fits), ``gain_db`` the mean gain
    on the source, ``left_db`` what the source does not explain, in dB re the stretch (worst).
    """

    name: str
    start: int
    stop: int
    place: int = -1
    gain_db: float = -np.inf
    left_db: float = 0.0

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return (self.stop - self.start) / RATE_HZ


def capture_environment(file: Path, delay_ms: int = 3) -> dict[str, str]:
    """The environment for a child process whose sound goes to ``file``.

    ``delay_ms`` is the pause after each block of 10.7 ms: 3 runs about three times faster than
    real time, 10 about in real time.
    """
    return os.environ | {
        "SDL_AUDIODRIVER": "disk",
        "SDL_DISKAUDIOFILE": str(file),
        "SDL_DISKAUDIODELAY": str(delay_ms),
    }


def read_capture(file: Path, from_byte: int = 0) -> Samples:
    """The capture in ``file`` as (frames, 2) float32; no unfinished frame at either end."""
    flat = np.fromfile(file, dtype="<f4", offset=-(-from_byte // 8) * 8)
    return flat[: len(flat) // 2 * 2].reshape(-1, 2)


def who_sounds(
    captured: Samples, sources: Mapping[str, Samples], window: int = WINDOW_FRAMES
) -> list[Heard]:
    """One ``Heard`` a window of the capture: the source and place that explain it best.

    A source explains a window when gain times source, the gain a straight line in time (so that
    fades and volume ramps fit), leaves less than -45 dB. Sources may differ as little as a few
    tenths of a dB in one band; the place is followed from window to window and searched for
    where it is lost.
    """
    spectra = {name: np.fft.rfft(samples.T) for name, samples in sources.items()}
    levels = {name: _level_from(samples, window) for name, samples in sources.items()}
    frames = len(next(iter(sources.values())))
    windows: list[Heard] = []
    place = -1
    for start in range(0, len(captured) - window + 1, window):
        piece = captured[start : start + window].astype(np.float64)
        if not piece.any():
            windows.append(Heard(SILENCE, start, start + window))
            place = -1
            continue
        best = _best(piece, sources, place, start)
        if best.left_db > FITS_DB:
            for found in _search(piece, spectra, levels, frames):
                best = min(best, _best(piece, sources, found, start), key=lambda one: one.left_db)
        place = (best.place + window) % frames if best.place >= 0 else -1
        if best.left_db > FITS_DB:
            best = Heard(BETWEEN, start, start + window, -1, -np.inf, best.left_db)
        windows.append(best)
    return windows


def stretches(windows: Sequence[Heard], frames: int) -> list[Heard]:
    """Windows joined where one source goes on without a jump; ``frames``: length of the loop."""
    joined: list[Heard] = []
    for one in windows:
        last = joined[-1] if joined else None
        if last is not None and last.name == one.name and last.stop == one.start:
            follows = (last.place + last.stop - last.start) % frames == one.place
            if one.place == -1 or follows:
                joined[-1] = Heard(
                    one.name,
                    last.start,
                    one.stop,
                    last.place,
                    max(last.gain_db, one.gain_db),
                    max(last.left_db, one.left_db),
                )
                continue
        joined.append(one)
    return joined


def order_heard(captured: Samples, sources: Mapping[str, Samples]) -> list[str]:
    """The names that sounded, in order, silences and cross-fades left out, repeats joined."""
    names = [one.name for one in who_sounds(captured, sources)]
    kept = [name for name in names if name not in (SILENCE, BETWEEN)]
    return [name for at, name in enumerate(kept) if at == 0 or kept[at - 1] != name]


def largest_bend(samples: Samples, wrap: bool = False) -> float:
    """The largest second difference of any channel: a click's mark on a smooth sound.

    With ``wrap`` the sound is taken as a loop, its last frame followed by its first.
    """
    held = samples.astype(np.float64)
    if wrap:
        held = np.concatenate([held, held[:2]])
    return float(np.abs(np.diff(held, 2, axis=0)).max()) if len(held) > 2 else 0.0


def click_excess(captured: Samples, sources: Mapping[str, Samples], gain: float) -> float:
    """How far the capture bends more sharply than the sources do at ``gain``: 1 is no click.

    Fades over 20 ms and more add less than a hundredth to a sound of a few hundred Hz.
    """
    own = max(largest_bend(samples, wrap=True) for samples in sources.values())
    return largest_bend(captured) / (own * gain)


def _best(piece: Floats, sources: Mapping[str, Samples], place: int, start: int) -> Heard:
    nothing = Heard(BETWEEN, start, start + len(piece), -1, -np.inf, 0.0)
    if place < 0:
        return nothing
    fits = [_fit(piece, name, samples, place, start) for name, samples in sources.items()]
    return min(fits, key=lambda one: one.left_db)


def _fit(piece: Floats, name: str, samples: Samples, place: int, start: int) -> Heard:
    at = (place + np.arange(len(piece))) % len(samples)
    own = samples[at].astype(np.float64)
    time = np.linspace(-1.0, 1.0, len(piece))[:, np.newaxis]
    design = np.stack([own.ravel(), (own * time).ravel()], axis=1)
    (gain, slope), *_ = np.linalg.lstsq(design, piece.ravel(), rcond=None)
    left = piece.ravel() - design @ (gain, slope)
    power = float(np.sum(piece**2))
    left_db = 10.0 * np.log10(max(float(np.sum(left**2)) / power, 1e-20))
    gain_db = 20.0 * np.log10(max(abs(gain), 1e-10))
    return Heard(name, start, start + len(piece), place, float(gain_db), float(left_db))


def _search(
    piece: Floats, spectra: Mapping[str, Floats], levels: Mapping[str, Floats], frames: int
) -> list[int]:
    """For each source the place that is most like ``piece``, however soft it is there."""
    if frames < len(piece):
        return []
    padded = np.zeros((2, frames))
    padded[:, : len(piece)] = piece.T
    probe = np.conj(np.fft.rfft(padded))
    places = []
    for name, spectrum in spectra.items():
        likeness = np.fft.irfft(spectrum * probe, n=frames).sum(axis=0)
        places.append(int(np.argmax(np.abs(likeness) / levels[name])))
    return places


def _level_from(samples: Samples, window: int) -> Floats:
    """The level of the ``window`` frames from each frame on, going round; (frames,), over 0."""
    power = np.sum(samples.astype(np.float64) ** 2, axis=1)
    total = np.concatenate([[0.0], np.cumsum(np.concatenate([power, power[:window]]))])
    held = np.maximum(total[window : window + len(power)] - total[: len(power)], 0.0)
    return np.sqrt(held) + 1e-3 * np.sqrt(max(float(held.max()), 1e-20))
