"""``namefirst claim``: a claim about any file or loop, measured and put to a blind test."""

from __future__ import annotations

import secrets
from datetime import datetime
from pathlib import Path

from exercises.bands import show_hz
from exercises.errors import NamefirstError
from exercises.stretch import Asked
from exercises.with_and_without import PointFilter
from trainer.claim import Claim
from trainer.claim_case import Case, open_case
from trainer.claim_report import report_html
from trainer.claim_terminal import run_claim
from trainer.kept_claims import keep_claim
from trainer.level_terminal import set_first_level
from trainer.loop_shelf import LoopShelf
from trainer.plain_text import PlainText
from trainer.record import Record
from trainer.terminal_sound import TerminalSound
from trainer.volume import VOLUME_SETTING


def claim_in_terminal(
    record: Record,
    shelf: LoopShelf,
    text: PlainText,
    on: Path | str,
    asked: Asked,
    change: PointFilter,
    report: Path | None,
) -> None:
    """One claim ``on`` a path, or on the loop of a name, from its measurement to its report.

    Raises:
        NamefirstError: the sound cannot be used or played, or the report is there already.
    """
    if report is not None and report.exists():
        raise NamefirstError(f"{report}: is already there; choose another name")
    if text.by_hand:  # reading and measuring take a while
        text.say(f"Looking near {show_hz(change.freq_hz)}...")
    case = open_case(shelf, on, asked, change)
    claim, begun = Claim(change.freq_hz, secrets.randbelow(2**31)), now()
    sound = TerminalSound(record.setting(VOLUME_SETTING), silent=False)
    try:
        sound.open()
        set_first_level(text, sound, record)
        run_claim(
            case,
            claim,
            text,
            sound,
            lambda volume_db: record.set_setting(VOLUME_SETTING, volume_db),
            lambda: keep_claim(record, case, claim, begun),
        )
    finally:
        sound.close()
    if report is not None:
        save_report(report, case, claim, record.learner)
        text.say(f"The report is written to {report}.")


def save_report(path: Path, case: Case, claim: Claim, learner: str) -> None:
    """Writes the report to a file that was not there before.

    Raises:
        NamefirstError: it was, or it cannot be written.
    """
    page = report_html(case, claim, learner, now())
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as out:
            out.write(page)
    except FileExistsError:
        raise NamefirstError(f"{path}: is already there; choose another name") from None
    except OSError as error:
        raise NamefirstError(
            f"{path}: cannot be written ({error.strerror}); choose another place"
        ) from None


def now() -> datetime:
    """The time here, aware of its zone."""
    return datetime.now().astimezone()
