"""The open round: the learner mends B in three moves at the most, and hears each at once.

The fix is a written list of moves; those of tone also stand over the rule, as pencil strokes. While
one state of the list is being rendered in the background, only the latest of those that follow is
made next; it is cross-faded in where the last one sounds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Final

import pygame

from exercises.bands import read_hz
from exercises.moves import EqPoint, Fix, HighShelf, LowShelf, Move, Ride, describe
from exercises.recipe import LARGEST_Q, SMALLEST_Q
from exercises.samples import Samples
from trainer.backstage import Backstage
from trainer.fix_round import Stage
from trainer.open_round import (
    HIGHEST_MOVE_HZ,
    LARGEST_GAIN_DB,
    LOWEST_MOVE_HZ,
    MOST_MOVES,
    OpenReview,
    OpenRound,
)
from trainer.round import IllegalMove
from trainer.window.canvas import Box, Canvas
from trainer.window.fix_chart import FixChart
from trainer.window.fix_review import FixReviewPage, rows_of_open
from trainer.window.fix_way import FixWay, Stopwatch
from trainer.window.frame import Screen, draw_head, draw_keys, draw_plate
from trainer.window.listening import Plate, draw_listening
from trainer.window.look import ACCENT, HAIRLINE, HEADING, INK, MARGIN, SOFT_INK, Face
from trainer.window.rule import HEIGHT, Rule
from trainer.window.wave import Wave
from trainer.words import heard_part

if TYPE_CHECKING:
    from trainer.window.desk import Desk

YOURS: Final = "yours"
_STEP_OCTAVES: Final = 1.0 / 12.0
_FINE_STEP_OCTAVES: Final = 1.0 / 48.0
_STEP_DB: Final = 0.5
_FINE_STEP_DB: Final = 0.1
_STEP_Q: Final = 2.0**0.25
_FIRST_DB: Final = -3.0
_TYPED_KEYS: Final = "0123456789.,k"
_ASKED: Final = (
    "Three moves at the most, fewer is better. "
    "Each is heard at once; Tab compares with B as it was."
)


class OpenFixPage:
    """Listening, moving, and handing in."""

    def __init__(self, desk: Desk, round_: OpenRound, way: FixWay) -> None:
        self._desk = desk
        self._round = round_
        self._way = way
        self._wave = Wave(round_.question.a, round_.loop.passages)
        self._chosen: int | None = None
        self._typed = ""
        self._note = ""
        self._dragged = False
        self._rendered: Fix = ()
        self._rendering: Backstage[tuple[Fix, Samples]] = Backstage()
        self._judging: Backstage[OpenReview] = Backstage()
        self._shown: object = None
        b = round_.sound_of(())
        desk.sound.take({"B": b, "A": round_.question.a, YOURS: b})
        self._watch = Stopwatch(way)

    @property
    def title(self) -> str:
        return "make a fix"

    @property
    def keys(self) -> Sequence[tuple[str, str]]:
        return (
            ("Space", "play, stop"),
            ("Tab", "yours or B"),
            ("E", "EQ point"),
            ("L", "low shelf"),
            ("H", "high shelf"),
            ("R", "ride"),
            ("\N{LEFTWARDS ARROW} \N{RIGHTWARDS ARROW}", "where"),
            ("\N{UPWARDS ARROW} \N{DOWNWARDS ARROW}", "dB"),
            ("Q", "narrower"),
            ("W", "wider"),
            ("N", "next move"),
            ("X", "take out"),
            ("Enter", "done"),
            ("- +", "volume"),
            ("?", "all keys"),
        )

    @property
    def all_keys(self) -> Sequence[tuple[str, str]]:
        return (
            *self.keys,
            ("A", "A, as it should be"),
            ("B", "B, as it was: your moves bypassed"),
            ("F", "B with your moves"),
            ("0-9 k", "type where the move is, in Hz"),
            ("Shift \N{UPWARDS ARROW} \N{LEFTWARDS ARROW}", "by a hair"),
            ("Backspace", "take back a digit"),
            ("Esc", "leave"),
        )

    # Keys -----------------------------------------------------------------------------------------

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            return self._leave()
        if self._round.stage is not Stage.LISTENING:
            return self
        self._note = ""
        try:
            self._do(event)
        except IllegalMove as error:
            self._note = str(error)
        return self

    def _do(self, event: pygame.event.Event) -> None:
        key, shift = event.key, bool(event.mod & pygame.KMOD_SHIFT)
        letter = event.unicode.lower()
        if key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            self._hand_in()
        elif key == pygame.K_TAB:
            self._hear("B" if self._desk.sound.letter == YOURS else YOURS)
        elif key in (pygame.K_LEFT, pygame.K_RIGHT):
            self._along(1 if key == pygame.K_RIGHT else -1, fine=shift)
        elif key in (pygame.K_UP, pygame.K_DOWN):
            self._turn(1 if key == pygame.K_UP else -1, fine=shift)
        elif key == pygame.K_BACKSPACE:
            self._typed = self._typed[:-1]
            self._place_typed()
        elif letter in ("a", "b", "f"):
            self._hear(YOURS if letter == "f" else letter.upper())
        elif letter in ("e", "l", "h", "r"):
            self._add(letter)
        elif letter in ("q", "w"):
            self._widen(1 if letter == "w" else -1)
        elif letter == "n":
            self._next_move()
        elif letter == "x" or key == pygame.K_DELETE:
            self._take_out()
        elif letter and letter in _TYPED_KEYS:
            self._typed = (self._typed + letter)[:7]
            self._place_typed()

    def _add(self, letter: str) -> None:
        track = self._round.question.recipe.track
        if letter == "r":
            if len(self._round.loop.passages) < 2:
                raise IllegalMove("This loop is one passage: there is nothing to ride.")
            move: Move = Ride(_FIRST_DB, self._round.loop.passages[0], track)
        else:
            made: dict[str, Move] = {
                "e": EqPoint(1000.0, _FIRST_DB, track=track),
                "l": LowShelf(120.0, _FIRST_DB, track),
                "h": HighShelf(8000.0, _FIRST_DB, track),
            }
            move = made[letter]
        self._put(move)

    def _put(self, move: Move) -> None:
        self._chosen = self._round.add(move)
        self._typed = ""
        self._hear_yours()

    def _change(self, move: Move) -> None:
        if self._chosen is not None:
            self._round.change(self._chosen, move)
            self._hear_yours()

    def _move(self) -> Move | None:
        return None if self._chosen is None else self._round.moves[self._chosen]

    def _along(self, direction: int, *, fine: bool) -> None:
        self._typed = ""
        move = self._move()
        if isinstance(move, Ride):
            passages = self._round.loop.passages
            now = passages.index(move.passage) if move.passage in passages else 0
            self._change(replace(move, passage=passages[(now + direction) % len(passages)]))
        elif isinstance(move, EqPoint | LowShelf | HighShelf):
            octaves = direction * (_FINE_STEP_OCTAVES if fine else _STEP_OCTAVES)
            self._change(replace(move, freq_hz=_within_hz(move.freq_hz * 2.0**octaves)))
        else:
            self._note = "Make a move first: E, L, H or R."

    def _turn(self, direction: int, *, fine: bool) -> None:
        move = self._move()
        if move is None or not isinstance(move, EqPoint | LowShelf | HighShelf | Ride):
            self._note = "Make a move first: E, L, H or R."
            return
        step = direction * (_FINE_STEP_DB if fine else _STEP_DB)
        self._change(replace(move, gain_db=_within_db(round(move.gain_db + step, 1))))

    def _widen(self, direction: int) -> None:
        move = self._move()
        if isinstance(move, EqPoint):
            q = move.q * _STEP_Q**-direction
            self._change(replace(move, q=float(f"{max(SMALLEST_Q, min(LARGEST_Q, q)):.3g}")))
        else:
            self._note = "Only an EQ point is wide or narrow."

    def _next_move(self) -> None:
        self._typed = ""
        if self._round.moves:
            now = -1 if self._chosen is None else self._chosen
            self._chosen = (now + 1) % len(self._round.moves)

    def _take_out(self) -> None:
        if self._chosen is None:
            return
        self._typed = ""
        self._round.take_out(self._chosen)
        left = len(self._round.moves)
        self._chosen = min(self._chosen, left - 1) if left else None

    def _place_typed(self) -> None:
        freq_hz = read_hz(self._typed)
        if freq_hz is None:
            return
        move = self._move()
        if isinstance(move, EqPoint | LowShelf | HighShelf):
            self._change(replace(move, freq_hz=_within_hz(freq_hz)))
        elif move is None:
            typed, track = self._typed, self._round.question.recipe.track
            self._put(EqPoint(_within_hz(freq_hz), _FIRST_DB, track=track))
            self._typed = typed

    # The mouse ------------------------------------------------------------------------------------

    def _point(self, chart: FixChart, x: float, y: float) -> None:
        """A press on the field, or the mouse moved on from one."""
        if self._round.stage is not Stage.LISTENING:
            return
        self._note, self._typed = "", ""
        freq_hz = float(f"{chart.rule.freq_at(x):.3g}")
        try:
            if not self._dragged:
                near = chart.move_near(self._round.moves, x, y)
                if near is None:
                    track = self._round.question.recipe.track
                    self._put(EqPoint(freq_hz, chart.gain_at(y), track=track))
                else:
                    self._chosen = near
            else:
                move = self._move()
                if isinstance(move, EqPoint | LowShelf | HighShelf):
                    self._change(replace(move, freq_hz=freq_hz, gain_db=chart.gain_at(y)))
            self._dragged = True
        except IllegalMove as error:
            self._note = str(error)

    def _choose(self, place: int) -> None:
        self._typed = ""
        self._chosen = place

    # Sound ----------------------------------------------------------------------------------------

    def _hear(self, letter: str) -> None:
        self._desk.sound.choose(letter)

    def _hear_yours(self) -> None:
        """A move that is made is what is wanted to be heard, if anything sounds."""
        if self._desk.sound.letter != YOURS and self._desk.sound.playhead.playing:
            self._desk.sound.choose(YOURS)

    def tick(self) -> Screen | None:
        if not pygame.mouse.get_pressed()[0]:
            self._dragged = False
        if self._rendering.ready:
            self._rendered, sound = self._rendering.take()
            self._desk.sound.replace(YOURS, sound)
        wanted = self._round.moves
        if not self._rendering.begun and wanted != self._rendered:
            self._rendering.begin(lambda: (wanted, self._round.sound_of(wanted)))
        if self._judging.ready:
            review = self._judging.take()
            self._watch.keep(review.result)
            self._close()
            return FixReviewPage(self._desk, rows_of_open(self._round, review), self._way)
        return self

    def _hand_in(self) -> None:
        self._round.hand_in()
        self._watch.stop()
        self._judging.begin(self._round.open_review)

    def _leave(self) -> Screen:
        self._close()
        return self._way.leave()

    def _close(self) -> None:
        self._rendering.close()
        self._judging.close()

    # What is drawn --------------------------------------------------------------------------------

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        return self._wave.move(canvas, self._desk.sound.playhead.position_frames)

    @property
    def stale(self) -> bool:
        return self._shown != self._state()

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return (
            self._round.moves,
            self._round.stage,
            self._chosen,
            self._typed,
            self._note,
            playhead.current,
            playhead.playing,
            playhead.volume_db,
            self._way.left(),
        )

    def draw(self, canvas: Canvas) -> None:
        self._shown = self._state()
        recipe = self._round.question.recipe
        draw_head(canvas, self._way.heading, self._way.left())
        draw_listening(
            canvas,
            f"{self._round.loop.title}  \N{MIDDLE DOT}  {heard_part(recipe)}",
            (
                Plate("A", "A", "", "as it should be", 136),
                Plate("B", "B", "", "as it was", 136),
                Plate(YOURS, "B", "with your moves", "yours", 186),
            ),
            self._desk.sound,
            self._hear,
            self._wave,
        )
        where = "" if recipe.track is None else f"the {recipe.track} of "
        canvas.text(MARGIN, 258, f"Turn {where}B back into A.", face=Face.SERIF, size=HEADING)
        said = self._note or (f"{self._typed} Hz" if self._typed else _ASKED)
        if self._round.stage is Stage.HANDED_IN:
            said = "Measuring what is left \N{HORIZONTAL ELLIPSIS}"
        canvas.text(MARGIN, 284, said, size=18, colour=INK if self._note else SOFT_INK)
        self._draw_moves(canvas, 316)
        width = canvas.width - 2 * MARGIN
        rule = Rule(Box(MARGIN, 582, width, HEIGHT))
        chart = FixChart(Box(MARGIN, 384, width, 182), rule)
        rule.draw(canvas)
        chart.draw(canvas, self._round.moves, self._chosen)
        around = Box(chart.box.x, chart.box.y, width, rule.box.bottom - chart.box.y)
        canvas.hot_at(around, partial(self._point, chart))
        draw_plate(
            canvas, Box(canvas.width - MARGIN - 200, 236, 200, 48), "Done", "Enter", main=True
        )
        self._draw_passages(canvas, 692)
        self._desk.sound.draw_volume(canvas, 88)
        draw_keys(canvas, self.keys)

    def _draw_moves(self, canvas: Canvas, baseline: float) -> None:
        """The fix as a list of three lines, the chosen one underlined."""
        for place in range(MOST_MOVES):
            y = baseline + 27 * place
            made = place < len(self._round.moves)
            words = describe(self._round.moves[place]) if made else "\N{EN DASH}"
            line = f"{place + 1}.  {words}"
            chosen = place == self._chosen
            face = Face.SANS_SEMIBOLD if chosen else Face.SANS
            wide = canvas.text(
                MARGIN, y, line, face=face, size=18, colour=INK if made else SOFT_INK
            )
            if chosen:
                canvas.line((MARGIN, y + 5), (MARGIN + wide, y + 5), ACCENT, 2)
            if made:
                canvas.hot(Box(MARGIN, y - 19, max(wide, 300.0), 27), partial(self._choose, place))

    def _draw_passages(self, canvas: Canvas, top: float) -> None:
        """The passages to ride, with what each is ridden by."""
        passages = self._round.loop.passages
        if len(passages) < 2:
            return
        gains = {m.passage: m.gain_db for m in self._round.moves if isinstance(m, Ride)}
        x = float(MARGIN)
        x += canvas.text(x, top + 1, "Rides", face=Face.SERIF_ITALIC, colour=SOFT_INK) + 16
        move = self._move()
        for passage in passages:
            gain_db = gains.get(passage)
            words = passage.name
            if gain_db is not None:
                sign = "+" if gain_db >= 0.0 else "\N{MINUS SIGN}"
                words += f"  {sign}{abs(gain_db):.1f} dB"
            wide = canvas.text_width(words, Face.SANS_SEMIBOLD, 15) + 24
            box = Box(x, top - 16, wide, 24)
            chosen = isinstance(move, Ride) and move.passage == passage
            canvas.box(
                box, edge=INK if chosen else HAIRLINE, edge_width=2.5 if chosen else 1, radius=4
            )
            face = Face.SANS if gain_db is None else Face.SANS_SEMIBOLD
            canvas.text(x + 12, top + 1, words, face=face, size=15)
            canvas.hot(box, partial(self._ride, passage.name))
            x += wide + 8

    def _ride(self, name: str) -> None:
        """A click on a passage: its ride is chosen, or one is made."""
        if self._round.stage is not Stage.LISTENING:
            return
        self._note = ""
        passage = next(each for each in self._round.loop.passages if each.name == name)
        for place, move in enumerate(self._round.moves):
            if isinstance(move, Ride) and move.passage == passage:
                self._choose(place)
                return
        try:
            self._put(Ride(_FIRST_DB, passage, self._round.question.recipe.track))
        except IllegalMove as error:
            self._note = str(error)


def _within_hz(freq_hz: float) -> float:
    return float(f"{min(HIGHEST_MOVE_HZ, max(LOWEST_MOVE_HZ, freq_hz)):.3g}")


def _within_db(gain_db: float) -> float:
    return math.copysign(min(abs(gain_db), LARGEST_GAIN_DB), gain_db)
