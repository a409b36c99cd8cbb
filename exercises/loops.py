"""Loops: a few bars of music that repeat without a seam, as tracks and passages.

A loop lives in a folder: ``loop.toml`` and one FLAC a track, all of one length, 48 kHz, mono or
stereo. Passages share the loop's length out between them, in frames:

    format = 1
    title = "Ferry crossing"
    style = "driven guitar band"
    tempo_bpm = 96.0
    beats_per_bar = 4
    bars = 4

    [[track]]
    name = "drums"
    file = "drums.flac"

    [[passage]]
    name = "damped strokes"
    start_frame = 0
    stop_frame = 240000
"""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from exercises.errors import BadLoop
from exercises.samples import RATE_HZ, Samples, as_samples

FORMAT: Final = 1
WHOLE_MIX: Final = "whole mix"


@dataclass(frozen=True, slots=True)
class Track:
    """One instrument or group; ``samples`` is (frames, 2) float32, as it sits in the mix."""

    name: str
    samples: Samples


@dataclass(frozen=True, slots=True)
class Passage:
    """A named stretch of the loop, frames ``start_frame`` up to but not with ``stop_frame``."""

    name: str
    start_frame: int
    stop_frame: int


@dataclass(frozen=True, slots=True)
class Loop:
    """Music that repeats: tracks of equal length that sum to the mix, and its passages.

    ``name`` is the folder's name (unique among the loops at hand), ``fingerprint`` a SHA-256 of
    the tracks' samples, so that a recipe can say which sound it was made for. ``bars`` and
    ``tempo_bpm`` are None where they are not known (a learner's own file).
    """

    name: str
    title: str
    style: str
    tracks: tuple[Track, ...]
    passages: tuple[Passage, ...]
    fingerprint: str
    tempo_bpm: float | None = None
    beats_per_bar: int = 4
    bars: int | None = None

    @property
    def frames(self) -> int:
        """Length in frames."""
        return len(self.tracks[0].samples)

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return self.frames / RATE_HZ

    def mix(self) -> Samples:
        """All tracks together, (frames, 2) float32; a fresh array."""
        total = np.zeros((self.frames, 2), dtype=np.float64, order="F")
        for track in self.tracks:
            total += track.samples
        return as_samples(total)

    def track(self, name: str) -> Track:
        """The track called ``name``.

        Raises:
            BadLoop: there is none.
        """
        for track in self.tracks:
            if track.name == name:
                return track
        known = ", ".join(track.name for track in self.tracks)
        raise BadLoop(f"loop '{self.name}' has no track '{name}'; it has {known}")


def fingerprint(tracks: tuple[Track, ...]) -> str:
    """SHA-256 over names and samples, as 64 hex digits; samples as 16-bit steps of 1/32768.

    The same on every machine for lossless files. (A lossy file may decode a rounding apart on
    another machine, and is then another loop.)
    """
    digest = hashlib.sha256()
    for track in tracks:
        digest.update(track.name.encode())
        steps = np.clip(np.rint(track.samples * 32768.0), -(2**23), 2**23).astype("<i4")
        digest.update(np.ascontiguousarray(steps).tobytes())
    return digest.hexdigest()


def read_loop(folder: Path) -> Loop:
    """The loop in ``folder``.

    Raises:
        BadLoop: the description is missing or wrong, or does not fit the audio beside it.
    """
    path = folder / "loop.toml"
    described = read_description(path)
    try:
        loop = _loop_from(folder, described)
    except (KeyError, TypeError, ValueError, OverflowError, AttributeError) as error:
        raise BadLoop(
            f"{path}: an entry is missing or of the wrong type ({error!r}); mend it"
        ) from None
    _check_passages(path, loop.passages, loop.frames)
    return loop


def _loop_from(folder: Path, described: dict[str, Any]) -> Loop:
    tracks = tuple(_read_track(folder, entry) for entry in described["track"])
    if len({track.name for track in tracks}) != len(tracks):
        raise BadLoop(f"{folder / 'loop.toml'}: two tracks share a name; rename one")
    if len({len(track.samples) for track in tracks}) != 1:
        raise BadLoop(f"{folder}: its tracks differ in length; cut them to one length")
    passages = tuple(
        Passage(str(entry["name"]), int(entry["start_frame"]), int(entry["stop_frame"]))
        for entry in described.get("passage", ())
    ) or (Passage("the loop", 0, len(tracks[0].samples)),)
    tempo_bpm, bars = described.get("tempo_bpm"), described.get("bars")
    return Loop(
        name=folder.name,
        title=str(described["title"]),
        style=str(described.get("style", "")),
        tracks=tracks,
        passages=passages,
        fingerprint=fingerprint(tracks),
        tempo_bpm=None if tempo_bpm is None else float(tempo_bpm),
        beats_per_bar=int(described.get("beats_per_bar", 4)),
        bars=None if bars is None else int(bars),
    )


def read_description(path: Path) -> dict[str, Any]:
    """What the ``loop.toml`` at ``path`` says, its format, title and first track being there.

    Raises:
        BadLoop: it is missing or cannot be read, or lacks one of them.
    """
    try:
        described = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise BadLoop(f"{path.parent}: no loop.toml; a loop folder needs one") from None
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadLoop(f"{path}: cannot be read ({error}); mend it or remove the folder") from None
    if described.get("format") != FORMAT:
        raise BadLoop(f"{path}: format {described.get('format')!r}, this version reads {FORMAT}")
    if not described.get("title") or not described.get("track"):
        raise BadLoop(f"{path}: needs a title and at least one [[track]]")
    return described


def _read_track(folder: Path, entry: dict[str, Any]) -> Track:
    import soundfile

    name, file = str(entry.get("name", "")), str(entry.get("file", ""))
    if not name or not file or Path(file).name != file:
        raise BadLoop(f"{folder / 'loop.toml'}: each [[track]] needs a name and a plain file name")
    try:
        samples, rate_hz = soundfile.read(folder / file, dtype="float32", always_2d=True)
    except (OSError, RuntimeError, ValueError, TypeError) as error:
        raise BadLoop(f"{folder / file}: cannot be read ({error}); restore the file") from None
    if rate_hz != RATE_HZ or samples.shape[1] > 2 or len(samples) == 0:
        raise BadLoop(f"{folder / file}: a track is mono or stereo at {RATE_HZ} Hz")
    if not np.isfinite(samples).all():
        raise BadLoop(f"{folder / file}: holds samples that are not numbers; restore the file")
    return Track(
        name, as_samples(np.repeat(samples, 2, axis=1) if samples.shape[1] == 1 else samples)
    )


def _check_passages(path: Path, passages: tuple[Passage, ...], frames: int) -> None:
    reached = 0
    for passage in passages:
        if passage.start_frame != reached or passage.stop_frame <= passage.start_frame:
            raise BadLoop(f"{path}: passage '{passage.name}' leaves a gap or overlaps; mend it")
        reached = passage.stop_frame
    if reached != frames:
        raise BadLoop(f"{path}: passages end at frame {reached}, the audio at {frames}; mend it")
