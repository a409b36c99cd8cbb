"""The learner's own material as loops: a file, or a folder of tracks that belong together.

``survey`` goes once through the material, in blocks, and finds the passages that would loop;
``make_loop`` cuts the one that was chosen. Of a folder the sum of its tracks is searched and all of
them are cut alike. Two hours of sound go through in under 500 MB.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import takewhile, zip_longest
from pathlib import Path
from typing import Final

import numpy as np

from exercises.audio_file import (
    AudioStream,
    check_heard,
    open_audio,
    read_stretch,
)
from exercises.audio_handle import shown_name
from exercises.errors import BadAudio
from exercises.loop_cut import LONGEST_WHOLE_S, cut_loop, find_loops, placed
from exercises.loop_features import Features, measure
from exercises.loop_search import Candidate, search
from exercises.loop_writing import HIGHEST_SAMPLE, slug
from exercises.loops import WHOLE_MIX, Loop, Passage, Track, fingerprint
from exercises.samples import RATE_HZ, Samples, as_samples, db_to_gain

Progress = Callable[[float], None]

MOST_TRACKS: Final = 24
AUDIO_SUFFIXES: Final = frozenset(
    (".wav", ".wave", ".aif", ".aiff", ".aifc", ".flac", ".ogg", ".oga", ".opus", ".mp3", ".caf")
)

_LENGTHS_MAY_DIFFER_S: Final = 0.02
_MARGIN_S: Final = 0.5
_SILENT_TRACK_DBFS: Final = -70.0  # as a silent file
_MEASURING: Final = 0.95  # share of the work that goes into reading and measuring


@dataclass(frozen=True, slots=True)
class Material:
    """A file or folder that was searched: its tracks, what would loop (best first), and notes."""

    path: Path
    files: tuple[Path, ...]
    seconds: float
    candidates: tuple[Candidate, ...]
    notes: tuple[str, ...]


def loop_from_file(path: Path | str, progress: Progress | None = None) -> Loop:
    """The best loop in an audio file: one track and the title named after the file.

    Raises:
        BadAudio: see ``audio_file``.
    """
    if os.path.isdir(path):
        raise BadAudio(f"{shown_name(path)}: a folder; choose an audio file in it")
    return make_loop(survey(path, progress=progress))


def survey(path: Path | str, count: int = 5, progress: Progress | None = None) -> Material:
    """Search a file, or a folder of tracks, for its ``count`` best loops.

    Args:
        path: an audio file, or a folder of audio files of one length and rate.
        count: how many candidates at most; what is a loop already is the only one.
        progress: called with the share that is done, 0 to 1.

    Raises:
        BadAudio: no audio in a folder, more than 24 files, files that differ in length or rate,
            or one of them as in ``audio_file``.
    """
    path = Path(path)
    tell = progress or (lambda share: None)
    files = _tracks_in(path) if os.path.isdir(path) else (path,)
    features, seconds, notes = _measured(path, files, tell)
    # Powers are summed over two channels.
    check_heard(path, seconds, float(np.sqrt(features.powers.sum(axis=1).mean() / 2.0)))
    if seconds <= LONGEST_WHOLE_S:
        candidates = find_loops(_mixed([read_stretch(file).samples for file in files]), count)
    else:
        candidates = tuple(_placed_in(files, candidate) for candidate in search(features, count))
    tell(1.0)
    if not candidates:
        raise BadAudio(f"{shown_name(path)}: too little sound for a loop; choose another file")
    return Material(path, files, seconds, candidates, notes)


def make_loop(material: Material, choice: int = 0, title: str | None = None) -> Loop:
    """The loop of candidate ``choice``; tracks that are silent throughout it are left out.

    Raises:
        BadAudio: there is no such candidate, or nothing can be heard in it; or the files changed.
    """
    if not 0 <= choice < len(material.candidates):
        raise BadAudio(
            f"{shown_name(material.path)}: no loop number {choice + 1}; "
            f"1 to {len(material.candidates)} were found"
        )
    candidate = material.candidates[choice]
    excerpts, offset = _excerpts(material.files, candidate)
    try:
        cut = [cut_loop(excerpt, candidate, offset) for excerpt in excerpts]
    except ValueError:
        raise BadAudio(f"{shown_name(material.path)}: changed while it was read; try again") from (
            None
        )
    gain = _gain_to_fit(cut)
    heard = [
        (name, as_samples(samples * gain))
        for name, samples in zip(_track_names(material.files), cut, strict=True)
        if gain * _level(samples) > db_to_gain(_SILENT_TRACK_DBFS)
    ]
    if not heard:
        raise BadAudio(f"{shown_name(material.path)}: this passage is silent; choose another")
    tracks = tuple(Track(name, samples) for name, samples in heard)
    shown_title = title or _printable_stem(material.path)
    return Loop(
        name=slug(shown_title),
        title=shown_title,
        style="own material",
        tracks=tracks,
        passages=passages_of(candidate.bars, len(tracks[0].samples)),
        fingerprint=fingerprint(tracks),
        tempo_bpm=candidate.tempo_bpm,
        beats_per_bar=candidate.beats_per_bar,
        bars=candidate.bars,
    )


def _tracks_in(folder: Path) -> tuple[Path, ...]:
    shown = shown_name(folder)
    try:
        files = sorted(
            file
            for file in folder.iterdir()
            if file.suffix.lower() in AUDIO_SUFFIXES and not file.name.startswith(".")
        )
    except OSError as error:
        raise BadAudio(f"{shown}: cannot be opened ({error.strerror}); check its rights") from None
    if not files:
        raise BadAudio(f"{shown}: no audio files in it; choose a folder of WAV, FLAC or the like")
    if len(files) > MOST_TRACKS:
        raise BadAudio(
            f"{shown}: {len(files)} audio files; at most {MOST_TRACKS} tracks can be read, "
            "mix some together"
        )
    return tuple(files)


def _measured(
    path: Path, files: tuple[Path, ...], tell: Progress
) -> tuple[Features, float, tuple[str, ...]]:
    """Features of the sum of ``files``, its length in seconds, and all notes."""
    with ExitStack() as stack:
        streams = [stack.enter_context(open_audio(file)) for file in files]
        rates_hz = {stream.info.rate_hz for stream in streams}
        if len(rates_hz) > 1:
            shown = " and ".join(str(rate_hz) for rate_hz in sorted(rates_hz))
            raise BadAudio(f"{shown_name(path)}: tracks at {shown} Hz; export them all at one rate")
        rate_hz = rates_hz.pop()
        features = measure(_summed(streams, tell), rate_hz)
        lengths_s = [stream.reached / rate_hz for stream in streams]
        notes = tuple(
            f"{shown_name(file)}: {note}"
            for file, stream in zip(files, streams, strict=True)
            for note in stream.notes
        )
    shortest, longest = min(lengths_s), max(lengths_s)
    if longest - shortest > _LENGTHS_MAY_DIFFER_S:
        raise BadAudio(
            f"{shown_name(path)}: {shown_name(files[lengths_s.index(shortest)])} lasts "
            f"{shortest:.2f} s and {shown_name(files[lengths_s.index(longest)])} {longest:.2f} s; "
            "export all tracks from one start to one end"
        )
    return features, shortest, notes


def _summed(streams: list[AudioStream], tell: Progress) -> Iterator[Samples]:
    for blocks in zip_longest(*(stream.blocks() for stream in streams)):
        yield _mixed([block for block in blocks if block is not None])
        tell(_MEASURING * streams[0].done)


def _mixed(parts: list[Samples]) -> Samples:
    """The sum of ``parts``, which may differ in length by a few frames, at the longest's length."""
    if len(parts) == 1:
        return parts[0]
    total = np.zeros((max(map(len, parts)), 2), dtype=np.float64, order="F")
    for part in parts:
        total[: len(part)] += part
    return as_samples(total)


