"""Adding a loop of one's own: a file or folder is named or dropped, searched, and one loop kept.

The search goes on in the background and can be given up. What was found is heard by its number
before one is kept, and counted at half or twice its tempo where that is truer. While a path is
typed, what is typed is text.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

import pygame

from exercises.audio_handle import shown_name
from exercises.errors import NamefirstError
from exercises.loops import Loop
from exercises.samples import Samples
from trainer.backstage import Backstage
from trainer.counted_tempo import FACTORS, counted_at, counted_words
from trainer.watched_work import WatchedWork
from trainer.window.canvas import Box, Canvas
from trainer.window.clipboard import clipboard_line
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import ALONG, HELP, UP_DOWN, VOLUME, KeyWords, beside, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    FIRST_LINE,
    FOOT_PLATES,
    HAIRLINE,
    HEADING,
    INK,
    MARGIN,
    SHADE,
    SMALL,
    SOFT_INK,
    TITLE,
    TITLE_STEP,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.window.share_bar import draw_share
from trainer.window.shortening import shortened
from trainer.window.wave import Wave

if TYPE_CHECKING:
    from trainer.loop_choices import LoopChoices

_WHAT: Final = (
    "A mix, or a folder with one file a track: WAV, AIFF, FLAC, OGG or MP3. A long file is "
    "searched for the passages that would make good loops; nothing in it is changed."
)
_ROW: Final = 52.0
_MOST_NOTES: Final = 3


@dataclass(frozen=True, slots=True)
class _Cut:
    """Choice ``number``, cut out and ready to be heard."""

    number: int
    loop: Loop
    sound: Samples
    wave: Wave


@dataclass(frozen=True, slots=True)
class _Kept:
    """Name and title of a loop on the shelf, and whether it was put there just now."""

    name: str
    title: str
    new: bool


class LoopAddPage(Page):
    """Where it lies, then what was found in it; ``path`` is searched at once."""

    def __init__(self, desk: Desk, path: Path | None = None) -> None:
        self._desk = desk
        self._typed = ""
        self._path: Path | None = None
        self._search: WatchedWork[LoopChoices] = WatchedWork()
        self._choices: LoopChoices | None = None
        self._number = 1
        self._factor = 1.0
        self._cut: _Cut | None = None
        self._cutting: Backstage[_Cut] = Backstage()
        self._wanted = 0
        self._keeping: Backstage[_Kept] = Backstage()
        desk.sound.playhead.stop()
        if path is not None:
            self.open(path)

    @property
    def title(self) -> str:
        if self._search.begun:
            return "searching for loops"
        return "add a loop" if self._choices is None else "choose a loop"

    @property
    def typing(self) -> bool:
        """Whether what is typed is text."""
        return self._choices is None

    @property
    def keys(self) -> Sequence[tuple[str, str]]:
        if self._search.begun:
            return key_words("F1"), key_words("Esc", "give up")
        if self._choices is None:
            return (
                key_words("Ctrl V"),
                key_words("Enter", "search it"),
                key_words("F1"),
                key_words("Esc", "back"),
            )
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
    def all_keys(self) -> Sequence[KeyWords]:
        if self.typing and not self._search.begun:
            return beside(self.keys, key_words("Backspace", "take back a letter"))
        return self.keys

    def open(self, path: Path) -> None:
        """Begins to search ``path``: typed, or dropped on the window."""
        self._desk.sound.playhead.stop()
        self._path, self._choices, self._cut = path, None, None
        self._number, self._factor, self._wanted = 1, 1.0, 0
        self._search.begin(lambda tell: _choices_in(path, tell))

    def key(self, event: pygame.event.Event) -> Screen | None:
        enter = event.key in (pygame.K_RETURN, pygame.K_KP_ENTER)
        if event.key == pygame.K_ESCAPE:
            return self._back()
        if self._search.begun or self._keeping.begun:
            return self
        if self._choices is None:
            if enter:
                self._search_typed()
            elif event.key == pygame.K_BACKSPACE:
                self._typed = self._typed[:-1]
            elif event.key == pygame.K_v and event.mod & (pygame.KMOD_CTRL | pygame.KMOD_META):
                self._typed += clipboard_line()
            elif event.unicode and event.unicode.isprintable():
                self._typed += event.unicode
        elif enter:
            self._desk.sound.playhead.stop()
            self._keeping.begin(
                partial(_keep, self._desk, self._choices, self._number, self._factor)
            )
        elif event.key in (pygame.K_UP, pygame.K_DOWN):
            step = 1 if event.key == pygame.K_DOWN else -1
            self._hear(max(1, min(self._choices.count, self._number + step)))
        elif event.key in (pygame.K_LEFT, pygame.K_RIGHT) and self._tempo_bpm:
            at = FACTORS.index(self._factor) + (1 if event.key == pygame.K_RIGHT else -1)
            self._factor = FACTORS[max(0, min(len(FACTORS) - 1, at))]
        elif event.key == pygame.K_SPACE:
            self._hear(self._number)
        elif event.unicode.isdigit() and 1 <= int(event.unicode) <= self._choices.count:
            self._hear(int(event.unicode))
        return self

    def tick(self) -> Screen | None:
        try:
            if self._search.ready:
                self._choices = self._search.take()
            if self._cutting.ready:
                self._take(self._cutting.take())
            if self._keeping.ready:
                return self._kept(self._keeping.take())
        except NamefirstError as error:
            self._wanted = 0
            self._desk.say(str(error))
        if self._choices is not None and self._wanted and not self._cutting.begun:
            self._cutting.begin(partial(_cut, self._choices, self._wanted))
        return self

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        if self._cut is None:
            return []
        return self._cut.wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return (
            self._typed,
            self._path,
            self._search.begun,
            round(100 * self._search.share),
            self._choices is None,
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
        if self._search.begun:
            self._draw_search(canvas)
        elif self._choices is None:
            self._draw_form(canvas)
        else:
            self._draw_choices(canvas, self._choices)

    def _draw_form(self, canvas: Canvas) -> None:
        width = canvas.width - 2 * MARGIN
        canvas.text(
            MARGIN,
            DISPLAY_LINE,
            "Drop a file or a folder on this window,",
            face=Face.SERIF,
            size=DISPLAY,
        )
        canvas.text(
            MARGIN,
            DISPLAY_LINE + TITLE_STEP,
            "or type or paste where it lies.",
            face=Face.SERIF,
            size=DISPLAY,
        )
        box = Box(MARGIN, 196, width, 46)
        canvas.box(box, edge=INK, edge_width=2)
        words = self._typed
        while words and canvas.text_width(words, size=BODY) > box.width - 40:
            words = words[1:]  # the end is what is being typed
        wide = canvas.text(box.x + 14, box.y + 30, words, size=BODY)
        x = box.x + 16 + wide
        canvas.line((x, box.y + 10), (x, box.bottom - 10), INK, 1.5)
        canvas.paragraph(MARGIN, 280, _WHAT, width=width, size=SMALL, colour=SOFT_INK)
        plate = foot_box(canvas, 300)
        draw_plate(canvas, plate, "Search it", "Enter", main=bool(self._typed))

    def _draw_search(self, canvas: Canvas) -> None:
        name = "" if self._path is None else shown_name(self._path)
        words = f"Searching {shortened(canvas, name, 800, Face.SERIF, TITLE)} for loops"
        canvas.text(MARGIN, FIRST_LINE, words, face=Face.SERIF, size=TITLE)
        draw_share(canvas, Box(MARGIN, FIRST_LINE + 3 * UNIT, 640, 14), self._search.share)
        draw_plate(canvas, foot_box(canvas, 240), "Give up", "Esc")

    def _draw_choices(self, canvas: Canvas, choices: LoopChoices) -> None:
        width = canvas.width - 2 * MARGIN
        heading = shortened(canvas, choices.heading, width, Face.SERIF, TITLE)
        canvas.text(MARGIN, FIRST_LINE, heading, face=Face.SERIF, size=TITLE)
        y = 128.0
        more = len(choices.notes) - _MOST_NOTES
        for note in choices.notes[:_MOST_NOTES]:
            canvas.text(MARGIN, y, shortened(canvas, note, width), colour=SOFT_INK)
            y += 22
        if more > 0:
            canvas.text(MARGIN, y, f"and {more} more of the kind", colour=SOFT_INK)
            y += 22
        for number, (where, why) in enumerate(choices.words, start=1):
            box = Box(MARGIN, y, width, _ROW)
            if number == self._number:
                canvas.box(box, fill=SHADE)
                canvas.box(Box(box.x, box.y + 6, 3, box.height - 12), fill=INK)
            canvas.line((box.x, box.bottom), (box.right, box.bottom), HAIRLINE)
            canvas.text(box.x + 18, y + 32, str(number), face=Face.SERIF, size=HEADING)
            canvas.text(box.x + 52, y + 22, where, size=BODY)
            canvas.text(box.x + 52, y + 43, why, colour=SOFT_INK)
            state = self._state_of(number)
            canvas.text(box.right - 18, y + 32, state, face=Face.SANS_SEMIBOLD, side="right")
            canvas.hot(box, partial(self._hear, number))
            y += _ROW
        if self._cut is not None:
            self._cut.wave.draw(canvas, Box(MARGIN, y + 16, width, 92))
        top = canvas.height - FOOT_PLATES
        if self._tempo_bpm:
            counted = f"Counted at {counted_words(self._tempo_bpm, self._factor)}"
            canvas.text(MARGIN, top - 14, counted, size=SMALL, colour=SOFT_INK)
        words = f"Keep number {self._number}"
        draw_plate(canvas, foot_box(canvas, 300), words, "Enter", main=True)
        draw_plate(canvas, foot_box(canvas, 220, after=316), "Another file", "Esc")
        self._desk.sound.draw_volume(canvas)

    def _state_of(self, number: int) -> str:
        if self._keeping.begun:
            return "being kept" if number == self._number else ""
        if number == self._wanted:
            return "getting it ready"
        playing = self._desk.sound.playhead.playing
        heard = self._cut is not None and self._cut.number == number
        return "playing" if heard and playing else ""

    @property
    def _tempo_bpm(self) -> float | None:
        """The tempo that was found in the marked choice, if it has one."""
        return None if self._choices is None else self._choices.tempos_bpm[self._number - 1]

    # What it does -----------------------------------------------------------------------------

    def _search_typed(self) -> None:
        typed = self._typed.strip().strip("'\"")
        if not typed:
            self._desk.say("Type where the file or folder lies, or drop it on this window.")
            return
        self.open(Path(typed).expanduser())

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

    def _kept(self, kept: _Kept) -> Screen:
        from trainer.window.loops_page import LoopsPage

        how = "is on the shelf now" if kept.new else "was on the shelf already"
        self._desk.say(f"'{kept.title}' {how}; the drill asks about it like any other loop.")
        self._close()
        return LoopsPage(self._desk, kept.name)

    def _back(self) -> Screen:
        """One step back: from the search or the choices to the path, from there to the list."""
        from trainer.window.loops_page import LoopsPage

        if self._search.begun:
            self._search.give_up()
        elif self._choices is not None:
            self._desk.sound.playhead.stop()
            self._choices, self._cut, self._wanted = None, None, 0
        else:
            self._close()
            return LoopsPage(self._desk)
        return self

    def _close(self) -> None:
        self._desk.sound.playhead.stop()
        self._search.give_up()
        self._cutting.close()
        self._keeping.close()


def holds_sound(path: Path) -> bool:
    """Whether a loop could be made of ``path``, by its name: a folder, or an audio file."""
    from exercises.own_loop import AUDIO_SUFFIXES

    return path.is_dir() or path.suffix.lower() in AUDIO_SUFFIXES


def _choices_in(path: Path, tell: Callable[[float], None]) -> LoopChoices:
    from trainer.loop_choices import choices_in

    return choices_in(path, progress=tell)


def _cut(choices: LoopChoices, number: int) -> _Cut:
    from trainer.loop_sounds import MIX, loop_sounds

    loop = choices.loop(number)
    sound = loop_sounds(loop)[MIX]
    return _Cut(number, loop, sound, Wave(sound, loop.passages))


def _keep(desk: Desk, choices: LoopChoices, number: int, factor: float) -> _Kept:
    loop = counted_at(choices.loop(number), factor)
    known = desk.shelf.holding(loop)
    if known is not None:
        return _Kept(known, desk.shelf.get(known).title, False)
    return _Kept(desk.shelf.keep(loop), loop.title, True)
