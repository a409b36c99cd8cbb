"""Small loops built from figures, for tests: noise, bursts, kicks and tones; seconds long.

Everything is periodic over its own length, so that it has no seam, and repeats from its seed
(``numpy.random.RandomState``, whose streams NumPy promises to keep).
"""

from __future__ import annotations

import numpy as np

from exercises.loops import Loop, Passage, Track, fingerprint
from exercises.samples import RATE_HZ, Floats, Samples, as_samples, db_to_gain


def frames_of(seconds: float) -> int:
    """Frames in ``seconds``, to the nearest."""
    return round(seconds * RATE_HZ)


def noise(frames: int, seed: int, *, pink: bool = True, rms_dbfs: float = -20.0) -> Samples:
    """Stereo noise of ``frames``, 20 Hz to 20 kHz; pink falls 3.01 dB an octave per Hz."""
    freqs_hz = np.fft.rfftfreq(frames, 1.0 / RATE_HZ)
    inside = (freqs_hz >= 20.0) & (freqs_hz <= 20_000.0)
    size = np.where(inside, 1.0 / np.sqrt(np.maximum(freqs_hz, 20.0)) if pink else 1.0, 0.0)
    source = np.random.RandomState(seed)
    turned = np.exp(2j * np.pi * source.random_sample((len(freqs_hz), 2)))
    sound = np.fft.irfft(size[:, None] * turned, frames, axis=0)
    return as_samples(sound * (db_to_gain(rms_dbfs) / np.sqrt(np.mean(sound**2))))


def tone(frames: int, freq_hz: float, peak_dbfs: float, phase_deg: float = 0.0) -> Samples:
    """A sine in both channels, its frequency moved to the nearest that fits the length."""
    periods = max(1, round(freq_hz * frames / RATE_HZ))
    angle = 2.0 * np.pi * periods * np.arange(frames) / frames + np.deg2rad(phase_deg)
    return _both(db_to_gain(peak_dbfs) * np.sin(angle))


def kicks(
    frames: int, *, beat_s: float = 0.5, freq_hz: float = 55.0, decay_s: float = 0.06
) -> Samples:
    """A bare kick drum: a sine that dies away, struck every ``beat_s``, half of full scale."""
    since_s = (np.arange(frames) / RATE_HZ) % beat_s
    return _both(0.5 * np.sin(2.0 * np.pi * freq_hz * since_s) * np.exp(-since_s / decay_s))


def bursts(frames: int, seed: int, *, beat_s: float = 0.25, decay_s: float = 0.05) -> Samples:
    """Pink noise struck like a snare every ``beat_s``."""
    since_s = (np.arange(frames) / RATE_HZ) % beat_s
    return as_samples(noise(frames, seed, rms_dbfs=-12.0) * np.exp(-since_s / decay_s)[:, None])


def loop_of(*tracks: tuple[str, Samples], passages: tuple[Passage, ...] = ()) -> Loop:
    """A loop called "test loop" of named tracks; one passage unless told."""
    kept = tuple(Track(name, samples) for name, samples in tracks)
    frames = len(kept[0].samples)
    return Loop(
        name="test loop",
        title="Test loop",
        style="synthetic",
        tracks=kept,
        passages=passages or (Passage("the loop", 0, frames),),
        fingerprint=fingerprint(kept),
    )


def small_band(seconds: float = 2.0, *, level_db: float = 0.0, seed: int = 1) -> Loop:
    """Drums (kicks and bursts), a bass tone and pink keys, turned by ``level_db``."""
    frames = frames_of(seconds)
    tracks = {
        "drums": kicks(frames) + bursts(frames, seed),
        "bass": tone(frames, 82.0, -18.0) + tone(frames, 246.0, -30.0),
        "keys": noise(frames, seed + 1, rms_dbfs=-30.0),
    }
    gain = np.float32(db_to_gain(level_db))
    return loop_of(*((name, as_samples(samples * gain)) for name, samples in tracks.items()))


def repeated(samples: Samples, seconds: float) -> Samples:
    """``samples`` round and round for at least ``seconds``, as a meter would hear them."""
    return np.tile(samples, (-(-frames_of(seconds) // len(samples)), 1))


def _both(channel: Floats) -> Samples:
    return as_samples(np.stack([channel, channel], axis=1))
