"""What is said of a subject, as it stands on the pages of Study: words, causes, where welcome."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from trainer.study_texts import text_of
from trainer.subject import Subject
from trainer.window.canvas import Canvas
from trainer.window.look import (
    MARGIN,
    SMALL,
    SOFT_INK,
    TINY,
    UNIT,
    Face,
)

_LABEL: Final = 150.0
_NUMBER: Final = 3.0 * UNIT
_GUTTER: Final = 5.0 * UNIT


def draw_notes(canvas: Canvas, subject: Subject, baseline: float, *, listen: bool) -> float:
    """The notes from ``baseline`` down; gives the next line's baseline."""
    text = text_of(subject)
    rows = [
        ("mixers say", ", ".join(text.words)),
        *([("what to hear", text.listen)] if listen else []),
        ("what causes it", text.causes),
        ("where it is welcome", text.welcome),
        ("how to tell it apart", text.apart),
    ]
    for label, words in rows:
        canvas.text(MARGIN, baseline, label, colour=SOFT_INK)
        baseline = canvas.paragraph(
            MARGIN + _LABEL,
            baseline,
            words,
            width=canvas.width - 2 * MARGIN - _LABEL,
            face=Face.SERIF_ITALIC if label == "mixers say" else Face.SERIF,
            size=SMALL,
            leading=1.3,
        )
        baseline += 3
    canvas.text(MARGIN + _LABEL, baseline, f"({text.standing})", size=TINY, colour=SOFT_INK)
    return baseline + 20


def draw_side_by_side(
    canvas: Canvas, numbered: Sequence[tuple[str, Subject]], baseline: float
) -> None:
    """Notes of what is compared, each in a column under its number: what it is called, what to
    hear, how to tell it."""
    wide = (canvas.width - 2 * MARGIN - (len(numbered) - 1) * _GUTTER) / len(numbered)
    for place, (number, subject) in enumerate(numbered):
        x, text = MARGIN + place * (wide + _GUTTER), text_of(subject)
        canvas.text(x, baseline, number, face=Face.SANS_SEMIBOLD, size=SMALL)
        canvas.text(x + _NUMBER, baseline, ", ".join(text.words), face=Face.SERIF_ITALIC)
        below = baseline + 3 * UNIT
        for words in (text.listen, text.apart):
            below = canvas.paragraph(
                x + _NUMBER,
                below,
                words,
                width=wide - _NUMBER,
                face=Face.SERIF,
                size=SMALL,
                leading=1.3,
            )
            below += 3
        standing = f"({text.standing})"
        canvas.paragraph(
            x + _NUMBER, below, standing, width=wide - _NUMBER, size=TINY, colour=SOFT_INK
        )
