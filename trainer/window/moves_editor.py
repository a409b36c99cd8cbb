"""Making and setting moves on the open round's page: what keys and mouse do to the list.

One move of the list is the chosen one; what is typed is where it goes, in Hz. Every change is
handed to ``changed``, which lets it be heard.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from exercises.bands import read_hz
from exercises.moves import EqPoint, Move, Ride, ToneMove
from trainer.open_round import OpenRound
from trainer.own_moves import OwnSort, first_of, moved_along, placed, sort_of, sorts_for, turned
from trainer.own_moves import widened as widened_move
from trainer.round import IllegalMove
from trainer.window.fix_chart import FixChart
from trainer.window.rule import step_octaves

STEP_DB: Final = 0.5
FINE_STEP_DB: Final = 0.1
_NONE_YET: Final = "Make a move first: N."
_LONGEST: Final = 7


class MovesEditor:
    """The list of ``round_``, a move of it ``chosen`` by its place. Steps may raise IllegalMove."""

    def __init__(self, round_: OpenRound, changed: Callable[[], None]) -> None:
        self.round = round_
        self.chosen: int | None = None
        self.typed = ""
        self._changed = changed
        self._dragged = False

    @property
    def move(self) -> Move | None:
        """The chosen one."""
        return None if self.chosen is None else self.round.moves[self.chosen]

    def add(self, sort: OwnSort = OwnSort.POINT) -> None:
        """A new move, which is then the chosen one."""
        self._put(first_of(sort, self._track, self.round.loop.passages))

    def next_sort(self) -> None:
        """Makes the chosen move one of the next sort."""
        sorts = sorts_for(self.round.loop.passages)
        self.become(sorts[(sorts.index(sort_of(self._needed())) + 1) % len(sorts)])

    def become(self, sort: OwnSort) -> None:
        """Makes the chosen move one of ``sort``, as new."""
        self._change(first_of(sort, self._track, self.round.loop.passages))

    def along(self, direction: int, *, fine: bool = False) -> None:
        """The chosen move along the rule, a ride to the next passage, dynamics slower."""
        self.typed = ""
        octaves = step_octaves(direction, fine=fine)
        self._change(moved_along(self._needed(), octaves, self.round.loop.passages))

    def turn(self, direction: int, *, fine: bool = False) -> None:
        """The chosen move up or down."""
        step_db = direction * (FINE_STEP_DB if fine else STEP_DB)
        self._change(turned(self._needed(), step_db))

    def widen(self, direction: int) -> None:
        """The chosen move wider, or a gentler ratio."""
        self._change(widened_move(self._needed(), direction))

    def choose(self, place: int) -> None:
        """Another move is the chosen one."""
        self.typed = ""
        self.chosen = place

    def choose_next(self, direction: int) -> None:
        """The one after it in the list, or before it."""
        if self.round.moves:
            now = (-1 if direction > 0 else 0) if self.chosen is None else self.chosen
            self.choose((now + direction) % len(self.round.moves))

    def take_out(self) -> None:
        """Takes the chosen move out."""
        if self.chosen is None:
            return
        self.typed = ""
        self.round.take_out(self.chosen)
        left = len(self.round.moves)
        self.chosen = min(self.chosen, left - 1) if left else None
        self._changed()

    def type(self, letter: str) -> None:
        """A figure more of where the move is."""
        self.typed = (self.typed + letter)[:_LONGEST]
        self._place_typed()

    def take_back(self) -> None:
        """A figure less."""
        self.typed = self.typed[:-1]
        self._place_typed()

    def point_at(self, chart: FixChart, x: float, y: float) -> None:
        """A press on the chart, or the mouse moved on from one: makes, takes hold, drags."""
        self.typed = ""
        freq_hz = chart.rule.freq_at(x)
        first, self._dragged = not self._dragged, True
        if first:
            near = chart.move_near(self.round.moves, x, y)
            if near is None:
                self._put(placed(EqPoint(1.0, chart.gain_at(y), track=self._track), freq_hz))
            else:
                self.chosen = near
            return
        move = self.move
        if isinstance(move, ToneMove):
            there = placed(move, freq_hz)
            self._change(turned(there, chart.gain_at(y) - there.gain_db))

    def let_go(self) -> None:
        """The mouse is up."""
        self._dragged = False

    def ride(self, name: str) -> None:
        """A click on a passage: its ride is chosen, or one is made."""
        passage = next(each for each in self.round.loop.passages if each.name == name)
        for place, move in enumerate(self.round.moves):
            if isinstance(move, Ride) and move.passage == passage:
                self.choose(place)
                return
        new = first_of(OwnSort.RIDE, self._track, self.round.loop.passages)
        assert isinstance(new, Ride)
        self._put(Ride(new.gain_db, passage, self._track))

    @property
    def _track(self) -> str | None:
        return self.round.question.recipe.track

    def _needed(self) -> Move:
        move = self.move
        if move is None:
            raise IllegalMove(_NONE_YET)
        return move

    def _put(self, move: Move) -> None:
        self.typed = ""
        self.chosen = self.round.add(move)
        self._changed()

    def _change(self, move: Move) -> None:
        self._needed()
        assert self.chosen is not None
        self.round.change(self.chosen, move)
        self._changed()

    def _place_typed(self) -> None:
        freq_hz = read_hz(self.typed)
        move = self.move
        if freq_hz is None:
            return
        if isinstance(move, ToneMove):
            self._change(placed(move, freq_hz))
        elif move is None:
            typed = self.typed
            first = first_of(OwnSort.POINT, self._track, self.round.loop.passages)
            assert isinstance(first, EqPoint)
            self._put(placed(first, freq_hz))
            self.typed = typed
