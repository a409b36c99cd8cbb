"""A file or a folder is searched for loops, in the background; what was found follows by itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pygame

from exercises.audio_handle import shown_name
from exercises.errors import NamefirstError
from trainer.watched_work import WatchedWork
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import KeyWords, key_words
from trainer.window.look import FIRST_LINE, MARGIN, TITLE, UNIT, Face
from trainer.window.loop_choices_page import LoopChoicesPage
from trainer.window.page import Page
from trainer.window.share_bar import draw_share
from trainer.window.shortening import shortened

if TYPE_CHECKING:
    from trainer.loop_choices import LoopChoices


class LoopSearchPage(Page):
    """The search of ``path``; Esc leads back to where files are named, to ``typed``."""

    typing = True
    """Letters typed too late are of the path still, and no keys."""

    def __init__(self, desk: Desk, path: Path, typed: str = "") -> None:
        self._desk = desk
        self._path = path
        self._typed = typed
        self._search: WatchedWork[LoopChoices] = WatchedWork()
        desk.sound.playhead.stop()
        self._search.begin(partial(_choices_in, path))

    @property
    def title(self) -> str:
        return "searching for loops"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return key_words("F1"), key_words("Esc", "give up")

    def open(self, path: Path) -> Screen:
        """Gives this search up for that of ``path``, which was dropped on the window."""
        self._search.give_up()
        return LoopSearchPage(self._desk, path, self._typed)

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            self._search.give_up()
            return self._back()
        return self

    def tick(self) -> Screen | None:
        if not self._search.ready:
            return self
        try:
            choices = self._search.take()
        except NamefirstError as error:
            self._desk.say(str(error))
            return self._back()
        finally:
            self._search.give_up()
        return LoopChoicesPage(self._desk, choices, self._typed)

    def _state(self) -> object:
        return round(100 * self._search.share)

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Loops  \N{MIDDLE DOT}  add your own", self._desk.record.learner)
        name = shortened(canvas, shown_name(self._path), 800, Face.SERIF, TITLE)
        words = f"Searching {name} for loops"
        canvas.text(MARGIN, FIRST_LINE, words, face=Face.SERIF, size=TITLE)
        draw_share(canvas, Box(MARGIN, FIRST_LINE + 3 * UNIT, 640, 14), self._search.share)
        draw_plate(canvas, foot_box(canvas, 240), "Give up", "Esc")

    def _back(self) -> Screen:
        from trainer.window.loop_add_page import LoopAddPage

        return LoopAddPage(self._desk, self._typed)


def _choices_in(path: Path, tell: Callable[[float], None]) -> LoopChoices:
    from trainer.loop_choices import choices_in

    return choices_in(path, progress=tell)
