"""What came of a claim, drawn: the trials one by one, and the pointings along the rule."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.claim import Point, Trial
from trainer.window.canvas import Box, Canvas
from trainer.window.look import (
    ACCENT,
    INK,
    MARGIN,
    SOFT_INK,
    TINY,
    Face,
)
from trainer.window.rule import Rule


def draw_told(canvas: Canvas, trials: Sequence[Trial], baseline: float) -> float:
    """Each trial with what X was, filled where it was told rightly; gives the next baseline."""
    for index, trial in enumerate(trials):
        box = Box(MARGIN + index * 28, baseline - 4, 18, 18)
        canvas.box(box, fill=INK if trial.right else None, edge=INK, edge_width=1.5, radius=2)
        canvas.text(box.x + 9, baseline + 32, trial.x, size=TINY, side="centre")
    words = "each trial, with what X was; filled: told rightly"
    canvas.text(MARGIN, baseline + 54, words, face=Face.SERIF_ITALIC, colour=SOFT_INK)
    return baseline + 92


def draw_points(canvas: Canvas, rule: Rule, points: Sequence[Point]) -> None:
    """The rule, with a bar where each change was and an arrow where it was pointed at."""
    rule.draw(canvas)
    top = rule.box.y
    for point in points:
        true_x, named_x = rule.x_of(point.true_hz), rule.x_of(point.named_hz)
        canvas.line((true_x, top - 24), (true_x, top), ACCENT, 4)
        canvas.line((named_x, top - 44), (named_x, top - 12), INK, 2)
        head = [(named_x - 5, top - 13), (named_x + 5, top - 13), (named_x, top - 3)]
        canvas.polygon(head, INK)
    canvas.text(
        canvas.width - MARGIN,
        top - 58,
        "bars: where it was; arrows: where you pointed",
        face=Face.SERIF_ITALIC,
        colour=SOFT_INK,
        side="right",
    )
