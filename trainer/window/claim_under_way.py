"""A claim that was measured, on its way from page to page; every answer is on disk at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from exercises.bands import show_hz
from trainer.claim import Claim
from trainer.record import RecordError
from trainer.window.desk import Desk
from trainer.window.frame import Screen

if TYPE_CHECKING:
    from trainer.claim_case import Case


@dataclass(frozen=True, slots=True)
class ClaimUnderWay:
    """What every page of a claim works on; ``report`` is a file that is asked for, ``back`` gives
    the page that the claim was made on."""

    desk: Desk
    case: Case
    claim: Claim
    begun: datetime
    report: Path | None
    back: Callable[[], Screen]

    def keep(self) -> None:
        """Writes the last answer to disk.

        Raises:
            RecordError: it cannot be written; the claim is as it was before that answer.
        """
        from trainer.kept_claims import keep_claim

        try:
            keep_claim(self.desk.record, self.case, self.claim, self.begun)
        except RecordError:
            self.claim.take_back()
            raise

    def save_report(self) -> None:
        """Writes the report, where it was asked for or among the learner's claims."""
        from trainer.claim_command import save_report
        from trainer.home import home_folder

        path = self.report
        if path is None:
            place = show_hz(self.case.change.freq_hz).replace(" ", "-")
            path = home_folder() / "claims" / f"{self.begun:%Y-%m-%d-%H%M%S}-{place}.html"
        save_report(path, self.case, self.claim, self.desk.record.learner)
        self.desk.say(f"The report is written to {path}.")

    @property
    def leave_words(self) -> str:
        """What Esc does, while there are trials or pointings to come."""
        return "leave; what was answered is kept" if self.claim.trials else "back"
