"""The chain check in the window: which output it is, and what is known of it."""

from __future__ import annotations

from collections.abc import Sequence

import pygame

from trainer.chain_words import RULES, reach_sentence
from trainer.kept_chains import checked_outputs, latest_check, output_in_use, use_output
from trainer.window.canvas import Box, Canvas
from trainer.window.chain_count_page import ChainCountPage
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import HELP, UP_DOWN, VOLUME, KeyWords, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    HAIRLINE,
    HEADING,
    INK,
    MARGIN,
    SMALL,
    SOFT_INK,
    TITLE_STEP,
    Face,
)
from trainer.window.page import Page

USUAL_OUTPUTS = ("headphones", "loudspeakers", "laptop", "phone")
_MOST_OUTPUTS = 7


class ChainPage(Page):
    """Which output it is; Enter checks it."""

    def __init__(self, desk: Desk, output: str | None = None) -> None:
        self._desk = desk
        self._outputs = _outputs(desk, output)
        self._chosen = 0
        desk.sound.playhead.stop()

    @property
    def title(self) -> str:
        return "chain check"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words(UP_DOWN, "which output"),
            key_words("Enter", "check it"),
            key_words("U"),
            VOLUME,
            HELP,
            key_words("Esc", "back"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            return self._desk.leave_drill()
        if event.key in (pygame.K_UP, pygame.K_DOWN):
            step = 1 if event.key == pygame.K_DOWN else -1
            self._pick((self._chosen + step) % len(self._outputs))
        elif event.unicode.lower() == "u":
            use_output(self._desk.record, self._outputs[self._chosen])
            return self._desk.leave_drill()
        elif event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            # A start is far under the working level, and bands that are faint would be lost.
            if self._desk.at_working_level:
                return ChainCountPage(self._desk, self._outputs[self._chosen])
            from trainer.window.level_page import LevelPage

            return LevelPage(self._desk, lambda: self)
        return self

    def _state(self) -> object:
        return self._chosen, self._desk.sound.playhead.volume_db

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Chain check", self._desk.record.learner)
        canvas.text(MARGIN, DISPLAY_LINE, "What reaches you?", face=Face.SERIF, size=DISPLAY)
        baseline = float(DISPLAY_LINE + TITLE_STEP)
        for rule in RULES:
            baseline = canvas.paragraph(
                MARGIN, baseline, rule, width=min(980.0, canvas.width - 2 * MARGIN), size=BODY
            )
        canvas.text(MARGIN, baseline + 30, "Which output is it?", face=Face.SERIF, size=HEADING)
        top = baseline + 48
        for index, output in enumerate(self._outputs):
            box = Box(MARGIN, top + index * 40, canvas.width - 2 * MARGIN, 34)
            chosen = index == self._chosen
            canvas.box(box, edge=INK if chosen else HAIRLINE, edge_width=2.5 if chosen else 1)
            face = Face.SANS_SEMIBOLD if chosen else Face.SANS
            canvas.text(box.x + 14, box.y + 23, output, face=face, size=SMALL)
            kept = latest_check(self._desk.record, output)
            known = "never checked" if kept is None else reach_sentence(kept.reach)
            canvas.text(box.x + 300, box.y + 23, known, colour=SOFT_INK)
            canvas.hot(box, lambda index=index: self._pick(index))  # type: ignore[misc]
        self._desk.sound.draw_volume(canvas)
        draw_plate(
            canvas,
            foot_box(canvas, 260),
            "Check it",
            "Enter",
            main=True,
        )

    def _pick(self, index: int) -> None:
        self._chosen = index


def _outputs(desk: Desk, asked: str | None) -> list[str]:
    """What the output may be called: what was asked, is in use or was checked; then usual ones."""
    from trainer.player import device_names

    in_use = output_in_use(desk.record)
    names = [asked, in_use, *checked_outputs(desk.record), *device_names(), *USUAL_OUTPUTS]
    return list(dict.fromkeys(name for name in names if name))[:_MOST_OUTPUTS]
