"""What a loop's description says of it, without reading its sound: enough for a list of loops."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from exercises.errors import BadLoop
from exercises.loops import read_description
from exercises.samples import RATE_HZ


@dataclass(frozen=True, slots=True)
class LoopOutline:
    """A loop's title and style, its length, and the names of its tracks and passages."""

    title: str
    style: str
    seconds: float
    tracks: tuple[str, ...]
    passages: tuple[str, ...]


def read_outline(folder: Path) -> LoopOutline:
    """The outline of the loop in ``folder``; only ``loops.read_loop`` finds all that may be wrong.

    Raises:
        BadLoop: the description is missing or wrong.
    """
    path = folder / "loop.toml"
    described = read_description(path)
    try:
        tracks = tuple(str(entry["name"]) for entry in described["track"])
        passages = described.get("passage", ())
        if passages:
            frames = int(passages[-1]["stop_frame"])
        else:
            frames = _frames_of(folder / str(described["track"][0]["file"]))
        return LoopOutline(
            title=str(described["title"]),
            style=str(described.get("style", "")),
            seconds=frames / RATE_HZ,
            tracks=tracks,
            passages=tuple(str(entry["name"]) for entry in passages),
        )
    except (KeyError, TypeError, ValueError, OverflowError, AttributeError) as error:
        raise BadLoop(
            f"{path}: an entry is missing or of the wrong type ({error!r}); mend it"
        ) from None


def _frames_of(file: Path) -> int:
    import soundfile

    try:
        return int(soundfile.info(file).frames)
    except (OSError, RuntimeError) as error:
        raise BadLoop(f"{file}: cannot be read ({error}); restore the file") from None
