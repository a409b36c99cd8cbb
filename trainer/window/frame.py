"""What every screen has: a heading line, keys along the bottom, and the way screens follow on.

A screen handles keys and draws itself; it returns the next screen, itself, or None to leave.
"""

from __future__ import annotations

import string
from collections.abc import Sequence
from functools import partial
from typing import Final, Protocol

import pygame

from trainer.window.canvas import Box, Canvas
from trainer.window.keys import KeyWords
from trainer.window.look import (
    BODY,
    FIRST_LINE,
    FOOT_HIGH,
    FOOT_PLATES,
    HAIRLINE,
    HEADING,
    INK,
    MARGIN,
    PAPER,
    SHADE,
    SMALL,
    SOFT_INK,
    TINY,
    TITLE,
    TITLE_STEP,
    UNIT,
    Face,
)
from trainer.window.shortening import shortened

HEAD_LINE: Final = 7 * UNIT


class Screen(Protocol):
    """One page of the window."""

    @property
    def title(self) -> str:
        """What the window's title says of it, for the task bar and for screen readers."""
        ...

    def key(self, event: pygame.event.Event) -> Screen | None:
        """Takes a key press; gives the screen to show next (None: leave the program)."""
        ...

    def tick(self) -> Screen | None:
        """Called between events; gives the screen to show next."""
        ...

    def draw(self, canvas: Canvas) -> None:
        """Draws everything on a cleared canvas."""
        ...

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        """Draws what moves (the playhead); gives the changed pixels."""
        ...

    @property
    def stale(self) -> bool:
        """Whether ``draw`` would show something new; asking does not reset it, drawing does."""
        ...

    @property
    def keys(self) -> Sequence[KeyWords]:
        """The keys that stand along the bottom, and what they do."""
        ...

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        """Every key, for the ``?`` page."""
        ...


def draw_head(canvas: Canvas, middle: str = "", right: str = "") -> None:
    """The line along the top: the name, where one is, and what is left."""
    end = canvas.width - MARGIN
    canvas.text(MARGIN, 44, "Namefirst", face=Face.SERIF_SEMIBOLD, size=HEADING)
    wide = canvas.text(end, 41, right, size=SMALL, colour=SOFT_INK, side="right")
    room = canvas.width - 2 * (MARGIN + max(wide, 100.0) + 24)
    middle = shortened(canvas, middle, room, size=SMALL)
    canvas.text(canvas.width / 2, 41, middle, size=SMALL, colour=SOFT_INK, side="centre")
    canvas.line((MARGIN, HEAD_LINE), (end, HEAD_LINE), HAIRLINE)


def draw_keys(canvas: Canvas, keys: Sequence[KeyWords]) -> None:
    """The keys along the bottom, on two lines at most; a click on one presses it."""
    x, baseline = float(MARGIN), canvas.height - 60
    for cap, does in keys:
        width = canvas.text_width(cap, Face.SANS_SEMIBOLD, TINY) + 20 + canvas.text_width(does)
        if x + width > canvas.width - MARGIN:
            x, baseline = float(MARGIN), baseline + 30
        canvas.key(x, baseline, cap, does)
        if cap in _PRESSES:
            canvas.hot(Box(x, baseline - 18, width, 27), partial(_press, cap))
        x += width + 24


_PRESSES: Final = {
    "Space": (pygame.K_SPACE, " ", 0),
    "Tab": (pygame.K_TAB, "\t", 0),
    "Enter": (pygame.K_RETURN, "\r", 0),
    "Shift Enter": (pygame.K_RETURN, "\r", pygame.KMOD_SHIFT),
    "Esc": (pygame.K_ESCAPE, "\x1b", 0),
    "Delete": (pygame.K_DELETE, "\x7f", 0),
    "?": (pygame.K_QUESTION, "?", 0),
    "F1": (pygame.K_F1, "", 0),
    "Ctrl S": (pygame.K_s, "\x13", pygame.KMOD_CTRL),
    **{str(digit): (ord(str(digit)), str(digit), 0) for digit in range(10)},
    **{letter.upper(): (ord(letter), letter, 0) for letter in string.ascii_lowercase},
}
"""Key caps that can be clicked: key, character, modifiers."""


def _press(cap: str) -> None:
    key, character, modifiers = _PRESSES[cap]
    for kind in (pygame.KEYDOWN, pygame.KEYUP):
        pygame.event.post(pygame.event.Event(kind, key=key, unicode=character, mod=modifiers))


def draw_waiting(
    canvas: Canvas,
    trouble: str = "",
    heading: str = "The loop cannot be made ready.",
    words: str = "Getting the loop ready \N{HORIZONTAL ELLIPSIS}",
) -> None:
    """What stands on a page until it has something to show: ``words``, or what hinders it."""
    if not trouble:
        canvas.text(MARGIN, FIRST_LINE, words, face=Face.SERIF, size=TITLE, colour=SOFT_INK)
        return
    canvas.text(MARGIN, FIRST_LINE, heading, face=Face.SERIF, size=TITLE)
    width = canvas.width - 2 * MARGIN
    canvas.paragraph(MARGIN, FIRST_LINE + TITLE_STEP, trouble, width=width, size=BODY)


def foot_box(canvas: Canvas, width: float, *, after: float = 0.0) -> Box:
    """Where a plate stands over the keys, ``after`` units of others from the left."""
    return Box(MARGIN + after, canvas.height - FOOT_PLATES, width, FOOT_HIGH)


def draw_plate(
    canvas: Canvas, box: Box, words: str, cap: str, *, main: bool = False, about: str = ""
) -> None:
    """A plate that presses the key ``cap``; dark when it is the main thing to do."""
    canvas.box(box, fill=INK if main else SHADE)
    ink = PAPER if main else INK
    middle = box.y + box.height / 2
    baseline = middle - 2 if about else middle + 8
    canvas.text(box.x + 18, baseline, words, face=Face.SERIF, size=HEADING, colour=ink)
    if about:
        canvas.text(box.x + 18, baseline + 21, about, size=SMALL, colour=SOFT_INK)
    canvas.text(box.right - 18, middle + 6, cap, size=SMALL, colour=ink, side="right")
    canvas.hot(box, partial(_press, cap))
