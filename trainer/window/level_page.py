"""A safe level: noise from silence, turned up by the learner's own hand."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pygame

from exercises.samples import Samples
from trainer.backstage import Backstage
from trainer.level_words import CAUTIONS, HOW_TO, SILENT_STILL
from trainer.volume import SOFTEST_DB
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate
from trainer.window.keys import HELP, VOLUME, KeyWords, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    HAIRLINE,
    HEADING,
    HEADING_STEP,
    INK,
    MARGIN,
    PLATE_GAP,
    SHADE,
    SMALL,
    SOFT_INK,
    TITLE,
    TITLE_STEP,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.words import volume_words


class LevelPage(Page):
    """Goes ``onward`` once a level is kept, ``back`` (None: to Today) when it is left; what is left
    silent then is as loud again as it was."""

    def __init__(
        self,
        desk: Desk,
        onward: Callable[[], Screen],
        back: Callable[[], Screen] | None = None,
    ) -> None:
        self._desk = desk
        self._onward = onward
        self._back = desk.leave_drill if back is None else back
        self._before_db = desk.sound.playhead.volume_db
        self._heading = "A safe level." if desk.has_level else "First, a safe level."
        self._noise: Backstage[Samples] = Backstage()
        self._noise.begin(_noise)
        desk.sound.playhead.stop()
        desk.sound.playhead.set_volume_db(SOFTEST_DB)

    @property
    def title(self) -> str:
        return "a safe level"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            VOLUME,
            key_words("Space"),
            key_words("Enter", "keep it and go on"),
            HELP,
            key_words("Esc", "not now"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        playhead = self._desk.sound.playhead
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            if playhead.muted:
                self._desk.say(SILENT_STILL)
                return self
            self._desk.work_at_this_level()
            return self._leave(self._onward)
        if event.key == pygame.K_ESCAPE:
            if playhead.muted:
                playhead.set_volume_db(self._before_db)
            return self._leave(self._back)
        return self

    def tick(self) -> Screen | None:
        if self._noise.ready:
            self._desk.sound.take({"noise": self._noise.take()})
            self._desk.sound.play_or_stop()
        return self

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return playhead.volume_db, playhead.playing

    def _draw(self, canvas: Canvas) -> None:
        playhead = self._desk.sound.playhead
        draw_head(canvas, "A safe level", self._desk.record.learner)
        width = canvas.width - 2 * MARGIN
        canvas.text(MARGIN, DISPLAY_LINE, self._heading, face=Face.SERIF, size=DISPLAY)
        canvas.paragraph(
            MARGIN, DISPLAY_LINE + TITLE_STEP, HOW_TO, width=min(960.0, width), size=BODY
        )
        scale = Box(MARGIN + 8 * UNIT, 37 * UNIT, width - 16 * UNIT, 2 * UNIT)
        share = 1.0 - playhead.volume_db / SOFTEST_DB
        canvas.box(scale, fill=SHADE, edge=HAIRLINE)
        if share > 0.0:
            canvas.box(Box(scale.x, scale.y, scale.width * share, scale.height), fill=INK)
        for sign, x, up in (
            ("\N{MINUS SIGN}", scale.x - 5 * UNIT, False),
            ("+", scale.right + 5 * UNIT, True),
        ):
            spot = Box(x - 3 * UNIT, scale.y - 2 * UNIT, 6 * UNIT, 6 * UNIT)
            canvas.box(spot, edge=INK, edge_width=1.5)
            canvas.text(x, scale.y + 17, sign, face=Face.SANS_SEMIBOLD, size=TITLE, side="centre")
            canvas.hot(
                spot,
                lambda up=up: self._desk.change_volume(up=up),  # type: ignore[misc]
            )
        words = volume_words(playhead.volume_db)
        sounding = "the noise plays" if playhead.playing else "stopped"
        canvas.text(scale.x, 43 * UNIT, f"{words}, {sounding}", size=BODY, colour=SOFT_INK)
        keep = Box(MARGIN, 48 * UNIT, 300, 8 * UNIT)
        draw_plate(canvas, keep, "Keep it", "Enter", main=True)
        not_now = Box(keep.right + PLATE_GAP, keep.y, 240, keep.height)
        draw_plate(canvas, not_now, "Not now", "Esc")
        canvas.text(MARGIN, 64 * UNIT, "Your ears", face=Face.SERIF, size=HEADING)
        baseline = 64.0 * UNIT + HEADING_STEP
        for caution in CAUTIONS:
            baseline = canvas.paragraph(
                MARGIN, baseline, caution, width=min(1000.0, width), size=SMALL, colour=SOFT_INK
            )

    def _leave(self, to: Callable[[], Screen]) -> Screen:
        self._desk.sound.playhead.stop()
        self._noise.close()
        return to()


def _noise() -> Samples:
    from exercises.check_noise import level_noise

    return level_noise()
