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
from trainer.claim_command import claim_in_terminal
from trainer.kept_chains import latest_check, output_in_use, use_output
from trainer.level_terminal import set_level
from trainer.listening_arguments import USUAL_CUT_DB
from trainer.record import Record
from trainer.set_commands import Hands
from trainer.terminal_sound import TerminalSound

if TYPE_CHECKING:
    from trainer.window.desk import Desk
    from trainer.window.frame import Screen

VOLUME_SETTING: Final = "volume_db"
UNNAMED_OUTPUT: Final = "this output"


def run(asked: argparse.Namespace, hands: Hands) -> None:
    """Runs ``asked.command``.

    Raises:
        NamefirstError: what the user can mend.
    """
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
    if asked.terminal:
        with hands.terminable():
            claim_in_terminal(
                record,
                hands.shelf,
                hands.text,
                asked.file,
                stretch,
                change,
                asked.report,
                silent=asked.silent,
            )
        return

    def first(desk: Desk) -> Screen:
        from trainer.window.claim_page import ClaimPage

        return ClaimPage(desk, asked.file, stretch, change, asked.report)

    _in_window(record, hands, first, silent=asked.silent)


def _chain(asked: argparse.Namespace, hands: Hands, record: Record) -> None:
    if asked.use is not None:
        use_output(record, asked.use)
        kept = latest_check(record, asked.use)
        unchecked = f"'{asked.use}' is in use now; it was never checked, so every band is asked."
        hands.text.say(unchecked if kept is None else check_sentence(kept))
        return
    output = asked.output or output_in_use(record) or UNNAMED_OUTPUT
    if asked.terminal:
        sound = TerminalSound(record.setting(VOLUME_SETTING), silent=asked.silent)
        with hands.terminable():
            try:
                sound.open()
                if record.setting(VOLUME_SETTING) is None and _level(hands, record, sound) is None:
                    return
                check = ChainCheck(secrets.randbelow(2**31))
                run_chain(check, output, hands.text, sound, record)
            finally:
                sound.close()
        return

    def first(desk: Desk) -> Screen:
        from trainer.window.chain_page import ChainPage

        return ChainPage(desk, output)

    _in_window(record, hands, first, silent=asked.silent)


def _set_level(asked: argparse.Namespace, hands: Hands, record: Record) -> None:
    if asked.terminal:
        sound = TerminalSound(record.setting(VOLUME_SETTING), silent=asked.silent)
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

    _in_window(record, hands, first, silent=asked.silent)


def _level(hands: Hands, record: Record, sound: TerminalSound) -> float | None:
    return set_level(hands.text, sound, lambda db: record.set_setting(VOLUME_SETTING, db))


def _in_window(
    record: Record, hands: Hands, first: Callable[[Desk], Screen], *, silent: bool
) -> None:
    import pygame

    from trainer.planner import Limits
    from trainer.window.app import run as run_window
    from trainer.window.desk import Kept

    try:
        run_window(Kept(record, hands.shelf), Limits(), silent=silent, first=first)
    except pygame.error as error:
        if pygame.display.get_init() and pygame.display.get_surface() is not None:
            raise
        raise NamefirstError(f"no window can be opened here ({error}); add --terminal") from None


_COMMANDS: Final[dict[str, Callable[[argparse.Namespace, Hands, Record], None]]] = {
    "claim": _claim,
    "chain": _chain,
    "level": _set_level,
}
