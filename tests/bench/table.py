"""The speed table: one page on how fast it is, ours beside a reference timed in the same run.

Pixels and sound are timed from the start of a process, under SDL's dummy drivers; the least of
three. What grows is shown at two sizes. Some ten minutes on a quiet machine.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from tests.bench import audibility, class_report, hearing, moves, own_material, playing, scorer
from tests.filled_record import fill
from tests.simulated_class import class_set, renamed, skills, taken
from trainer.assignments.result import result_text
from trainer.assignments.set_file import set_text
from trainer.record import Record

Row = tuple[str, float, float, float | None]
ROOT = Path(__file__).parents[2]
TURNS = 3
LATEST = 300
QUESTIONS, PATTERNS = 100, 12

PIXELS = """
import os, sys, time
import pygame
flip = pygame.display.flip
def first_flip():
    flip()
    print(time.time() - float(os.environ["BEGUN"]), flush=True)
    os._exit(0)
pygame.display.flip = first_flip
from trainer.cli import main
sys.argv = ["namefirst"]
main()
"""
PYGAME = """
import os, time
import pygame
print(time.time() - float(os.environ["BEGUN"]))
"""
SOUND = """
import os, sys, time
from trainer.playhead import Playhead
fill = Playhead.fill
def first_sound(self, out):
    fill(self, out)
    if out.any():
        os.write(3, str(time.time() - float(os.environ["BEGUN"])).encode())
        os._exit(0)
Playhead.fill = first_sound
from trainer.cli import main
sys.argv = ["namefirst", "drill", "--terminal"]
main()
"""
BARE_PLAYER = """
import os, time
import numpy, soundfile
from exercises.demo_loops import assets_folder
from trainer.playhead import Playhead
from trainer.player import open_player
fill = Playhead.fill
def first_sound(self, out):
    fill(self, out)
    if out.any():
        os.write(3, str(time.time() - float(os.environ["BEGUN"])).encode())
        os._exit(0)
Playhead.fill = first_sound
file = next((assets_folder() / "loops" / "ferry-crossing").glob("*.flac"))
sound, _ = soundfile.read(file, dtype="float32", always_2d=True)
playhead = Playhead()
playhead.load({"A": numpy.asfortranarray(numpy.broadcast_to(sound, (len(sound), 2)))})
player = open_player(playhead)
playhead.play()
time.sleep(60.0)
"""


def rows() -> Iterator[Row]:
    """(what, ours, reference, highest ratio promised) for each measurement."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        record = Record(home, "ada", "0")
        fill(record, 60)
        record.set_setting("volume_db", -30.0)
        record.close()
        yield "first pixels, s : import pygame", _least(PIXELS, home), _least(PYGAME, home), None
        bare = _least(BARE_PLAYER, home)
        yield "first question heard, s : a bare player of one file", _least(SOUND, home), bare, None
    told = {what: row for row in hearing.rows() for what in [row[0]]}
    yield "question ready, ms : pedalboard, pyloudnorm, scipy", *told[f"question ready{_ON}"][1:]
    yield "compressor, ms : pedalboard", *told[f"compressor: level, curve, gain applied{_ON}"][1:]
    yield "is it heard, ms : one FFT of the loop", *next(audibility.rows())[1:]
    yield "a switch is heard in block : the next", float(playing.switch_blocks()), 1.0, 1.0
    used, wall, _ = playing.playing_process()
    yield "processor while playing, s : wall clock, s", used, wall, 0.15
    yield "an own move is heard in block : all rendered", *next(moves.key_to_sound())[1:]
    yield "one move found, s : scipy least_squares", *next(moves.tone_fits())[1:]
    yield from islice(own_material.rows(), 2)
    yield from _updates()
    yield from _reports()


_ON = " (8 s stereo, ms)"


def _least(snippet: str, home: Path) -> float:
    """Least of several runs of a program that tells its seconds since it was begun."""
    told = []
    for _ in range(TURNS):
        reading, writing = os.pipe()
        environment = os.environ | {
            "NAMEFIRST_HOME": str(home),
            "SDL_VIDEODRIVER": "dummy",
            "SDL_AUDIODRIVER": "dummy",
            "PYGAME_HIDE_SUPPORT_PROMPT": "1",
            "BEGUN": repr(time.time()),
        }
        done = subprocess.run(
            ["bash", "-c", f'exec "$0" "$@" 3>&{writing}', sys.executable, "-c", snippet],
            cwd=ROOT,
            env=environment,
            input="\n\nb\nwait 60\n",
            pass_fds=(writing,),
            capture_output=True,
            text=True,
            check=True,
            timeout=120,
        )
        os.close(writing)
        with os.fdopen(reading) as pipe:
            told.append(float(pipe.read() or done.stdout))
    return min(told)


def _updates() -> Iterator[Row]:
    """One answer learned, milliseconds of processor, after a short record and a long one."""
    took_ms = {}
    for count in (10_000, 300_000):
        ability = scorer.rebuilt(count)
        answers = list(scorer.made_up(LATEST))
        begun = time.process_time()
        for answer in answers:
            ability = ability.after(answer)
        took_ms[count] = 1000.0 * (time.process_time() - begun) / LATEST
    yield (
        "an answer learned after 300,000, ms : after 10,000",
        took_ms[300_000],
        took_ms[10_000],
        1.3,
    )


def _reports() -> Iterator[Row]:
    """A class report, processor seconds and memory a student, small class and large."""
    made = class_set(QUESTIONS)
    patterns = [taken(made, "", skill, seed=n) for n, skill in enumerate(skills(PATTERNS))]
    seconds, megabytes = {}, {}
    for count in (100, 2000):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name) / "class"
            folder.mkdir()
            (folder / "set.toml").write_text(set_text(made))
            for number in range(count):
                result = renamed(patterns[number % PATTERNS], f"n{number:05d}")
                (folder / f"{number:05d}.json").write_text(result_text(result))
            seconds[count], megabytes[count] = class_report.reported(
                folder, Path(name) / "out.html"
            )
    yield "class report of 2,000, s : of 100", seconds[2000], seconds[100], 20.0
    yield "class report of 2,000, MB : of 100", megabytes[2000], megabytes[100], 2.0
