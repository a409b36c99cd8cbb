"""A claim in the window: it is measured first, and can be tested if there is what to test it on."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pygame

from exercises.bands import show_hz
from exercises.errors import NamefirstError
from trainer.backstage import Backstage
from trainer.claim import Claim
from trainer.window.canvas import Canvas
from trainer.window.claim_evidence_page import ClaimEvidencePage
from trainer.window.claim_trouble_page import ClaimTroublePage
from trainer.window.claim_under_way import ClaimUnderWay
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_waiting
from trainer.window.keys import HELP, KeyWords, key_words
from trainer.window.page import Page

if TYPE_CHECKING:
    from exercises.stretch import Asked
    from exercises.with_and_without import PointFilter
    from trainer.claim_case import Case


class ClaimPage(Page):
    """The measuring, in the background; what was measured follows by itself."""

    def __init__(
        self,
        desk: Desk,
        sound: Path | str,
        asked: Asked,
        change: PointFilter,
        report: Path | None = None,
        back: Callable[[], Screen] | None = None,
    ) -> None:
        """On a path, or on the loop of a name; ``back`` gives the page that Esc leads to (None:
        Today), until the test has begun."""
        self._desk = desk
        self._freq_hz = change.freq_hz
        self._report = report
        self._begun = datetime.now().astimezone()
        self._back = desk.leave_drill if back is None else back
        self._opening: Backstage[Case] = Backstage()
        desk.sound.playhead.stop()
        self._opening.begin(lambda: _open(desk, sound, asked, change))

    @property
    def title(self) -> str:
        return "claim: measuring"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return HELP, key_words("Esc", "back")

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            self._opening.close()
            return self._back()
        return self

    def tick(self) -> Screen | None:
        if not self._opening.ready:
            return self
        try:
            case = self._opening.take()
        except NamefirstError as error:
            return ClaimTroublePage(self._desk, str(error), self._back)
        finally:
            self._opening.close()
        claim = Claim(self._freq_hz, secrets.randbelow(2**31))
        return ClaimEvidencePage(
            ClaimUnderWay(self._desk, case, claim, self._begun, self._report, self._back)
        )

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Claim", self._desk.record.learner)
        words = f"Looking near {show_hz(self._freq_hz)} \N{HORIZONTAL ELLIPSIS}"
        draw_waiting(canvas, words=words)


def _open(desk: Desk, sound: Path | str, asked: Asked, change: PointFilter) -> Case:
    from trainer.claim_case import open_case

    return open_case(desk.shelf, sound, asked, change)
