"""A loop as the ear is given it, measured once, so that many problems can be tried on it fast.

What is heard is the *part* that a problem may sit on and the *rest* (nothing, when the part is
all that is heard). A filter H and a gain g on the part change the power in a narrow band from
|R + P|^2 to |R + g H P|^2 = |R|^2 + g^2 |H|^2 |P|^2 + 2 g Re(H P R*), so three sums a band are
all that needs to be kept:

- of each passage, over bands a twentieth of a Cam wide, as powers at the inner ear: what the ear
  makes of its tone;
- of frames of 200 ms every 100 ms, over bands one Cam wide, K-weighted: what a loudness meter
  makes of it.

Beside them stand its loud and soft moments, for what a compressor does to it (``moments``).

The listening level is assumed, in here only and never shown: -23 LUFS, the level questions are
played at, counts as 70 dB SPL, a little under the 73 dB(C) a loudspeaker of EBU Tech 3343.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises import excitation
from exercises.bands import BANDS, band_of
from exercises.dynamics_ear import Detected, detectors
from exercises.kinds import Style
from exercises.loop_spectra import (
    FRAME_FRAMES,
    Spectra,
    bin_edges,
    passage_spectrum,
    places_hz,
    spectra_of,
    spectra_without,
    sums_over,
)
from exercises.loops import Loop
from exercises.loudness import REFERENCE_LUFS, integrated_lufs
from exercises.moments import (
    Complexes,
    Flags,
    Moments,
    Sums,
    band_sums,
    block_powers,
    k_weighting_db,
    k_weights,
    moments_of,
    with_gain,
)
from exercises.passage_ear import PassageEar, passage_ears
from exercises.samples import RATE_HZ, Floats, Samples

ASSUMED_SPL_DB: Final = 70.0
"""Sound pressure level that a loop at -23 LUFS is taken to have."""

FINE_PER_COMPONENT: Final = 5
FINE_PER_CAM: Final = 20

FINE_EDGES_HZ: Final = excitation.freq_of_erb_number(
    np.interp(
        np.arange((len(excitation.COMPONENT_EDGES_CAMS) - 1) * FINE_PER_COMPONENT + 1),
        np.arange(len(excitation.COMPONENT_EDGES_CAMS)) * FINE_PER_COMPONENT,
        excitation.COMPONENT_EDGES_CAMS,
    )
)
_CAM_EDGES_HZ: Final = FINE_EDGES_HZ[::FINE_PER_CAM]
_CAMS_HZ: Final = FINE_EDGES_HZ[FINE_PER_CAM // 2 :: FINE_PER_CAM]
OCTAVE_OF_FINE: Final = np.array([band_of(hz).index for hz in FINE_EDGES_HZ[:-1].tolist()])
OCTAVE_OF_CAM: Final = np.array([band_of(hz).index for hz in _CAMS_HZ.tolist()])
"""The octave band that each fine band, and each one-Cam band, lies in."""


@dataclass(frozen=True, slots=True)
class HeardLoop:
    """One loop, or one track of it, alone or in the mix, ready to be judged.

    ``unit_delay`` (fine,): e^(-jw), one sample's delay, at the middle of the power in each fine
    band, and ``share`` (fine,) its share of the part's power in the one-Cam band around it.
    ``tone`` (passages, fine) re 0 dB SPL at the inner ear, A being at -23 LUFS, and
    ``a_excitation`` (passages, filters) what A makes of it; ``frames`` (frames, one-Cam bands)
    re full scale. ``places`` are its passages where there are several, ``detected`` what a
    compressor's detectors read of the part.
    """

    loop: str
    fingerprint: str
    track: str | None
    alone: bool
    unit_delay: Complexes
    share: Floats
    tone: Sums
    a_excitation: Floats
    frames: Sums
    moments: Moments
    places: tuple[PassageEar, ...]
    detected: dict[Style, Detected]

    def place(self, passage: str | None) -> PassageEar | None:
        """The passage of that name; None for None.

        Raises:
            ValueError: there is none, or it is the whole loop.
        """
        if passage is None:
            return None
        for place in self.places:
            if place.passage.name == passage:
                return place
        raise ValueError(f"'{self.loop}' has no passage '{passage}' among others")


def ear_of(loop: Loop, track: str | None = None, alone: bool = False) -> HeardLoop:
    """``loop`` as the ear is given it when a problem sits on ``track`` (None: the whole mix).

    Raises:
        BadLoop: the loop has no such track.
    """
    if track is None:
        mix = loop.mix()
        return _heard(loop, None, False, mix, spectra_of(mix, loop), None)
    part = loop.track(track).samples
    of_part = spectra_of(part, loop)
    rest = None if alone else spectra_without(spectra_of(loop.mix(), loop), of_part)
    return _heard(loop, track, alone, part, of_part, rest)


def ears_of(loop: Loop) -> Iterator[HeardLoop]:
    """Every way of hearing ``loop``: the whole mix, then each track in the mix and alone.

    The same as ``ear_of`` of each, in less time: every sound is transformed once.
    """
    mix = loop.mix()
    of_mix = spectra_of(mix, loop)
    yield _heard(loop, None, False, mix, of_mix, None)
    for track in loop.tracks:
        of_part = spectra_of(track.samples, loop)
        yield _heard(
            loop, track.name, False, track.samples, of_part, spectra_without(of_mix, of_part)
        )
        yield _heard(loop, track.name, True, track.samples, of_part, None)


def _heard(
    loop: Loop,
    track: str | None,
    alone: bool,
    samples: Samples,
    part: Spectra,
    rest: Spectra | None,
) -> HeardLoop:
    """All sums, from the part's ``samples`` and the spectra of part and rest."""
    frames = _frame_sums(part.frames, None if rest is None else rest.frames)
    a_lufs = integrated_lufs(block_powers(with_gain(frames, 1.0).sum(axis=-1)))
    gain_db = REFERENCE_LUFS - a_lufs if np.isfinite(a_lufs) else 0.0
    tone, fine_hz = _tone(part.passages, None if rest is None else rest.passages)
    share = _shares(tone.part.sum(axis=0))
    to_ear = inner_ear_gain(gain_db)
    tone = Sums(tone.part * to_ear, tone.rest * to_ear, tone.cross * to_ear)
    bands = band_sums(part.whole, None if rest is None else rest.whole, loop.frames)
    return HeardLoop(
        loop=loop.name,
        fingerprint=loop.fingerprint,
        track=track,
        alone=alone,
        unit_delay=np.exp(-2j * np.pi * fine_hz / RATE_HZ),
        share=share,
        tone=tone,
        a_excitation=excitation_of_fine(with_gain(tone, 1.0)),
        frames=frames,
        moments=moments_of(bands, _own_bands(with_gain(frames, 1.0), gain_db)),
        places=passage_ears(samples, loop.passages, bands, len(frames.part)),
        detected=detectors(samples, loop.passages),
    )


