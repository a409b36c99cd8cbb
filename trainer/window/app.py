"""The window: opens it, turns events into keys and presses, and draws only what changed.

Keys that mean the same on every page (space, volume, help) are taken here.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

import pygame

from exercises.errors import NamefirstError
from trainer.planner import Limits
from trainer.quiet_libraries import quiet_libraries
from trainer.window.canvas import UNITS_HIGH, UNITS_WIDE, Canvas, HotSpot
from trainer.window.desk import Desk, Kept
from trainer.window.frame import Screen
from trainer.window.keys_page import KeysPage
from trainer.window.today_page import TodayPage

SMALLEST: Final = (1024, 640)
_SHOW_NOTHING: Final = ("dummy", "offscreen", "evdev")
"""What SDL falls back on where there is no screen: a window that nobody sees."""
_PLAYING_WAIT_MS: Final = 33
_IDLE_WAIT_MS: Final = 100
_OF_DESKTOP: Final = 0.85
"""How much of a large desktop the window takes as it opens."""
_REPEATING: Final = frozenset(
    {
        pygame.K_LEFT,
        pygame.K_RIGHT,
        pygame.K_UP,
        pygame.K_DOWN,
        pygame.K_BACKSPACE,
        pygame.K_MINUS,
        pygame.K_KP_MINUS,
    }
)
"""Keys that go on while they are held. Enter must not: a slow moment would skip a review; nor may
plus: a key that sticks would turn the volume all the way up."""
_FIRST_REPEAT_S: Final = 0.35
_NEXT_REPEAT_S: Final = 0.04
_HELD_WAIT_MS: Final = 20


def run(
    kept: Kept,
    limits: Limits,
    *,
    silent: bool = False,
    first: Callable[[Desk], Screen] = TodayPage,
    instead: str = "add --terminal",
) -> None:
    """Shows the window until it is closed; ``first`` makes the page that it begins with.

    Raises:
        NamefirstError: no window can be opened; it ends with what to do ``instead``.
    """
    try:
        surface = _opened()
    except pygame.error as error:
        raise NamefirstError(f"no window can be opened here ({error}); {instead}") from None
    Window(surface, kept, limits, silent=silent, first=first).run()
    pygame.quit()


def _opened() -> pygame.Surface:
    with quiet_libraries():
        pygame.display.init()
    if pygame.display.get_driver() in _SHOW_NOTHING and "SDL_VIDEODRIVER" not in os.environ:
        raise NamefirstError(
            "there is no screen to open a window on; add --terminal where it is taken"
        )
    size = fitting(pygame.display.get_desktop_sizes()[0])
    return pygame.display.set_mode(size, pygame.RESIZABLE)


def fitting(desktop: tuple[int, int]) -> tuple[int, int]:
    """Most of the desktop in the design's proportions, type and all; never below the smallest."""
    scale = min(desktop[0] / UNITS_WIDE, desktop[1] / UNITS_HIGH)
    if scale < 1.0:
        return SMALLEST
    scale = max(1.0, _OF_DESKTOP * scale)
    return round(UNITS_WIDE * scale), round(UNITS_HIGH * scale)


