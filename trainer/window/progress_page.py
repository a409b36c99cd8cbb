"""Progress: strips along the rule, which-for-which tables, and every past answer to be reopened."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from enum import Enum
from functools import partial
from typing import Final

import pygame

from exercises.bands import BANDS
from exercises.errors import NamefirstError
from trainer.asked_again import reviewed_again
from trainer.backstage import Backstage
from trainer.chain_words import left_out_sentence
from trainer.progress import Progress, progress_of
from trainer.progress_counts import latest_names_hz
from trainer.progress_words import day_words, practised_sentence
from trainer.record import KeptAnswer
from trainer.round import Round
from trainer.skills import SKILLS
from trainer.window.canvas import Box, Canvas
from trainer.window.confusion import draw_which_for_which
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_waiting
from trainer.window.keys import ALONG, HELP, UP_DOWN, KeyWords, beside, key_words
from trainer.window.look import FIRST_LINE, HAIRLINE, INK, MARGIN, SHADE, SOFT_INK, TINY
from trainer.window.page import Page
from trainer.window.past_answers import PastAnswers
from trainer.window.strips_view import CHOICES, Names, draw_strips_view

_LATEST_NAMES: Final = 200


class _GivenUp(Exception):
    """The page was left while the record was being gone through; nothing was kept of that."""


class View(Enum):
    """What the page shows; the value is its plate's words and key."""

    STRIPS = ("Bands", "1")
    KINDS = ("Which kind for which", "2")
    BANDS = ("Which band for which", "3")
    PAST = ("Past answers", "4")


class ProgressPage(Page):
    """Works the figures out in the background, then shows them; nothing here can be lost."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._view = View.STRIPS
        self._chosen = 3
        self._progress: Progress | None = None
        self._past: PastAnswers | None = None
        self._names: dict[int, Names] = {}
        self._told = "Reading the record \N{HORIZONTAL ELLIPSIS}"
        self._left = False
        self._reading: Backstage[Progress] = Backstage()
        self._making: Backstage[tuple[KeptAnswer, Round]] = Backstage()
        self._reading.begin(
            lambda: progress_of(desk.record, datetime.now().astimezone().date(), self._tell)
        )

    @property
    def title(self) -> str:
        return "progress"

    @property
    def keys(self) -> Sequence[KeyWords]:
        own: dict[View, tuple[KeyWords, ...]] = {
            View.STRIPS: (key_words(ALONG, "choose a band"),),
            View.PAST: (
                key_words(UP_DOWN, "choose"),
                key_words("Enter", "open and hear it again"),
            ),
        }
        views = (key_words(view.value[1], view.value[0].lower()) for view in View)
        return (*own.get(self._view, ()), *views, HELP, key_words("Esc", "back"))

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        if self._view is not View.PAST:
            return self.keys
        return beside(
            self.keys,
            key_words(f"Page {UP_DOWN}", "a page of them"),
            key_words("Home End", "the newest, the oldest"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            self._left = True
            self._reading.close()
            self._making.close()
            return self._desk.leave_drill()
        for view in View:
            if event.unicode == view.value[1]:
                self._view = view
        if self._view is View.STRIPS and event.key in (pygame.K_LEFT, pygame.K_RIGHT):
            step = 1 if event.key == pygame.K_RIGHT else -1
            self._chosen = (self._chosen + step) % CHOICES
        elif self._view is View.PAST and self._past is not None:
            if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
                self._open(self._past.chosen)
            else:
                self._past.key(event.key)
        return self

    def tick(self) -> Screen | None:
        if self._reading.ready:
            try:
                self._progress = self._reading.take()
                self._past = PastAnswers(
                    self._desk.record, self._progress.answers, self._desk.shelf.title
                )
                if left_out := left_out_sentence(self._desk.record):
                    self._desk.say(left_out)
            except NamefirstError as error:
                self._told = "The record cannot be read."
                self._desk.say(str(error))
        if self._making.ready:
            try:
                return self._reopened(*self._making.take())
            except NamefirstError as error:
                self._desk.say(str(error))
        return self

    def _state(self) -> object:
        return (
            self._view,
            self._chosen,
            self._progress is None,
            None if self._past is None else self._past.place,
            self._told,
            self._making.begun,
        )

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Progress", self._desk.record.learner)
        progress = self._progress
        if progress is None:
            draw_waiting(canvas, words=self._told)
            return
        self._draw_plates(canvas)
        canvas.text(MARGIN, FIRST_LINE, practised_sentence(progress), colour=SOFT_INK)
        if self._view is View.STRIPS:
            draw_strips_view(canvas, progress, self._chosen, self._choose, self._names_of)
        elif self._view is View.PAST:
            self._draw_past(canvas, progress)
        else:
            draw_which_for_which(canvas, progress, kinds=self._view is View.KINDS)

    # What is drawn ----------------------------------------------------------------------------

    def _draw_plates(self, canvas: Canvas) -> None:
        """One plate a view at the upper right, the shown one dark at its foot."""
        right = canvas.width - MARGIN
        for view in reversed(View):
            words, cap = view.value
            width = canvas.text_width(words) + 50
            box = Box(right - width, 72, width, 36)
            canvas.box(box, fill=SHADE if view is self._view else None, edge=HAIRLINE)
            if view is self._view:
                canvas.line((box.x + 8, box.bottom - 2), (box.right - 8, box.bottom - 2), INK, 2)
            canvas.text(box.x + 12, box.y + 24, words)
            canvas.text(box.right - 12, box.y + 24, cap, size=TINY, colour=SOFT_INK, side="right")
            canvas.hot(box, partial(self._show, view))
            right -= width + 10

    def _show(self, view: View) -> None:
        self._view = view

    def _draw_past(self, canvas: Canvas, progress: Progress) -> None:
        if self._past is None or not progress.answers:
            return
        self._past.draw(canvas, Box(MARGIN, 136, canvas.width - 2 * MARGIN, 0))
        if self._making.begun:
            canvas.text(
                canvas.width - MARGIN, 136, "making it again", colour=SOFT_INK, side="right"
            )

    # What it does -----------------------------------------------------------------------------

    def _choose(self, choice: int) -> None:
        self._chosen = choice

    def _names_of(self, band_index: int) -> Names:
        if band_index not in self._names:
            much, little = (
                latest_names_hz(self._desk.record, skill, _LATEST_NAMES)
                for skill in (SKILLS[band_index], SKILLS[len(BANDS) + band_index])
            )
            self._names[band_index] = (much, little)
        return self._names[band_index]

    def _tell(self, done: int, total: int) -> None:
        """Called from the background while a long record is gone through again."""
        if self._left:
            raise _GivenUp
        if done:
            self._told = f"Going through the record: {done:,} of {total:,} answers"

    def _open(self, kept: KeptAnswer | None) -> None:
        if kept is None or self._making.begun:
            return
        shelf = self._desk.shelf
        self._making.begin(lambda: (kept, reviewed_again(kept, shelf)))

    def _reopened(self, kept: KeptAnswer, round_: Round) -> Screen:
        from trainer.window.review_page import Reopened, ReviewPage

        assert round_.review is not None
        question = round_.question
        self._desk.sound.take({"B": question.b, "A": question.a})
        heading = f"Progress  \N{MIDDLE DOT}  answered on {day_words(kept.day)}"
        page = ReviewPage(self._desk, round_, round_.review, Reopened(heading, self._back))
        self._desk.sound.choose("B")
        return page

    def _back(self) -> Screen:
        """From a past answer's review to the list, where it was left."""
        self._desk.sound.playhead.stop()
        return self
