"""Loops: those at hand, heard whole or a track alone, and what can be heard on each of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

import pygame

from exercises.errors import NamefirstError
from exercises.kinds import TONE, Kind
from exercises.loops import Loop
from exercises.samples import Samples
from trainer.backstage import Backstage
from trainer.home import tables_folder
from trainer.loop_words import length_words, size_words
from trainer.watched_work import WatchedWork
from trainer.window.askable_picture import draw_askable, draw_askable_legend
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate
from trainer.window.keys import ALONG, HELP, UP_DOWN, VOLUME, KeyWords, key_words
from trainer.window.look import (
    BODY,
    FIRST_LINE,
    HEADING,
    INK,
    MARGIN,
    SHADE,
    SMALL,
    SOFT_INK,
    TITLE,
    Face,
)
from trainer.window.loop_list import ROW, draw_loop_list, loop_lines, shown_words
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule
from trainer.window.share_bar import draw_share
from trainer.window.shortening import shortened
from trainer.window.wave import Wave

if TYPE_CHECKING:
    from exercises.askable_table import AskableTable

_ROWS: Final = 7
_LIST_TOP: Final = 124.0
_WAVE_TOP: Final = _LIST_TOP + _ROWS * ROW + 14
_WITHOUT_A_PLACE: Final = tuple(kind for kind in Kind if kind not in TONE | {Kind.NOTHING})


@dataclass(frozen=True, slots=True)
class _Opened:
    """A loop, its sounds, and its strip."""

    name: str
    loop: Loop
    sounds: dict[str, Samples]
    wave: Wave


class LoopsPage(Page):
    """A list, and below it the chosen loop; ``name`` is chosen first."""

    def __init__(self, desk: Desk, name: str | None = None) -> None:
        self._desk = desk
        self._lines = loop_lines(desk.shelf)
        names = [line.name for line in self._lines]
        self._place = names.index(name) if name in names else 0
        self._track: int | None = None
        self._alone = True
        self._opened: _Opened | None = None
        self._opening: Backstage[_Opened] = Backstage()
        self._asked = ""
        self._wanted_to_play = False
        self._trouble: dict[str, str] = {}
        self._table: AskableTable | None = None
        self._working: WatchedWork[AskableTable] = WatchedWork()
        self._removing = False
        desk.sound.playhead.stop()

    @property
    def title(self) -> str:
        return "loops"

    @property
    def keys(self) -> Sequence[KeyWords]:
        if self._removing:
            return (
                key_words("Enter", "take it off the shelf"),
                HELP,
                key_words("Esc", "leave it"),
            )
        several = self._loop is not None and len(self._loop.tracks) > 1
        return (
            key_words(UP_DOWN, "choose"),
            key_words("Space"),
            *((key_words(ALONG, "track"),) if several else ()),
            *((key_words("L"),) if self._track is not None else ()),
            key_words("N", "new loop"),
            *((key_words("Delete", "take it off the shelf"),) if self._own else ()),
            VOLUME,
            HELP,
            key_words("Esc", "back"),
        )

    @property
    def _name(self) -> str:
        return self._lines[self._place].name

    @property
    def _own(self) -> bool:
        return self._lines[self._place].own

    @property
    def _loop(self) -> Loop | None:
        """The chosen loop, once it has been read."""
        opened = self._opened
        return opened.loop if opened is not None and opened.name == self._name else None

    def key(self, event: pygame.event.Event) -> Screen | None:
        if self._removing:
            self._removing = False
            if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
                self._remove()
            return self
        if event.key == pygame.K_ESCAPE:
            return self._leave_to(None)
        if event.key == pygame.K_n:
            from trainer.window.loop_add_page import LoopAddPage

            return self._leave_to(LoopAddPage(self._desk))
        if event.key in (pygame.K_UP, pygame.K_DOWN):
            step = 1 if event.key == pygame.K_DOWN else -1
            self._choose(max(0, min(len(self._lines) - 1, self._place + step)))
        elif event.key in (pygame.K_LEFT, pygame.K_RIGHT):
            self._step_track(1 if event.key == pygame.K_RIGHT else -1)
        elif event.key == pygame.K_l and self._track is not None:
            self._alone = not self._alone
            self._hear()
        elif event.key == pygame.K_DELETE and self._own:
            self._removing = True
        elif event.key in (pygame.K_SPACE, pygame.K_RETURN, pygame.K_KP_ENTER):
            if self._loop is None:
                self._wanted_to_play = True
            else:
                self._hear()
        return self

    def tick(self) -> Screen | None:
        if self._opening.ready:
            try:
                self._take(self._opening.take())
            except NamefirstError as error:
                self._trouble[self._asked] = str(error)
        if self._loop is None and not self._opening.begun and self._name not in self._trouble:
            self._asked = self._name
            self._opening.begin(partial(_open, self._desk, self._name))
        if self._working.ready:
            try:
                self._table = self._working.take()
            except NamefirstError as error:
                self._desk.say(str(error))
        return self

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        if self._opened is None or self._loop is None:
            return []
        return self._opened.wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return (
            self._name,
            len(self._lines),
            self._track,
            self._alone,
            self._loop is None,
            self._trouble.get(self._name),
            self._fitting_table is None,
            round(100 * self._working.share),
            self._removing,
            playhead.playing,
            playhead.volume_db,
        )

    # What is drawn ----------------------------------------------------------------------------

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Loops", self._desk.record.learner)
        self._draw_top(canvas)
        draw_loop_list(canvas, _LIST_TOP, _ROWS, self._lines, self._place, self._choose)
        trouble = self._trouble.get(self._name)
        width = canvas.width - 2 * MARGIN
        if trouble is not None:
            canvas.paragraph(MARGIN, _WAVE_TOP + 40, trouble, width=width, size=BODY)
        elif self._opened is None or self._loop is None:
            words = "Reading it \N{HORIZONTAL ELLIPSIS}"
            canvas.text(MARGIN, _WAVE_TOP + 40, words, face=Face.SERIF, size=BODY, colour=SOFT_INK)
        else:
            self._draw_listening(canvas, self._opened)
            self._draw_askable(canvas, self._opened.loop)
        self._desk.sound.draw_volume(canvas, canvas.height - 98)

    def _draw_top(self, canvas: Canvas) -> None:
        right = canvas.width - MARGIN
        if self._removing:
            title = shortened(canvas, self._lines[self._place].title, 380, Face.SERIF, HEADING)
            words = f"Take \N{LEFT DOUBLE QUOTATION MARK}{title}\N{RIGHT DOUBLE QUOTATION MARK} off"
            canvas.text(MARGIN, 86, f"{words} the shelf?", face=Face.SERIF, size=HEADING)
            canvas.text(
                MARGIN,
                111,
                "Nothing is deleted: its folder is put aside, and old answers still find it.",
                colour=SOFT_INK,
            )
            draw_plate(canvas, Box(right - 406, 66, 210, 44), "Take it off", "Enter", main=True)
            draw_plate(canvas, Box(right - 180, 66, 180, 44), "Leave it", "Esc")
            return
        canvas.text(MARGIN, FIRST_LINE, "Loops to listen to", face=Face.SERIF, size=TITLE)
        hint = "Drop a mix, or a folder of tracks, on this window to add your own."
        canvas.text(MARGIN + 250, FIRST_LINE, hint, colour=SOFT_INK)
        plate = Box(right - 230, 68, 230, 44)
        draw_plate(canvas, plate, "New loop", "N")
        shown = shown_words(_ROWS, self._lines, self._place)
        canvas.text(plate.x - 18, FIRST_LINE, shown, colour=SOFT_INK, side="right")

    def _draw_listening(self, canvas: Canvas, opened: _Opened) -> None:
        plays = self._desk.sound.playhead.playing
        box = Box(MARGIN, _WAVE_TOP + 6, 250, 56)
        canvas.box(box, fill=INK if plays else SHADE)
        draw_plate(canvas, box, self._heard_words(opened.loop, canvas), "Space", main=plays)
        canvas.text(
            MARGIN,
            box.bottom + 22,
            shortened(canvas, length_words(opened.loop), 262),
            colour=SOFT_INK,
        )
        strip = Box(box.right + 24, _WAVE_TOP, canvas.width - MARGIN - box.right - 24, 84)
        opened.wave.draw(canvas, strip)

    def _heard_words(self, loop: Loop, canvas: Canvas) -> str:
        if self._track is None or not self._alone:
            return "whole mix"
        return shortened(canvas, loop.tracks[self._track].name, 150, Face.SERIF, HEADING)

    def _draw_askable(self, canvas: Canvas, loop: Loop) -> None:
        top = _WAVE_TOP + 118
        rule = Rule(Box(MARGIN, 564, canvas.width - 2 * MARGIN, HEIGHT))
        place = "the whole mix"
        if self._track is not None:
            name = shortened(canvas, loop.tracks[self._track].name, 300, Face.SERIF, BODY)
            place = f"{name}, {'alone' if self._alone else 'in the mix'}"
        canvas.text(
            MARGIN,
            top,
            f"The smallest problem that can be heard on {place}, in dB",
            face=Face.SERIF,
            size=BODY,
        )
        rule.draw(canvas)
        draw_askable_legend(canvas, rule.box.right, top)
        table = self._fitting_table
        if table is None:
            self._draw_working(canvas, 500)
            return
        track = None if self._track is None else loop.tracks[self._track].name
        alone = self._alone and track is not None
        sizes_db = {
            kind: tuple(table.smallest_db(track, alone, kind, index) for index in range(10))
            for kind in TONE
        }
        draw_askable(
            canvas,
            rule,
            rule.box.y - top - 16,
            sizes_db[Kind.TOO_MUCH],
            sizes_db[Kind.TOO_LITTLE],
        )
        others = ", ".join(
            f"{kind} {size_words(table.smallest_db(track, alone, kind))}"
            for kind in _WITHOUT_A_PLACE
        )
        canvas.text(
            MARGIN,
            rule.box.bottom + 26,
            f"All over: {others}. A band's size is for the hardest place in it; "
            "what cannot be heard is never asked.",
            colour=SOFT_INK,
        )

    def _draw_working(self, canvas: Canvas, y: float) -> None:
        words = "Working out what can be heard on it \N{HORIZONTAL ELLIPSIS}"
        canvas.text(MARGIN, y, words, face=Face.SERIF_ITALIC, size=SMALL, colour=SOFT_INK)
        draw_share(canvas, Box(MARGIN, y + 12, 420, 10), self._working.share)

    # What it does -----------------------------------------------------------------------------

    @property
    def _fitting_table(self) -> AskableTable | None:
        """The table of the chosen loop, once it has been worked out."""
        loop, table = self._loop, self._table
        if loop is None or table is None or table.fingerprint != loop.fingerprint:
            return None
        return table

    def _choose(self, place: int) -> None:
        if place != self._place:
            self._place, self._track, self._alone = place, None, True

    def _take(self, opened: _Opened) -> None:
        """Puts a loop under the playhead, if it is still the chosen one."""
        if opened.name != self._name:
            return
        sound = self._desk.sound
        self._opened = opened
        sound.take(opened.sounds)
        if self._wanted_to_play:
            self._wanted_to_play = False
            self._hear()
        loop = opened.loop
        if self._fitting_table is None:
            self._working.begin(lambda tell: _table_of(loop, tell))

    def _step_track(self, step: int) -> None:
        loop = self._loop
        if loop is None or len(loop.tracks) < 2:
            return
        at = 0 if self._track is None else self._track + 1
        at = (at + step) % (len(loop.tracks) + 1)
        self._track = None if at == 0 else at - 1
        self._hear()

    def _hear(self) -> None:
        """Sounds the mix, or the track that is to be heard alone."""
        from trainer.loop_sounds import MIX, solo_of

        alone = self._alone and self._track is not None
        self._desk.sound.choose(solo_of(self._track or 0) if alone else MIX)

    def _remove(self) -> None:
        folder = self._desk.shelf.remove(self._name)
        title = self._lines[self._place].title
        self._lines = loop_lines(self._desk.shelf)
        self._desk.sound.playhead.stop()
        self._place = min(self._place, len(self._lines) - 1)
        self._track, self._opened = None, None
        self._desk.say(f"'{title}' is off the shelf; it lies in {folder}.")

    def _leave_to(self, page: Screen | None) -> Screen:
        self._opening.close()
        self._working.give_up()
        self._desk.sound.playhead.stop()
        return self._desk.leave_drill() if page is None else page


def _open(desk: Desk, name: str) -> _Opened:
    from trainer.loop_sounds import MIX, loop_sounds

    loop = desk.shelf.get(name)
    sounds = loop_sounds(loop)
    return _Opened(name, loop, sounds, Wave(sounds[MIX], loop.passages))


def _table_of(loop: Loop, tell: Callable[[float], None]) -> AskableTable:
    from trainer.kept_tables import table_of

    return table_of(loop, tables_folder(), tell)
