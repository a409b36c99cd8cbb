"""Playing: the callback against its block, the wait for a switch, a playing process's share.

The playing process runs under SDL's dummy driver, which takes blocks in real time; its share of
one core is its own processor time over the wall clock of the same stretch.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from exercises.samples import RATE_HZ, Samples
from trainer.playhead import FIRST_FADE_FRAMES, Playhead

BLOCK = 512
BLOCK_MS = 1000.0 * BLOCK / RATE_HZ

PLAYING_PROCESS = """
import time
import numpy as np
from trainer.playhead import Playhead
from trainer.player import open_player

noise = np.random.RandomState(0).uniform(-0.1, 0.1, (8 * 48000, 2)).astype(np.float32)
playhead = Playhead()
playhead.load({"A": noise, "B": np.asfortranarray(noise * 0.5)})
player = open_player(playhead)
playhead.play()
time.sleep(1.0)
wall, used, sound = time.perf_counter(), time.process_time(), playhead.seconds_played
for turn in range(10):
    playhead.choose("BA"[turn % 2])
    time.sleep(0.5)
wall, used = time.perf_counter() - wall, time.process_time() - used
print(used, wall, playhead.seconds_played - sound)
player.close()
"""


def rows() -> Iterator[tuple[str, float, float, float | None]]:
    """(what, ours, reference, highest ratio promised) for each measurement."""
    steady, switching = _callback_ms(switching=False), _callback_ms(switching=True)
    yield "callback, one source, median ms : block ms", steady[0], BLOCK_MS, 0.05
    yield "callback, one source, 99 % ms : block ms", steady[1], BLOCK_MS, 0.3
    yield "callback, in a cross-fade, median ms : block ms", switching[0], BLOCK_MS, 0.05
    yield "callback, in a cross-fade, 99 % ms : block ms", switching[1], BLOCK_MS, 0.3
    yield "switch heard in block number : the next", float(switch_blocks()), 1.0, 1.0
    used, wall, sound = playing_process()
    yield "processor s of a playing process : wall s", used, wall, 0.15
    yield "sound s taken by the dummy driver : wall s", sound, wall, None


def _sources() -> dict[str, Samples]:
    state = np.random.RandomState(0)
    return {
        name: np.asfortranarray(state.uniform(-0.5, 0.5, (8 * RATE_HZ, 2)), dtype=np.float32)
        for name in ("A", "B", "fix")
    }


def _sounding(sources: dict[str, Samples]) -> Playhead:
    playhead = Playhead(0.0)
    playhead.load(sources)
    playhead.play()
    playhead.fill(np.empty((FIRST_FADE_FRAMES, 2), dtype=np.float32))
    return playhead


def _callback_ms(switching: bool) -> tuple[float, float]:
    playhead = _sounding(_sources())
    out = np.empty((BLOCK, 2), dtype=np.float32)
    took = []
    for turn in range(4000):
        if switching:
            playhead.choose(("B", "fix", "A")[turn % 3])
        begun = time.perf_counter()
        playhead.fill(out)
        took.append(1000.0 * (time.perf_counter() - begun))
    assert playhead.error is None
    return float(np.median(took)), float(np.percentile(took, 99))


def switch_blocks() -> int:
    """How many blocks pass until B is in the output after it was chosen."""
    full = np.full((RATE_HZ, 2), 0.5, dtype=np.float32)
    playhead = _sounding({"A": full, "B": np.zeros_like(full)})
    out = np.empty((BLOCK, 2), dtype=np.float32)
    playhead.choose("B")
    for block in range(1, 10):
        playhead.fill(out)
        if (out < 0.5).any():
            return block
    raise AssertionError("the switch never came")


def playing_process() -> tuple[float, float, float]:
    done = subprocess.run(
        [sys.executable, "-c", PLAYING_PROCESS],
        cwd=Path(__file__).parents[2],
        env=os.environ | {"SDL_AUDIODRIVER": "dummy", "PYGAME_HIDE_SUPPORT_PROMPT": "1"},
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    used, wall, sound = map(float, done.stdout.split())
    return used, wall, sound
