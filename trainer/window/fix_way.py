"""Where a fix round stands, and where it leads; and the page that waits for one."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import pygame

from exercises.errors import NamefirstError
from trainer.fix_maker import FixMaker, FixPlace
from trainer.pace import ActiveTime
from trainer.window.canvas import Canvas
from trainer.window.frame import Screen, draw_head, draw_waiting
from trainer.window.keys import HELP, KeyWords, key_words
from trainer.window.page import Page

if TYPE_CHECKING:
    from trainer.fix_round import FixResult
    from trainer.window.desk import Desk


@dataclass(frozen=True, slots=True)
class FixWay:
    """``onward`` when a round is over (``words`` say where that is), ``leave`` on Esc; ``heading``
    and ``left`` stand in the head line; ``place`` is where in a drill the round is, and ``skip``
    goes on in it where no round can be made."""

    maker: FixMaker
    heading: str
    left: Callable[[], str]
    words: str
    onward: Callable[[], Screen]
    leave: Callable[[], Screen]
    place: FixPlace | None = None
    skip: Callable[[], Screen] | None = None


def fix_in_drill(desk: Desk, place: FixPlace) -> Screen:
    """The fix round that stands before a question of the drill in hand."""
    from trainer.window.wait_page import WaitPage

    heading = f"Today  \N{MIDDLE DOT}  a fix before question {place.number}"
    way = FixWay(
        desk.fixes,
        heading,
        desk.time_left,
        "to the question",
        desk.next_page,
        desk.leave_drill,
        place,
        lambda: WaitPage(desk),
    )
    return FixWaitPage(desk, way)


def fixes_alone(desk: Desk) -> Screen:
    """Fix rounds on their own, one after another."""
    way = FixWay(
        desk.fixes,
        "Fix rounds",
        lambda: "",
        "another",
        lambda: FixWaitPage(desk, way),
        desk.leave_drill,
    )
    return FixWaitPage(desk, way)


class Stopwatch:
    """The seconds that the learner is at a round, from its first sound to its answer, which it then
    keeps: between two acts a gap counts as far as ``pace`` lets it."""

    def __init__(self, way: FixWay) -> None:
        self._way = way
        self._active = ActiveTime(time.monotonic())
        self._taken_s: float | None = None

    def touch(self) -> None:
        """The learner did something."""
        self._active.act(time.monotonic())

    def stop(self) -> None:
        """The answer is given."""
        self.touch()
        self._taken_s = self._active.seconds

    def keep(self, result: FixResult) -> None:
        """Writes the round to disk."""
        if self._taken_s is None:
            self.stop()
        assert self._taken_s is not None
        now = datetime.now().astimezone()
        self._way.maker.keep(result, self._taken_s, now, self._way.place)


class FixWaitPage(Page):
    """Goes on to the round by itself; says what is wrong if none can be made."""

    def __init__(self, desk: Desk, way: FixWay) -> None:
        self._desk = desk
        self._way = way
        self._trouble = ""
        desk.sound.playhead.stop()
        way.maker.begin()

    @property
    def title(self) -> str:
        return "getting a fix round ready"

    @property
    def keys(self) -> Sequence[KeyWords]:
        skip = (key_words("Enter", self._way.words),) if self._trouble and self._way.skip else ()
        return (*skip, HELP, key_words("Esc", "back"))

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            return self._way.leave()
        onward = event.key in (pygame.K_RETURN, pygame.K_KP_ENTER)
        if onward and self._trouble and self._way.skip is not None:
            return self._way.skip()
        return self

    def tick(self) -> Screen | None:
        if self._trouble or not self._way.maker.ready:
            return self
        from trainer.choice_round import ChoiceRound
        from trainer.window.choice_page import ChoicePage
        from trainer.window.open_fix_page import OpenFixPage

        try:
            made = self._way.maker.take()
        except NamefirstError as error:
            self._trouble = str(error)
            return self
        if isinstance(made, ChoiceRound):
            return ChoicePage(self._desk, made, self._way)
        return OpenFixPage(self._desk, made, self._way)

    def _state(self) -> object:
        return self._trouble

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, self._way.heading, self._way.left())
        making = "Working out fixes \N{HORIZONTAL ELLIPSIS}"
        draw_waiting(canvas, self._trouble, "No fix round can be made.", making)
