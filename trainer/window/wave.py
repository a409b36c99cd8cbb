"""The strip above every question: the loop's envelope, its passages, and the playhead.

Only A's envelope is ever drawn, so that the picture does not give B away.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pygame

from exercises.loops import Passage
from exercises.samples import Floats, Samples
from trainer.window.canvas import Box, Canvas
from trainer.window.look import ACCENT, HAIRLINE, SOFT_INK, WAVE, Face

_BAR_UNITS: Final = 3.0


class Wave:
    """One loop's strip; drawn once, then only the playhead moves over it."""

    def __init__(self, samples: Samples, passages: tuple[Passage, ...]) -> None:
        self._frames = len(samples)
        self._passages = passages
        self._level = np.abs(samples).max(axis=1)
        self._ground: pygame.Surface | None = None
        self._column = pygame.Rect(0, 0, 0, 0)
        self._box = Box(0, 0, 1, 1)

    def draw(self, canvas: Canvas, box: Box, looped: Passage | None = None) -> None:
        """The strip in ``box``; ``looped`` is the passage that plays by itself, if one does."""
        self._box = box
        middle = box.y + box.height * 0.58
        reach = box.height * 0.40
        tops = self._tops(int(box.width / _BAR_UNITS))
        for index, top in enumerate(tops):
            x = box.x + (index + 0.5) * box.width / len(tops)
            half = max(0.8, float(top) * reach)
            canvas.line((x, middle - half), (x, middle + half), WAVE, 1.6)
        for passage in self._passages:
            x = box.x + box.width * passage.start_frame / self._frames
            canvas.line((x, box.y), (x, box.bottom), HAIRLINE)
            label = passage.name + (" (only this)" if passage == looped else "")
            canvas.text(x + 6, box.y + 13, label, face=Face.SERIF_ITALIC, colour=SOFT_INK)
        if looped is not None:
            start = box.x + box.width * looped.start_frame / self._frames
            stop = box.x + box.width * looped.stop_frame / self._frames
            canvas.line((start, box.bottom - 1), (stop, box.bottom - 1), ACCENT, 3)
        self._ground = canvas.surface.subsurface(self._strip(canvas)).copy()
        self._column = pygame.Rect(0, 0, 0, 0)

    def move(self, canvas: Canvas, position_frames: int) -> list[pygame.Rect]:
        """Draws the playhead afresh; gives the changed pixels: the old column and the new."""
        if self._ground is None:
            return []
        strip = self._strip(canvas)
        x = self._box.x + self._box.width * position_frames / self._frames
        column = canvas.pixels(Box(x - 2, self._box.y, 4, self._box.height + 8)).clip(strip)
        canvas.surface.blit(self._ground, self._column, self._column.move(-strip.x, -strip.y))
        changed, self._column = [self._column, column], column
        canvas.line((x, self._box.y + 14), (x, self._box.bottom + 6), ACCENT, 2)
        return changed

    def _strip(self, canvas: Canvas) -> pygame.Rect:
        around = Box(self._box.x - 3, self._box.y, self._box.width + 6, self._box.height + 8)
        return canvas.pixels(around).clip(canvas.surface.get_rect())

    def _tops(self, bars: int) -> Floats:
        edges = np.linspace(0, self._frames, bars + 1).astype(np.intp)[:-1]
        tops = np.maximum.reduceat(self._level, edges).astype(np.float64)
        shares: Floats = tops / max(1e-6, float(tops.max()))
        return shares