def passage_powers(samples: Samples, start_frame: int, stop_frame: int) -> Floats:
    """Power of one passage in each fine band, re full scale; (fine,).

    The same measurement that ``ear_of`` rests on, for a sound that has been rendered.
    """
    bins = passage_spectrum(samples, start_frame, stop_frame)
    return sums_over(bins, None, np.ones(bins.shape[-1]), bin_edges(bins, FINE_EDGES_HZ)).part


def excitation_of_fine(powers: Floats) -> Floats:
    """Excitation (..., filters) of powers (..., fine) at the inner ear."""
    components = powers.reshape(*powers.shape[:-1], -1, FINE_PER_COMPONENT).sum(axis=-1)
    return excitation.excitation(components)


def inner_ear_gain(gain_db: float) -> Floats:
    """Factor (fine,) of each fine band's power from full scale to the inner ear, ``gain_db`` up."""
    middles_hz = (FINE_EDGES_HZ[1:] + FINE_EDGES_HZ[:-1]) / 2.0
    offset_db = ASSUMED_SPL_DB - REFERENCE_LUFS + gain_db
    factor: Floats = 10.0 ** ((excitation.ear_gain_db(middles_hz) + offset_db) / 10.0)
    return factor


def _tone(part: tuple[Complexes, ...], rest: tuple[Complexes, ...] | None) -> tuple[Sums, Floats]:
    """Sums of each passage over fine bands, re full scale, and the middle of each band's power."""
    rows: list[Sums] = []
    moment = np.zeros(len(FINE_EDGES_HZ) - 1)
    for place, bins in enumerate(part):
        bins_hz, edges = places_hz(bins), bin_edges(bins, FINE_EDGES_HZ)
        rest_bins = None if rest is None else rest[place]
        rows.append(sums_over(bins, rest_bins, np.ones(len(bins_hz)), edges))
        moment += sums_over(bins, None, bins_hz, edges).part
    sums = Sums(
        np.stack([row.part for row in rows]),
        np.stack([row.rest for row in rows]),
        np.stack([row.cross for row in rows]).astype(np.complex128),
    )
    return sums, _middles_hz(sums.part.sum(axis=0), moment)


