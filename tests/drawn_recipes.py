"""Recipes drawn by a seed from given choices, for tests that go over all that can be asked."""

from __future__ import annotations

import random
from dataclasses import dataclass

from exercises.bands import BANDS, Band
from exercises.kinds import TONE, Help, Kind, Shape, Style
from exercises.recipe import Recipe, draw_freq_hz, pick


@dataclass(frozen=True, slots=True)
class Choices:
    """What ``draw_recipe`` draws from; every sequence holds at least one item."""

    loop: str
    fingerprint: str
    kinds: tuple[Kind, ...] = tuple(Kind)
    bands: tuple[Band, ...] = BANDS
    sizes_db: tuple[float, ...] = (9.0,)
    qs: tuple[float, ...] = (1.4,)
    track: str | None = None
    alone: bool = False
    shapes: tuple[Shape, ...] = (Shape.PEAK,)
    styles: tuple[Style, ...] = (Style.OVER_COMPRESSED,)
    passage: str | None = None
    help: Help = Help.A_AT_HAND


def draw_recipe(seed: int, choices: Choices) -> Recipe:
    """The recipe that ``seed`` gives for ``choices``: the same one everywhere.

    Raises:
        BadRecipe: the choices hold a value that no recipe may have.
    """
    source = random.Random(seed)
    kind = pick(source, choices.kinds)
    size_db = pick(source, choices.sizes_db)
    freq_hz = draw_freq_hz(source, pick(source, choices.bands))
    q = pick(source, choices.qs)
    shape = pick(source, choices.shapes) if kind in TONE else Shape.PEAK
    style = pick(source, choices.styles) if kind is Kind.SQUASHED else Style.OVER_COMPRESSED
    return Recipe(
        seed=seed,
        loop=choices.loop,
        fingerprint=choices.fingerprint,
        kind=kind,
        size_db=0.0 if kind is Kind.NOTHING else size_db,
        freq_hz=freq_hz if kind in TONE else None,
        q=q if kind in TONE and shape is Shape.PEAK else None,
        track=choices.track,
        alone=choices.alone,
        shape=shape,
        style=style,
        passage=choices.passage,
        help=choices.help,
    )
