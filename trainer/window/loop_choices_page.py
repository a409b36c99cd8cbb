"""The loops that were found in a file or a folder: each heard by its number, and one kept.

It is counted at half or twice its tempo where that is truer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

import pygame

from exercises.errors import NamefirstError
from exercises.samples import Samples
from trainer.backstage import Backstage
from trainer.counted_tempo import FACTORS, counted_at, counted_words
from trainer.loop_shelf import LoopShelf
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import ALONG, HELP, UP_DOWN, VOLUME, KeyWords, key_words
from trainer.window.look import (
    FIRST_LINE,
    HEADING_STEP,
    MARGIN,
    PLATE_GAP,
    SMALL,
    SOFT_INK,
    TITLE,
    UNIT,
    Face,
)
from trainer.window.loop_choice_list import draw_choice_list
from trainer.window.page import Page
from trainer.window.shortening import shortened
from trainer.window.wave import Wave

if TYPE_CHECKING:
    from trainer.loop_choices import LoopChoices

_KEEP_WIDE: Final = 300.0


@dataclass(frozen=True, slots=True)
class _Cut:
    """Choice ``number``, cut out and ready to be heard."""

    number: int
    sound: Samples
    wave: Wave


@dataclass(frozen=True, slots=True)
class _Kept:
    """Name and title of a loop on the shelf, and whether it was put there just now."""

    name: str
    title: str
    new: bool


class LoopChoicesPage(Page):
    """One of ``choices`` is marked; Esc leads back to where files are named, to ``typed``."""

    def __init__(self, desk: Desk, choices: LoopChoices, typed: str = "") -> None:
        self._desk = desk
        self._choices = choices
        self._typed = typed
        self._number = 1
        self._factor = 1.0
        self._wanted = 0
        self._cut: _Cut | None = None
        self._cutting: Backstage[_Cut] = Backstage()
        self._keeping: Backstage[_Kept] = Backstage()
        desk.sound.playhead.stop()

    @property
    def title(self) -> str:
        return "choose a loop"

    @property
    def keys(self) -> Sequence[KeyWords]:
        count = self._choices.count
        return (
            key_words("1" if count == 1 else f"1-{count}", "hear one"),
            key_words(UP_DOWN, "the one before, after"),
            key_words("Space"),
            *((key_words(ALONG, "half or twice the tempo"),) if self._tempo_bpm else ()),
            key_words("Enter", f"keep number {self._number}"),
            VOLUME,
            HELP,
            key_words("Esc", "another file"),
        )

    @property
    def _tempo_bpm(self) -> float | None:
        """The tempo that was found in the marked choice, if it has one."""
        return self._choices.tempos_bpm[self._number - 1]

    def open(self, path: Path) -> Screen:
        """Leads on to the search of ``path``, which was dropped on the window."""
        from trainer.window.loop_search_page import LoopSearchPage

        self._close()
        return LoopSearchPage(self._desk, path, self._typed)

    def key(self, event: pygame.event.Event) -> Screen | None:
        if self._keeping.begun:  # the list follows by itself, with the loop on it
            return self
        if event.key == pygame.K_ESCAPE:
            from trainer.window.loop_add_page import LoopAddPage

            self._close()
            return LoopAddPage(self._desk, self._typed)
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            self._desk.sound.playhead.stop()
            shelf, choices = self._desk.shelf, self._choices
            self._keeping.begin(partial(_keep, shelf, choices, self._number, self._factor))
        elif event.key in (pygame.K_UP, pygame.K_DOWN):
            step = 1 if event.key == pygame.K_DOWN else -1
            self._hear(max(1, min(self._choices.count, self._number + step)))
        elif event.key in (pygame.K_LEFT, pygame.K_RIGHT) and self._tempo_bpm:
            at = FACTORS.index(self._factor) + (1 if event.key == pygame.K_RIGHT else -1)
            self._factor = FACTORS[max(0, min(len(FACTORS) - 1, at))]
        elif event.key == pygame.K_SPACE:
            self._hear(self._number)
        elif event.unicode.isdecimal() and 1 <= int(event.unicode) <= self._choices.count:
            self._hear(int(event.unicode))
        return self

    def tick(self) -> Screen | None:
        try:
            if self._cutting.ready:
                self._take(self._cutting.take())
            if self._keeping.ready:
                return self._to_the_list(self._keeping.take())
        except NamefirstError as error:
            self._wanted = 0
            self._desk.say(str(error))
        if self._wanted and not self._cutting.begun:
            self._cutting.begin(partial(_cut, self._choices, self._wanted))
        return self

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        if self._cut is None:
            return []
        return self._cut.wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return (
            self._number,
            self._factor,
            self._cut and self._cut.number,
            self._wanted,
            self._keeping.begun,
            playhead.playing,
            playhead.volume_db,
        )

    # What is drawn ----------------------------------------------------------------------------

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Loops  \N{MIDDLE DOT}  add your own", self._desk.record.learner)
        width = canvas.width - 2 * MARGIN
        heading = shortened(canvas, self._choices.heading, width, Face.SERIF, TITLE)
        canvas.text(MARGIN, FIRST_LINE, heading, face=Face.SERIF, size=TITLE)
        bottom = draw_choice_list(
            canvas,
            FIRST_LINE + HEADING_STEP,
            self._choices,
            self._number,
            self._state_of,
            self._hear,
        )
        if self._cut is not None:
            self._cut.wave.draw(canvas, Box(MARGIN, bottom + 2 * UNIT, width, 92))
        keep = foot_box(canvas, _KEEP_WIDE)
        if self._tempo_bpm:
            counted = f"Counted at {counted_words(self._tempo_bpm, self._factor)}"
            canvas.text(MARGIN, keep.y - 2 * UNIT, counted, size=SMALL, colour=SOFT_INK)
        draw_plate(canvas, keep, f"Keep number {self._number}", "Enter", main=True)
        another = foot_box(canvas, 220, after=_KEEP_WIDE + PLATE_GAP)
        draw_plate(canvas, another, "Another file", "Esc")
        self._desk.sound.draw_volume(canvas)

    def _state_of(self, number: int) -> str:
        if self._keeping.begun:
            return "being kept" if number == self._number else ""
        if number == self._wanted:
            return "getting it ready"
        playing = self._desk.sound.playhead.playing
        heard = self._cut is not None and self._cut.number == number
        return "playing" if heard and playing else ""

    # What it does -----------------------------------------------------------------------------

    def _hear(self, number: int) -> None:
        """Sounds choice ``number``; it is cut out first, if it was not."""
        if number != self._number:
            self._number, self._factor = number, 1.0
        if self._cut is not None and self._cut.number == number:
            self._wanted = 0
            self._desk.sound.choose(str(number))
        else:
            self._wanted = number

    def _take(self, cut: _Cut) -> None:
        """Sounds what was cut, unless something else has been asked for since."""
        if cut.number != self._wanted:
            return
        self._wanted, self._cut = 0, cut
        self._desk.sound.take({str(cut.number): cut.sound})
        self._desk.sound.choose(str(cut.number))

    def _to_the_list(self, kept: _Kept) -> Screen:
        from trainer.window.loops_page import LoopsPage

        how = "is on the shelf now" if kept.new else "was on the shelf already"
        self._desk.say(f"'{kept.title}' {how}; the drill asks about it like any other loop.")
        self._close()
        return LoopsPage(self._desk, kept.name)

    def _close(self) -> None:
        self._desk.sound.playhead.stop()
        self._cutting.close()
        self._keeping.close()


def _cut(choices: LoopChoices, number: int) -> _Cut:
    from trainer.loop_sounds import MIX, loop_sounds

    loop = choices.loop(number)
    sound = loop_sounds(loop)[MIX]
    return _Cut(number, sound, Wave(sound, loop.passages))


def _keep(shelf: LoopShelf, choices: LoopChoices, number: int, factor: float) -> _Kept:
    loop = counted_at(choices.loop(number), factor)
    known = shelf.holding(loop)
    if known is not None:
        return _Kept(known, shelf.get(known).title, False)
    return _Kept(shelf.keep(loop), loop.title, True)
