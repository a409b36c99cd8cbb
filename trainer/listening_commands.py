"""The commands ``namefirst claim``, ``chain`` and ``level``: in a window, or in plain text."""

from __future__ import annotations

import argparse
import secrets
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from exercises.errors import NamefirstError
from exercises.stretch import Asked
from exercises.with_and_without import PointFilter
from trainer.chain import ChainCheck
from trainer.chain_terminal import run_chain
from trainer.chain_words import check_sentence
from trainer.claim_case import sound_called
from trainer.claim_command import claim_in_terminal
from trainer.kept_chains import checked_outputs, latest_check, output_in_use, use_output
from trainer.level_terminal import set_level
from trainer.listening_arguments import USUAL_CUT_DB
from trainer.record import Record
from trainer.rehearsal import refuse_silent
from trainer.set_commands import Hands
from trainer.terminal_sound import TerminalSound
from trainer.volume import VOLUME_SETTING

if TYPE_CHECKING:
    from trainer.window.desk import Desk
    from trainer.window.frame import Screen

UNNAMED_OUTPUT: Final = "this output"
_HEARD: Final = {"claim": "a claim", "chain": "a chain check", "level": "a level"}


def run(asked: argparse.Namespace, hands: Hands) -> None:
    """Runs ``asked.command``.

    Raises:
        NamefirstError: what the user can mend.
    """
    refuse_silent(_HEARD[asked.command], silent=asked.silent)
    with hands.record_of(asked) as record:
        _COMMANDS[asked.command](asked, hands, record)


def _claim(asked: argparse.Namespace, hands: Hands, record: Record) -> None:
    cut_db = USUAL_CUT_DB if asked.cut is None else asked.cut
    gain_db = -cut_db if asked.boost is None else asked.boost
    for option, value in (("--cut", asked.cut), ("--boost", asked.boost)):
        if value is not None and not value > 0.0:
            raise NamefirstError(f"{option} {value:g}: give a size above 0, in dB")
    change = PointFilter(asked.at, gain_db, asked.q)
    stretch = Asked(asked.track, asked.start_s, asked.stop_s)
    sound = sound_called(hands.shelf, asked.file)  # a slip is told before anything is opened
    if asked.terminal:
        with hands.terminable():
            claim_in_terminal(
                record,
                hands.shelf,
                hands.text,
                sound,
                stretch,
                change,
                asked.report,
            )
        return

    def first(desk: Desk) -> Screen:
        from trainer.window.claim_page import ClaimPage

        return ClaimPage(desk, sound, stretch, change, asked.report)

    _in_window(record, hands, first)


def _chain(asked: argparse.Namespace, hands: Hands, record: Record) -> None:
    if asked.use is not None:
        kept = latest_check(record, asked.use)
        if kept is None:
            known = ", ".join(checked_outputs(record)) or "none yet"
            raise NamefirstError(
                f"--use {asked.use}: no such output was checked; there are {known}; check a new "
                "one with: namefirst chain --output NAME"
            )
        use_output(record, asked.use)
        hands.text.say(check_sentence(kept))
        return
    output = asked.output or output_in_use(record) or UNNAMED_OUTPUT
    if asked.terminal:
        sound = TerminalSound(record.setting(VOLUME_SETTING), silent=False)
        with hands.terminable():
            try:
                sound.open()
                # A start is far under the working level, and bands that are faint would be lost.
                if _level(hands, record, sound) is None:
                    return
                check = ChainCheck(secrets.randbelow(2**31))
                run_chain(check, output, hands.text, sound, record)
            finally:
                sound.close()
        return

    def first(desk: Desk) -> Screen:
        from trainer.window.chain_page import ChainPage

        return ChainPage(desk, output)

    _in_window(record, hands, first)


def _set_level(asked: argparse.Namespace, hands: Hands, record: Record) -> None:
    if asked.terminal:
        sound = TerminalSound(record.setting(VOLUME_SETTING), silent=False)
        with hands.terminable():
            try:
                sound.open()
                _level(hands, record, sound)
            finally:
                sound.close()
        return

    def first(desk: Desk) -> Screen:
        from trainer.window.level_page import LevelPage

        return LevelPage(desk, desk.leave_drill)

    _in_window(record, hands, first)


def _level(hands: Hands, record: Record, sound: TerminalSound) -> float | None:
    return set_level(hands.text, sound, lambda db: record.set_setting(VOLUME_SETTING, db))


def _in_window(record: Record, hands: Hands, first: Callable[[Desk], Screen]) -> None:
    from trainer.planner import Limits
    from trainer.window.app import run as run_window
    from trainer.window.desk import Kept

    run_window(Kept(record, hands.shelf), Limits(), first=first)


_COMMANDS: Final[dict[str, Callable[[argparse.Namespace, Hands, Record], None]]] = {
    "claim": _claim,
    "chain": _chain,
    "level": _set_level,
}
