"""The first view of Progress: strips along the rule, what has no band, and details of one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Final

from exercises.bands import BANDS
from trainer.progress import Progress
from trainer.progress_words import rounds_words, size_words
from trainer.window.canvas import Box, Canvas
from trainer.window.look import HAIRLINE, INK, MARGIN, SMALL, SOFT_INK, UNIT, Face
from trainer.window.rule import HEIGHT, Rule
from trainer.window.size_scale import SizeScale
from trainer.window.strip_details import draw_band, draw_bandless, draw_fixes, draw_nothing
from trainer.window.strips import BIAS_HIGH, draw_strips

DYNAMICS, LEVEL, NOTHING, FIXES = range(len(BANDS), len(BANDS) + 4)
"""What can be chosen after the ten bands."""
CHOICES: Final = FIXES + 1
_SAID: Final = 16 * UNIT
_SCALE_TOP: Final = 22 * UNIT
_RULE_TOP: Final = 45 * UNIT
_CARDS_TOP: Final = 57 * UNIT
_CARD_HIGH: Final = 4 * UNIT
_DETAILS_TOP: Final = 63 * UNIT
_DETAILS_HIGH: Final = 24 * UNIT

Names = tuple[Sequence[float], Sequence[float]]
"""Frequencies that were named, in Hz: for too much, and for too little."""


def draw_strips_view(
    canvas: Canvas,
    progress: Progress,
    chosen: int,
    choose: Callable[[int], None],
    names_of: Callable[[int], Names],
) -> None:
    """All of it; a click calls ``choose``, ``names_of`` gives the latest names in a band."""
    width = canvas.width - 2 * MARGIN
    canvas.text(
        MARGIN,
        _SAID,
        "Finest size you name: higher is finer. Bar: its interval; cross line: the estimate. "
        "Solid: too much; hatched and broken: too little.",
        face=Face.SERIF_ITALIC,
        colour=SOFT_INK,
    )
    canvas.text(
        MARGIN,
        _SAID + 20,
        f"Line: its path by week. Tick: mastered at {progress.goal_db:g} dB. ?: not enough yet "
        f"(fewer than {progress.enough_answers} answers). "
        "Arrow: where your names fall, if to one side.",
        face=Face.SERIF_ITALIC,
        colour=SOFT_INK,
    )
    rule = Rule(Box(MARGIN, _RULE_TOP, width, HEIGHT))
    scale = SizeScale(Box(MARGIN, _SCALE_TOP, width, _RULE_TOP - BIAS_HIGH - _SCALE_TOP))
    draw_strips(canvas, rule, scale, progress, chosen, choose)
    _draw_cards(canvas, progress, chosen, choose, Box(MARGIN, _CARDS_TOP, width, _CARD_HIGH))
    details = Box(MARGIN, _DETAILS_TOP, width, _DETAILS_HIGH)
    if chosen < len(BANDS):
        draw_band(canvas, details, progress, chosen, names_of(chosen))
    elif chosen == NOTHING:
        draw_nothing(canvas, details, progress)
    elif chosen == FIXES:
        draw_fixes(canvas, details, progress)
    else:
        strip = progress.strips[2 * len(BANDS) + chosen - DYNAMICS]
        draw_bandless(canvas, details, progress, strip)


def _draw_cards(
    canvas: Canvas,
    progress: Progress,
    chosen: int,
    choose: Callable[[int], None],
    box: Box,
) -> None:
    """What has no band: dynamics, level, something or nothing, and fixes."""
    dynamics, level = progress.strips[-2:]
    d_prime = progress.sensitivity.d_prime
    cards = (
        (DYNAMICS, "squashed or lifted", size_words(dynamics.skill, dynamics.finest)),
        (LEVEL, "too loud or too quiet", size_words(level.skill, level.finest)),
        (
            NOTHING,
            "something or nothing",
            "not enough yet"
            if d_prime is None or progress.sensitivity.d_prime_reach is None
            else f"d' {d_prime:.2f} \N{PLUS-MINUS SIGN} {progress.sensitivity.d_prime_reach:.2f}",
        ),
        (FIXES, "fix rounds", rounds_words(sum(each.rounds for each in progress.fixes))),
    )
    gap, size = float(UNIT), SMALL
    wanted = [
        canvas.text_width(name, Face.SERIF, size) + canvas.text_width(figure) + 5.0 * UNIT
        for _, name, figure in cards
    ]
    spare = (box.width - gap * (len(cards) - 1) - sum(wanted)) / len(cards)
    x = box.x
    for (choice, name, figure), width in zip(cards, wanted, strict=True):
        card = Box(x, box.y, width + spare, box.height)
        marked = choice == chosen
        canvas.box(card, edge=INK if marked else HAIRLINE, edge_width=2.5 if marked else 1)
        canvas.text(card.x + 14, card.y + 21, name, face=Face.SERIF, size=size)
        canvas.text(card.right - 14, card.y + 21, figure, side="right")
        canvas.hot(card, partial(choose, choice))
        x = card.right + gap
