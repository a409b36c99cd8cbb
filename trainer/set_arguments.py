"""What can be asked about sets on the command line, and how each value is read."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date, datetime, time
from pathlib import Path
from typing import Any, Final

from exercises.kinds import Help

HELP_WORDS: Final = {"at hand": Help.A_AT_HAND, "once": Help.A_ONCE, "none": Help.NO_A}
"""What of A is given, as it is typed."""
REVIEWS: Final = ("at once", "at the end", "not at all")
COUNTS: Final = ("best", "first", "last")

Add = Callable[[Any, str, str], argparse.ArgumentParser]
"""Adds a command: (subparsers, "set new", what it is for)."""
Read = Callable[[str], Any]


def add_set_commands(commands: Any, add: Add, learner: Read, bands: Read, kinds: Read) -> None:
    """Adds ``set ...`` and ``class``; ``learner``, ``bands`` and ``kinds`` read such a value."""
    about = "sets of questions: make one, take one"
    sets = commands.add_parser("set", help=about, description=about)
    actions = sets.add_subparsers(title="commands", metavar="COMMAND", required=True)
    _add_new(add(actions, "set new", "make a set to hand out"), learner, bands, kinds)

    show = add(actions, "set show", "what is in a set")
    show.add_argument("file", type=Path, metavar="FILE")
    show.add_argument("--truth", action="store_true", help="every question with its answer")

    take = add(actions, "set take", "take a set; what was left is taken up again")
    take.add_argument("file", type=Path, metavar="FILE")
    take.add_argument("--learner", type=learner, default=None, help="your name (the user's)")
    take.add_argument("--terminal", action="store_true", help="in plain text, with typed answers")
    take.add_argument("--silent", action="store_true", help=argparse.SUPPRESS)

    again = add(actions, "set result", "write the result of your latest try, finished or not")
    again.add_argument("file", type=Path, metavar="FILE", help="the set")
    again.add_argument("--learner", type=learner, default=None, help="your name (the user's)")

    report = add(commands, "class", "results of a class, on one page")
    report.add_argument("paths", type=Path, nargs="+", metavar="FOLDER|FILE")
    report.add_argument("--out", type=Path, default=Path("report.html"), help="the page")
    report.add_argument("--csv", type=Path, help="also one line a student and set, as CSV")
    report.add_argument("--students", type=Path, metavar="FILE", help="the class, a name a line")
    report.add_argument("--force", action="store_true", help="write over what is there")


def _add_new(new: argparse.ArgumentParser, learner: Read, bands: Read, kinds: Read) -> None:
    new.add_argument("file", type=Path, metavar="FILE", help=".toml, or .zip with own loops")
    new.add_argument("--title", required=True, help="what to call it")
    new.add_argument("--teacher", type=learner, default=None, help="who hands it out")
    new.add_argument("--note", default="", help="a note to those who take it")
    new.add_argument("--note-file", type=Path, metavar="FILE", help="the note, from a file")
    which = new.add_mutually_exclusive_group()
    which.add_argument(
        "--list", type=Path, metavar="CSV", help="questions in order: kind,freq_hz,size_db,loop,..."
    )
    which.add_argument("--questions", type=int, metavar="N", help="draw N (20)")
    new.add_argument("--bands", type=bands, help="only these octave bands: 250,1k (63 to 8k)")
    new.add_argument("--kinds", type=kinds, help='these kinds ("too much,too little,nothing")')
    sizes = new.add_mutually_exclusive_group()
    sizes.add_argument("--sizes", type=_sizes, metavar="DB,...", help="sizes to draw from (6,9)")
    sizes.add_argument("--adaptive", action="store_true", help="sizes follow each student")
    new.add_argument("--a", type=_help, metavar="at hand|once|none", help="how A is given")
    new.add_argument("--loops", type=_names, metavar="NAME,...", help="only these (all demo loops)")
    new.add_argument("--seed", type=int, help="draw the same questions again")
    new.add_argument("--minutes", type=float, help="at most so long")
    new.add_argument("--due", type=_due, metavar="DATE", help="2026-03-06, or 2026-03-06T18:00")
    new.add_argument("--tries", type=int, default=1, help="how often it may be taken (1)")
    new.add_argument("--counts", choices=COUNTS, default="best", help="which try counts (best)")
    new.add_argument("--review", choices=REVIEWS, default="at once", help="when the truth is shown")
    new.add_argument("--force", action="store_true", help="write over what is there")


def _names(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name.strip() for name in text.split(",") if name.strip()))


def _sizes(text: str) -> tuple[float, ...]:
    try:
        sizes = tuple(sorted({float(part) for part in text.split(",")}))
    except ValueError:
        sizes = ()
    if not sizes or not all(0.1 <= size <= 18.0 for size in sizes) or len(sizes) > 50:
        raise argparse.ArgumentTypeError(f"'{text}' is no list of sizes from 0.1 to 18 dB")
    return sizes


def _help(text: str) -> tuple[Help, ...]:
    words = _names(text)
    if not words or any(word not in HELP_WORDS for word in words):
        raise argparse.ArgumentTypeError(f"'{text}' is none of {', '.join(HELP_WORDS)}")
    return tuple(HELP_WORDS[word] for word in words)


def _due(text: str) -> datetime:
    """A day, to its last minute, or a moment; in this computer's time zone unless it has one."""
    try:
        try:
            due = datetime.combine(date.fromisoformat(text), time(23, 59))
        except ValueError:
            due = datetime.fromisoformat(text)
        return due.astimezone() if due.tzinfo is None else due
    except (ValueError, OverflowError):
        raise argparse.ArgumentTypeError(
            f"'{text}' is no day such as 2026-03-06 or moment such as 2026-03-06T18:00"
        ) from None
