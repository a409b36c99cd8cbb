"""Awkward and broken audio files, built on the spot for the tests of reading.

``AWKWARD`` says of each what must become of it: the seconds of sound that are read, or a pattern
that its one-line refusal matches. Headers are written by hand here, after the formats' own
descriptions, so that they can lie.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import soundfile

SECONDS = 3.0


class Awkward(NamedTuple):
    """A file to build, and what becomes of it; ``note`` is part of a note that must be made."""

    name: str
    build: Callable[[Path], None]
    seconds: float | None = None
    refusal: str | None = None
    note: str | None = None


def music(seconds: float = SECONDS, rate_hz: int = 48_000, channels: int = 2) -> np.ndarray:
    """(frames, channels): a chord under noise that differs from channel to channel, peak 0.5."""
    random = np.random.RandomState(5)
    time_s = np.arange(round(seconds * rate_hz)) / rate_hz
    chord = sum(np.sin(2 * np.pi * freq_hz * time_s) for freq_hz in (220.0, 277.2, 329.6, 1320.0))
    sound = chord[:, None] + 0.3 * random.randn(len(time_s), channels)
    return 0.5 * sound / np.abs(sound).max()


def write(path: Path, sound: np.ndarray, rate_hz: int = 48_000, **how: str) -> None:
    """Write in short blocks, to an open handle.

    libsndfile's Vorbis encoder overflows the stack when it is given a minute at once.
    """
    channels = sound.shape[1]
    how.setdefault("format", path.suffix[1:].upper())
    with (
        open(path, "wb+") as handle,
        soundfile.SoundFile(handle, "w", rate_hz, channels, **how) as file,
    ):
        for first in range(0, len(sound), 4096):
            file.write(sound[first : first + 4096])


def wav_header(
    data_bytes: int,
    rate_hz: int = 48_000,
    channels: int = 2,
    bits: int = 16,
    riff_bytes: int | None = None,
    code: int = 1,
) -> bytes:
    """A canonical 44-byte WAV header that claims whatever it is told."""
    frame_bytes = channels * bits // 8
    return (
        b"RIFF"
        + struct.pack("<I", 36 + data_bytes if riff_bytes is None else riff_bytes)
        + b"WAVEfmt "
        + struct.pack(
            "<IHHIIHH",
            16,
            code,
            channels,
            rate_hz,
            min(rate_hz * frame_bytes, 2**32 - 1),
            frame_bytes,
            bits,
        )
        + b"data"
        + struct.pack("<I", data_bytes)
    )


def _pcm(seconds: float = SECONDS, **how: int) -> bytes:
    return (music(seconds, **how) * 32767).astype("<i2").tobytes()


def _as(format_name: str, **how: str) -> Callable[[Path], None]:
    """The plain file, in another container or encoding."""
    return lambda path: write(path, music(), format=format_name, **how)


def _bytes(content: bytes) -> Callable[[Path], None]:
    return lambda path: path.write_bytes(content) and None


def _cut(format_name: str, share: float, **how: str) -> Callable[[Path], None]:
    def build(path: Path) -> None:
        write(path, music(), format=format_name, **how)
        content = path.read_bytes()
        path.write_bytes(content[: int(share * len(content))])

    return build


def _damaged(format_name: str, share: float) -> Callable[[Path], None]:
    """2,000 bytes in the middle overwritten with noise."""

    def build(path: Path) -> None:
        write(path, music(), format=format_name)
        content = bytearray(path.read_bytes())
        start = int(share * len(content))
        content[start : start + 2000] = np.random.RandomState(3).bytes(2000)
        path.write_bytes(content)

    return build


def _spoilt(value: float, subtype: str = "FLOAT") -> Callable[[Path], None]:
    def build(path: Path) -> None:
        sound = music()
        sound[60_000, 1] = value
        write(path, sound, format="WAV", subtype=subtype)

    return build


def _at_rate(rate_hz: int, seconds: float = SECONDS) -> Callable[[Path], None]:
    return lambda path: write(path, music(seconds, rate_hz), rate_hz, format="WAV")


def _with_channels(channels: int, format_name: str = "WAV") -> Callable[[Path], None]:
    return lambda path: write(path, music(channels=channels), format=format_name)


def _flac_claiming(frames: int) -> Callable[[Path], None]:
    """A FLAC whose STREAMINFO (RFC 9639, section 8.2) claims ``frames``; 0 is "unknown"."""

    def build(path: Path) -> None:
        write(path, music(), format="FLAC")
        content = bytearray(path.read_bytes())
        # 36 bits of total samples: the low nibble of byte 21 and bytes 22 to 25.
        content[21] = content[21] & 0xF0 | frames >> 32
        content[22:26] = struct.pack(">I", frames & 0xFFFF_FFFF)
        path.write_bytes(content)

    return build


def _aiff_claiming_more(path: Path) -> None:
    write(path, music(), format="AIFF")
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])


def _chained_ogg(path: Path) -> None:
    write(path, music(), format="OGG")
    first = path.read_bytes()
    write(path, music(4.0), format="OGG")
    path.write_bytes(first + path.read_bytes())


def _huge_chunk(path: Path) -> None:
    """A chunk before the data that claims two gigabytes."""
    head = wav_header(len(_pcm()))
    path.write_bytes(head[:36] + b"junk" + struct.pack("<I", 2**31) + head[36:] + _pcm())


def _leading_tag(path: Path) -> None:
    """An MP3 behind an ID3v2.3 tag of 50,000 bytes (a cover picture, say)."""
    write(path, music(), format="MP3")
    size = 50_000
    packed = bytes((size >> shift) & 0x7F for shift in (21, 14, 7, 0))
    path.write_bytes(b"ID3\x03\x00\x00" + packed + bytes(size) + path.read_bytes())


_PNG = (
    b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x01\x00\x00\x00\x01\x08\x06\x00\x00\x00"
    + bytes(5000)
)
_LONG = "a very long name " * 14

AWKWARD: tuple[Awkward, ...] = (
    # What every workstation writes.
    Awkward("16 bits.wav", _as("WAV", subtype="PCM_16"), SECONDS),
    Awkward("8 bits.wav", _as("WAV", subtype="PCM_U8"), SECONDS),
    Awkward("24 bits.wav", _as("WAV", subtype="PCM_24"), SECONDS),
    Awkward("32 bits.wav", _as("WAV", subtype="PCM_32"), SECONDS),
    Awkward("float.wav", _as("WAV", subtype="FLOAT"), SECONDS),
    Awkward("double.wav", _as("WAV", subtype="DOUBLE"), SECONDS),
    Awkward("telephone.wav", _as("WAV", subtype="ULAW"), SECONDS),
    Awkward("adpcm.wav", _as("WAV", subtype="IMA_ADPCM"), SECONDS),
    Awkward("extensible.wav", _as("WAVEX", subtype="PCM_24"), SECONDS),
    Awkward("large.rf64", _as("RF64", subtype="PCM_24"), SECONDS),
    Awkward("apple.aiff", _as("AIFF", subtype="PCM_24"), SECONDS),
    Awkward("little endian.aifc", _as("AIFF", subtype="PCM_16", endian="LITTLE"), SECONDS),
    Awkward("float.aif", _as("AIFF", subtype="FLOAT"), SECONDS),
    Awkward("lossless.flac", _as("FLAC", subtype="PCM_24"), SECONDS),
    Awkward("vorbis.ogg", _as("OGG"), SECONDS),
    Awkward("opus.opus", _as("OGG", subtype="OPUS"), SECONDS),
    Awkward("layer three.mp3", _as("MP3"), SECONDS),
    Awkward("tagged.mp3", _leading_tag, SECONDS),
    # Rates.
    Awkward("8 kHz.wav", _at_rate(8_000), SECONDS),
    Awkward("11025 Hz.wav", _at_rate(11_025), SECONDS),
    Awkward("44.1 kHz.wav", _at_rate(44_100), SECONDS),
    Awkward("44.101 kHz.wav", _at_rate(44_101), SECONDS),
    Awkward("88.2 kHz.wav", _at_rate(88_200), SECONDS),
    Awkward("192 kHz.wav", _at_rate(192_000), SECONDS),
    Awkward("1 Hz.wav", _bytes(wav_header(400_000, 1) + bytes(400_000)), refusal="rate of 1 Hz"),
    Awkward("7999 Hz.wav", _at_rate(7_999), refusal="7999 Hz; 8 to 192 kHz"),
    Awkward(
        "2 MHz.wav",
        _bytes(wav_header(len(_pcm()), 2_000_000) + _pcm()),
        refusal="rate of 2000000 Hz",
    ),
    Awkward("0 Hz.wav", _bytes(wav_header(len(_pcm()), 0) + _pcm()), refusal="rate|not audio"),
    # Channels.
    Awkward("mono.wav", _with_channels(1), SECONDS),
    Awkward("three.wav", _with_channels(3), SECONDS, note="3 channels, taken as L R C, folded"),
    Awkward("5.1.flac", _with_channels(6, "FLAC"), SECONDS, note="taken as L R C LFE Ls Rs"),
    Awkward("5.1.ogg", _with_channels(6, "OGG"), SECONDS, note="taken as L C R Ls Rs LFE"),
    Awkward("7.1.wav", _with_channels(8), SECONDS, note="8 channels, taken as"),
    Awkward("nine.wav", _with_channels(9), refusal="9 channels; 1 to 8"),
    Awkward("16 channels.wav", _with_channels(16), refusal="16 channels; 1 to 8"),
    Awkward(
        "1000 channels.wav",
        _bytes(wav_header(600_000, channels=1000) + bytes(600_000)),
        refusal="1000 channels|not audio",
    ),
    # Cut short and damaged.
    Awkward("cut.wav", _cut("WAV", 0.8), 0.8 * SECONDS, note="cut short: 115"),
    Awkward("cut.aiff", _cut("AIFF", 0.8), 0.8 * SECONDS, note="cut short"),
    Awkward("cut.flac", _cut("FLAC", 0.9), 0.9 * SECONDS, note="^damaged at 2[^/]*$"),
    Awkward("cut.ogg", _cut("OGG", 0.9), 2.5, note="cut short: its last page is missing"),
    Awkward("cut.mp3", _cut("MP3", 0.85), 0.85 * SECONDS, note="cut short"),
    Awkward("cut at once.flac", _cut("FLAC", 0.001), refusal="not audio|holds no sound|empty"),
    Awkward("cut in half.wav", _cut("WAV", 0.5), refusal=r"1\.5 s long; at least 2 s"),
    Awkward("damaged.flac", _damaged("FLAC", 0.85), 0.85 * SECONDS, note="damaged at 2"),
    Awkward("damaged.mp3", _damaged("MP3", 0.85), 0.85 * SECONDS, note="damaged at 2"),
    Awkward("damaged.ogg", _damaged("OGG", 0.85), 0.9 * SECONDS, note="3.0 s promised, 2.7 s came"),
    Awkward("chained.ogg", _chained_ogg, SECONDS, note="only the first was read"),
    # Headers that lie.
    Awkward("no length.flac", _flac_claiming(0), SECONDS),
    Awkward(
        "1.8 hours.flac", _flac_claiming(317_000_000), SECONDS, note="6604.2 s promised, 3.0 s"
    ),
    Awkward("397 hours.flac", _flac_claiming(2**36 - 1), refusal="398 hours long, or so it says"),
    Awkward(
        "too much.wav",
        _bytes(wav_header(2**31 - 100) + _pcm()),
        SECONDS,
        note="cut short: 214690",
    ),
    Awkward(
        "streamed.wav",
        _bytes(wav_header(0xFFFF_FFFF, riff_bytes=0xFFFF_FFFF) + _pcm()),
        SECONDS,
    ),
    Awkward("never closed.wav", _bytes(wav_header(0) + _pcm()), refusal="holds no sound"),
    Awkward("huge chunk.wav", _huge_chunk, refusal="not audio|holds no sound"),
    Awkward(
        "odd code.wav",
        _bytes(wav_header(len(_pcm()), code=0x4242) + _pcm()),
        refusal="not audio, or damaged",
    ),
    # Not numbers, not heard.
    Awkward("NaN.wav", _spoilt(float("nan")), refusal="not numbers.*first at 1.25 s"),
    Awkward("Inf.wav", _spoilt(float("inf")), refusal="not numbers.*first at 1.25 s"),
    Awkward("beyond float.wav", _spoilt(1e300, "DOUBLE"), refusal="beyond all scale.* 1.25 s"),
    Awkward("1e30.wav", _spoilt(1e30), refusal="beyond all scale"),
    Awkward(
        "12 dB over.wav",
        lambda path: write(path, 8.0 * music(), format="WAV", subtype="FLOAT"),
        SECONDS,
        note="turned down by 12.0 dB",
    ),
    Awkward(
        "integers as floats.wav",
        lambda path: write(path, 32768.0 * music(), format="WAV", subtype="FLOAT"),
        SECONDS,
        note="turned down by 84.3 dB",
    ),
    Awkward("silence.wav", _bytes(wav_header(576_000) + bytes(576_000)), refusal="silent"),
    Awkward(
        "dither.wav",
        lambda path: write(path, 1e-3 * music() / 4.0, format="WAV"),
        refusal="silent",
    ),
    Awkward("1.9 s.wav", _at_rate(48_000, 1.9), refusal=r"1\.9 s long; at least 2 s"),
    Awkward("2.0 s.wav", _at_rate(48_000, 2.0), 2.0),
    Awkward("no frames.wav", _bytes(wav_header(0)), refusal="holds no sound"),
    # Not what the name says.
    Awkward("wav inside.mp3", _as("WAV"), SECONDS),
    Awkward("flac inside.raw", _as("FLAC"), SECONDS),
    Awkward("no suffix", _as("OGG"), SECONDS),
    Awkward("empty.wav", _bytes(b""), refusal="empty"),
    Awkward("text.wav", _bytes(b"Dear band, the mix is attached.\n" * 50), refusal="not audio"),
    Awkward("picture.flac", _bytes(_PNG), refusal="not audio"),
    Awkward("archive.ogg", _bytes(b"PK\x03\x04" + bytes(4000)), refusal="not audio"),
    Awkward(
        "noise.mp3",
        _bytes(np.random.RandomState(1).bytes(60_000)),
        refusal="not audio|s long",
    ),
    # Names.
    Awkward("Übung für Geige – 新しい曲.wav", _as("WAV"), SECONDS),
    Awkward("two\nlines\x1b[31m.txt", _bytes(b"text" * 500), refusal=r"two�lines�\[31m"),
    Awkward(os.fsdecode(b"not utf-8 \xff\xfe.wav"), _as("WAV"), SECONDS),
    Awkward(os.fsdecode(b"nor audio \xff\xfe.wav"), _bytes(b"text" * 500), refusal="nor audio ��"),
    Awkward(_LONG + ".wav", _as("WAV"), SECONDS),
    Awkward(_LONG + ".doc", _bytes(b"text" * 500), refusal="…"),
)
