"""The written list of moves, what can be made, and what can be set, drawn to be clicked."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Final

from exercises.moves import Ride, describe
from trainer.own_moves import MOST_MOVES, Dynamics, details, sorts_for
from trainer.window.canvas import Box, Canvas
from trainer.window.look import (
    ACCENT,
    HAIRLINE,
    INK,
    MARGIN,
    SHADE,
    SMALL,
    SOFT_INK,
    TINY,
    UNIT,
    Face,
)
from trainer.window.moves_editor import MovesEditor
from trainer.window.shortening import shortened

Press = Callable[[Callable[[], object]], Callable[[], object]]

_LEADING: Final = 3 * UNIT
_RIGHT_PART: Final = 70 * UNIT
_AFTER_HEAD: Final = 2 * UNIT
_WIDTHS: Final = ("narrower", "wider")


def draw_list(canvas: Canvas, editor: MovesEditor, press: Press, baseline: float) -> None:
    """The fix as a list of three lines, the chosen one underlined."""
    room = canvas.width - 2 * MARGIN - _RIGHT_PART - 3 * UNIT
    moves = editor.round.moves
    for place in range(MOST_MOVES):
        y = baseline + _LEADING * place
        made = place < len(moves)
        words = describe(moves[place]) if made else "\N{EN DASH}"
        if made and details(moves[place]):
            words = f"{words}, {details(moves[place])}"
        chosen = place == editor.chosen
        face = Face.SANS_SEMIBOLD if chosen else Face.SANS
        line = shortened(canvas, f"{place + 1}.  {words}", room, face, SMALL)
        ink = INK if made else SOFT_INK
        wide = canvas.text(MARGIN, y, line, face=face, size=SMALL, colour=ink)
        if chosen:
            canvas.line((MARGIN, y + 5), (MARGIN + wide, y + 5), ACCENT, 2)
        if made:
            box = Box(MARGIN, y - 17, max(wide, 300.0), _LEADING)
            canvas.hot(box, press(partial(editor.choose, place)))


def draw_board(canvas: Canvas, editor: MovesEditor, press: Press, baseline: float) -> None:
    """Beside the list: the sorts that can be made, and the chosen move's settings."""
    left = canvas.width - MARGIN - _RIGHT_PART
    x = left + _draw_head(canvas, left, baseline, "New")
    for sort in sorts_for(editor.round.loop.passages):
        x = _draw_word(canvas, x, baseline, sort.value, press(partial(editor.add, sort)))
    if editor.move is None:
        return
    baseline += 2 * _LEADING
    x = left + _draw_head(canvas, left, baseline, "Set")
    narrow, wide = ("steeper", "gentler") if isinstance(editor.move, Dynamics) else _WIDTHS
    settings: tuple[tuple[str, Callable[[], object]], ...] = (
        ("\N{MINUS SIGN} dB", partial(editor.turn, -1)),
        ("+ dB", partial(editor.turn, 1)),
        ("\N{LEFTWARDS ARROW}", partial(editor.along, -1)),
        ("\N{RIGHTWARDS ARROW}", partial(editor.along, 1)),
        (narrow, partial(editor.widen, -1)),
        (wide, partial(editor.widen, 1)),
        ("take out", editor.take_out),
    )
    for words, act in settings:
        x = _draw_word(canvas, x, baseline, words, press(act))


def draw_passages(canvas: Canvas, editor: MovesEditor, press: Press, baseline: float) -> None:
    """The passages to ride, with what each is ridden by."""
    passages = editor.round.loop.passages
    if len(passages) < 2:
        return
    gains = {m.passage: m.gain_db for m in editor.round.moves if isinstance(m, Ride)}
    x = float(MARGIN)
    x += _draw_head(canvas, x, baseline, "Rides")
    for passage in passages:
        gain_db = gains.get(passage)
        words = passage.name
        if gain_db is not None:
            sign = "+" if gain_db >= 0.0 else "\N{MINUS SIGN}"
            words += f"  {sign}{abs(gain_db):.1f} dB"
        move = editor.move
        chosen = isinstance(move, Ride) and move.passage == passage
        strong = gain_db is not None
        act = press(partial(editor.ride, passage.name))
        x = _draw_word(canvas, x, baseline, words, act, strong=strong, chosen=chosen)


def _draw_head(canvas: Canvas, x: float, baseline: float, words: str) -> float:
    """What a row of words to click is of; how far after it the first begins."""
    return canvas.text(x, baseline, words, face=Face.SERIF_ITALIC, colour=SOFT_INK) + _AFTER_HEAD


def _draw_word(
    canvas: Canvas,
    x: float,
    baseline: float,
    words: str,
    act: Callable[[], object],
    *,
    strong: bool = False,
    chosen: bool = False,
) -> float:
    """A word in a box that can be clicked; where the next one begins."""
    face = Face.SANS_SEMIBOLD if strong else Face.SANS
    wide = canvas.text_width(words, face, TINY) + 18
    box = Box(x, baseline - 18, wide, 25)
    edge, thick = (INK, 2.5) if chosen else (HAIRLINE, 1)
    canvas.box(box, fill=SHADE, edge=edge, edge_width=thick, radius=4)
    canvas.text(x + 9, baseline, words, face=face, size=TINY)
    canvas.hot(box, act)
    return x + wide + UNIT