def _excerpts(files: tuple[Path, ...], candidate: Candidate) -> tuple[list[Samples], int]:
    """The candidate's stretch of each file with half a second around it, and where that begins.

    All of one length, that of the shortest.
    """
    offset = max(0, candidate.start_frame - round(_MARGIN_S * RATE_HZ))
    seconds = (candidate.stop_frame - offset) / RATE_HZ + _MARGIN_S
    excerpts = [read_stretch(file, offset / RATE_HZ, seconds).samples for file in files]
    frames = min(map(len, excerpts))
    return [excerpt[:frames] for excerpt in excerpts], offset


def _placed_in(files: tuple[Path, ...], candidate: Candidate) -> Candidate:
    excerpts, offset = _excerpts(files, candidate)
    return placed(_mixed(excerpts), candidate, offset)


def _gain_to_fit(tracks: list[Samples]) -> np.float32:
    """One gain for all tracks, so that neither they nor their sum exceed full scale."""
    peak = max(float(np.abs(samples).max()) for samples in [*tracks, _mixed(tracks)])
    return np.float32(min(1.0, 0.9999 * HIGHEST_SAMPLE / max(peak, 1e-9)))


def _level(samples: Samples) -> float:
    """Rms (linear) of the louder tenths of a second: what 95 % of them do not exceed.

    So a single click in silence is silent.
    """
    tenth = RATE_HZ // 10
    tenths = samples[: len(samples) // tenth * tenth].reshape(-1, tenth, 2)
    powers = np.mean(np.square(tenths, dtype=np.float64), axis=(1, 2))
    return float(np.sqrt(np.percentile(powers, 95)))


def _printable_stem(path: Path) -> str:
    return Path(shown_name(path)).stem if not path.is_dir() else shown_name(path.resolve())


def _track_names(files: tuple[Path, ...]) -> list[str]:
    """File names without what they all begin with ("take 3 - drums" is "drums"), all different."""
    stems = [_printable_stem(file) for file in files]
    alike = takewhile(lambda chars: len(set(chars)) == 1, zip(*stems, strict=False))
    shared = "".join(chars[0] for chars in alike) if len(stems) > 1 else ""
    shared = shared[: max(shared.rfind(mark) for mark in " -_.") + 1]
    names: list[str] = []
    for stem in stems:
        name = stem[len(shared) :].strip(" -_.") or stem
        if name == WHOLE_MIX or name in names:
            name = f"{name} {len(names) + 1}"
        names.append(name)
    return names


def passages_of(bars: int | None, frames: int) -> tuple[Passage, ...]:
    """Four or two parts of equal length, named after their bars where there are whole ones."""
    if bars is None or bars % 2:
        names = ["first half", "second half"]
    else:
        parts = 4 if bars % 4 == 0 and bars >= 8 else 2
        each = bars // parts
        names = [
            f"bar {first + 1}" if each == 1 else f"bars {first + 1}-{first + each}"
            for first in range(0, bars, each)
        ]
    edges = [round(frames * part / len(names)) for part in range(len(names) + 1)]
    return tuple(
        Passage(name, start, stop)
        for name, start, stop in zip(names, edges[:-1], edges[1:], strict=True)
    )