class Window:
    """The event loop around one page at a time."""

    def __init__(
        self,
        surface: pygame.Surface,
        kept: Kept,
        limits: Limits,
        *,
        silent: bool = False,
        first: Callable[[Desk], Screen] = TodayPage,
    ) -> None:
        self._canvas = Canvas(surface)
        self._desk = Desk(kept, limits, silent=silent)
        self._page: Screen | None = None
        self._dragging: HotSpot | None = None
        self._held: pygame.event.Event | None = None
        self._repeat_at_s = 0.0
        self._fresh = True
        self._title = ""
        self._follow(first(self._desk))

    def run(self) -> None:
        """Draws, waits, reacts; until the last page is left."""
        try:
            while self._page is not None:
                self._show()
                for event in (pygame.event.wait(self._wait_ms()), *pygame.event.get()):
                    self._take(event)
                self._repeat()
                self._desk.sound.keep_up()
                if self._page is not None:
                    self._follow(self._page.tick())
        finally:
            self._desk.close()

    def _wait_ms(self) -> int:
        if self._held is not None:
            return _HELD_WAIT_MS
        return _PLAYING_WAIT_MS if self._desk.sound.playhead.playing else _IDLE_WAIT_MS

    def _hold(self, event: pygame.event.Event | None, seconds: float) -> None:
        """Has ``event`` go on while its key is held, ``seconds`` from now at the earliest."""
        self._held, self._repeat_at_s = event, time.monotonic() + seconds

    def _repeat(self) -> None:
        """Presses a held key again. Not pygame's own repeat: that goes by a clock beside ours, and
        on a slow page makes many presses of a short one. Here a release is always seen first."""
        held = self._held
        if held is not None and self._page is not None and time.monotonic() >= self._repeat_at_s:
            self._press_key(held)
            self._hold(held, _NEXT_REPEAT_S)

    def _show(self) -> None:
        assert self._page is not None
        if self._fresh or self._page.stale or self._desk.stale:
            self._fresh = False
            self._canvas.clear()
            self._page.draw(self._canvas)
            self._desk.draw_notice(self._canvas)
            self._page.move(self._canvas)
            pygame.display.flip()
        elif self._desk.sound.playhead.playing:
            pygame.display.update(self._page.move(self._canvas))

    def _follow(self, page: Screen | None) -> None:
        if page is not self._page:
            self._page = page
            self._fresh = True
        if page is not None and page.title != self._title:
            self._title = page.title
            pygame.display.set_caption(f"Namefirst: {self._title}")

    def _take(self, event: pygame.event.Event) -> None:
        if self._page is None or event.type == pygame.NOEVENT:
            return
        self._desk.sound.take_notice(event)
        if event.type == pygame.QUIT:
            self._page = None
        elif event.type in (pygame.WINDOWEXPOSED, pygame.VIDEORESIZE):
            self._canvas.resize(pygame.display.get_surface())
            self._fresh = True
        elif event.type == pygame.DROPFILE:
            self._open_file(Path(event.file))
        elif event.type == pygame.KEYDOWN:
            self._press_key(event)
            self._hold(event if event.key in _REPEATING else None, _FIRST_REPEAT_S)
        elif event.type == pygame.KEYUP:
            if self._held is not None and event.key == self._held.key:
                self._held = None
        elif event.type == pygame.MOUSEBUTTONDOWN and event.button == 1:
            self._press_mouse(event.pos)
        elif event.type == pygame.MOUSEMOTION and self._dragging is not None:
            self._drag(event.pos)
        elif event.type == pygame.MOUSEBUTTONUP:
            self._dragging = None

    def _open_file(self, path: Path) -> None:
        """A set was dropped on the window, to be taken; or sound, to make a loop of."""
        from trainer.window.dropped_file import page_of_dropped

        assert self._page is not None
        self._desk.hush()
        try:
            page = page_of_dropped(path, self._page, self._desk)
            self._desk.leave_drill()
            self._follow(page)
        except NamefirstError as error:
            self._desk.say(str(error))

    def _press_key(self, event: pygame.event.Event) -> None:
        assert self._page is not None
        self._desk.hush()
        try:
            if event.key == pygame.K_F1 and not isinstance(self._page, KeysPage):
                self._follow(KeysPage(self._page))
            elif getattr(self._page, "typing", False):
                self._follow(self._page.key(event))
            elif event.key == pygame.K_SPACE and self._desk.sound.playhead.frames:
                self._desk.sound.play_or_stop()
            elif event.unicode in ("-", "+", "=") or event.key in (
                pygame.K_KP_MINUS,
                pygame.K_KP_PLUS,
            ):
                self._desk.change_volume(up=event.unicode != "-")
            elif event.unicode == "?" and not isinstance(self._page, KeysPage):
                self._follow(KeysPage(self._page))
            else:
                self._follow(self._page.key(event))
        except NamefirstError as error:
            self._desk.say(str(error))

    def _press_mouse(self, pixels: tuple[int, int]) -> None:
        x, y = self._canvas.to_units(pixels)
        spot = self._canvas.spot_at(x, y)
        if spot is None:
            return
        self._point(spot, x, y)
        self._dragging = spot if spot.drag else None

    def _drag(self, pixels: tuple[int, int]) -> None:
        assert self._dragging is not None
        self._point(self._dragging, *self._canvas.to_units(pixels))

    def _point(self, spot: HotSpot, x: float, y: float) -> None:
        try:
            spot.press(x, y)
        except NamefirstError as error:
            self._desk.say(str(error))
