"""The review of a fix round: the fixes side by side, with their moves and what they leave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import pygame

from exercises.bands import THIRD_OCTAVE_MID_HZ
from exercises.fix_candidates import Candidate
from exercises.kinds import DYNAMICS, Kind
from exercises.loops import Loop
from exercises.question import Question
from exercises.samples import Samples
from trainer.choice_round import ChoiceRound
from trainer.fix_reasons import why_sentence
from trainer.fix_round import Attempt, FixResult, as_loud_as_the_softest
from trainer.fix_words import (
    IN_ORDER,
    attempt_sentence,
    choice_sentence,
    fix_words,
    moves_words,
    open_sentence,
    order_sentence,
    place_of,
    residual_words,
    tone_change_db,
)
from trainer.open_round import OpenReview, OpenRound
from trainer.window.bars import draw_bars, draw_legend
from trainer.window.canvas import Box, Canvas
from trainer.window.fix_way import FixWay
from trainer.window.frame import Screen, draw_head, draw_plate
from trainer.window.keys import HELP, UP_DOWN, VOLUME, KeyWords, beside, key_words
from trainer.window.listening import BENEATH, ONWARD_HIGH, ONWARD_TOP, Plate, draw_listening
from trainer.window.look import (
    BODY,
    FIRST_LINE,
    HAIRLINE,
    HEADING,
    INK,
    MARGIN,
    PAPER,
    SHADE,
    SMALL,
    SOFT_INK,
    TINY,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule
from trainer.window.wave import Wave
from trainer.words import heard_part, truth_sentence

if TYPE_CHECKING:
    from trainer.window.desk import Desk

_ROWS_AT: Final = 41.0 * UNIT
_ROW_STEP: Final = 5.0 * UNIT
_ROW_HIGH: Final = _ROW_STEP - 2.0
_LEGEND: Final = 67 * UNIT
_BARS_TOP: Final = 68 * UNIT
_BARS_HIGH: Final = 7 * UNIT
_RULE_TOP: Final = 77 * UNIT
_MOVES_AT: Final = 19.0 * UNIT
_LEFT_WIDE: Final = 42.0 * UNIT
_ORDER_WIDE: Final = 11.0 * UNIT
_ORDINAL: Final = ("1st", "2nd", "3rd", "4th")


@dataclass(frozen=True, slots=True)
class Row:
    """One fix: its number, whose it is, its moves, what it leaves, and a sentence on why.

    ``place`` is where in their order the learner had it, from 0; None: they did not say.
    """

    number: int
    whose: str
    attempt: Attempt | Candidate
    why: str
    place: int | None = None


@dataclass(frozen=True, slots=True)
class FixReview:
    """What the page shows: ``said`` of the fix and of the ``order``, a sentence each (the latter
    may be empty), and the rows, of which ``first`` is open."""

    question: Question
    loop: Loop
    said: str
    order: str
    rows: tuple[Row, ...]
    first: int
    sounds: dict[str, Samples]

    @property
    def marked(self) -> int:
        """How many the learner had in an order of their own."""
        return sum(row.place is not None for row in self.rows)


def rows_of_choice(round_: ChoiceRound, result: FixResult) -> FixReview:
    """The review of a choice: the four by their true order, from the simplest that works on."""
    recipe = round_.question.recipe
    rows = []
    for number in round_.true_order:
        candidate = round_.offered[number - 1]
        place = result.marked.index(number) if number in result.marked else None
        whose = "" if place is None else "your pick" if place == 0 else f"your {_ORDINAL[place]}"
        why = why_sentence(candidate, recipe, round_.loop)
        rows.append(Row(number, whose, candidate, why, place))
    first = round_.true_order.index(result.marked[0])
    said, order = choice_sentence(round_, result), order_sentence(result) or IN_ORDER
    return FixReview(round_.question, round_.loop, said, order, tuple(rows), first, round_.sounds())


def rows_of_open(round_: OpenRound, review: OpenReview) -> FixReview:
    """The review of an open round: the learner's own fix, and the smallest that was found."""
    place = place_of(round_.question.recipe, round_.loop)
    rows = tuple(
        Row(number, whose, attempt, attempt_sentence(attempt, place))
        for number, whose, attempt in (
            (1, "yours", review.yours),
            (2, "the simplest", review.smallest),
        )
    )
    question = round_.question
    sounds = as_loud_as_the_softest(
        {"B": question.b, "A": question.a, "1": review.yours.sound, "2": review.smallest.sound}
    )
    return FixReview(question, round_.loop, open_sentence(review), "", rows, 0, sounds)


