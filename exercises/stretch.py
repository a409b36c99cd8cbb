"""A stretch of somebody's sound to be judged: of an audio file, a folder of tracks, or a loop.

Sound is (frames, 2) float32 at 48 kHz. Nothing is trusted: what cannot be used raises BadAudio,
one line that says what is wrong and what to do.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from exercises.audio_file import SILENCE_DBFS, inspect, read_stretch
from exercises.audio_handle import shown_name
from exercises.errors import BadAudio
from exercises.evidence import most_marked
from exercises.loops import Loop, Passage, read_loop
from exercises.own_loop import AUDIO_SUFFIXES, MOST_TRACKS
from exercises.samples import RATE_HZ, Samples, as_samples, gain_to_db

SHORTEST_S: Final = 2.0
LONGEST_S: Final = 60.0
WHOLE_UP_TO_S: Final = 20.0
"""What is no longer than this is taken whole; of more, the most marked eight seconds."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Which part of the material: a track (None: all) and where, in seconds (None: its ends)."""

    track: str | None = None
    start_s: float | None = None
    stop_s: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """What is heard (``mix``) and what the filter sits on (``part``: a track of it, or the mix).

    ``seamless``: the end fits the beginning, as in a whole loop. ``passages`` is empty where none
    are known. ``found``: it was chosen here and not asked for. ``notes`` say what was done to it.
    """

    title: str
    mix: Samples
    part: Samples
    track: str | None
    start_s: float
    passages: tuple[Passage, ...] = ()
    seamless: bool = False
    found: bool = False
    notes: tuple[str, ...] = ()

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return len(self.mix) / RATE_HZ


def stretch_of_loop(loop: Loop, asked: Asked) -> Stretch:
    """A loop, or a stretch of it.

    Raises:
        BadAudio: no such stretch, or silence.
        BadLoop: no such track.
    """
    part = loop.mix() if asked.track is None else loop.track(asked.track).samples
    first, last = _frames(asked, loop.frames, loop.title)
    whole = (first, last) == (0, loop.frames)
    return _checked(
        Stretch(
            loop.title,
            loop.mix()[first:last],
            part[first:last],
            asked.track,
            first / RATE_HZ,
            loop.passages if whole and len(loop.passages) > 1 else (),
            seamless=whole,
        )
    )


def stretch_of_path(path: Path, asked: Asked, claimed_hz: float, *, hollow: bool) -> Stretch:
    """A stretch of an audio file, of a folder of tracks of one length, or of a loop's folder.

    Of a file of more than 20 s without ``start_s`` and ``stop_s``, the eight seconds in which
    ``claimed_hz`` stands out most.

    Raises:
        BadAudio: it cannot be read, no such track or stretch, too long, or silent.
        BadLoop: a loop's folder that does not hold together.
    """
    if (path / "loop.toml").is_file():
        return stretch_of_loop(read_loop(path), asked)
    files = _files_in(path) if path.is_dir() else {path.stem: path}
    title = shown_name(path.resolve()) if path.is_dir() else shown_name(path)
    if asked.track is not None and (asked.track not in files or not path.is_dir()):
        has = f"it has {', '.join(files)}" if path.is_dir() else "it is one file: leave --track out"
        raise BadAudio(f"{title}: no track '{asked.track}'; {has}")
    chosen = asked.start_s is not None or asked.stop_s is not None
    start_s, seconds = _bounds(asked, title) if chosen else (0.0, None)
    read = {name: read_stretch(file, start_s, seconds) for name, file in files.items()}
    frames = min(len(audio.samples) for audio in read.values())
    mix = _sum([audio.samples[:frames] for audio in read.values()])
    part = mix if asked.track is None else read[asked.track].samples[:frames]
    notes = tuple(note for audio in read.values() for note in audio.notes)
    first, last = 0, frames
    found = not chosen and frames > WHOLE_UP_TO_S * RATE_HZ
    if found:
        first, last = most_marked(part, claimed_hz, hollow=hollow)
    stretch = Stretch(
        title,
        mix[first:last],
        part[first:last],
        asked.track,
        start_s + first / RATE_HZ,
        found=found,
        notes=notes,
    )
    if chosen and frames < SHORTEST_S * RATE_HZ:
        length_s = inspect(next(iter(files.values()))).seconds
        ends = "" if length_s is None else f"; it ends at {length_s:.1f} s"
        raise BadAudio(f"{title}: nothing from {start_s:.1f} s on{ends}")
    ends_s = start_s + frames / RATE_HZ
    if asked.stop_s is not None and ends_s < asked.stop_s - 0.01:
        raise BadAudio(f"{title}: it ends at {ends_s:.2f} s; move the end")
    return _checked(stretch)


def is_a_stretch(start_s: float, stop_s: float) -> bool:
    """Whether it is as long as a stretch may be."""
    return SHORTEST_S <= stop_s - start_s <= LONGEST_S


def _bounds(asked: Asked, title: str) -> tuple[float, float]:
    """Start and length in seconds of what was asked for."""
    start_s = asked.start_s or 0.0
    stop_s = start_s + LONGEST_S if asked.stop_s is None else asked.stop_s
    if not is_a_stretch(start_s, stop_s):
        raise BadAudio(
            f"{title}: {start_s:g} to {stop_s:g} s; a stretch has "
            f"{SHORTEST_S:.0f} to {LONGEST_S:.0f} seconds; move its start or its end"
        )
    return start_s, stop_s - start_s


def _frames(asked: Asked, frames: int, title: str) -> tuple[int, int]:
    if asked.start_s is None and asked.stop_s is None:
        return 0, frames
    length_s = frames / RATE_HZ
    stop_s = length_s if asked.stop_s is None else asked.stop_s
    start_s, seconds = _bounds(Asked(None, asked.start_s, stop_s), title)
    first, last = round(start_s * RATE_HZ), round((start_s + seconds) * RATE_HZ)
    if last > frames:
        raise BadAudio(f"{title}: it ends at {length_s:.2f} s; move the end")
    return first, last


def _files_in(folder: Path) -> dict[str, Path]:
    """The tracks of a folder by their file names."""
    try:
        files = {
            file.stem: file
            for file in sorted(folder.iterdir())
            if file.suffix.lower() in AUDIO_SUFFIXES and not file.name.startswith(".")
        }
    except OSError as error:
        raise BadAudio(
            f"{shown_name(folder)}: cannot be opened ({error.strerror}); check its rights"
        ) from None
    if not 1 <= len(files) <= MOST_TRACKS:
        raise BadAudio(
            f"{shown_name(folder)}: {len(files)} audio files in it; 1 to {MOST_TRACKS} are needed"
        )
    return files


def _sum(parts: list[Samples]) -> Samples:
    if len(parts) == 1:
        return parts[0]
    total = np.zeros(parts[0].shape, dtype=np.float64, order="F")
    for part in parts:
        total += part
    return as_samples(total)


def _checked(stretch: Stretch) -> Stretch:
    """``stretch``, heard and long enough.

    Raises:
        BadAudio: it is not.
    """
    if stretch.seconds < SHORTEST_S:
        raise BadAudio(
            f"{stretch.title}: {stretch.seconds:.1f} s; at least {SHORTEST_S:.0f} s are needed"
        )
    for sound, what in ((stretch.mix, "it"), (stretch.part, f"'{stretch.track}'")):
        rms = float(np.sqrt(np.mean(np.square(sound, dtype=np.float64))))
        if gain_to_db(rms) < SILENCE_DBFS:
            raise BadAudio(f"{stretch.title}: {what} is silent here; choose another stretch")
    return stretch
