"""Reading an audio file that a learner brings: any WAV, AIFF, FLAC, OGG or MP3, whatever its state.

A file is not trusted. It must be a regular file; rate, channels and claimed length are looked at
before a sample is read; the decoder gets a handle and never a name (a name that is not UTF-8, or
that ends in .raw, confuses it); it is read in small blocks until no more comes, so that a false
length in the header does no harm and a fault in the middle leaves what came before it. What can be
used is used, with a note of what was done; what cannot raises BadAudio, one line that says what is
wrong and what to do.

Decoding is libsndfile's, by way of soundfile.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, Final

import numpy as np

from exercises.audio_container import container_notes
from exercises.audio_handle import open_decoder, open_regular_file, shown_name
from exercises.errors import BadAudio
from exercises.fold_down import MOST_CHANNELS, channel_order, fold_down
from exercises.resampling import margin_frames, ratio, resample
from exercises.samples import RATE_HZ, Samples, as_samples, db_to_gain, gain_to_db

LOWEST_RATE_HZ: Final = 8_000
HIGHEST_RATE_HZ: Final = 192_000
SHORTEST_S: Final = 2.0
LONGEST_S: Final = 12 * 3600.0
LONGEST_AT_ONCE_S: Final = 600.0
SILENCE_DBFS: Final = -70.0  # the absolute gate of ITU-R BS.1770-5, here for the plain rms level

_BLOCK_FRAMES: Final = 1 << 16
# A fault in the file costs the block it lies in, so the decoder is asked for short ones.
_PIECE_FRAMES: Final = 4096
# 32-bit integers written as floats without scaling come to 2e9; above that it is not sound.
_BEYOND_ALL_SCALE: Final = 1e10
_UNKNOWN_FRAMES: Final = 1 << 62


@dataclass(frozen=True, slots=True)
class AudioInfo:
    """What a file's header says: container, encoding, rate in Hz, channels, and frames.

    ``frames`` and ``seconds`` are claims and may be false; None where the header does not say.
    """

    container: str
    encoding: str
    rate_hz: int
    channels: int
    frames: int | None
    notes: tuple[str, ...]

    @property
    def seconds(self) -> float | None:
        """The length that the header claims, in seconds."""
        return None if self.frames is None else self.frames / self.rate_hz


@dataclass(frozen=True, slots=True)
class Audio:
    """Sound from a file: (frames, 2) float32 at 48 kHz, and what had to be done to it."""

    samples: Samples
    notes: tuple[str, ...]


class AudioStream:
    """An open file that is read from front to back, folded down to stereo, at its own rate.

    ``notes`` grows as blocks are read. Made by ``open_audio``.
    """

    def __init__(self, path: Path, handle: BinaryIO, notes: tuple[str, ...]) -> None:
        self._path, self._handle = path, handle
        self._decoder = open_decoder(path, handle)
        try:
            self.info = _checked_info(path, self._decoder, notes)
        except BadAudio:
            self.close()
            raise
        self.notes = list(self.info.notes)
        self._order = channel_order(self.info.channels, self.info.container)
        self._reached = 0

    def close(self) -> None:
        """Let go of the decoder; the handle is its owner's to close."""
        self._decoder.close()

    @property
    def done(self) -> float:
        """How much of the file's bytes has been read, 0 to 1."""
        size = os.fstat(self._handle.fileno()).st_size
        return min(1.0, self._handle.tell() / max(1, size))

    @property
    def reached(self) -> int:
        """How many frames of the file have been read."""
        return self._reached

    def skip_to(self, frame: int) -> None:
        """Stand at ``frame``, counted in frames of the file, or at its end if that comes first."""
        try:
            self._reached = int(self._decoder.seek(frame))
        except (OSError, RuntimeError, ValueError):
            self._reached = -1
        if not 0 <= self._reached <= frame:
            # No seeking in this file, or not that far: begin again and come there by reading.
            self.close()
            self._handle.seek(0)
            self._decoder = open_decoder(self._path, self._handle)
            self._reached = 0
        for _ in self.blocks(frame):
            pass

    def blocks(self, stop_frame: int | None = None) -> Iterator[Samples]:
        """What comes before ``stop_frame``, as stereo (frames, 2) blocks of about 65,000 frames.

        Raises:
            BadAudio: a sample is not a finite number.
        """
        last = int(LONGEST_S * self.info.rate_hz)
        stop = last if stop_frame is None else min(stop_frame, last)
        going = True
        while going and self._reached < stop:
            block, going = self._decode(min(_BLOCK_FRAMES, stop - self._reached))
            if len(block) == 0:
                break
            stereo = fold_down(block, self._order)
            sound = np.abs(stereo) < _BEYOND_ALL_SCALE
            if not sound.all():
                first = self._reached + int(np.flatnonzero(~sound.all(axis=1))[0])
                raise BadAudio(
                    f"{shown_name(self._path)}: holds samples that are not numbers or beyond all "
                    f"scale, first at {first / self.info.rate_hz:.2f} s; export it again"
                )
            self._reached += len(block)
            yield stereo
        claimed = self.info.frames
        if going and claimed is not None and self._reached < min(claimed, stop):
            self._note(
                f"cut short: {claimed / self.info.rate_hz:.1f} s promised, "
                f"{self._reached / self.info.rate_hz:.1f} s came"
            )
        elif stop_frame is None and self._reached >= last:
            self._note(f"longer than {LONGEST_S / 3600:.0f} hours; the rest was left out")

    def _decode(self, frames: int) -> tuple[Samples, bool]:
        """Up to ``frames`` frames of all channels, and False if a fault in the file stopped it."""
        block = np.empty((frames, self.info.channels), dtype=np.float32)
        filled = 0
        while filled < frames:
            piece = block[filled : filled + _PIECE_FRAMES]
            try:
                came = len(self._decoder.read(out=piece))
            except (OSError, RuntimeError, ValueError):
                self._note(
                    f"damaged at {(self._reached + filled) / self.info.rate_hz:.1f} s; "
                    "read what comes before"
                )
                return block[:filled], False
            if came == 0:
                break
            filled += came
        return block[:filled], True

    def _note(self, note: str) -> None:
        if note not in self.notes:
            self.notes.append(note)


