"""The end of a drill: how it went, and one thing to work on."""

from __future__ import annotations

from collections.abc import Sequence

import pygame

from trainer.drill import Drill
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import HELP, KeyWords, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    HEADING,
    HEADING_STEP,
    INK,
    MARGIN,
    PLATE_GAP,
    SOFT_INK,
    TITLE_STEP,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule
from trainer.words import named_share_sentence


class EndPage(Page):
    """Shown once, after the last review of a drill."""

    def __init__(self, desk: Desk, drill: Drill) -> None:
        self._desk = desk
        self._answers = drill.answers
        self._work_on = drill.wrap_up().sentence

    @property
    def title(self) -> str:
        return "end of the drill"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("Enter", "back to Today"),
            key_words("P"),
            HELP,
            key_words("Esc", "back to Today"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        from trainer.window.progress_page import ProgressPage

        if event.key == pygame.K_p:
            return ProgressPage(self._desk)
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER, pygame.K_ESCAPE):
            return self._desk.leave_drill()
        return self

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Today", "done")
        canvas.text(MARGIN, DISPLAY_LINE, "That was today's drill.", face=Face.SERIF, size=DISPLAY)
        said = named_share_sentence(self._answers)
        canvas.text(MARGIN, DISPLAY_LINE + TITLE_STEP, said, size=BODY, colour=SOFT_INK)
        canvas.text(MARGIN, 30 * UNIT, "To work on", face=Face.SERIF, size=HEADING)
        canvas.paragraph(
            MARGIN,
            30 * UNIT + HEADING_STEP,
            self._work_on,
            width=canvas.width - 2 * MARGIN,
            face=Face.SERIF_ITALIC,
            size=HEADING,
        )
        draw_plate(canvas, foot_box(canvas, 240), "Back to Today", "Enter", main=True)
        draw_plate(canvas, foot_box(canvas, 240, after=240 + PLATE_GAP), "Progress", "P")
        rule = Rule(Box(MARGIN, 64 * UNIT, canvas.width - 2 * MARGIN, HEIGHT))
        rule.draw(canvas)
        self._draw_answers(canvas, rule)

    def _draw_answers(self, canvas: Canvas, rule: Rule) -> None:
        """Each problem that had a place: filled where it was named, a ring where not."""
        stacked: dict[int, int] = {}
        for kept in self._answers:
            if kept.recipe.freq_hz is None:
                continue
            x = rule.x_of(kept.recipe.freq_hz)
            column = int(x // 14)
            stacked[column] = stacked.get(column, -1) + 1
            box = Box(x - 6, rule.box.y - 20 - 15 * stacked[column], 12, 12)
            if kept.verdict.named:
                canvas.box(box, fill=INK, radius=6)
            else:
                canvas.box(box, edge=INK, edge_width=2, radius=6)
        canvas.text(
            MARGIN,
            rule.box.bottom + 3 * UNIT,
            "filled: named; ring: missed; each where the problem was",
            face=Face.SERIF_ITALIC,
            colour=SOFT_INK,
        )
