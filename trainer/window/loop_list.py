"""The loops at hand as a list: the learner's own first, a line for each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

from exercises.errors import BadLoop
from exercises.loop_outline import LoopOutline
from trainer.loop_shelf import LoopShelf
from trainer.window.canvas import Box, Canvas
from trainer.window.look import (
    BODY,
    HAIRLINE,
    INK,
    MARGIN,
    SHADE,
    SOFT_INK,
    Face,
)
from trainer.window.shortening import shortened

ROW: Final = 28.0


@dataclass(frozen=True, slots=True)
class LoopLine:
    """One loop: ``outline`` is None where its description is damaged, as ``trouble`` says."""

    name: str
    own: bool
    outline: LoopOutline | None
    trouble: str = ""

    @property
    def title(self) -> str:
        """What it is called."""
        return self.name if self.outline is None else self.outline.title


def loop_lines(shelf: LoopShelf) -> tuple[LoopLine, ...]:
    """A line for every loop of the shelf; a damaged one hides no other."""
    own = shelf.own_names()
    return tuple(_line(shelf, name, name in own) for name in shelf.names())


def draw_loop_list(
    canvas: Canvas,
    top: float,
    rows: int,
    lines: Sequence[LoopLine],
    place: int,
    choose: Callable[[int], None],
) -> None:
    """At most ``rows`` lines around the one at ``place``; a click calls ``choose``."""
    first = _first(rows, lines, place)
    right = canvas.width - MARGIN
    for row, line in enumerate(lines[first : first + rows]):
        box = Box(MARGIN, top + row * ROW, right - MARGIN, ROW)
        if first + row == place:
            canvas.box(box, fill=SHADE)
            canvas.box(Box(box.x, box.y + 4, 3, box.height - 8), fill=INK)
        canvas.line((box.x, box.bottom), (box.right, box.bottom), HAIRLINE)
        _draw_line(canvas, box, line)
        canvas.hot(box, partial(choose, first + row))


def shown_words(rows: int, lines: Sequence[LoopLine], place: int) -> str:
    """Which of the lines are seen, where not all are."""
    if len(lines) <= rows:
        return ""
    first = _first(rows, lines, place)
    return f"{first + 1} to {first + rows} of {len(lines)}"


def _first(rows: int, lines: Sequence[LoopLine], place: int) -> int:
    return max(0, min(place - rows // 2, len(lines) - rows))


def _draw_line(canvas: Canvas, box: Box, line: LoopLine) -> None:
    baseline = box.y + 20
    title = shortened(canvas, line.title, 262, Face.SERIF, BODY)
    canvas.text(box.x + 14, baseline, title, face=Face.SERIF, size=BODY)
    canvas.text(box.x + 290, baseline, "own" if line.own else "demo", colour=SOFT_INK)
    if line.outline is None:
        canvas.text(box.x + 350, baseline, "damaged", face=Face.SANS_SEMIBOLD)
        return
    loop = line.outline
    canvas.text(box.x + 350, baseline, shortened(canvas, loop.style, 220))
    canvas.text(box.x + 640, baseline, f"{loop.seconds:.1f} s", side="right")
    tracks = "1 track" if len(loop.tracks) == 1 else f"{len(loop.tracks)} tracks"
    canvas.text(box.x + 726, baseline, tracks, side="right")
    passages = ", ".join(loop.passages)
    room = box.width - 752 - 14
    passages = shortened(canvas, passages, room, Face.SERIF_ITALIC)
    canvas.text(box.x + 752, baseline, passages, face=Face.SERIF_ITALIC, colour=SOFT_INK)


def _line(shelf: LoopShelf, name: str, own: bool) -> LoopLine:
    try:
        return LoopLine(name, own, shelf.outline(name))
    except BadLoop as error:
        return LoopLine(name, own, None, str(error))