class FixReviewPage(Page):
    """Hearing a row opens it: its sentence, and in bars what was wrong and what it leaves."""

    def __init__(self, desk: Desk, review: FixReview, way: FixWay) -> None:
        self._desk = desk
        self._review = review
        self._way = way
        self._open = review.first
        self._wave = Wave(review.question.a, review.loop.passages)
        if not all(desk.sound.has(name) for name in review.sounds):
            desk.sound.add(review.sounds)
            desk.sound.playhead.choose(str(self._row.number))
        elif desk.sound.letter not in ("A", "B"):
            # Not the fix that was heard last, but the one that the page speaks of.
            desk.sound.playhead.choose(str(self._row.number))

    @property
    def title(self) -> str:
        return "fixes reviewed"

    @property
    def _row(self) -> Row:
        return self._review.rows[self._open]

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("Space"),
            key_words("A"),
            key_words("B"),
            key_words("F", "B with the fix"),
            key_words(f"1-{len(self._review.rows)}", "hear a fix"),
            key_words(UP_DOWN, "the one above, below"),
            key_words("Enter", self._way.words),
            VOLUME,
            HELP,
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(self.keys, key_words("Tab", "the next to hear"), key_words("Esc", "leave"))

    def key(self, event: pygame.event.Event) -> Screen | None:
        sound, rows = self._desk.sound, self._review.rows
        numbers = [str(row.number) for row in rows]
        if event.key == pygame.K_ESCAPE:
            return self._way.leave()
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._way.onward()
        if event.key in (pygame.K_UP, pygame.K_DOWN):
            step = 1 if event.key == pygame.K_DOWN else -1
            self._hear(max(0, min(len(rows) - 1, self._open + step)))
        elif event.key == pygame.K_TAB:
            self._hear_next(("A", "B", str(self._row.number)))
        elif event.unicode.lower() in ("a", "b"):
            sound.choose(event.unicode.upper())
        elif event.unicode.lower() == "f":
            self._hear(self._open)
        elif event.unicode in numbers:
            self._hear(numbers.index(event.unicode))
        return self

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        return self._wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return (
            self._open,
            playhead.current,
            playhead.playing,
            playhead.volume_db,
            self._way.left(),
        )

    def _draw(self, canvas: Canvas) -> None:
        review, recipe = self._review, self._review.question.recipe
        number = str(self._row.number)
        draw_head(canvas, self._way.heading, self._way.left())
        draw_listening(
            canvas,
            f"{review.loop.title}  \N{MIDDLE DOT}  {heard_part(recipe)}",
            (
                Plate("A", "A", "", "as it should be", 136),
                Plate("B", "B", "", "the problem", 136),
                Plate(number, "F", "", f"B with fix {number}", 136),
            ),
            self._desk.sound,
            self._desk.sound.choose,
            self._wave,
        )
        canvas.text(MARGIN, BENEATH, truth_sentence(recipe), face=Face.SERIF, size=HEADING)
        said = BENEATH + 3 * UNIT
        canvas.text(MARGIN, said, review.said, size=BODY, colour=SOFT_INK)
        canvas.text(MARGIN, said + 22, review.order, size=BODY, colour=SOFT_INK)
        words = self._way.words.capitalize()
        width = 84 + canvas.text_width(words, Face.SERIF, HEADING) + canvas.text_width("Enter")
        box = Box(canvas.width - MARGIN - width, ONWARD_TOP, width, ONWARD_HIGH)
        draw_plate(canvas, box, words, "Enter", main=True)
        for index in range(len(review.rows)):
            self._draw_row(canvas, index, _ROWS_AT + index * _ROW_STEP)
        canvas.paragraph(
            MARGIN,
            _ROWS_AT + len(review.rows) * _ROW_STEP + 3 * UNIT,
            self._row.why,
            width=canvas.width - 2 * MARGIN,
            face=Face.SERIF_ITALIC,
            size=SMALL,
            leading=1.3,
        )
        self._draw_left(canvas, self._row)
        self._desk.sound.draw_volume(canvas, FIRST_LINE)

    def _draw_left(self, canvas: Canvas, row: Row) -> None:
        """What was wrong and what the open fix leaves, along the rule."""
        recipe, judged = self._review.question.recipe, row.attempt.judgement
        place = place_of(recipe, self._review.loop)
        if recipe.kind in DYNAMICS:
            wrong_db, now_db = judged.wrong.moment_db, judged.now.moment_db
            words = f"From moment to moment: {wrong_db:.1f} dB was wrong, {now_db:.1f} dB is left."
            canvas.text(MARGIN, _LEGEND, words)
        rule = Rule(Box(MARGIN, _RULE_TOP, canvas.width - 2 * MARGIN, HEIGHT))
        draw_legend(canvas, canvas.width - MARGIN, _LEGEND, f"what is left with fix {row.number}")
        draw_bars(
            canvas,
            Box(MARGIN, _BARS_TOP, canvas.width - 2 * MARGIN, _BARS_HIGH),
            list(tone_change_db(judged.wrong, place)),
            list(tone_change_db(judged.now, place)),
            lambda index: rule.x_of(THIRD_OCTAVE_MID_HZ[index]),
            11.0,
        )
        rule.draw(canvas, "too little" if recipe.kind is Kind.TOO_LITTLE else "too much")

    def _draw_row(self, canvas: Canvas, index: int, top: float) -> None:
        row = self._review.rows[index]
        in_from = _ORDER_WIDE if self._review.marked > 1 else 0.0
        box = Box(MARGIN + in_from, top, canvas.width - 2 * MARGIN - in_from, _ROW_HIGH)
        if in_from and row.place is not None:
            self._draw_place(canvas, row.place, box)
        sounding = self._desk.sound.letter == str(row.number)
        ink, soft = (PAPER, PAPER) if sounding else (INK, SOFT_INK)
        canvas.box(box, fill=INK if sounding else SHADE if index == self._open else None)
        canvas.box(box, edge=INK if index == self._open else HAIRLINE)
        middle = box.y + box.height / 2 + 6
        canvas.text(
            box.x + 16,
            middle + 2,
            str(row.number),
            face=Face.SERIF_SEMIBOLD,
            size=HEADING,
            colour=ink,
        )
        count = moves_words(len(row.attempt.fix))
        if row.whose:
            canvas.text(box.x + 46, middle - 8, count, face=Face.SANS_SEMIBOLD, colour=ink)
            canvas.text(
                box.x + 46, middle + 8, row.whose, face=Face.SERIF_ITALIC, size=TINY, colour=soft
            )
        else:
            canvas.text(box.x + 46, middle, count, face=Face.SANS_SEMIBOLD, colour=ink)
        room = box.width - _MOVES_AT - _LEFT_WIDE
        self._draw_moves(canvas, Box(box.x + _MOVES_AT, box.y, room, box.height), row, ink)
        canvas.text(
            box.right - 16, middle, residual_words(row.attempt.judgement), colour=ink, side="right"
        )
        canvas.hot(box, lambda: self._hear(index))

    def _draw_place(self, canvas: Canvas, place: int, row: Box) -> None:
        """From where the learner put a fix, on the left, to where it belongs: lines that cross
        are pairs the wrong way round."""
        y = _ROWS_AT + place * _ROW_STEP + _ROW_HIGH / 2
        canvas.text(MARGIN, y + 6, _ORDINAL[place])
        start, stop = (MARGIN + 4.0 * UNIT, y), (row.x - 4.0, row.y + _ROW_HIGH / 2)
        canvas.stroke([start, stop], INK, 2.0)
        canvas.box(Box(stop[0] - 3, stop[1] - 3, 6, 6), fill=INK)

    def _draw_moves(self, canvas: Canvas, box: Box, row: Row, ink: tuple[int, int, int]) -> None:
        """The list of moves on one line, or on two where it is long."""
        words = fix_words(row.attempt.fix)
        if canvas.text_width(words) <= box.width:
            canvas.text(box.x, box.y + box.height / 2 + 6, words, colour=ink)
        else:
            canvas.paragraph(
                box.x, box.y + 16, words, width=box.width, size=TINY, colour=ink, leading=1.15
            )

    def _hear_next(self, letters: tuple[str, ...]) -> None:
        sound = self._desk.sound
        if sound.letter in letters:
            sound.next_of(letters)
        else:
            sound.choose(letters[-1])

    def _hear(self, index: int) -> None:
        self._open = index
        self._desk.sound.choose(str(self._row.number))