def inspect(path: Path | str) -> AudioInfo:
    """What the file's header says, without reading its sound.

    Raises:
        BadAudio: it is no audio file, or outside 8 to 192 kHz, 1 to 8 channels, 2 s to 12 hours.
    """
    with open_audio(path) as stream:
        return stream.info


@contextmanager
def open_audio(path: Path | str) -> Iterator[AudioStream]:
    """The file, open for reading in blocks; closed at the end of the ``with``.

    Raises:
        BadAudio: as ``inspect``.
    """
    path = Path(path)
    with open_regular_file(path) as handle:
        notes = container_notes(handle)
        handle.seek(0)
        stream = AudioStream(path, handle, notes)
        try:
            yield stream
        finally:
            stream.close()


def read_audio(path: Path | str, start_s: float = 0.0, seconds: float | None = None) -> Audio:
    """The file's sound from ``start_s`` on, ``seconds`` long or to its end, at 48 kHz stereo.

    Mono is doubled, three to eight channels are folded down; what exceeds full scale is turned
    down to it. A stretch read by itself equals that stretch of the whole, but for that.

    Raises:
        BadAudio: as ``inspect``; or the stretch is silent, under 2 s, or not made of numbers; or
            it is over ten minutes, which is more than should be in memory at once.
    """
    audio = read_stretch(path, start_s, seconds)
    if start_s > 0.0 and not len(audio.samples):
        raise BadAudio(
            f"{shown_name(path)}: ends before {start_s:.0f} s; choose a stretch that begins earlier"
        )
    check_heard(path, len(audio.samples) / RATE_HZ, _level(audio.samples))
    samples, turned_down_db = scaled_to_full_scale(audio.samples)
    if not turned_down_db:
        return audio
    return Audio(
        samples, (*audio.notes, f"over full scale; turned down by {turned_down_db:.1f} dB")
    )


