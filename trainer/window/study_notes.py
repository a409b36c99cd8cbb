"""What is said of a subject, as it stands on the pages of Study: words, causes, where welcome."""

from __future__ import annotations

from typing import Final

from trainer.study_texts import text_of
from trainer.subject import Subject
from trainer.window.canvas import Canvas
from trainer.window.look import (
    MARGIN,
    SMALL,
    SOFT_INK,
    TINY,
    Face,
)

_LABEL: Final = 150.0


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