def _frame_sums(part: Complexes, rest: Complexes | None) -> Sums:
    """K-weighted sums (frames, one-Cam bands) of 200 ms every 100 ms round the loop.

    The outer bands also take what lies beyond them, as a meter does.
    """
    bins = part.shape[-1]
    edges = bin_edges(part, _CAM_EDGES_HZ)
    edges[0], edges[-1] = 0, bins
    # A sine window: its square sums to one over half-overlapping frames, and has mean 1/2.
    return sums_over(part, rest, (2.0 * k_weights(bins) / FRAME_FRAMES) ** 2, edges)


def _own_bands(frames: Floats, gain_db: float) -> Flags:
    """Whether each octave band can be heard by itself in each frame; (bands, frames).

    A one-Cam band is, where it supplies at least half of what excites its place, the floor of
    hearing included; an octave, where such bands supply at least half of its power.
    """
    offset_db = ASSUMED_SPL_DB - REFERENCE_LUFS + gain_db
    to_ear_db = excitation.ear_gain_db(_CAMS_HZ) - k_weighting_db(_CAMS_HZ) + offset_db
    power = frames * 10.0 ** (to_ear_db / 10.0)
    components = np.repeat(power, FINE_PER_CAM // FINE_PER_COMPONENT, axis=-1)
    excited = excitation.excitation(components * FINE_PER_COMPONENT / FINE_PER_CAM)
    # Filters lie half a Cam apart, every other one in the middle of a band; the last band has none.
    excited = excited[:, ::2] + excitation.FLOOR[::2]
    own_power = np.where(power[:, :-1] >= 0.5 * excited, power[:, :-1], 0.0)
    own = np.zeros((len(BANDS), len(frames)), dtype=np.bool_)
    for band in BANDS:
        whole = power[:, band.index == OCTAVE_OF_CAM].sum(axis=-1)
        own[band.index] = (whole > 0.0) & (
            own_power[:, band.index == OCTAVE_OF_CAM[:-1]].sum(axis=-1) >= 0.5 * whole
        )
    return own


def _shares(power: Floats) -> Floats:
    """Share of each fine band in the power of its one-Cam band; even where there is no power."""
    in_bands = power.reshape(-1, FINE_PER_CAM)
    whole = in_bands.sum(axis=1, keepdims=True)
    shares = np.full_like(in_bands, 1.0 / FINE_PER_CAM)
    np.divide(in_bands, whole, out=shares, where=whole > 0.0)
    return shares.ravel()


def _middles_hz(power: Floats, moment: Floats) -> Floats:
    """Mean frequency of the power in each fine band; the band's middle where there is none."""
    middles_hz = (FINE_EDGES_HZ[1:] + FINE_EDGES_HZ[:-1]) / 2.0
    np.divide(moment, power, out=middles_hz, where=power > 0.0)
    return np.clip(middles_hz, FINE_EDGES_HZ[:-1], FINE_EDGES_HZ[1:])
