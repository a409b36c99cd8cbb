"""A page of the window off screen: where its words stand, keys pressed, and waiting for it."""

from __future__ import annotations

import time
from collections.abc import Callable
from itertools import combinations
from typing import Any, NamedTuple

import pygame

from trainer.window.canvas import Canvas
from trainer.window.frame import Screen

PATIENCE_S = 60.0


class Word(NamedTuple):
    """Words on a page, and the box that their letters fill, in units."""

    words: str
    left: float
    top: float
    right: float
    bottom: float

    def over(self, other: Word) -> bool:
        """Whether one stands on the other."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


class Written(Canvas):
    """A canvas that notes where words stand, and in which colours on which ground."""

    def __init__(self, size: tuple[int, int] = (1280, 800)) -> None:
        super().__init__(pygame.Surface(size))
        self.words: list[Word] = []
        self.inks: set[tuple[tuple[int, ...], tuple[int, ...]]] = set()

    def text(self, x: float, baseline: float, words: str, **how: Any) -> float:
        wide = self.text_width(words, *([how["face"]] if "face" in how else []), **_sized(how))
        left = x - {"left": 0.0, "centre": 0.5, "right": 1.0}[how.get("side", "left")] * wide
        size = how.get("size", 16)
        if words:
            word = Word(words, left, baseline - 0.68 * size, left + wide, baseline + 0.1 * size)
            self.words.append(word)
            self.inks.add((tuple(how.get("colour", (0x22, 0x24, 0x28))), self._ground(word)))
        return super().text(x, baseline, words, **how)

    def _ground(self, word: Word) -> tuple[int, ...]:
        """The colour beneath the words, before they are written: what most of a few points have."""
        wide, high = self.surface.get_size()
        seen: dict[tuple[int, ...], int] = {}
        # At three heights: words may stand across a hairline, which is no ground.
        places = [(x, y) for x in (0.02, 0.2, 0.35, 0.5, 0.65, 0.8, 0.98) for y in (0.2, 0.5, 0.8)]
        for across, down in places:
            x = (word.left + across * (word.right - word.left)) * self.scale
            y = (word.top + down * (word.bottom - word.top)) * self.scale
            if 0 <= x < wide and 0 <= y < high:
                colour = tuple(self.surface.get_at((int(x), int(y))))[:3]
                seen[colour] = seen.get(colour, 0) + 1
        return max(seen, key=lambda colour: seen[colour], default=(0, 0, 0))


def _sized(how: dict[str, Any]) -> dict[str, Any]:
    return {"size": how["size"]} if "size" in how else {}


def written(page: Screen, size: tuple[int, int] = (1280, 800)) -> Written:
    """The page as drawn."""
    canvas = Written(size)
    canvas.clear()
    page.draw(canvas)
    page.move(canvas)
    return canvas


def troubles(canvas: Written) -> list[str]:
    """Words that leave the page or stand on one another."""
    found = [
        f"off the page: {word}"
        for word in canvas.words
        if word.left < 0
        or word.top < 0
        or word.right > canvas.width + 0.01
        or word.bottom > canvas.height + 0.01
    ]
    found += [
        f"on one another: {one} / {other}"
        for one, other in combinations(canvas.words, 2)
        if one.over(other)
    ]
    return found


def press(page: Screen, *keys: int | str, mod: int = 0) -> Screen:
    """Presses keys one after another: by pygame's numbers, or as characters."""
    for key in keys:
        code = ord(key.lower()) if isinstance(key, str) else key
        printable = isinstance(key, int) and key < 0x110000 and chr(key).isprintable()
        character = key if isinstance(key, str) else chr(key) if printable else ""
        event = pygame.event.Event(pygame.KEYDOWN, key=code, unicode=character, mod=mod)
        shown = page.key(event)
        assert shown is not None
        page = shown
    return page


def until(page: Screen, done: Callable[[Screen], object]) -> Screen:
    """Ticks as the window does, until something has come of it."""
    begun = time.monotonic()
    while time.monotonic() - begun < PATIENCE_S:
        shown = page.tick()
        assert shown is not None
        page = shown
        if done(page):
            return page
        time.sleep(0.01)
    raise AssertionError(f"nothing came of it: {page.title}")
