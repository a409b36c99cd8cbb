"""One strip per band over the rule: finest sizes with intervals, paths over weeks, biases."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from exercises.bands import BANDS, Band
from trainer.naming_spread import Naming
from trainer.progress import Progress, Strip
from trainer.window.canvas import Box, Canvas
from trainer.window.look import BODY, HAIRLINE, INK, SOFT_INK, Face
from trainer.window.rule import Rule
from trainer.window.size_scale import SizeScale

BIAS_HIGH: Final = 30
"""Units above the rule that the biases take."""


def draw_strips(
    canvas: Canvas,
    rule: Rule,
    scale: SizeScale,
    progress: Progress,
    chosen: int | None,
    choose: Callable[[int], None],
) -> None:
    """All ten strips, ``chosen`` framed together with its band on the rule."""
    scale.draw(canvas)
    days = [point.day.toordinal() for strip in progress.strips for point in strip.path]
    for band in BANDS:
        left, right = rule.x_of(band.low_hz), rule.x_of(band.high_hz)
        column = Box(left, scale.box.y - 8, right - left, rule.box.bottom - scale.box.y + 8)
        for strip in (progress.strips[band.index], progress.strips[len(BANDS) + band.index]):
            _draw_strip(canvas, scale, column, strip, min(days, default=0), max(days, default=1))
        _draw_bias(canvas, rule, band, progress.naming[band.index], progress.enough_answers)
        canvas.hot(column, lambda index=band.index: choose(index))  # type: ignore[misc]
    rule.draw(canvas)
    if not any(strip.enough for strip in progress.strips[: 2 * len(BANDS)]):
        # Beside the frame, which must not strike it through.
        left = chosen is not None and len(BANDS) / 2 <= chosen < len(BANDS)
        canvas.text(
            scale.box.x + 16 if left else scale.box.right - 16,
            scale.y_of(4.0) - 10,
            f"A bar stands over a band once it has {progress.enough_answers} answers.",
            face=Face.SERIF_ITALIC,
            size=BODY,
            colour=SOFT_INK,
            side="left" if left else "right",
        )
    if chosen is not None and chosen < len(BANDS):
        left, right = rule.x_of(BANDS[chosen].low_hz), rule.x_of(BANDS[chosen].high_hz)
        top = scale.box.y - 8
        frame = Box(left, top, right - left, rule.box.bottom - top)
        canvas.box(frame, edge=INK, edge_width=2.5)


def _draw_strip(
    canvas: Canvas, scale: SizeScale, column: Box, strip: Strip, from_day: int, until_day: int
) -> None:
    much = strip.skill.problem == "too much"
    x = column.right - (38 if much else 16)
    if not strip.enough:
        if strip.finest.answers:
            canvas.text(
                x, scale.box.bottom - 4, "?", face=Face.SERIF_ITALIC, colour=SOFT_INK, side="centre"
            )
        return
    scale.draw_path(
        canvas,
        strip.path,
        column.x + 10,
        column.right - 56,
        solid=much,
        from_day=from_day,
        until_day=until_day,
    )
    scale.draw_interval(canvas, x, strip.finest, solid=much)
    if strip.mastered:
        y = scale.y_of(strip.finest.high_db) + 14
        canvas.stroke([(x - 5, y - 3), (x - 1, y + 2), (x + 6, y - 7)], INK, 2)


def _draw_bias(canvas: Canvas, rule: Rule, band: Band, naming: Naming, enough: int) -> None:
    """An arrow from the middle of the band to where its names fall; a mark where none shows."""
    if naming.answers < enough:
        return
    y = rule.box.y - BIAS_HIGH / 2
    start = rule.x_of(band.mid_hz)
    low, high = (
        rule.x_of(band.mid_hz * 2.0**octaves) for octaves in (naming.bias_low, naming.bias_high)
    )
    canvas.line((low, y), (high, y), HAIRLINE, 5)
    canvas.line((start, y - 5), (start, y + 5), SOFT_INK, 1.5)
    if naming.bias_low <= 0.0 <= naming.bias_high:
        return
    tip = rule.x_of(band.mid_hz * 2.0**naming.bias)
    back = tip - 9 if tip > start else tip + 9
    canvas.line((start, y), (back, y), INK, 2)
    canvas.polygon([(back, y - 5), (back, y + 5), (tip, y)], INK)
