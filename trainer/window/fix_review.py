"""The review of a fix round: the fixes side by side, with their moves and what they leave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import pygame

from exercises.bands import THIRD_OCTAVE_MID_HZ
from exercises.fix_candidates import Candidate
from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.question import Question
from exercises.samples import Samples
from trainer.fix_round import (
    Attempt,
    ChoiceRound,
    FixResult,
    OpenReview,
    OpenRound,
    as_loud_as_the_softest,
)
from trainer.fix_words import (
    attempt_sentence,
    choice_sentence,
    fix_words,
    moves_words,
    open_sentence,
    residual_words,
    tone_change_db,
    why_sentence,
)
from trainer.window.bars import draw_bars, draw_legend
from trainer.window.canvas import Box, Canvas
from trainer.window.fix_way import FixWay
from trainer.window.frame import Screen, draw_head, draw_keys, draw_plate
from trainer.window.listening import Plate, draw_listening
from trainer.window.look import HAIRLINE, HEADING, INK, MARGIN, PAPER, SHADE, SOFT_INK, Face
from trainer.window.rule import HEIGHT, Rule
from trainer.window.wave import Wave
from trainer.words import heard_part, truth_sentence

if TYPE_CHECKING:
    from trainer.window.desk import Desk

_ROW_HIGH: Final = 42.0
_GAP: Final = 6.0
_MOVES_AT: Final = 190.0
_LEFT_WIDE: Final = 300.0


@dataclass(frozen=True, slots=True)
class Row:
    """One fix: whose it is, its moves, what it leaves, and a sentence on why."""

    whose: str
    attempt: Attempt | Candidate
    why: str


@dataclass(frozen=True, slots=True)
class FixReview:
    """What the page shows: ``said`` in one sentence, and the rows, of which ``first`` is open."""

    question: Question
    loop: Loop
    said: str
    rows: tuple[Row, ...]
    first: int
    sounds: dict[str, Samples]


def rows_of_choice(round_: ChoiceRound, result: FixResult) -> FixReview:
    """The review of a choice: the four in the order in which they were heard."""
    problem_hz = round_.question.recipe.freq_hz
    assert problem_hz is not None
    rows = tuple(
        Row(
            "your pick" if number == round_.picked else "",
            candidate,
            why_sentence(candidate, problem_hz),
        )
        for number, candidate in zip(round_.numbers, round_.offered, strict=True)
    )
    first = (round_.picked or 1) - 1
    said = choice_sentence(round_, result)
    return FixReview(round_.question, round_.loop, said, rows, first, round_.sounds())


def rows_of_open(round_: OpenRound, review: OpenReview) -> FixReview:
    """The review of an open round: the learner's own fix, and the smallest that was found."""
    rows = tuple(
        Row(whose, attempt, attempt_sentence(attempt))
        for whose, attempt in (("yours", review.yours), ("smallest found", review.smallest))
    )
    question = round_.question
    sounds = as_loud_as_the_softest(
        {"B": question.b, "A": question.a, "1": review.yours.sound, "2": review.smallest.sound}
    )
    return FixReview(question, round_.loop, open_sentence(review), rows, 0, sounds)


