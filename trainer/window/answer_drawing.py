"""An answer sheet as it stands on the page: kinds, tracks and passages to choose, and the rule."""

from __future__ import annotations

from functools import partial
from typing import Final

from exercises.bands import read_hz
from exercises.kinds import TONE, Kind
from trainer.window.answer_sheet import KINDS, AnswerSheet, Choice, Field
from trainer.window.canvas import Box, Canvas
from trainer.window.listening import BENEATH
from trainer.window.look import (
    BODY,
    HAIRLINE,
    HEADING,
    INK,
    MARGIN,
    SMALL,
    SOFT_INK,
    TINY,
    UNIT,
    Face,
)
from trainer.window.rule import HEIGHT, Rule, typed_words
from trainer.words import ABOUT

_ROW: Final = 30 + UNIT


def draw_sheet(canvas: Canvas, sheet: AnswerSheet) -> None:
    """What, on which track and in which passage where that is asked, and where."""
    _draw_kinds(canvas, sheet)
    top = 45.0 * UNIT
    for row in sheet.choices:
        _draw_choice(canvas, sheet, row, top)
        top += _ROW
    _draw_where(canvas, sheet, max(53.0 * UNIT, top + 3 * UNIT))


def _draw_kinds(canvas: Canvas, sheet: AnswerSheet) -> None:
    heading = Field.WHAT.value
    if sheet.round.question.recipe.second is not None:
        heading = "What is one of the two?" if sheet.round.first is None else "And the other?"
    _draw_heading(canvas, sheet, Field.WHAT, heading, BENEATH)
    width = (canvas.width - 2 * MARGIN - UNIT * (len(KINDS) - 1)) / len(KINDS)
    for index, kind in enumerate(KINDS):
        box = Box(MARGIN + index * (width + UNIT), 36 * UNIT, width, 8 * UNIT)
        face = _draw_frame(canvas, box, chosen=kind is sheet.round.kind)
        _draw_number(canvas, box.x + 12, box.y + 8, index + 1)
        canvas.text(box.x + 40, box.y + 25, kind.value, face=face, size=BODY)
        canvas.text(box.x + 40, box.y + 48, ABOUT[kind], colour=SOFT_INK)
        canvas.hot(box, partial(sheet.mark_kind, kind))


def _draw_choice(canvas: Canvas, sheet: AnswerSheet, row: Choice, top: float) -> None:
    """A row of names; faint where "nothing" is marked, which is on no track."""
    asked = sheet.round.kind is not Kind.NOTHING
    _draw_heading(canvas, sheet, row.field, row.field.value, top + 22, size=BODY, faint=not asked)
    x = float(MARGIN + 170)
    for index, name in enumerate(row.names):
        wide = canvas.text_width(name, Face.SANS_SEMIBOLD, SMALL) + 52
        box = Box(x, top, wide, 30)
        face = _draw_frame(canvas, box, chosen=name == row.marked)
        _draw_number(canvas, box.x + 8, box.y + 5, index + 1)
        ink = INK if asked else SOFT_INK
        canvas.text(box.x + 36, box.y + 21, name, face=face, size=SMALL, colour=ink)
        canvas.hot(box, partial(row.mark, name))
        x += wide + UNIT


def _draw_where(canvas: Canvas, sheet: AnswerSheet, baseline: float) -> None:
    round_ = sheet.round
    rule = Rule(Box(MARGIN, baseline + 12 * UNIT, canvas.width - 2 * MARGIN, HEIGHT))
    asked = round_.kind is None or round_.kind in TONE
    _draw_heading(canvas, sheet, Field.WHERE, Field.WHERE.value, baseline, faint=not asked)
    hint = "type it, point, or step with the arrows"
    if not asked:
        nothing = round_.kind is Kind.NOTHING
        hint = "no place: nothing was done" if nothing else "no place: it is everywhere"
    no_frequency = bool(sheet.typed) and read_hz(sheet.typed) is None
    if sheet.typed:
        hint = typed_words(sheet.typed)
    ink = INK if sheet.note else SOFT_INK
    canvas.text(MARGIN + 90, baseline, sheet.note or hint, colour=ink)
    rule.draw(canvas, "too little" if round_.kind is Kind.TOO_LITTLE else "too much")
    if round_.freq_hz is not None and asked and not no_frequency:
        rule.draw_mark(canvas, round_.freq_hz)
    if round_.first is not None and round_.first.freq_hz is not None:
        rule.draw_aside(canvas, round_.first.freq_hz, "the first")
    around = Box(rule.box.x, rule.box.y - 70, rule.box.width, rule.box.height + 70)
    canvas.hot_at(around, lambda x, _y: sheet.point(rule.freq_at(x)))


def _draw_heading(
    canvas: Canvas,
    sheet: AnswerSheet,
    field: Field,
    words: str,
    baseline: float,
    *,
    size: float = HEADING,
    faint: bool = False,
) -> None:
    """A field's name, underlined while the keyboard belongs to it."""
    ink = SOFT_INK if faint else INK
    wide = canvas.text(MARGIN, baseline, words, face=Face.SERIF, size=size, colour=ink)
    if field is sheet.at:
        canvas.line((MARGIN, baseline + 7), (MARGIN + wide, baseline + 7), INK, 2)


def _draw_frame(canvas: Canvas, box: Box, *, chosen: bool) -> Face:
    """The edge of what can be chosen; gives the face of the words in it."""
    canvas.box(box, edge=INK if chosen else HAIRLINE, edge_width=2.5 if chosen else 1)
    return Face.SANS_SEMIBOLD if chosen else Face.SANS


def _draw_number(canvas: Canvas, x: float, y: float, number: int) -> None:
    canvas.box(Box(x, y, 18, 20), edge=SOFT_INK, radius=4)
    canvas.text(
        x + 9,
        y + 15,
        str(number),
        face=Face.SANS_SEMIBOLD,
        size=TINY,
        colour=SOFT_INK,
        side="centre",
    )