def read_stretch(path: Path | str, start_s: float = 0.0, seconds: float | None = None) -> Audio:
    """As ``read_audio``, but at the file's own level, and silent or short if that is what it is."""
    shown = shown_name(path)
    if seconds is not None and seconds > LONGEST_AT_ONCE_S:
        raise BadAudio(f"{shown}: {seconds:.0f} s is more than is read at once; ask for less")
    with open_audio(path) as stream:
        rate_hz = stream.info.rate_hz
        up, down = ratio(rate_hz)
        first = round(start_s * RATE_HZ)
        margin = margin_frames(rate_hz)
        # Begun on a frame that both rates share, so that the filter's phase is that of the whole.
        start = max(0, (first * down // up - margin) // down * down)
        length = LONGEST_AT_ONCE_S if seconds is None else seconds
        stop = -(-(first + round(length * RATE_HZ)) * down // up) + margin + 1
        if start:
            stream.skip_to(start)
        blocks = list(stream.blocks(stop))
        if seconds is None and start + sum(map(len, blocks)) == stop:
            raise BadAudio(
                f"{shown}: longer than {LONGEST_AT_ONCE_S / 60:.0f} minutes from {start_s:.0f} s "
                "on; ask for a stretch of it"
            )
        notes = tuple(stream.notes)
    joined = np.concatenate(blocks) if blocks else np.empty((0, 2), dtype=np.float32)
    skipped = first - start * up // down
    wanted = None if seconds is None else skipped + round(seconds * RATE_HZ)
    resampled = resample(joined, rate_hz) if len(joined) else joined
    return Audio(as_samples(resampled[skipped:wanted]), notes)


def check_heard(path: Path | str, seconds: float, level: float) -> None:
    """Refuse sound under 2 s, or of an rms level (linear) under -70 dBFS.

    Raises:
        BadAudio: it is too short or silent.
    """
    if seconds < SHORTEST_S:
        raise BadAudio(_too_short(shown_name(path), seconds))
    if level < db_to_gain(SILENCE_DBFS):
        raise BadAudio(
            f"{shown_name(path)}: silent; choose a file, or a stretch of it, with sound in it"
        )


def _level(samples: Samples) -> float:
    return float(np.sqrt(np.mean(np.square(samples)))) if len(samples) else 0.0


def scaled_to_full_scale(samples: Samples) -> tuple[Samples, float]:
    """``samples`` turned down so that none exceeds 1.0, and by how many dB (0 for not at all)."""
    peak = float(np.abs(samples).max(initial=0.0))
    if peak <= 1.0:
        return samples, 0.0
    return as_samples(samples / np.float32(peak)), gain_to_db(peak)


def _too_short(shown: str, seconds: float) -> str:
    if seconds < 0.05:
        return f"{shown}: holds no sound; it is empty or damaged, write it anew"
    return f"{shown}: {seconds:.1f} s long; at least {SHORTEST_S:.0f} s are needed"


def _checked_info(path: Path, decoder: Any, notes: tuple[str, ...]) -> AudioInfo:
    shown = shown_name(path)
    rate_hz, channels = int(decoder.samplerate), int(decoder.channels)
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise BadAudio(f"{shown}: a rate of {rate_hz} Hz; 8 to 192 kHz can be read, convert it")
    if not 1 <= channels <= MOST_CHANNELS:
        raise BadAudio(
            f"{shown}: {channels} channels; 1 to {MOST_CHANNELS} can be read, mix it down to stereo"
        )
    claimed = int(decoder.frames)
    frames = None if claimed >= _UNKNOWN_FRAMES or claimed < 0 else claimed
    if frames is not None and frames < SHORTEST_S * rate_hz:
        raise BadAudio(_too_short(shown, frames / rate_hz))
    if frames is not None and frames > LONGEST_S * rate_hz:
        raise BadAudio(
            f"{shown}: {frames / rate_hz / 3600:.0f} hours long, or so it says; at most "
            f"{LONGEST_S / 3600:.0f} can be read, cut a piece out of it"
        )
    if channels > 2:
        order = " ".join(channel_order(channels, str(decoder.format)))
        notes = (*notes, f"{channels} channels, taken as {order}, folded down to stereo")
    return AudioInfo(str(decoder.format), str(decoder.subtype), rate_hz, channels, frames, notes)