class FixReviewPage:
    """Hearing a row opens it: its sentence, and in bars what was wrong and what it leaves."""

    def __init__(self, desk: Desk, review: FixReview, way: FixWay) -> None:
        self._desk = desk
        self._review = review
        self._way = way
        self._open = review.first
        self._wave = Wave(review.question.a, review.loop.passages)
        self._shown: object = None
        if not all(desk.sound.has(name) for name in review.sounds):
            desk.sound.add(review.sounds)
            desk.sound.playhead.choose(str(review.first + 1))

    @property
    def title(self) -> str:
        return "fixes reviewed"

    @property
    def keys(self) -> Sequence[tuple[str, str]]:
        return (
            ("Space", "play, stop"),
            ("A", "as it should be"),
            ("B", "the problem"),
            (f"1-{len(self._review.rows)}", "hear a fix"),
            ("\N{UPWARDS ARROW} \N{DOWNWARDS ARROW}", "the one above, below"),
            ("Enter", self._way.words),
            ("- +", "volume"),
            ("?", "all keys"),
        )

    @property
    def all_keys(self) -> Sequence[tuple[str, str]]:
        return (*self.keys, ("Tab", "A or the open one"), ("Esc", "leave"))

    def key(self, event: pygame.event.Event) -> Screen | None:
        sound, count = self._desk.sound, len(self._review.rows)
        if event.key == pygame.K_ESCAPE:
            return self._way.leave()
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER, pygame.K_n):
            return self._way.onward()
        if event.key in (pygame.K_UP, pygame.K_DOWN):
            step = 1 if event.key == pygame.K_DOWN else -1
            self._hear(max(0, min(count - 1, self._open + step)))
        elif event.key == pygame.K_TAB:
            sound.choose("A" if sound.letter != "A" else str(self._open + 1))
        elif event.unicode.lower() in ("a", "b"):
            sound.choose(event.unicode.upper())
        elif event.unicode.isdecimal() and 1 <= int(event.unicode) <= count:
            self._hear(int(event.unicode) - 1)
        return self

    def tick(self) -> Screen | None:
        return self

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        return self._wave.move(canvas, self._desk.sound.playhead.position_frames)

    @property
    def stale(self) -> bool:
        return self._shown != self._state()

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return (
            self._open,
            playhead.current,
            playhead.playing,
            playhead.volume_db,
            self._way.left(),
        )

    def draw(self, canvas: Canvas) -> None:
        self._shown = self._state()
        review, recipe = self._review, self._review.question.recipe
        draw_head(canvas, self._way.heading, self._way.left())
        draw_listening(
            canvas,
            f"{review.loop.title}  \N{MIDDLE DOT}  {heard_part(recipe)}",
            (
                Plate("A", "A", "", "as it should be", 136),
                Plate("B", "B", "", "the problem", 136),
            ),
            self._desk.sound,
            self._desk.sound.choose,
            self._wave,
        )
        canvas.text(MARGIN, 258, truth_sentence(recipe), face=Face.SERIF, size=HEADING)
        canvas.text(MARGIN, 284, review.said, size=18, colour=SOFT_INK)
        words = self._way.words.capitalize()
        width = 84 + canvas.text_width(words, Face.SERIF, 23) + canvas.text_width("Enter")
        box = Box(canvas.width - MARGIN - width, 236, width, 48)
        draw_plate(canvas, box, words, "Enter", main=True)
        y = 300.0
        for index in range(len(review.rows)):
            self._draw_row(canvas, index, y)
            y += _ROW_HIGH + _GAP
        row = review.rows[self._open]
        canvas.paragraph(
            MARGIN,
            max(y + 18.0, 430.0),
            row.why,
            width=canvas.width - 2 * MARGIN,
            face=Face.SERIF_ITALIC,
            size=17,
            leading=1.3,
        )
        self._draw_left(canvas, row)
        self._desk.sound.draw_volume(canvas, 88)
        draw_keys(canvas, self.keys)

    def _draw_left(self, canvas: Canvas, row: Row) -> None:
        """What was wrong and what the open fix leaves, along the rule."""
        recipe, judged = self._review.question.recipe, row.attempt.judgement
        rule = Rule(Box(MARGIN, 628, canvas.width - 2 * MARGIN, HEIGHT))
        draw_legend(canvas, canvas.width - MARGIN, 540, f"what is left with fix {self._open + 1}")
        draw_bars(
            canvas,
            Box(MARGIN, 546, canvas.width - 2 * MARGIN, 66),
            list(tone_change_db(judged.wrong)),
            list(tone_change_db(judged.now)),
            lambda index: rule.x_of(THIRD_OCTAVE_MID_HZ[index]),
            11.0,
        )
        rule.draw(canvas, "too little" if recipe.kind is Kind.TOO_LITTLE else "too much")

    def _draw_row(self, canvas: Canvas, index: int, top: float) -> None:
        row = self._review.rows[index]
        box = Box(MARGIN, top, canvas.width - 2 * MARGIN, _ROW_HIGH)
        sounding = self._desk.sound.letter == str(index + 1)
        ink, soft = (PAPER, PAPER) if sounding else (INK, SOFT_INK)
        canvas.box(box, fill=INK if sounding else SHADE if index == self._open else None)
        canvas.box(box, edge=INK if index == self._open else HAIRLINE)
        middle = box.y + box.height / 2 + 6
        canvas.text(
            box.x + 16, middle + 2, str(index + 1), face=Face.SERIF_SEMIBOLD, size=23, colour=ink
        )
        count = moves_words(len(row.attempt.fix))
        if row.whose:
            canvas.text(box.x + 46, middle - 9, count, face=Face.SANS_SEMIBOLD, colour=ink)
            canvas.text(
                box.x + 46, middle + 8, row.whose, face=Face.SERIF_ITALIC, size=15, colour=soft
            )
        else:
            canvas.text(box.x + 46, middle, count, face=Face.SANS_SEMIBOLD, colour=ink)
        room = box.width - _MOVES_AT - _LEFT_WIDE
        self._draw_moves(canvas, Box(box.x + _MOVES_AT, box.y, room, box.height), row, ink)
        canvas.text(
            box.right - 16, middle, residual_words(row.attempt.judgement), colour=ink, side="right"
        )
        canvas.hot(box, lambda: self._hear(index))

    def _draw_moves(self, canvas: Canvas, box: Box, row: Row, ink: tuple[int, int, int]) -> None:
        """The list of moves on one line, or on two where it is long."""
        words = fix_words(row.attempt.fix)
        if canvas.text_width(words) <= box.width:
            canvas.text(box.x, box.y + box.height / 2 + 6, words, colour=ink)
        else:
            canvas.paragraph(
                box.x, box.y + 17, words, width=box.width, size=15, colour=ink, leading=1.15
            )

    def _hear(self, index: int) -> None:
        self._open = index
        self._desk.sound.choose(str(index + 1))
