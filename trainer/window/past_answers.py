"""The list of past answers, newest first: one line each, any of which can be opened again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import pygame

from trainer.record import KeptAnswer, Record
from trainer.window.canvas import Box, Canvas
from trainer.window.look import HAIRLINE, INK, SHADE, SOFT_INK, UNIT, Face
from trainer.window.shortening import shortened
from trainer.words import answer_sentence, truth_sentence

LINES: Final = 17
_LINE_HIGH: Final = 4.0 * UNIT
_COLUMNS: Final = (UNIT, 18 * UNIT, 36 * UNIT, 48 * UNIT, 82 * UNIT)
_BETWEEN: Final = 12.0
"""Left free after what stands in a column."""


class PastAnswers:
    """Where one is in the list; reads from the record only what is shown.

    ``title_of`` gives a loop's title for its name.
    """

    def __init__(self, record: Record, count: int, title_of: Callable[[str], str]) -> None:
        self._record = record
        self._title_of = title_of
        self._titles: dict[str, str] = {}
        self._count = count
        self._top = 0
        self.place = 0
        self._shown = self._read()

    @property
    def chosen(self) -> KeptAnswer | None:
        """The answer on the marked line, if there is any."""
        line = self.place - self._top
        return self._shown[line] if line < len(self._shown) else None

    def key(self, key: int) -> bool:
        """Moves through the list; whether the key was one for that."""
        steps = {
            pygame.K_UP: -1,
            pygame.K_DOWN: 1,
            pygame.K_PAGEUP: -LINES,
            pygame.K_PAGEDOWN: LINES,
            pygame.K_HOME: -self._count,
            pygame.K_END: self._count,
        }
        if key not in steps:
            return False
        self.go(self.place + steps[key])
        return True

    def go(self, place: int) -> None:
        """Marks the line of the ``place``-th answer, 0 the newest, and brings it into view."""
        self.place = max(0, min(self._count - 1, place))
        top = min(self.place, max(self._top, self.place - LINES + 1))
        if top != self._top:
            self._top = top
            self._shown = self._read()

    def draw(self, canvas: Canvas, box: Box) -> None:
        """The lines in view, the marked one shaded."""
        columns = [box.x + offset for offset in _COLUMNS]
        heads = ("when", "loop", "", "what it was", "what you said")
        for x, head in zip(columns, heads, strict=True):
            canvas.text(x, box.y, head, face=Face.SERIF_ITALIC, colour=SOFT_INK)
        for line, kept in enumerate(self._shown):
            row = Box(box.x, box.y + 2 * UNIT + line * _LINE_HIGH, box.width, _LINE_HIGH)
            if self._top + line == self.place:
                canvas.box(row, fill=SHADE)
                canvas.box(Box(row.x, row.y + 6, 3, row.height - 12), fill=INK)
            canvas.line((row.x, row.bottom), (row.right, row.bottom), HAIRLINE)
            at = kept.answered_at
            words = (
                f"{at.day} {at:%b %Y %H:%M}",
                self._titles[kept.recipe.loop],
                "",
                truth_sentence(kept.recipe),
                answer_sentence(kept.recipe, kept.answer, kept.verdict),
            )
            # What needs more room than its column takes it of the last.
            last = columns[3] + canvas.text_width(words[3]) + _BETWEEN
            lefts = [*columns[:4], max(columns[4], last)]
            for x, cell, until in zip(
                lefts, words, (*lefts[1:], box.right + _BETWEEN), strict=True
            ):
                canvas.text(x, row.y + 21, shortened(canvas, cell, until - x - _BETWEEN))
            draw_named(canvas, columns[2], row.y + 21, named=kept.verdict.named)
            canvas.hot(row, lambda place=self._top + line: self.go(place))  # type: ignore[misc]

    def _read(self) -> tuple[KeptAnswer, ...]:
        shown = self._record.latest_answers(LINES, self._top)
        for name in {kept.recipe.loop for kept in shown} - self._titles.keys():
            self._titles[name] = self._title_of(name)
        return shown


def draw_named(canvas: Canvas, x: float, baseline: float, *, named: bool) -> None:
    """Whether it was named: a tick or a cross, and the word."""
    y = baseline - 5
    if named:
        canvas.stroke([(x, y), (x + 4, y + 5), (x + 12, y - 6)], INK, 2)
    else:
        for first, last in (((x, y - 5), (x + 10, y + 5)), ((x, y + 5), (x + 10, y - 5))):
            canvas.stroke([first, last], INK, 2)
    canvas.text(x + 20, baseline, "named" if named else "missed", colour=INK if named else SOFT_INK)
