"""The open round: the learner mends B in three moves at the most, and hears each at once.

The fix is a written list of moves; what those of tone do together stands over the rule.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

import pygame

from trainer.backstage import Backstage
from trainer.fix_round import Stage
from trainer.open_round import OpenReview, OpenRound
from trainer.open_sound import YOURS, OpenSound
from trainer.record import RecordError
from trainer.round import IllegalMove
from trainer.window.canvas import Box, Canvas
from trainer.window.fix_chart import FixChart
from trainer.window.fix_review import FixReviewPage, rows_of_open
from trainer.window.fix_way import FixWay, Stopwatch
from trainer.window.frame import Screen, draw_head, draw_plate
from trainer.window.keys import ALONG, FINE, HELP, UP_DOWN, VOLUME, KeyWords, beside, key_words
from trainer.window.listening import BENEATH, ONWARD_HIGH, ONWARD_TOP, Plate, draw_listening
from trainer.window.look import (
    BODY,
    FIRST_LINE,
    HEADING,
    HEADING_STEP,
    INK,
    MARGIN,
    SOFT_INK,
    UNIT,
    Face,
)
from trainer.window.moves_board import draw_board, draw_list, draw_passages
from trainer.window.moves_editor import MovesEditor
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule
from trainer.window.wave import Wave
from trainer.words import heard_part

if TYPE_CHECKING:
    from trainer.window.desk import Desk

_LIST: Final = 42 * UNIT
"""The first baseline of the list of moves, and of what can be made."""
_CHART_TOP: Final = 50 * UNIT
_CHART_HIGH: Final = 20 * UNIT
_RULE_TOP: Final = 72 * UNIT
_RIDES: Final = 86 * UNIT
_DONE_WIDE: Final = 200
_TYPED_KEYS: Final = "0123456789.,k"
_ASKED: Final = (
    "Three moves at the most, fewer is better. "
    "Each is heard at once; Tab compares with B as it was."
)


class OpenFixPage(Page):
    """Listening, moving, and handing in."""

    def __init__(self, desk: Desk, round_: OpenRound, way: FixWay) -> None:
        self._desk = desk
        self._round = round_
        self._way = way
        self._wave = Wave(round_.question.a, round_.loop.passages)
        self._editor = MovesEditor(round_, self._changed)
        self._note = ""
        self._judging: Backstage[OpenReview] = Backstage()
        self._heard = OpenSound(round_, desk.sound.playhead)
        desk.sound.take(self._heard.sounds())
        self._watch = Stopwatch(way)

    @property
    def title(self) -> str:
        return "make a fix"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("Space"),
            key_words("Tab", "A or B"),
            key_words("N", "new move"),
            key_words("E"),
            key_words(ALONG, "where, or attack and release"),
            key_words(UP_DOWN, "dB"),
            key_words(f"Page {UP_DOWN}", "wider, narrower"),
            key_words("Home End", "the move before, after"),
            key_words("Delete", "take out"),
            key_words("Enter", "done"),
            VOLUME,
            HELP,
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(
            self.keys,
            key_words("A"),
            key_words("B"),
            key_words("F", "B with your moves"),
            key_words("0-9 . k", "type where the move is, in Hz"),
            key_words(FINE, "by a hair"),
            key_words(f"Shift {UP_DOWN}", "by a hair"),
            key_words("Backspace", "take back a digit"),
            key_words("Esc", "leave"),
        )

    # Keys -----------------------------------------------------------------------------------------

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE and self._round.stage is not Stage.HANDED_IN:
            return self._leave()  # what was handed in is measured and kept first: about a second
        self._try(lambda: self._do(event))
        return self

    def _try(self, act: Callable[[], object]) -> None:
        """Does something to the moves; what cannot be is said."""
        self._watch.touch()
        if self._round.stage is not Stage.LISTENING:
            return
        self._note = ""
        try:
            act()
        except IllegalMove as error:
            self._note = str(error)

    def _press(self, act: Callable[[], object]) -> Callable[[], object]:
        return lambda: self._try(act)

    def _do(self, event: pygame.event.Event) -> None:
        key, fine = event.key, bool(event.mod & pygame.KMOD_SHIFT)
        letter, editor = event.unicode.lower(), self._editor
        acts: dict[int, Callable[[], object]] = {
            pygame.K_RETURN: self._hand_in,
            pygame.K_KP_ENTER: self._hand_in,
            pygame.K_TAB: lambda: self._hear("B" if self._desk.sound.letter == YOURS else YOURS),
            pygame.K_LEFT: lambda: editor.along(-1, fine=fine),
            pygame.K_RIGHT: lambda: editor.along(1, fine=fine),
            pygame.K_UP: lambda: editor.turn(1, fine=fine),
            pygame.K_DOWN: lambda: editor.turn(-1, fine=fine),
            pygame.K_PAGEUP: lambda: editor.widen(1),
            pygame.K_PAGEDOWN: lambda: editor.widen(-1),
            pygame.K_HOME: lambda: editor.choose_next(-1),
            pygame.K_END: lambda: editor.choose_next(1),
            pygame.K_DELETE: editor.take_out,
            pygame.K_BACKSPACE: editor.take_back,
        }
        letters: dict[str, Callable[[], object]] = {
            "a": lambda: self._hear("A"),
            "b": lambda: self._hear("B"),
            "f": lambda: self._hear(YOURS),
            "n": editor.add,
            "e": editor.next_sort,
        }
        act = acts.get(key) or letters.get(letter)
        if act is not None:
            act()
        elif letter and letter in _TYPED_KEYS:
            editor.type(letter)

    # Sound ----------------------------------------------------------------------------------------

    def _hear(self, letter: str) -> None:
        self._watch.touch()
        self._desk.sound.choose(letter)

    def _changed(self) -> None:
        """A move that is made is what is wanted to be heard, if anything sounds."""
        self._heard.moved()
        if self._desk.sound.letter != YOURS and self._desk.sound.playhead.playing:
            self._desk.sound.choose(YOURS)

    def tick(self) -> Screen | None:
        if not pygame.mouse.get_pressed()[0]:
            self._editor.let_go()
        self._heard.keep_up()
        if self._judging.ready:
            review = self._judging.take()
            try:
                self._watch.keep(review.result)
            except RecordError as error:
                self._round.take_back()
                self._desk.say(str(error))
                return self
            self._close()
            return FixReviewPage(self._desk, rows_of_open(self._round, review), self._way)
        return self

    def _hand_in(self) -> None:
        self._round.hand_in(self._heard.heard_s)
        self._watch.stop()
        self._judging.begin(self._round.open_review)

    def _leave(self) -> Screen:
        self._close()
        return self._way.leave()

    def _close(self) -> None:
        self._heard.close()
        self._judging.close()

    # What is drawn --------------------------------------------------------------------------------

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        return self._wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return (
            self._round.moves,
            self._round.stage,
            self._editor.chosen,
            self._said(),
            playhead.current,
            playhead.playing,
            playhead.volume_db,
            self._way.left(),
        )

    def _said(self) -> str:
        if self._round.stage is Stage.HANDED_IN:
            return "Measuring what is left \N{HORIZONTAL ELLIPSIS}"
        if self._note:
            return self._note
        if self._editor.typed:
            return f"{self._editor.typed} Hz"
        if self._heard.down_db > 0.0:
            down = f"{self._heard.down_db:.1f} dB"
            return f"A, B and yours are turned down alike by {down}, since your moves peak higher."
        return _ASKED

    def _draw(self, canvas: Canvas) -> None:
        recipe = self._round.question.recipe
        draw_head(canvas, self._way.heading, self._way.left())
        draw_listening(
            canvas,
            f"{self._round.loop.title}  \N{MIDDLE DOT}  {heard_part(recipe)}",
            (
                Plate("A", "A", "", "as it should be", 136),
                Plate("B", "B", "", "as it was", 136),
                Plate(YOURS, "F", "your moves done", "B with your fix", 186),
            ),
            self._desk.sound,
            self._hear,
            self._wave,
        )
        where = "" if recipe.track is None else f"the {recipe.track} of "
        canvas.text(MARGIN, BENEATH, f"Turn {where}B back into A.", face=Face.SERIF, size=HEADING)
        ink = INK if self._note else SOFT_INK
        canvas.text(MARGIN, BENEATH + HEADING_STEP, self._said(), size=BODY, colour=ink)
        draw_list(canvas, self._editor, self._press, _LIST)
        draw_board(canvas, self._editor, self._press, _LIST)
        width = canvas.width - 2 * MARGIN
        rule = Rule(Box(MARGIN, _RULE_TOP, width, HEIGHT))
        chart = FixChart(Box(MARGIN, _CHART_TOP, width, _CHART_HIGH), rule)
        rule.draw(canvas)
        chart.draw(canvas, self._round.moves, self._editor.chosen)
        around = Box(chart.box.x, chart.box.y, width, rule.box.bottom - chart.box.y)
        canvas.hot_at(around, lambda x, y: self._try(lambda: self._editor.point_at(chart, x, y)))
        done = Box(canvas.width - MARGIN - _DONE_WIDE, ONWARD_TOP, _DONE_WIDE, ONWARD_HIGH)
        draw_plate(canvas, done, "Done", "Enter", main=True)
        draw_passages(canvas, self._editor, self._press, _RIDES)
        self._desk.sound.draw_volume(canvas, FIRST_LINE)
