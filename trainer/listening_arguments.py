"""What can be asked of ``namefirst claim``, ``chain`` and ``level`` on the command line."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from exercises.bands import read_hz
from trainer.clock_time import read_seconds

Add = Callable[[Any, str, str], argparse.ArgumentParser]
Read = Callable[[str], Any]

USUAL_CUT_DB: Final = 6.0
USUAL_Q: Final = 1.4


def add_listening_commands(commands: Any, add: Add, learner: Read, name: Read) -> None:
    """Adds the three; ``learner`` and ``name`` read such a value."""
    claim = add(commands, "claim", "is it there, and is it heard? a blind test on any file or loop")
    claim.add_argument(
        "file",
        metavar="FILE|LOOP",
        help="an audio file, a folder of tracks, a loop's name or title",
    )
    claim.add_argument("--at", type=_hz, required=True, metavar="HZ", help="where: 200, 3.2k")
    which = claim.add_mutually_exclusive_group()
    which.add_argument("--cut", type=float, metavar="DB", help="too much of it: a cut helps (6)")
    which.add_argument("--boost", type=float, metavar="DB", help="too little: a boost helps")
    claim.add_argument("--q", type=float, default=USUAL_Q, help="of the cut or boost (1.4)")
    claim.add_argument("--track", metavar="T", help="only on this track of the folder or loop")
    claim.add_argument("--from", dest="start_s", type=_seconds, metavar="0:30", help="from here")
    claim.add_argument("--to", dest="stop_s", type=_seconds, metavar="0:38", help="to here")
    claim.add_argument("--report", type=Path, metavar="HTML", help="write the report here")

    chain = add(commands, "chain", "which bands your loudspeakers or headphones reproduce")
    chain.add_argument("--output", type=name, metavar="NAME", help="what to call this output")
    chain.add_argument(
        "--use", type=name, metavar="NAME", help="go over to another output that was checked"
    )

    level = add(commands, "level", "set a safe level, from silence, by hand")
    for command in (claim, chain, level):
        command.add_argument(
            "--learner", type=learner, default=None, help="whose record (the user's)"
        )
        command.add_argument("--terminal", action="store_true", help="in plain text; no window")
        command.add_argument("--silent", action="store_true", help=argparse.SUPPRESS)


def _hz(text: str) -> float:
    freq_hz = read_hz(text)
    if freq_hz is None:
        raise argparse.ArgumentTypeError(
            f"'{text}' is no frequency from 20 Hz to 20 kHz; try: 200, or 3.2k"
        )
    return freq_hz


def _seconds(text: str) -> float:
    seconds = read_seconds(text)
    if seconds is None:
        raise argparse.ArgumentTypeError(f"'{text}' is no time; try: 0:30, or 30")
    return seconds
