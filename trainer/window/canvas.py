"""Drawing in units on a window of any size, and the places on it that can be clicked.

A window has at least 1280 by 800 units; ``scale`` pixels make one. Screens draw everything anew
when something changed, and say as they draw which rectangles do something when clicked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

import pygame

from trainer.window.look import HAIRLINE, INK, PAPER, SMALL, SOFT_INK, TINY, Colour, Face, font_file

UNITS_WIDE: Final = 1280
UNITS_HIGH: Final = 800

Side = Literal["left", "centre", "right"]


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in units."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Its right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Its lower edge."""
        return self.y + self.height

    def holds(self, x: float, y: float) -> bool:
        """Whether the point lies inside."""
        return self.x <= x < self.right and self.y <= y < self.bottom


@dataclass(frozen=True, slots=True)
class HotSpot:
    """A place that does something: ``press`` gets x and y in units; a drag too, with ``drag``."""

    box: Box
    press: Callable[[float, float], object]
    drag: bool = False


class Canvas:
    """One window's surface, with its scale and hot spots."""

    def __init__(self, surface: pygame.Surface) -> None:
        pygame.font.init()
        _forget_fonts()  # type loaded before fonts were last shut down is dead, and deadly
        self.hot_spots: list[HotSpot] = []
        self.resize(surface)

    def resize(self, surface: pygame.Surface) -> None:
        """Takes a surface of another size."""
        self.surface = surface
        wide, high = surface.get_size()
        self.scale = max(0.25, min(wide / UNITS_WIDE, high / UNITS_HIGH))
        self.width = wide / self.scale
        self.height = high / self.scale

    def clear(self) -> None:
        """A fresh page without hot spots."""
        self.surface.fill(PAPER)
        self.hot_spots.clear()

    def hot(self, box: Box, press: Callable[[], object]) -> None:
        """Makes ``box`` clickable."""
        self.hot_spots.append(HotSpot(box, lambda _x, _y: press()))

    def hot_at(self, box: Box, press: Callable[[float, float], object]) -> None:
        """Makes ``box`` clickable and draggable; ``press`` is told where."""
        self.hot_spots.append(HotSpot(box, press, drag=True))

    def spot_at(self, x: float, y: float) -> HotSpot | None:
        """The topmost hot spot at a point in units."""
        for spot in reversed(self.hot_spots):
            if spot.box.holds(x, y):
                return spot
        return None

    def to_units(self, pixels: tuple[int, int]) -> tuple[float, float]:
        """A point in pixels (a mouse's) in units."""
        return pixels[0] / self.scale, pixels[1] / self.scale

    def pixels(self, box: Box) -> pygame.Rect:
        """A box in whole pixels."""
        left, top = round(box.x * self.scale), round(box.y * self.scale)
        right, bottom = round(box.right * self.scale), round(box.bottom * self.scale)
        return pygame.Rect(left, top, max(1, right - left), max(1, bottom - top))

    def text(
        self,
        x: float,
        baseline: float,
        words: str,
        *,
        face: Face = Face.SANS,
        size: float = SMALL,
        colour: Colour = INK,
        side: Side = "left",
    ) -> float:
        """Writes ``words`` on ``baseline``; gives their width in units."""
        if not words:
            return 0.0
        font = _font(face, round(size * self.scale))
        image = _written(face, round(size * self.scale), words, colour)
        offset = {"left": 0.0, "centre": 0.5, "right": 1.0}[side] * image.get_width()
        position = (
            round(x * self.scale - offset),
            round(baseline * self.scale) - font.get_ascent(),
        )
        self.surface.blit(image, position)
        return image.get_width() / self.scale

    def text_width(self, words: str, face: Face = Face.SANS, size: float = SMALL) -> float:
        """Width of ``words`` in units."""
        return _font(face, round(size * self.scale)).size(words)[0] / self.scale

    def paragraph(
        self,
        x: float,
        baseline: float,
        words: str,
        *,
        width: float,
        face: Face = Face.SANS,
        size: float = SMALL,
        colour: Colour = INK,
        leading: float = 1.4,
    ) -> float:
        """Writes ``words`` in lines of at most ``width``; gives the next line's baseline."""
        for line in self.lines(words, width, face, size):
            self.text(x, baseline, line, face=face, size=size, colour=colour)
            baseline += size * leading
        return baseline

    def lines(
        self, words: str, width: float, face: Face = Face.SANS, size: float = SMALL
    ) -> list[str]:
        """The lines of at most ``width`` that ``words`` fill; one at the least."""
        lines = [""]
        for word in words.split():
            longer = f"{lines[-1]} {word}".strip()
            if lines[-1] and self.text_width(longer, face, size) > width:
                lines.append(word)
            else:
                lines[-1] = longer
        return lines

    def box(
        self,
        box: Box,
        *,
        fill: Colour | None = None,
        edge: Colour | None = None,
        edge_width: float = 1.0,
        radius: float = 6.0,
    ) -> None:
        """A rectangle with round corners."""
        rect = self.pixels(box)
        round_by = round(radius * self.scale)
        if fill is not None:
            pygame.draw.rect(self.surface, fill, rect, border_radius=round_by)
        if edge is not None:
            thick = max(1, round(edge_width * self.scale))
            pygame.draw.rect(self.surface, edge, rect, width=thick, border_radius=round_by)

    def line(
        self,
        start: tuple[float, float],
        stop: tuple[float, float],
        colour: Colour = HAIRLINE,
        thick: float = 1.0,
    ) -> None:
        """An upright or level line."""
        wide = max(1, round(thick * self.scale))
        half = wide / 2
        x0, y0 = start[0] * self.scale, start[1] * self.scale
        x1, y1 = stop[0] * self.scale, stop[1] * self.scale
        if x0 == x1:
            rect = pygame.Rect(round(x0 - half), round(min(y0, y1)), wide, round(abs(y1 - y0)))
        else:
            rect = pygame.Rect(round(min(x0, x1)), round(y0 - half), round(abs(x1 - x0)), wide)
        pygame.draw.rect(self.surface, colour, rect)

    def polygon(self, points: list[tuple[float, float]], colour: Colour) -> None:
        """A filled shape, its edge smoothed."""
        scaled = [(x * self.scale, y * self.scale) for x, y in points]
        pygame.draw.polygon(self.surface, colour, scaled)
        pygame.draw.aalines(self.surface, colour, True, scaled)

    def stroke(self, points: list[tuple[float, float]], colour: Colour, thick: float = 1.5) -> None:
        """An open line through points."""
        scaled = [(x * self.scale, y * self.scale) for x, y in points]
        pygame.draw.lines(self.surface, colour, False, scaled, max(1, round(thick * self.scale)))

    def hatch(self, box: Box, colour: Colour) -> None:
        """An outlined box with slanted lines: what is left, as against what was done."""
        rect = self.pixels(box)
        clip = self.surface.get_clip()
        self.surface.set_clip(rect.clip(clip) if clip else rect)
        step = max(3, round(5 * self.scale))
        for x in range(rect.left - rect.height, rect.right, step):
            pygame.draw.line(self.surface, colour, (x, rect.bottom), (x + rect.height, rect.top))
        self.surface.set_clip(clip)
        pygame.draw.rect(self.surface, colour, rect, width=max(1, round(1.4 * self.scale)))

    def key(self, x: float, baseline: float, cap: str, does: str) -> float:
        """A key cap and what it does; gives the x after it."""
        width = self.text_width(cap, Face.SANS_SEMIBOLD, TINY) + 12
        self.box(Box(x, baseline - 15, width, 21), edge=SOFT_INK, radius=4)
        self.text(
            x + width / 2,
            baseline,
            cap,
            face=Face.SANS_SEMIBOLD,
            size=TINY,
            colour=SOFT_INK,
            side="centre",
        )
        wide = self.text(x + width + 8, baseline, does, colour=SOFT_INK)
        return x + width + 8 + wide


def _forget_fonts() -> None:
    """Lets go of all type that was loaded."""
    _font.cache_clear()
    _written.cache_clear()


@lru_cache(maxsize=128)
def _font(face: Face, pixels: int) -> pygame.font.Font:
    return pygame.font.Font(font_file(face), max(6, pixels))


@lru_cache(maxsize=2048)
def _written(face: Face, pixels: int, words: str, colour: Colour) -> pygame.Surface:
    return _font(face, pixels).render(words, True, colour)
