"""What the command line can be asked: its commands, their options, and how each value is read.

Imports nothing heavy: ``namefirst --help`` ends here. ``command`` of what was read names the
command, as in "loops add".
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Final, NoReturn

from exercises.bands import BANDS, band_of, read_hz
from exercises.errors import NamefirstError
from exercises.kinds import Kind
from trainer import __version__
from trainer.help_examples import examples_of
from trainer.listening_arguments import add_listening_commands
from trainer.set_arguments import add_set_commands
from trainer.typed_answer import kind_called

_LONGEST_NAME: Final = 60


def read_arguments(arguments: Sequence[str]) -> argparse.Namespace:
    """What ``arguments`` ask for.

    Raises:
        NamefirstError: they cannot be understood.
        SystemExit: after --help and --version, which are answered here.
    """
    return _parser().parse_args(_with_command(arguments))


def name_of(text: str) -> str:
    """A learner's or a loop's name as it is kept.

    Raises:
        argparse.ArgumentTypeError: it is empty, too long, or not to be shown on a line.
    """
    if not text.strip() or not text.isprintable() or len(text) > _LONGEST_NAME:
        raise argparse.ArgumentTypeError(f"a name has 1 to {_LONGEST_NAME} characters")
    return text.strip()


def _with_command(arguments: Sequence[str]) -> list[str]:
    """``namefirst`` alone, or with options of the drill, is ``namefirst drill``."""
    first = arguments[0] if arguments else "-"
    if first.startswith("-") and first not in ("-h", "--help", "--version"):
        return ["drill", *arguments]
    return list(arguments)


class _Parser(argparse.ArgumentParser):
    """Tells a mistake in one line, as every other error is told."""

    def error(self, message: str) -> NoReturn:
        raise NamefirstError(f"{message}; '{self.prog} --help' shows what can be asked")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="namefirst",
        description="An ear-training drill for mixing engineers: name the problem before moving a "
        "knob. Without a command it opens the drill in a window.",
    )
    parser.add_argument("--version", action="version", version=f"namefirst {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    _add_drill(commands)

    progress = _add(commands, "progress", "how each band and kind is going")
    form = progress.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="as JSON")
    form.add_argument("--csv", action="store_true", help="as CSV, for a spreadsheet")
    _add_learner(progress)

    study = _add(commands, "study", "guided listening: a minute on a band or a kind; not scored")
    study.add_argument(
        "about",
        nargs="*",
        metavar="BAND|KIND",
        help="250, too little 4k, squashed; without one: what can be studied, and what is next",
    )
    study.add_argument("--terminal", action="store_true", help="in plain text; no window")
    study.add_argument("--silent", action="store_true", help="without sound")
    _add_learner(study)

    kept = _add(commands, "export", "write every answer as JSON Lines")
    kept.add_argument("file", metavar="FILE", help="a new file, or - for standard output")
    _add_learner(kept)

    brought = _add(commands, "import", "take in answers that were exported")
    brought.add_argument("file", metavar="FILE", help="a file, or - for standard input")
    _add_learner(brought)

    moves = _add(commands, "moves", "what a mix revision changed, as the fewest moves")
    moves.add_argument("--before", type=Path, required=True, metavar="FILE", help="the earlier mix")
    moves.add_argument("--after", type=Path, required=True, metavar="FILE", help="the later mix")
    moves.add_argument("--picture", type=Path, metavar="OUT", help="draw it too, as .svg or .png")

    _add_loops(commands)
    add_set_commands(commands, _add, name_of, _bands, _kinds)
    add_listening_commands(commands, _add, name_of, name_of)
    return parser


def _add(
    commands: argparse._SubParsersAction[_Parser],
    command: str,
    about: str,
) -> argparse.ArgumentParser:
    name = command.split()[-1]
    parser = commands.add_parser(
        name,
        help=about,
        description=about,
        epilog=examples_of(command),
        formatter_class=argparse.RawDescriptionHelpFormatter,  # an example keeps its lines
        allow_abbrev=False,
    )
    parser.set_defaults(command=command)
    return parser


def _add_learner(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--learner", type=name_of, default=None, help="whose record (the user's of this computer)"
    )


def _add_drill(commands: argparse._SubParsersAction[_Parser]) -> None:
    drill = _add(commands, "drill", "the daily drill (the same as no command)")
    _add_learner(drill)
    drill.add_argument("--minutes", type=float, default=10.0, help="how long (10)")
    drill.add_argument("--bands", type=_bands, help="only these octave bands: 250,1k")
    drill.add_argument("--kinds", type=_kinds, help='only these kinds: "too much,squashed"')
    drill.add_argument(
        "--step",
        type=int,
        metavar="N",
        help="only this step of the ladder, 1 (the whole mix, A at hand) to 7 (two problems, no A)",
    )
    which = drill.add_mutually_exclusive_group()
    which.add_argument("--loops", type=_names, metavar="NAME,...", help="only these loops")
    which.add_argument(
        "--loop", type=Path, metavar="FILE", help="only the best loop of this audio file"
    )
    drill.add_argument(
        "--fixes",
        type=int,
        metavar="N",
        help="so many fix rounds in ten questions, 0 to 8 (7 in a ten where a guided minute may "
        "open): choose or make the simplest fix (1; none with --bands or --kinds)",
    )
    drill.add_argument(
        "--terminal", action="store_true", help="in plain text, with typed answers; no window"
    )
    drill.add_argument(
        "--silent", action="store_true", help="a rehearsal without sound: nothing is scored or kept"
    )


def _add_loops(commands: argparse._SubParsersAction[_Parser]) -> None:
    about = "your own loops and the demo loops"
    loops = commands.add_parser("loops", help=about, description=about)
    actions = loops.add_subparsers(title="commands", metavar="COMMAND", required=True)
    add = _add(actions, "loops add", "make a loop of an audio file, or a folder of tracks")
    add.add_argument("path", type=Path, metavar="FILE|FOLDER")
    add.add_argument("--choose", type=int, metavar="N", help="take the N-th best without asking")
    add.add_argument("--title", type=name_of, help="what to call it (the file's name)")
    add.add_argument("--bpm", type=float, help="its tempo, where half or twice of it was found: 87")
    add.add_argument("--silent", action="store_true", help="choose without listening")
    _add(actions, "loops list", "all loops at hand")
    show = _add(actions, "loops show", "what is in a loop, and what can be asked on it")
    show.add_argument("name", metavar="NAME", help="its name, or its title")
    remove = _add(actions, "loops remove", "take one of your own loops off the shelf")
    remove.add_argument("name", metavar="NAME", help="its name, or its title")


def _names(text: str) -> tuple[str, ...]:
    return tuple(sorted({name.strip() for name in text.split(",") if name.strip()}))


def _bands(text: str) -> tuple[int, ...]:
    places = {name: read_hz(name) for name in _names(text)}
    wrong = [name for name, freq_hz in places.items() if freq_hz is None]
    if wrong or not places:
        known = " ".join(band.name for band in BANDS)
        shown = f"'{wrong[0]}' is no band" if wrong else "names no band"
        raise argparse.ArgumentTypeError(f"{shown}; the bands are {known}")
    for name, freq_hz in places.items():
        if freq_hz is not None and freq_hz != read_hz(band_of(freq_hz).name):
            raise argparse.ArgumentTypeError(
                f"'{name}' is no octave band, and lies in that of {band_of(freq_hz).name}; the "
                f"bands are {' '.join(band.name for band in BANDS)}"
            )
    return tuple(sorted({band_of(freq_hz).index for freq_hz in places.values() if freq_hz}))


def _kinds(text: str) -> tuple[Kind, ...]:
    called = {name: kind_called(name) for name in _names(text)}
    wrong = [name for name, kind in called.items() if kind is None]
    if wrong or not called:
        shown = f"'{wrong[0]}' is no kind" if wrong else "names no kind"
        raise argparse.ArgumentTypeError(f"{shown}; the kinds are {', '.join(Kind)}")
    return tuple(kind for kind in Kind if kind in called.values())
