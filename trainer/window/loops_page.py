"""Loops: a list of those at hand, from which one is chosen to be heard, or taken off the shelf."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import pygame

from trainer.window.canvas import Box, Canvas
from trainer.window.chosen_loop import ChosenLoop
from trainer.window.chosen_loop_drawing import draw_chosen_loop
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate
from trainer.window.keys import ALONG, HELP, UP_DOWN, VOLUME, KeyWords, key_words
from trainer.window.look import (
    FIRST_LINE,
    FOOT_HIGH,
    HEADING,
    MARGIN,
    PLATE_GAP,
    SOFT_INK,
    TITLE,
    UNIT,
    Face,
)
from trainer.window.loop_list import ROW, LoopLine, draw_loop_list, loop_lines, shown_words
from trainer.window.page import Page
from trainer.window.shortening import shortened

_ROWS: Final = 7
_PLATES_TOP: Final = 8.0 * UNIT
_LIST_TOP: Final = 15.0 * UNIT
_CHOSEN_TOP: Final = _LIST_TOP + _ROWS * ROW + 2 * UNIT
_RULE_TOP: Final = 68.0 * UNIT


class LoopsPage(Page):
    """The list, and below it the chosen loop; the one called ``name`` is chosen first."""

    def __init__(self, desk: Desk, name: str | None = None) -> None:
        self._desk = desk
        self._lines = loop_lines(desk.shelf)
        names = [line.name for line in self._lines]
        self._place = names.index(name) if name in names else 0
        self._chosen = ChosenLoop(desk, self._line.name)
        self._removing = False
        desk.sound.playhead.stop()

    @property
    def title(self) -> str:
        return "loops"

    @property
    def keys(self) -> Sequence[KeyWords]:
        if self._removing:
            return (
                key_words("Enter", "take it off the shelf"),
                HELP,
                key_words("Esc", "leave it"),
            )
        return (
            key_words(UP_DOWN, "choose"),
            key_words("Space"),
            *((key_words(ALONG, "track"),) if self._chosen.has_several_tracks else ()),
            *((key_words("L"),) if self._chosen.track is not None else ()),
            key_words("N", "new loop"),
            *((key_words("Delete", "take it off the shelf"),) if self._line.own else ()),
            VOLUME,
            HELP,
            key_words("Esc", "back"),
        )

    @property
    def _line(self) -> LoopLine:
        return self._lines[self._place]

    def key(self, event: pygame.event.Event) -> Screen | None:
        if self._removing:
            self._removing = False
            if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
                self._remove()
            return self
        if event.key == pygame.K_ESCAPE:
            self._chosen.close()
            return self._desk.leave_drill()
        if event.key == pygame.K_n:
            from trainer.window.loop_add_page import LoopAddPage

            self._chosen.close()
            return LoopAddPage(self._desk)
        if event.key in (pygame.K_UP, pygame.K_DOWN):
            step = 1 if event.key == pygame.K_DOWN else -1
            self._choose(max(0, min(len(self._lines) - 1, self._place + step)))
        elif event.key in (pygame.K_LEFT, pygame.K_RIGHT):
            self._chosen.step_track(1 if event.key == pygame.K_RIGHT else -1)
        elif event.key == pygame.K_l:
            self._chosen.turn_alone()
        elif event.key == pygame.K_DELETE and self._line.own:
            self._removing = True
        elif event.key in (pygame.K_SPACE, pygame.K_RETURN, pygame.K_KP_ENTER):
            self._chosen.play()
        return self

    def tick(self) -> Screen | None:
        self._chosen.tick()
        return self

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        wave = self._chosen.wave
        return [] if wave is None else wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        volume_db = self._desk.sound.playhead.volume_db
        return len(self._lines), self._place, self._chosen.state, self._removing, volume_db

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Loops", self._desk.record.learner)
        if self._removing:
            self._draw_removing(canvas)
        else:
            self._draw_top(canvas)
        draw_loop_list(canvas, _LIST_TOP, _ROWS, self._lines, self._place, self._choose)
        draw_chosen_loop(canvas, self._chosen, _CHOSEN_TOP, _RULE_TOP)
        self._desk.sound.draw_volume(canvas)

    def _draw_top(self, canvas: Canvas) -> None:
        canvas.text(MARGIN, FIRST_LINE, "Loops to listen to", face=Face.SERIF, size=TITLE)
        hint = "Drop a mix, or a folder of tracks, on this window to add your own."
        canvas.text(MARGIN + 250, FIRST_LINE, hint, colour=SOFT_INK)
        plate = Box(canvas.width - MARGIN - 230, _PLATES_TOP, 230, FOOT_HIGH)
        draw_plate(canvas, plate, "New loop", "N")
        shown = shown_words(_ROWS, self._lines, self._place)
        canvas.text(plate.x - PLATE_GAP, FIRST_LINE, shown, colour=SOFT_INK, side="right")

    def _draw_removing(self, canvas: Canvas) -> None:
        title = shortened(canvas, self._line.title, 380, Face.SERIF, HEADING)
        words = f"Take '{title}' off the shelf?"
        baseline = FIRST_LINE - 2 * UNIT
        canvas.text(MARGIN, baseline, words, face=Face.SERIF, size=HEADING)
        canvas.text(
            MARGIN,
            baseline + 3 * UNIT,
            "Nothing is deleted: its folder is put aside, and old answers still find it.",
            colour=SOFT_INK,
        )
        leave = Box(canvas.width - MARGIN - 180, _PLATES_TOP, 180, FOOT_HIGH)
        take = Box(leave.x - PLATE_GAP - 210, _PLATES_TOP, 210, FOOT_HIGH)
        draw_plate(canvas, take, "Take it off", "Enter", main=True)
        draw_plate(canvas, leave, "Leave it", "Esc")

    def _choose(self, place: int) -> None:
        self._place = place
        self._chosen.choose(self._line.name)

    def _remove(self) -> None:
        title = self._line.title
        folder = self._desk.shelf.remove(self._line.name)
        self._lines = loop_lines(self._desk.shelf)
        self._place = min(self._place, len(self._lines) - 1)
        self._chosen.close()
        self._chosen = ChosenLoop(self._desk, self._line.name)
        self._desk.say(f"'{title}' is off the shelf; it lies in {folder}.")
