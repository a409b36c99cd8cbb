"""Spectra of a loop as they are kept for judging it, and sums of them over bands.

A whole loop is a whole period and needs no window; a passage is faded in and out beyond its ends;
frames are those that a loudness meter could look at. ``Sums`` as in ``moments``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np
import numpy.typing as npt

from exercises.loops import Loop
from exercises.moments import RAMP_FRAMES, Complexes, Sums, weighted_bins
from exercises.samples import RATE_HZ, Floats, Samples

FRAME_FRAMES: Final = 9600
_HOP_FRAMES: Final = 4800

_Numbers = TypeVar("_Numbers", Floats, Complexes)


@dataclass(frozen=True, slots=True)
class Spectra:
    """A sound's spectra: of its passages, of its frames, and of the whole, K-weighted."""

    passages: tuple[Complexes, ...]
    frames: Complexes
    whole: Complexes


def spectra_of(samples: Samples, loop: Loop) -> Spectra:
    """All three spectra of ``samples`` (frames, 2), with the passages of ``loop``."""
    return Spectra(
        tuple(
            passage_spectrum(samples, passage.start_frame, passage.stop_frame)
            for passage in loop.passages
        ),
        frame_spectra(samples),
        weighted_bins(samples),
    )


def spectra_without(mix: Spectra, part: Spectra) -> Spectra:
    """Spectra of what is left of the mix: the transform of a difference is the difference."""
    return Spectra(
        tuple(whole - taken for whole, taken in zip(mix.passages, part.passages, strict=True)),
        mix.frames - part.frames,
        mix.whole - part.whole,
    )


def passage_spectrum(samples: Samples, start: int, stop: int) -> Complexes:
    """Spectrum (2, bins) of a passage, scaled so that its squares are powers re full scale.

    A passage is faded in and out over 10 ms beyond its ends; the whole loop is a whole period
    and needs no window.
    """
    frames = len(samples)
    if stop - start >= frames:
        return np.fft.rfft(samples.T, axis=-1) * np.float32(np.sqrt(2.0) / frames)
    taken = np.take(
        samples, np.arange(start - RAMP_FRAMES, stop + RAMP_FRAMES), axis=0, mode="wrap"
    )
    ramp = np.sin(0.5 * np.pi * (np.arange(RAMP_FRAMES) + 0.5) / RAMP_FRAMES)
    window = np.concatenate([ramp, np.ones(stop - start), ramp[::-1]])
    # The next multiple of 4096 has small factors, so that no length is slow.
    padded = -(-len(taken) // 4096) * 4096
    window *= np.sqrt(2.0 / (np.sum(window**2) * padded))
    return np.fft.rfft((taken * window.astype(np.float32)[:, None]).T, n=padded, axis=-1)


def frame_spectra(samples: Samples) -> Complexes:
    """Spectra (2, frames, bins) of 200 ms every 100 ms round the loop, sine windows."""
    hops = max(1, round(len(samples) / _HOP_FRAMES))
    starts = np.linspace(0, len(samples), hops, endpoint=False).round().astype(np.intp)
    places = (starts[:, None] + np.arange(FRAME_FRAMES)) % len(samples)
    window = np.sin(np.pi * (np.arange(FRAME_FRAMES) + 0.5) / FRAME_FRAMES).astype(np.float32)
    return np.fft.rfft(samples.T[:, places] * window, axis=-1)


def places_hz(bins: Complexes) -> Floats:
    """Frequency (bins,) in Hz of each of ``bins`` (..., bins) of a real FFT."""
    return np.linspace(0.0, RATE_HZ / 2.0, bins.shape[-1])


def bin_edges(bins: Complexes, edges_hz: Floats) -> npt.NDArray[np.intp]:
    """The first of ``bins`` (..., bins) at or over each of ``edges_hz`` (edges,)."""
    return np.searchsorted(places_hz(bins), edges_hz)


def sums_over(
    part: Complexes, rest: Complexes | None, weights: Floats, edges: npt.NDArray[np.intp]
) -> Sums:
    """Sums over bands, both channels together, of spectra (2, ..., bins) times ``weights``."""
    part_power = _band_sums(_products(part, part).real * weights, edges)
    if rest is None:
        nothing = np.zeros_like(part_power)
        return Sums(part_power, nothing, nothing.astype(np.complex128))
    return Sums(
        part_power,
        _band_sums(_products(rest, rest).real * weights, edges),
        _band_sums(_products(part, rest) * weights, edges),
    )


def _products(part: Complexes, rest: Complexes) -> Complexes:
    products: Complexes = part[0] * rest[0].conj() + part[1] * rest[1].conj()
    return products


def _band_sums(values: _Numbers, edges: npt.NDArray[np.intp]) -> _Numbers:
    """Sums of ``values`` (..., bins) from each edge up to the next; (..., edges - 1)."""
    first = np.zeros((*values.shape[:-1], 1))
    running = np.concatenate([first, np.cumsum(values, axis=-1)], axis=-1)
    sums: _Numbers = np.diff(running[..., edges], axis=-1)
    return sums
