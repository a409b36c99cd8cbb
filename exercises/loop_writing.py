"""Writing a loop as a folder that ``loops.read_loop`` reads back as the same loop.

Tracks become FLAC with 24 bits, rounded so that the 16-bit steps of the fingerprint stay what they
were. The folder appears whole or not at all: it is written under another name beside its place and
then renamed; a folder that is already there is never touched.
"""

from __future__ import annotations

import re
import shutil
import tempfile
import unicodedata
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from exercises.errors import BadLoop
from exercises.loops import FORMAT, Loop
from exercises.samples import RATE_HZ, Samples

HIGHEST_SAMPLE: Final = 32767.0 / 32768.0

_LONGEST_SLUG: Final = 40


def write_loop(loop: Loop, folder: Path) -> None:
    """Write ``loop`` as ``folder``, which must not be there yet; its parents are made.

    Raises:
        BadLoop: there is something at ``folder``, a track exceeds full scale, or the disk refuses.
    """
    import soundfile
    import tomli_w

    if folder.exists():
        raise BadLoop(f"{folder}: is already there; choose another name or remove it first")
    for track in loop.tracks:
        if np.abs(track.samples).max() > HIGHEST_SAMPLE:
            raise BadLoop(f"track '{track.name}' exceeds full scale; turn all tracks down alike")
    building: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        building = Path(tempfile.mkdtemp(prefix=".building-", dir=folder.parent))
        files = [
            f"{number:02d}-{slug(track.name)}.flac"
            for number, track in enumerate(loop.tracks, start=1)
        ]
        for track, file in zip(loop.tracks, files, strict=True):
            steps = _steps_of_24_bits(track.samples)
            soundfile.write(building / file, steps << 8, RATE_HZ, subtype="PCM_24")
        description = tomli_w.dumps(_description(loop, files))
        (building / "loop.toml").write_text(description, encoding="utf-8")
        # mkdtemp makes folders that no one else may open; a loop is as open as its parent.
        building.chmod(folder.parent.stat().st_mode & 0o777)
        building.rename(folder)
    except (OSError, RuntimeError) as error:
        raise BadLoop(f"{folder}: cannot be written ({error}); make room or mend the rights") from (
            None
        )
    finally:
        if building is not None and building.exists():
            shutil.rmtree(building, ignore_errors=True)


def slug(text: str) -> str:
    """``text`` as a file name for any system: a-z, 0-9 and hyphens, 1 to 40 characters."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:_LONGEST_SLUG].strip("-") or "loop"


def _steps_of_24_bits(samples: Samples) -> npt.NDArray[np.int32]:
    """Samples in steps of 2^-23 that round to the same steps of 2^-15 as the samples do."""
    coarse = np.rint(samples * 32768.0) * 256.0
    fine = np.rint(samples.astype(np.float64) * 2.0**23)
    # Half a coarse step is a tie, which the reader's rounding might take to the other side.
    return np.clip(fine, coarse - 127.0, coarse + 127.0).astype(np.int32)


def _description(loop: Loop, files: list[str]) -> dict[str, Any]:
    described: dict[str, Any] = {
        "format": FORMAT,
        "title": loop.title,
        "style": loop.style,
        "tempo_bpm": loop.tempo_bpm,
        "beats_per_bar": loop.beats_per_bar,
        "bars": loop.bars,
        "track": [
            {"name": track.name, "file": file}
            for track, file in zip(loop.tracks, files, strict=True)
        ],
        "passage": [
            {
                "name": passage.name,
                "start_frame": passage.start_frame,
                "stop_frame": passage.stop_frame,
            }
            for passage in loop.passages
        ],
    }
    return {key: value for key, value in described.items() if value is not None}
