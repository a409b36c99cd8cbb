"""The commands about sets: ``namefirst set new``, ``show``, ``take``, ``result`` and ``class``."""

from __future__ import annotations

import argparse
import secrets
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from exercises.demo_loops import demo_loop_names
from exercises.kinds import Help
from trainer import __version__
from trainer.assignments.handing_in import write_latest_result
from trainer.assignments.practice_set import (
    LONGEST_NOTE,
    LONGEST_TITLE,
    MOST_MINUTES,
    MOST_TRIES,
    BadSet,
    Counts,
    PracticeSet,
    Review,
    Rule,
    Terms,
)
from trainer.assignments.set_archive import read_set_file, write_set
from trainer.assignments.set_making import Drawing, Letter, drawn_set, hard_to_hear, listed_set
from trainer.assignments.set_words import (
    moment_words,
    question_sentence,
    result_sentence,
    rule_sentence,
    terms_sentences,
)
from trainer.assignments.strangers import read_within
from trainer.assignments.taking import Taking, open_set
from trainer.assignments.usual_set import USUAL_BANDS, USUAL_COUNT, USUAL_KINDS, USUAL_SIZES_DB
from trainer.home import sets_folder
from trainer.loop_shelf import LoopShelf
from trainer.plain_text import PlainText
from trainer.record import Record
from trainer.rehearsal import refuse_silent
from trainer.volume import VOLUME_SETTING

_LARGEST_LIST_BYTES: Final = 1024 * 1024


@dataclass(frozen=True, slots=True)
class Hands:
    """What the command line lends: the terminal, the loops, the record, SIGTERM kept in order."""

    text: PlainText
    shelf: LoopShelf
    record_of: Callable[[argparse.Namespace], AbstractContextManager[Record]]
    terminable: Callable[[], AbstractContextManager[None]]


def run(asked: argparse.Namespace, hands: Hands) -> None:
    """Runs ``asked.command``.

    Raises:
        NamefirstError: what the user can mend.
    """
    _COMMANDS[asked.command](asked, hands)


def _new(asked: argparse.Namespace, hands: Hands) -> None:
    note = asked.note
    if asked.note_file is not None:
        note = _text_of(asked.note_file)
    letter = Letter(asked.title.strip(), asked.teacher or "", note.strip(), _now())
    terms = Terms(asked.due, asked.minutes, asked.tries, Counts(asked.counts), Review(asked.review))
    check_letter(letter, terms)
    if asked.due is not None and asked.due <= _now():
        raise BadSet(f"--due {moment_words(asked.due)} is past already; give a later one")
    if asked.file.exists() and not asked.force:
        raise BadSet(f"{asked.file}: is already there; choose another name, or say --force")
    if asked.list is not None:
        made = _listed(asked, hands, letter, terms)
    else:
        made = _drawn(asked, hands, letter, terms)
    write_set(made, asked.file, hands.shelf.folder, force=asked.force)
    hands.text.say(
        f"'{made.title}' is written to {asked.file}.",
        *terms_sentences(made),
        rule_sentence(made),
        f"'namefirst set show --truth {asked.file}' shows its questions with their answers.",
    )


def check_letter(letter: Letter, terms: Terms) -> None:
    """Refuses words and terms that no set may have.

    Raises:
        BadSet: one of them is too long, cannot be shown, or is out of range.
    """
    plain_note = letter.note.replace("\n", "").replace("\t", "")
    if not letter.title or len(letter.title) > LONGEST_TITLE or not letter.title.isprintable():
        raise BadSet(f"a title has 1 to {LONGEST_TITLE} characters on one line")
    if len(letter.note) > LONGEST_NOTE or not (plain_note.isprintable()):
        raise BadSet(f"a note is text of at most {LONGEST_NOTE:,} characters")
    if not 1 <= terms.tries <= MOST_TRIES:
        raise BadSet(f"--tries {terms.tries}: give 1 to {MOST_TRIES}")
    if terms.minutes is not None and not 0.1 <= terms.minutes <= MOST_MINUTES:
        raise BadSet(f"--minutes {terms.minutes:g}: give 0.1 to {MOST_MINUTES:g}")


