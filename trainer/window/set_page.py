"""One set: its teacher's note and terms, to take it, go on with it, look at it again.

Whoever made it here may hear and see every question with its truth.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

import pygame

from trainer import __version__
from trainer.asked_again import reviewed_again
from trainer.assignments.known_sets import KnownSet, known_set, remember
from trainer.assignments.practice_set import PracticeSet
from trainer.assignments.set_words import question_sentence, rule_sentence, terms_sentences
from trainer.assignments.taking import Taking, loop_shelf_of, open_set
from trainer.home import results_folder, sets_folder
from trainer.judging import WHOLE_LOOP, Answer, Named
from trainer.record import KeptAnswer, Listening
from trainer.round import Round
from trainer.window.canvas import Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import HELP, VOLUME, KeyWords, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    MARGIN,
    SMALL,
    SOFT_INK,
    Face,
)
from trainer.window.page import Page
from trainer.window.set_desk import SetDesk


def open_set_page(desk: Desk, path: Path) -> Screen:
    """The page of the set in a file: dropped on the window, or named on the command line.

    Raises:
        NamefirstError: it is no set, or does not hold together.
    """
    made = open_set(path, sets_folder())
    remember(made, sets_folder())
    return SetPage(desk, made, path.absolute().parent)


class SetPage(Page):
    """The welcome to a set; ``outbox`` is where a result goes."""

    def __init__(self, desk: Desk, made: PracticeSet, outbox: Path | None = None) -> None:
        self._desk = desk
        self._outbox = results_folder() if outbox is None else outbox
        self._known: KnownSet = known_set(made, sets_folder(), desk.record.learner)

    @property
    def title(self) -> str:
        return "a set"

    @property
    def _take_words(self) -> str:
        if self._known.open_try is not None:
            return "Go on"
        return "Start" if not self._known.tries else f"Try {len(self._known.tries) + 1}"

    @property
    def keys(self) -> Sequence[KeyWords]:
        known = self._known
        take = (key_words("Enter", self._take_words.lower()),) if known.may_take else ()
        review = (key_words("1", "review"),) if known.reviewable is not None else ()
        preview = (key_words("2", "preview with truths"),) if known.made_here else ()
        return (*take, *review, *preview, VOLUME, HELP, key_words("Esc", "back"))

    def key(self, event: pygame.event.Event) -> Screen | None:
        from trainer.window.sets_page import SetsPage

        known = self._known
        if event.key == pygame.K_ESCAPE:
            self._desk.sound.playhead.stop()
            return SetsPage(self._desk)
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER) and known.may_take:
            return self._take()
        if event.unicode == "1" and known.reviewable is not None:
            return self._review(known.reviewable.answers)
        if event.unicode == "2" and known.made_here:
            return self._preview()
        return self

    def _state(self) -> object:
        return self._desk.sound.playhead.volume_db

    def _draw(self, canvas: Canvas) -> None:
        made, known = self._known.set, self._known
        width = min(940.0, canvas.width - 2 * MARGIN)
        draw_head(canvas, "Sets", self._desk.record.learner)
        y = canvas.paragraph(
            MARGIN, DISPLAY_LINE, made.title, width=width, face=Face.SERIF, size=DISPLAY
        )
        if made.teacher:
            canvas.text(MARGIN, y - 6, f"from {made.teacher}", size=BODY, colour=SOFT_INK)
            y += 24
        for line in made.note.splitlines()[:12]:
            if y > canvas.height - 330:
                break
            y = canvas.paragraph(
                MARGIN, y + 8, line or " ", width=width, face=Face.SERIF_ITALIC, size=BODY
            )
        y = max(y + 24, canvas.height - 320)
        for sentence in (
            *terms_sentences(made, datetime.now().astimezone()),
            rule_sentence(made),
            f"{known.state}.".capitalize(),
        ):
            y = canvas.paragraph(MARGIN, y, sentence, width=width, size=SMALL, colour=SOFT_INK)
        x = 0.0
        for words, cap, there in (
            (self._take_words, "Enter", known.may_take),
            ("Review", "1", known.reviewable is not None),
            ("Preview", "2", known.made_here),
        ):
            if there:
                box = foot_box(canvas, 260, after=x)
                draw_plate(canvas, box, words, cap, main=cap == "Enter")
                x += 276
        self._desk.sound.draw_volume(canvas)

    def _take(self) -> Screen:
        if self._desk.silent:
            self._desk.say("A set is taken with sound: start again without --silent.")
            return self
        taking = Taking(
            self._known.set,
            self._desk.shelf,
            sets_folder(),
            self._outbox,
            self._desk.record,
            datetime.now().astimezone(),
            __version__,
        )
        taking.begin_next()
        return self._desk.after_level(SetDesk(self._desk, taking).next_page)

    def _review(self, answers: Sequence[KeptAnswer]) -> Screen:
        from trainer.window.set_questions_page import SetQuestionsPage, answered_lines

        made = self._known.set

        def again(index: int) -> Round:
            kept = answers[index]
            shelf = loop_shelf_of(made, kept.recipe, self._desk.shelf, sets_folder())
            return reviewed_again(kept, shelf)

        heading = f"Review  \N{MIDDLE DOT}  {made.title}"
        return SetQuestionsPage(self._desk, heading, answered_lines(answers), again, self._back)

    def _preview(self) -> Screen:
        from trainer.window.set_questions_page import SetQuestionsPage

        made = self._known.set
        count = len(made.questions)
        lines = [question_sentence(made, number) for number in range(1, count + 1)]
        heading = f"Preview  \N{MIDDLE DOT}  {made.title}"

        def answered_rightly(index: int) -> Round:
            kept = _right_answer(made, index)
            # Its maker's own loops stand on the shelf.
            return reviewed_again(kept, self._desk.shelf)

        return SetQuestionsPage(
            self._desk, heading, lines, answered_rightly, self._back, preview=True
        )

    def _back(self) -> Screen:
        self._desk.sound.playhead.stop()
        return self


def _right_answer(made: PracticeSet, index: int) -> KeptAnswer:
    """The truth as an answer, so that a preview shows and sounds all that a review does."""
    recipe = made.questions[index].recipe
    second = recipe.second
    nothing = not recipe.problem.size_db
    answer = Answer(
        recipe.kind,
        recipe.freq_hz,
        True,
        (recipe.track or "whole mix") if recipe.ask_track and not nothing else None,
        (recipe.passage or WHOLE_LOOP) if recipe.ask_passage and not nothing else None,
        None if second is None else Named(second.kind, second.freq_hz),
    )
    heard = Listening(0.0, 0, 0.0, 0.0)
    return KeptAnswer(index + 1, 0, made.made, made.made.date(), recipe, answer, heard, "")
