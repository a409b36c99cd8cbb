"""Rendering an arrangement, writing it as a loop folder, and comparing it with one."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from exercises.loops import FORMAT
from exercises.samples import RATE_HZ
from exercises.studio.arrangement import Arrangement
from exercises.studio.desk import mixed

Steps = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Rendering:
    """A loop as it goes to disk: loop.toml's text, and (name, int16 samples) of each track."""

    description: str
    tracks: tuple[tuple[str, Steps], ...]


def rendered(arrangement: Arrangement) -> Rendering:
    """Play and mix ``arrangement``.

    Raises:
        ValueError: a track would clip at 16 bits, or passages do not fill the bars.
    """
    grid = arrangement.grid
    parts = arrangement.play(grid)
    tracks = []
    for part, track in zip(parts, mixed(parts, arrangement.room), strict=True):
        steps = np.rint(track * 32768.0)
        if not np.abs(steps).max() < 32767:
            raise ValueError(f"{arrangement.name}: {part.name} does not fit in 16 bits")
        tracks.append((part.name, steps.astype(np.int16)))
    if sum(bars for _, bars in arrangement.passages) != grid.bars:
        raise ValueError(f"{arrangement.name}: its passages do not fill {grid.bars} bars")
    return Rendering(_description(arrangement, [name for name, _ in tracks]), tuple(tracks))


def _description(arrangement: Arrangement, names: list[str]) -> str:
    import tomli_w

    grid = arrangement.grid
    passages, bar = [], 0
    for name, bars in arrangement.passages:
        start, stop = grid.bar_frame(bar), grid.bar_frame(bar + bars)
        passages.append({"name": name, "start_frame": start, "stop_frame": stop})
        bar += bars
    return tomli_w.dumps(
        {
            "format": FORMAT,
            "title": arrangement.title,
            "style": arrangement.style,
            "tempo_bpm": float(grid.tempo_bpm),
            "beats_per_bar": grid.beats_per_bar,
            "bars": grid.bars,
            "track": [{"name": name, "file": f"{name.replace(' ', '-')}.flac"} for name in names],
            "passage": passages,
        }
    )


def write(rendering: Rendering, folder: Path) -> None:
    """Write ``rendering`` as a loop folder, replacing the tracks that are there."""
    import soundfile

    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.flac"):
        old.unlink()
    for name, steps in rendering.tracks:
        soundfile.write(
            folder / f"{name.replace(' ', '-')}.flac",
            steps,
            RATE_HZ,
            subtype="PCM_16",
            compression_level=1.0,
        )
    (folder / "loop.toml").write_text(rendering.description, encoding="utf-8", newline="\n")


def furthest_step(rendering: Rendering, folder: Path) -> int:
    """The largest difference, in 16-bit steps, between ``rendering`` and the files in ``folder``.

    Raises:
        ValueError: a track or the description is missing or of another shape.
    """
    import soundfile

    if (folder / "loop.toml").read_text(encoding="utf-8") != rendering.description:
        raise ValueError(f"{folder}: loop.toml differs from the arrangement")
    furthest = 0
    for name, steps in rendering.tracks:
        kept, _ = soundfile.read(folder / f"{name.replace(' ', '-')}.flac", dtype="int16")
        if kept.shape != steps.shape:
            raise ValueError(f"{folder}: {name} is {kept.shape}, rendered {steps.shape}")
        furthest = max(furthest, int(np.abs(kept.astype(int) - steps).max()))
    return furthest
