"""The end of a set: where the result is, and how it went as far as that may be said."""

from __future__ import annotations

from collections.abc import Sequence

import pygame

from exercises.errors import NamefirstError
from trainer.assignments.practice_set import Review
from trainer.assignments.set_words import end_sentence, result_sentence
from trainer.assignments.taking import Taking
from trainer.window.canvas import Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import HELP, KeyWords, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    HEADING,
    HEADING_STEP,
    MARGIN,
    PLATE_GAP,
    SOFT_INK,
    TITLE_STEP,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.words import named_share_sentence


class SetEndPage(Page):
    """Ends the try as it opens: the result is on the disk before this is drawn."""

    def __init__(self, desk: Desk, taking: Taking) -> None:
        self._desk = desk
        self._taking = taking
        self._trouble = ""
        try:
            taking.end()
        except NamefirstError as error:
            self._trouble = str(error)

    @property
    def title(self) -> str:
        return "end of the set"

    @property
    def _may_review(self) -> bool:
        return self._taking.set.terms.review is not Review.NOT_AT_ALL

    @property
    def keys(self) -> Sequence[KeyWords]:
        review = (key_words("1", "review"),) if self._may_review and self._taking.answers else ()
        back = "back to Today"
        return key_words("Enter", back), *review, HELP, key_words("Esc", back)

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.unicode == "1" and self._may_review and self._taking.answers:
            from trainer.window.set_questions_page import SetQuestionsPage, answered_lines

            lines = answered_lines(self._taking.answers)
            heading = f"Review  \N{MIDDLE DOT}  {self._taking.set.title}"
            return SetQuestionsPage(self._desk, heading, lines, self._taking.reviewed, self._back)
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER, pygame.K_ESCAPE):
            return self._desk.leave_drill()
        return self

    def _back(self) -> Screen:
        return self

    def _draw(self, canvas: Canvas) -> None:
        taking, width = self._taking, canvas.width - 2 * MARGIN
        draw_head(canvas, taking.set.title, self._desk.record.learner)
        heading = end_sentence(taking.set, taking.answered)
        canvas.text(MARGIN, DISPLAY_LINE, heading, face=Face.SERIF, size=DISPLAY)
        path = taking.result_path
        told = self._trouble or "The time was up before the first answer; there is no result."
        if path is not None:
            told = result_sentence(path, taking.set)
        y = canvas.paragraph(MARGIN, DISPLAY_LINE + TITLE_STEP, told, width=width, size=BODY)
        if self._may_review and taking.answers:
            said = named_share_sentence(taking.answers)
            canvas.text(MARGIN, y + UNIT, said, size=BODY, colour=SOFT_INK)
            y += 9 * UNIT
            canvas.text(MARGIN, y, "To work on", face=Face.SERIF, size=HEADING)
            canvas.paragraph(
                MARGIN,
                y + HEADING_STEP,
                taking.wrap_up().sentence,
                width=width,
                face=Face.SERIF_ITALIC,
                size=HEADING,
            )
            review = foot_box(canvas, 240, after=240 + PLATE_GAP)
            draw_plate(canvas, review, "Review", "1")
        draw_plate(canvas, foot_box(canvas, 240), "Back to Today", "Enter", main=True)
