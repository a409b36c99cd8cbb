"""The command ``namefirst``: reads what was asked for and hands it on.

Everything heavy is imported late, so that ``namefirst --help`` answers at once and the window is
up before the science behind it is loaded. An error that the user can mend is one line on standard
error and exit status 2; Ctrl-C leaves quietly with 130.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import IO, TYPE_CHECKING, Final, NoReturn

from exercises.errors import NamefirstError
from exercises.kinds import TONE
from trainer import __version__
from trainer.arguments import name_of, read_arguments

if TYPE_CHECKING:
    from trainer.loop_shelf import LoopShelf
    from trainer.plain_text import PlainText
    from trainer.planner import Limits
    from trainer.record import Record
    from trainer.subject import Subject
    from trainer.window.desk import Desk
    from trainer.window.frame import Screen

_CANNOT: Final = 2
_INTERRUPTED: Final = 130
_TERMINATED: Final = 143
_READING: Final = frozenset(("progress", "export"))
"""Commands that only read a record: they begin none."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command and gives its exit status: 0, 1 (output cut off), 2 or 130.

    Raises:
        SystemExit: after --help and --version, and 143 when a terminal drill is terminated.
    """
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        # A name that the terminal cannot show, or input that is no text, must not end a drill.
        if stream is not None and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        asked = read_arguments(sys.argv[1:] if arguments is None else arguments)
        _COMMANDS[asked.command](asked)
        if sys.stdout is not None:
            sys.stdout.flush()
    except NamefirstError as error:
        print("namefirst:", " ".join(str(error).splitlines()), file=sys.stderr)
        return _CANNOT
    except KeyboardInterrupt:
        return _INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has stopped; keep Python from trying once more at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    return 0


def _drill(asked: argparse.Namespace) -> None:
    from trainer.planner import Limits

    if asked.bands and asked.kinds and not TONE & set(asked.kinds):
        raise NamefirstError(
            f"--bands with --kinds {','.join(asked.kinds)}: only too much and too little have a "
            "band; leave one of the two out"
        )
    with _record_of(asked) as record:
        shelf = _shelf()
        limits = Limits(
            asked.bands,
            asked.kinds,
            _loops_asked(asked, shelf),
            asked.minutes,
            step=asked.step,
            fixes=asked.fixes,
        )
        if asked.terminal:
            _drill_in_terminal(record, shelf, limits, silent=asked.silent)
        else:
            _in_window(record, shelf, limits, "namefirst drill", silent=asked.silent)


def _loops_asked(asked: argparse.Namespace, shelf: LoopShelf) -> tuple[str, ...] | None:
    """Names of the loops that the drill keeps to, all of them on the shelf; None for all."""
    if asked.loop is not None:
        from trainer.loop_commands import loop_of_file

        return (loop_of_file(shelf, asked.loop, _plain_text()),)
    if asked.loops is None:
        return None
    if not asked.loops:
        raise NamefirstError(f"--loops: name at least one of {', '.join(shelf.names())}")
    return tuple(sorted({shelf.named(each) for each in asked.loops}))


def _in_window(
    record: Record,
    shelf: LoopShelf,
    limits: Limits,
    command: str,
    *,
    silent: bool,
    first: Callable[[Desk], Screen] | None = None,
) -> None:
    """The window, which begins with ``first`` (None: today's page)."""
    from trainer.window.app import run
    from trainer.window.desk import Kept

    page = {} if first is None else {"first": first}
    run(Kept(record, shelf), limits, silent=silent, instead=f"try: {command} --terminal", **page)


def _drill_in_terminal(record: Record, shelf: LoopShelf, limits: Limits, *, silent: bool) -> None:
    from trainer.rehearsal import REHEARSAL
    from trainer.terminal import TerminalDrill
    from trainer.terminal_sound import TerminalSound
    from trainer.volume import VOLUME_SETTING

    sound = TerminalSound(record.setting(VOLUME_SETTING), silent=silent)
    text = _plain_text()
    with _terminable():
        sound.open()
        if silent:
            text.say(REHEARSAL)
        if not silent:
            from trainer.level_terminal import set_first_level

            set_first_level(text, sound, record)
        TerminalDrill(text, sound, record, shelf, limits).run()


def _progress(asked: argparse.Namespace) -> None:
    from datetime import datetime

    from trainer.chain_words import left_out_sentence
    from trainer.progress import progress_of
    from trainer.progress_forms import progress_csv, progress_json, progress_text

    with _record_of(asked) as record:
        progress = progress_of(record, datetime.now().astimezone().date())
        left_out = left_out_sentence(record)
    if asked.json or asked.csv:
        written = progress_json(progress) if asked.json else progress_csv(progress)
        sys.stdout.write(written if written.endswith("\n") else written + "\n")
    else:
        _plain_text().say(*progress_text(progress).splitlines(), *filter(None, [left_out]))


def _study(asked: argparse.Namespace) -> None:
    from datetime import datetime

    from trainer.level_terminal import set_first_level
    from trainer.scoring import ability_of
    from trainer.study import CONFUSED_AMONG, SEEN_SETTING
    from trainer.study_sounds import StudyMaker
    from trainer.subject import subjects_called
    from trainer.terminal_sound import TerminalSound
    from trainer.terminal_study import TerminalStudy, list_subjects
    from trainer.volume import VOLUME_SETTING

    about = " ".join(asked.about)
    subjects = subjects_called(about)
    if about and not subjects:
        raise NamefirstError(
            f"'{about}' is nothing to study; try a band (250), a kind (squashed), or both "
            "(too little 4k)"
        )
    if not asked.terminal:
        _study_in_window(asked, subjects[0] if subjects else None)
        return
    with _record_of(asked) as record:
        ability = ability_of(record, datetime.now().astimezone().date())
        if not subjects:
            latest = record.latest_answers(CONFUSED_AMONG)[::-1]
            list_subjects(_plain_text(), ability, latest, record.setting(SEEN_SETTING, {}))
            return
        sound = TerminalSound(record.setting(VOLUME_SETTING), silent=asked.silent)
        with _terminable():
            sound.open()
            if not asked.silent:
                set_first_level(_plain_text(), sound, record)
            maker = StudyMaker(_shelf())
            TerminalStudy(_plain_text(), sound, maker, record, ability).run(subjects)


def _study_in_window(asked: argparse.Namespace, subject: Subject | None) -> None:
    from trainer.planner import Limits

    def first(desk: Desk) -> Screen:
        from trainer.window.study_page import StudyPage

        return StudyPage(desk, subject)

    with _record_of(asked) as record:
        _in_window(record, _shelf(), Limits(), "namefirst study", silent=asked.silent, first=first)


def _export(asked: argparse.Namespace) -> None:
    from trainer.exchange import export_record

    with _record_of(asked) as record:
        if asked.file == "-":
            export_record(record, sys.stdout)
            return
        path = Path(asked.file)
        with _new_file(path) as out:
            export_record(record, out)
        _plain_text().say(f"The record of '{record.learner}' is written to {path}.")


def _import(asked: argparse.Namespace) -> None:
    from tqdm import tqdm

    from trainer.exchange import BadExchange, import_record
    from trainer.words import counted

    with _record_of(asked) as record:
        with (
            _lines_of(asked.file) as lines,
            tqdm(lines, "bringing in", disable=None, leave=False, unit=" lines") as told,
        ):
            try:
                taken = import_record(record, told)
            except BadExchange as error:
                where = "standard input" if asked.file == "-" else asked.file
                raise NamefirstError(f"{where}: {error}") from None
        _plain_text().say(
            f"Brought in {counted(taken.answers, 'answer')}, {counted(taken.drills, 'drill')} and "
            f"{counted(taken.settings, 'setting')} of '{taken.learner}' for '{record.learner}'; "
            f"lines that were here already: {taken.already}."
        )


def _loops_add(asked: argparse.Namespace) -> None:
    from trainer.loop_commands import add_loop

    with _terminable():
        add_loop(
            _shelf(),
            asked.path,
            asked.title,
            _plain_text(),
            number=asked.choose,
            bpm=asked.bpm,
            silent=asked.silent,
        )


def _loops_list(_asked: argparse.Namespace) -> None:
    from trainer.loop_commands import list_loops

    list_loops(_shelf(), _plain_text())


def _loops_show(asked: argparse.Namespace) -> None:
    from trainer.loop_commands import show_loop

    show_loop(_shelf(), asked.name, _plain_text())


def _loops_remove(asked: argparse.Namespace) -> None:
    from trainer.loop_commands import remove_loop

    remove_loop(_shelf(), asked.name, _plain_text())


def _moves(asked: argparse.Namespace) -> None:
    from trainer.moves_command import tell_moves

    tell_moves(asked.before, asked.after, asked.picture, _plain_text())


def _about_sets(asked: argparse.Namespace) -> None:
    from trainer.set_commands import Hands, run

    run(asked, Hands(_plain_text(), _shelf(), _record_of, _terminable))


def _about_listening(asked: argparse.Namespace) -> None:
    from trainer.listening_commands import run
    from trainer.set_commands import Hands

    run(asked, Hands(_plain_text(), _shelf(), _record_of, _terminable))


@contextlib.contextmanager
def _record_of(asked: argparse.Namespace) -> Iterator[Record]:
    from trainer.home import record_folder
    from trainer.learners import learners_in, new_learner_sentence, refuse_new_learner
    from trainer.record import Record

    folder, name = record_folder(), asked.learner or _user()
    known = learners_in(folder)
    if asked.command in _READING:
        refuse_new_learner(name, known)
    begun = new_learner_sentence(name, known)
    if begun is not None and sys.stdout is not None:
        _plain_text().say(begun)
    record = Record(folder, name, __version__)
    try:
        if getattr(asked, "silent", False):
            from trainer.rehearsal import rehearsed

            with rehearsed(record, __version__) as copy:
                yield copy
        else:
            yield record
    finally:
        record.close()


def _user() -> str:
    """The name of this computer's user, or "learner" where it is not known or will not do."""
    import getpass

    try:
        return name_of(getpass.getuser())
    except (OSError, KeyError, ImportError, argparse.ArgumentTypeError):
        return "learner"


def _shelf() -> LoopShelf:
    from trainer.home import loops_folder
    from trainer.loop_shelf import LoopShelf

    return LoopShelf(loops_folder())


def _plain_text() -> PlainText:
    from trainer.plain_text import PlainText

    return PlainText(sys.stdin, sys.stdout)


@contextlib.contextmanager
def _lines_of(file: str) -> Iterator[IO[str]]:
    """The lines of a file of text, or of standard input for "-"."""
    if file == "-":
        yield sys.stdin
        return
    try:
        with open(file, encoding="utf-8") as lines:
            yield lines
    except OSError as error:
        raise NamefirstError(f"{file}: cannot be read ({error.strerror}); check it") from None
    except UnicodeDecodeError:
        raise NamefirstError(f"{file}: is not text; choose a file that export wrote") from None


@contextlib.contextmanager
def _new_file(path: Path) -> Iterator[IO[str]]:
    """A file that was not there before; taken away again if it cannot be written to its end."""
    try:
        out = path.open("x", encoding="utf-8", newline="\n")
    except FileExistsError:
        raise NamefirstError(f"{path}: is already there; choose another name") from None
    except OSError as error:
        raise NamefirstError(
            f"{path}: cannot be written ({error.strerror}); choose another place"
        ) from None
    try:
        with out:
            yield out
    except BaseException as error:
        path.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise NamefirstError(
                f"{path}: cannot be written ({error.strerror}); make room first"
            ) from None
        raise


@contextlib.contextmanager
def _terminable() -> Iterator[None]:
    """Lets SIGTERM end the program in order; SDL would take it for a closed window and go on."""

    def leave(_number: int, _frame: object) -> NoReturn:
        raise SystemExit(_TERMINATED)

    before = signal.signal(signal.SIGTERM, leave)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


_COMMANDS: Final[dict[str, Callable[[argparse.Namespace], None]]] = {
    "drill": _drill,
    "progress": _progress,
    "study": _study,
    "export": _export,
    "import": _import,
    "moves": _moves,
    "loops add": _loops_add,
    "loops list": _loops_list,
    "loops show": _loops_show,
    "loops remove": _loops_remove,
    **dict.fromkeys(("set new", "set show", "set take", "set result", "class"), _about_sets),
    **dict.fromkeys(("claim", "chain", "level"), _about_listening),
}
