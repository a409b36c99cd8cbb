"""The choice round: four fixes of one named problem, to be told apart by ear and by their moves.

Only the number of moves stands on each; what the moves are is shown in the review, so that the
ear decides which of them work. One is picked, or several are put in order.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import pygame

from exercises.kinds import Kind
from trainer.choice_round import ChoiceRound
from trainer.fix_words import moves_words
from trainer.record import RecordError
from trainer.round import IllegalMove
from trainer.window.canvas import Box, Canvas
from trainer.window.fix_review import FixReviewPage, rows_of_choice
from trainer.window.fix_way import FixWay, Stopwatch
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import HELP, UP_DOWN, VOLUME, KeyWords, beside, key_words
from trainer.window.listening import BENEATH, Plate, draw_listening
from trainer.window.look import (
    ACCENT,
    BODY,
    DISPLAY,
    HAIRLINE,
    HEADING,
    HEADING_STEP,
    INK,
    MARGIN,
    PAPER,
    SHADE,
    SOFT_INK,
    TITLE,
    UNIT,
    Colour,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule
from trainer.window.wave import Wave
from trainer.words import heard_part, truth_sentence

if TYPE_CHECKING:
    from trainer.window.desk import Desk

_CARDS_TOP: Final = 44.0 * UNIT
_CARD_HIGH: Final = 12.0 * UNIT
_RULE_TOP: Final = 65.0 * UNIT
_ASKED: Final = (
    "Four fixes of it, all as loud as one another. Which is the simplest that works: of those that "
    "bring B back to A, the one with the fewest moves? If you like, mark more of them in order."
)
_PLACES: Final = ("1st", "2nd", "3rd", "4th")


class ChoicePage(Page):
    """Listening and picking: the one heard last, or those that are marked, the first of them."""

    def __init__(self, desk: Desk, round_: ChoiceRound, way: FixWay) -> None:
        self._desk = desk
        self._round = round_
        self._way = way
        self._wave = Wave(round_.question.a, round_.loop.passages)
        self._note = ""
        desk.sound.take(round_.sounds())
        self._watch = Stopwatch(way)

    @property
    def title(self) -> str:
        return "choose a fix"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("Space"),
            key_words("A"),
            key_words("B"),
            key_words("1-4", "hear a fix"),
            key_words(UP_DOWN, "mark it next, or not"),
            key_words("Enter", "this one" if len(self._round.marked) < 2 else "in this order"),
            VOLUME,
            HELP,
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(
            self.keys,
            key_words("Tab", "the next to hear"),
            key_words("Esc", "leave"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        self._watch.touch()
        self._note = ""
        at_hand = self._round.at_hand
        if event.key == pygame.K_ESCAPE:
            return self._way.leave()
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._choose()
        if event.key == pygame.K_TAB:
            back = "B" if at_hand is None else str(at_hand)
            self._desk.sound.choose("A" if self._desk.sound.letter != "A" else back)
        elif event.key in (pygame.K_UP, pygame.K_DOWN):
            if at_hand is None:
                self._note = "Hear one first: 1 to 4."
            elif event.key == pygame.K_UP:
                self._round.mark(at_hand)
            else:
                self._round.unmark(at_hand)
        elif event.unicode.lower() in ("a", "b"):
            self._desk.sound.choose(event.unicode.upper())
        elif event.unicode.isdecimal() and int(event.unicode) in self._round.numbers:
            self._hear(int(event.unicode))
        return self

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        return self._wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return (
            self._round.at_hand,
            self._round.marked,
            self._note,
            playhead.current,
            playhead.playing,
            playhead.volume_db,
            self._way.left(),
        )

    def _draw(self, canvas: Canvas) -> None:
        recipe = self._round.question.recipe
        draw_head(canvas, self._way.heading, self._way.left())
        draw_listening(
            canvas,
            f"{self._round.loop.title}  \N{MIDDLE DOT}  {heard_part(recipe)}",
            (
                Plate("A", "A", "", "as it should be", 136),
                Plate("B", "B", "", "the problem", 136),
            ),
            self._desk.sound,
            self._compare,
            self._wave,
        )
        canvas.text(MARGIN, BENEATH, truth_sentence(recipe), face=Face.SERIF, size=HEADING)
        canvas.paragraph(
            MARGIN,
            BENEATH + HEADING_STEP,
            self._note or _ASKED,
            width=canvas.width - 2 * MARGIN,
            size=BODY,
            colour=SOFT_INK,
            leading=1.25,
        )
        self._draw_cards(canvas, _CARDS_TOP)
        if recipe.freq_hz is not None:
            rule = Rule(Box(MARGIN, _RULE_TOP, canvas.width - 2 * MARGIN, HEIGHT))
            rule.draw(canvas, "too little" if recipe.kind is Kind.TOO_LITTLE else "too much")
            rule.draw_truth(canvas, recipe.freq_hz, None)
        words = "This one" if len(self._round.marked) < 2 else "In this order"
        draw_plate(canvas, foot_box(canvas, 260), words, "Enter", main=True)
        self._desk.sound.draw_volume(canvas)

    def _draw_cards(self, canvas: Canvas, top: float) -> None:
        count = len(self._round.offered)
        width = (canvas.width - 2 * MARGIN - UNIT * (count - 1)) / count
        for number, candidate in zip(self._round.numbers, self._round.offered, strict=True):
            box = Box(MARGIN + (number - 1) * (width + UNIT), top, width, _CARD_HIGH)
            sounding = self._desk.sound.letter == str(number)
            ink = PAPER if sounding else INK
            canvas.box(box, fill=INK if sounding else SHADE)
            if self._round.picked == number:
                canvas.box(box, edge=INK, edge_width=2.5)
                y = box.bottom - 10
                canvas.line((box.x + 18, y), (box.right - 18, y), PAPER if sounding else ACCENT, 3)
            canvas.text(
                box.x + 18,
                box.y + 46,
                str(number),
                face=Face.SERIF_SEMIBOLD,
                size=DISPLAY,
                colour=ink,
            )
            canvas.text(
                box.x + 52,
                box.y + 42,
                moves_words(candidate.moves),
                face=Face.SERIF,
                size=TITLE,
                colour=ink,
            )
            canvas.text(
                box.x + 52,
                box.y + 70,
                self._state_of(number),
                colour=ink if sounding else SOFT_INK,
            )
            canvas.hot(box, lambda number=number: self._hear(number))  # type: ignore[misc]
            self._draw_mark(canvas, box, number, ink)
        beneath = top + _CARD_HIGH + 2 * UNIT
        canvas.line((MARGIN, beneath), (canvas.width - MARGIN, beneath), HAIRLINE)

    def _draw_mark(self, canvas: Canvas, card: Box, number: int, ink: Colour) -> None:
        """The place of a fix in the order; a click gives it the next, or takes it away."""
        place = self._place(number)
        box = Box(card.right - 10 * UNIT, card.y + 2 * UNIT, 8 * UNIT, 4 * UNIT)
        canvas.box(box, edge=ink, edge_width=1.0 if place is None else 2.0)
        canvas.text(
            box.x + box.width / 2,
            box.y + 22,
            "mark" if place is None else _PLACES[place],
            face=Face.SANS if place is None else Face.SANS_SEMIBOLD,
            colour=ink,
            side="centre",
        )
        canvas.hot(box, lambda: self._turn_mark(number))

    def _turn_mark(self, number: int) -> None:
        self._watch.touch()
        if self._place(number) is None:
            self._round.mark(number)
        else:
            self._round.unmark(number)

    def _place(self, number: int) -> int | None:
        marked = self._round.marked
        return marked.index(number) if number in marked else None

    def _state_of(self, number: int) -> str:
        if self._round.picked == number:
            return "picked"
        return "" if self._heard(number) else "not listened to yet"

    def _heard(self, number: int) -> bool:
        return self._desk.sound.heard_s(str(number)) > 0.0

    def _compare(self, letter: str) -> None:
        self._watch.touch()
        self._desk.sound.choose(letter)

    def _hear(self, number: int) -> None:
        self._watch.touch()
        self._round.hear(number)
        self._desk.sound.choose(str(number))

    def _choose(self) -> Screen | None:
        try:
            result = self._round.choose()
        except IllegalMove as error:
            self._note = str(error)
            return self
        try:
            self._watch.keep(result)
        except RecordError:
            self._round.take_back()
            raise
        return FixReviewPage(self._desk, rows_of_choice(self._round, result), self._way)
