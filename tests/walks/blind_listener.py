"""A listener with nothing but ears: what was played, held against the loop it was made from.

It reads what SDL's disk driver captured while the program runs, finds which place of the loop
that was, and compares the two spectra there. So it tells X from A and B, and where B differs,
without being told by the program.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from exercises.samples import RATE_HZ, Samples
from tests.captured_sound import read_capture

PIECE_S: Final = 0.75
_ONSET_S: Final = 0.15  # the switch's own fade, and what SDL had already taken
_PATIENCE_S: Final = 30.0
_LOUDEST_PART_DB: Final = -40.0
_HALF_WIDTH_OCTAVES: Final = 1.0 / 6.0
_FREQS_HZ: Final = 60.0 * 2.0 ** (np.arange(24 * 5) / 24.0)

Curve = npt.NDArray[np.float64]


class BlindListener:
    """Listens to ``capture`` (a file being written) and knows the loop as it is, ``as_it_is``."""

    def __init__(self, capture: Path, as_it_is: Samples) -> None:
        self._capture = capture
        self._as_it_is = as_it_is

    @property
    def heard_frames(self) -> int:
        """How much has been played so far."""
        return self._capture.stat().st_size // 8

    def next_piece(self, seconds: float = PIECE_S) -> Samples:
        """What sounds from now on, (frames, 2), once the switch to it is over."""
        start = self.heard_frames + round(_ONSET_S * RATE_HZ)
        frames = round(seconds * RATE_HZ)
        end = time.monotonic() + _PATIENCE_S
        while self.heard_frames < start + frames:
            assert time.monotonic() < end, "nothing is played"
            time.sleep(0.02)
        return read_capture(self._capture)[start : start + frames]

    def differs_db(self, piece: Samples) -> Curve:
        """How much ``piece`` has more than the loop has at that place, in dB at ``_FREQS_HZ``.

        What is everywhere, the volume, is taken out.
        """
        sound = _spectrum(piece)
        loop = _spectrum(self._there(piece))
        change_db: Curve = 10.0 * np.log10(sound / loop)
        # Where the loop holds next to nothing the comparison tells nothing.
        holds = 10.0 * np.log10(loop / loop.max()) > _LOUDEST_PART_DB
        change_db = change_db - np.median(change_db[holds])
        return np.where(holds, change_db, 0.0)

    def change_at_db(self, piece: Samples, freq_hz: float) -> float:
        """The same at one place."""
        return float(np.interp(freq_hz, _FREQS_HZ, self.differs_db(piece)))

    def place_hz(self, piece: Samples, *, most: bool = False) -> float:
        """Where ``piece`` has least of what the loop has there; or most."""
        sign = 1.0 if most else -1.0
        return float(_FREQS_HZ[int(np.argmax(sign * self.differs_db(piece)))])

    def _there(self, piece: Samples) -> Samples:
        """The loop where ``piece`` was played from."""
        loop = self._as_it_is
        padded = np.zeros(loop.shape)
        padded[: len(piece)] = piece
        likeness = np.fft.irfft(
            np.fft.rfft(loop, axis=0) * np.conj(np.fft.rfft(padded, axis=0)), n=len(loop), axis=0
        ).sum(axis=1)
        place = int(np.argmax(likeness))
        return loop[(place + np.arange(len(piece))) % len(loop)]


def _spectrum(sound: Samples) -> Curve:
    """Power in third octaves at ``_FREQS_HZ``."""
    window: Any = np.hanning(len(sound))[:, None]
    power = (np.abs(np.fft.rfft(sound * window, axis=0)) ** 2).sum(axis=1)
    running = np.concatenate([[0.0], np.cumsum(power)])
    bins_a_hz = len(sound) / RATE_HZ
    reach = 2.0**_HALF_WIDTH_OCTAVES
    edges = [_FREQS_HZ / reach, _FREQS_HZ * reach]
    low, high = (np.interp(edge * bins_a_hz, np.arange(len(running)), running) for edge in edges)
    return np.maximum(high - low, 1e-20)