def _drawn(asked: argparse.Namespace, hands: Hands, letter: Letter, terms: Terms) -> PracticeSet:
    from tqdm import tqdm

    loops = demo_loop_names()
    if asked.loops is not None:
        loops = tuple(dict.fromkeys(map(hands.shelf.named, asked.loops)))
    rule = Rule(
        bands=asked.bands or tuple(USUAL_BANDS),
        kinds=asked.kinds or USUAL_KINDS,
        sizes_db=() if asked.adaptive else asked.sizes or USUAL_SIZES_DB,
        help=asked.a or (Help.A_AT_HAND,),
    )
    count = USUAL_COUNT if asked.questions is None else asked.questions
    seed = secrets.randbelow(2**31) if asked.seed is None else asked.seed
    if not 0 <= seed < 2**53:
        raise BadSet(f"--seed {seed}: give a whole number from 0 to 2^53")
    drawing = Drawing(rule, loops, count, seed)
    with tqdm(total=count, desc="drawing", disable=None, leave=False) as bar:

        def told(done: int, _of: int) -> None:
            bar.update(done - bar.n)

        return drawn_set(hands.shelf, letter, terms, drawing, told)


def _listed(asked: argparse.Namespace, hands: Hands, letter: Letter, terms: Terms) -> PracticeSet:
    for name in ("bands", "kinds", "sizes", "a", "loops", "seed"):
        if getattr(asked, name) is not None or asked.adaptive:
            raise BadSet("--list says all of every question: leave out what they are drawn by")
    lines = _text_of(asked.list).splitlines()
    made = listed_set(hands.shelf, letter, terms, lines, str(asked.list))
    hard = hard_to_hear(made, hands.shelf)
    if hard:
        hands.text.say(
            f"Hardly to be heard on their loops: {', '.join(map(str, hard))}. Taken as listed."
        )
    return made


def _show(asked: argparse.Namespace, hands: Hands) -> None:
    made = read_set_file(asked.file)
    by = f", from {made.teacher}" if made.teacher else ""
    loops = ", ".join(loop.name + (" (own)" if loop.files else "") for loop in made.loops)
    hands.text.say(
        f"{made.title}{by}.",
        *made.note.splitlines(),
        *terms_sentences(made),
        rule_sentence(made),
        f"Loops: {loops}.",
    )
    if asked.truth:
        count = len(made.questions)
        hands.text.say(*(question_sentence(made, number) for number in range(1, count + 1)))


def _take(asked: argparse.Namespace, hands: Hands) -> None:
    refuse_silent("a set", silent=asked.silent)
    with hands.record_of(asked) as record:
        if asked.terminal:
            _take_in_terminal(asked, hands, record)
        else:
            _take_in_window(asked, hands, record)


def _taking(asked: argparse.Namespace, hands: Hands, record: Record) -> Taking:
    made = open_set(asked.file, sets_folder())
    return Taking(
        made, hands.shelf, sets_folder(), _outbox(asked.file), record, _now(), __version__
    )


def _take_in_terminal(asked: argparse.Namespace, hands: Hands, record: Record) -> None:
    from trainer.level_terminal import set_first_level
    from trainer.set_terminal import TerminalSet
    from trainer.terminal_sound import TerminalSound

    taking = _taking(asked, hands, record)
    sound = TerminalSound(record.setting(VOLUME_SETTING), silent=False)
    with hands.terminable():
        sound.open()
        set_first_level(hands.text, sound, record)
        TerminalSet(hands.text, sound, record, taking).run()


def _take_in_window(asked: argparse.Namespace, hands: Hands, record: Record) -> None:
    from trainer.planner import Limits
    from trainer.window.app import run as run_window
    from trainer.window.desk import Kept
    from trainer.window.set_page import open_set_page

    run_window(
        Kept(record, hands.shelf),
        Limits(),
        first=lambda desk: open_set_page(desk, asked.file),
        instead="try: namefirst set take --terminal",
    )


def _result(asked: argparse.Namespace, hands: Hands) -> None:
    made = read_set_file(asked.file)
    with hands.record_of(asked) as record:
        path = write_latest_result(made, sets_folder(), _outbox(asked.file), record, __version__)
    hands.text.say(result_sentence(path, made))


def _class(asked: argparse.Namespace, hands: Hands) -> None:
    from trainer.class_report.making import make_report

    made = make_report(
        asked.paths,
        asked.out,
        asked.csv,
        asked.students,
        _now(),
        force=asked.force,
    )
    hands.text.say(*made)


def _outbox(path: Path) -> Path:
    return path.absolute().parent


def _text_of(path: Path) -> str:
    try:
        return read_within(path, _LARGEST_LIST_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadSet(f"{path}: is not text in UTF-8; save it as such") from None


def _now() -> datetime:
    return datetime.now().astimezone()


_COMMANDS: Final[dict[str, Callable[[argparse.Namespace, Hands], None]]] = {
    "set new": _new,
    "set show": _show,
    "set take": _take,
    "set result": _result,
    "class": _class,
}
