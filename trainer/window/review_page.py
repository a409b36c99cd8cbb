"""The Review: the truth in a sentence, on the rule and in bars, and the answer undone by ear."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import pygame

from exercises.bands import THIRD_OCTAVE_MID_HZ
from exercises.kinds import DYNAMICS, TONE, Kind
from exercises.loops import Passage
from exercises.samples import RATE_HZ
from exercises.truth_sounds import can_be_exaggerated, truth_sound
from trainer.guided_minute import confused_step, pair_words
from trainer.round import Review, Round
from trainer.subject import subject_of
from trainer.window.bars import draw_bars, draw_legend
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate
from trainer.window.keys import HELP, VOLUME, KeyWords, beside, key_words
from trainer.window.listening import BENEATH, ONWARD_HIGH, ONWARD_TOP, Plate, draw_listening
from trainer.window.look import (
    BODY,
    HEADING,
    HEADING_STEP,
    MARGIN,
    SMALL,
    SOFT_INK,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule
from trainer.window.time_axis import draw_time_axis
from trainer.window.wave import Wave
from trainer.words import (
    NOTHING_UNDONE,
    answer_sentence,
    heard_part,
    left_sentence,
    level_or_tone_sentence,
    truth_sentence,
)

_PREVIEW: Final = "Here it is named rightly, so that a review can be seen and heard."


@dataclass(frozen=True, slots=True)
class Reopened:
    """What is different in the review of a past answer: its head line, and where it goes back.

    ``preview``: nobody has answered; the truth stands in for an answer.
    """

    heading: str
    leave: Callable[[], Screen]
    preview: bool = False


class ReviewPage(Page):
    """What it was, what was said, and how each of them sounds."""

    def __init__(
        self, desk: Desk, round_: Round, review: Review, reopened: Reopened | None = None
    ) -> None:
        self._reopened = reopened
        self._desk = desk
        self._round = round_
        self._review = review
        self._wave = Wave(round_.question.a, round_.loop.passages)
        self._looped: Passage | None = None
        self._pair = confused_step(round_.question.recipe, review.answer, review.verdict)
        if review.undone:
            desk.sound.add({"fix": review.fixed})

    @property
    def title(self) -> str:
        if self._reopened is not None:
            return "a past answer"
        return f"review {self._desk.open_drill().number - 1}"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("Space"),
            key_words("A"),
            key_words("B"),
            *((key_words("F", "B with your answer undone"),) if self._review.undone else ()),
            *((key_words("X"),) if self._can_exaggerate else ()),
            *((key_words("R"),) if self._true_hz else ()),
            *((key_words("L"),) if self._can_solo else ()),
            *((key_words("W"),) if len(self._round.loop.passages) > 1 else ()),
            *((key_words("T", f"study: {self._pair_words()}"),) if self._pair else ()),
            key_words("Enter", self._onward),
            VOLUME,
            HELP,
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(
            self.keys,
            key_words("Tab", "the next to hear"),
            key_words("Esc", "back" if self._reopened else "leave; it can be taken up again"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        onward = event.key in (pygame.K_RETURN, pygame.K_KP_ENTER)
        if onward or event.key == pygame.K_ESCAPE:
            self._desk.sound.playhead.loop_region(None)
            if self._reopened is not None:
                return self._reopened.leave()
            return self._desk.next_page() if onward else self._desk.leave_drill()
        source = {pygame.K_a: "A", pygame.K_b: "B", pygame.K_f: "fix"}.get(event.key)
        source = source or {pygame.K_x: "X", pygame.K_r: "R"}.get(event.key)
        if source == "fix" and not self._review.undone:
            self._desk.say(NOTHING_UNDONE)
        elif source is not None:
            self._hear(source)
        elif event.key == pygame.K_l and self._can_solo:
            self._desk.solo_or_mix(self._round)
        elif event.key == pygame.K_TAB:
            self._desk.sound.next_of(("A", "B", "fix") if self._review.undone else ("A", "B"))
        elif event.key == pygame.K_t and self._pair is not None:
            return self._compare_pair()
        elif event.key == pygame.K_w:
            self._loop_next_passage()
        return self

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        return self._wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return (
            playhead.current,
            playhead.playing,
            playhead.volume_db,
            self._looped,
            self._head(),
        )

    def _head(self) -> tuple[str, str]:
        """Where the learner is, and what is left of the drill."""
        if self._reopened is not None:
            return self._reopened.heading, ""
        return self._desk.where(answered=True), self._desk.time_left()

    @property
    def _onward(self) -> str:
        return "next" if self._reopened is None else "back"

    def _draw(self, canvas: Canvas) -> None:
        recipe, review = self._round.question.recipe, self._review
        draw_head(canvas, *self._head())
        draw_listening(
            canvas,
            f"{self._round.loop.title}  \N{MIDDLE DOT}  "
            + (
                f"{self._desk.sound.soloed} alone"
                if self._desk.sound.soloed
                else heard_part(recipe)
            ),
            (
                Plate("A", "A", "", "as it should be", 136),
                Plate("B", "B", "", "the problem", 136),
                *(
                    (Plate("fix", "F", "your answer undone", "B with your fix", 186),)
                    if review.undone
                    else ()
                ),
                *((Plate("X", "X", "", "exaggerated", 92),) if self._can_exaggerate else ()),
                *((Plate("R", "R", "", "region alone", 92),) if self._true_hz else ()),
            ),
            self._desk.sound,
            self._hear,
            self._wave,
            self._looped,
        )
        room = canvas.width - 2 * MARGIN - 220
        said = truth_sentence(recipe)
        size = HEADING if canvas.text_width(said, Face.SERIF, HEADING) <= room else BODY
        canvas.text(MARGIN, BENEATH, said, face=Face.SERIF, size=size)
        answered = answer_sentence(recipe, review.answer, review.verdict)
        if self._reopened is not None and self._reopened.preview:
            answered = _PREVIEW
        canvas.text(MARGIN, BENEATH + HEADING_STEP, answered, size=BODY, colour=SOFT_INK)
        left = "with your answer undone" if review.undone else "with B left as it is"
        draw_legend(canvas, canvas.width - MARGIN, 43 * UNIT, f"what is left {left}")
        if recipe.kind in TONE and recipe.passage is None:
            canvas.text(
                MARGIN,
                43 * UNIT,
                "A and B are equally loud, so the rest moves the other way",
                face=Face.SERIF_ITALIC,
                colour=SOFT_INK,
            )
        if self._along_loop:
            self._draw_along_loop(
                canvas, Box(MARGIN, 45 * UNIT, canvas.width - 2 * MARGIN, 27 * UNIT)
            )
        else:
            self._draw_along_rule(canvas)
        said = left_sentence(review.left, review.begins_s, undone=review.undone)
        canvas.text(MARGIN, 85 * UNIT, said, face=Face.SERIF_ITALIC, size=BODY)
        if review.passages and recipe.passage is not None:
            which = level_or_tone_sentence(review.passages, recipe.passage)
            canvas.text(MARGIN, 41 * UNIT, which, face=Face.SERIF_ITALIC, size=SMALL)
        draw_plate(
            canvas,
            Box(canvas.width - MARGIN - 200, ONWARD_TOP, 200, ONWARD_HIGH),
            self._onward.capitalize(),
            "Enter",
            main=True,
        )
        self._desk.sound.draw_volume(canvas)

    @property
    def _true_hz(self) -> float | None:
        return self._round.question.recipe.freq_hz

    @property
    def _can_exaggerate(self) -> bool:
        return can_be_exaggerated(self._round.question.recipe)

    @property
    def _can_solo(self) -> bool:
        recipe = self._round.question.recipe
        return recipe.track is not None and not recipe.alone

    def _hear(self, source: str) -> None:
        """Sounds a plate; what was not wanted before is made now."""
        sound = self._desk.sound
        if not sound.has(source):
            made = truth_sound(source, self._round.question, self._round.loop)
            if made is None:
                return
            sound.add({source: made})
        sound.choose(source)

    def _pair_words(self) -> str:
        recipe, review = self._round.question.recipe, self._review
        return " against ".join(pair_words(recipe, review.answer, review.verdict))

    def _compare_pair(self) -> Screen:
        """What was there against what was named, under one playhead; and back again."""
        from trainer.window.guided_page import GuidedPage, Way

        assert self._pair is not None
        heading = f"Study  \N{MIDDLE DOT}  {self._pair_words()}"
        way = Way(heading, "back", self._come_back, self._come_back)
        truth = self._review.verdict.parts[0].truth
        subject = subject_of(truth.kind, truth.freq_hz)
        return GuidedPage(self._desk, subject, way, (self._pair,))

    def _come_back(self) -> Screen:
        question = self._round.question
        self._looped = None
        fix = {"fix": self._review.fixed} if self._review.undone else {}
        self._desk.sound.take({"B": question.b, "A": question.a, **fix})
        return self

    @property
    def _along_loop(self) -> bool:
        """Whether what was done shows in time, not along the rule."""
        kind, named = self._round.question.recipe.kind, self._review.answer.kind
        return kind in DYNAMICS or (kind is Kind.NOTHING and named in DYNAMICS)

    def _draw_along_rule(self, canvas: Canvas) -> None:
        recipe, review = self._round.question.recipe, self._review
        rule = Rule(Box(MARGIN, 70 * UNIT, canvas.width - 2 * MARGIN, HEIGHT))
        draw_bars(
            canvas,
            Box(MARGIN, 45 * UNIT, canvas.width - 2 * MARGIN, 15 * UNIT),
            list(review.done.third_octave_db),
            list(review.left.third_octave_db),
            lambda index: rule.x_of(THIRD_OCTAVE_MID_HZ[index]),
            11.0,
        )
        rule.draw(canvas, "too little" if recipe.kind is Kind.TOO_LITTLE else "too much")
        named_hz = review.answer.freq_hz
        if recipe.freq_hz is None and named_hz is not None:
            rule.draw_mark(canvas, named_hz, "yours")
        for part in review.verdict.parts:
            if part.truth.freq_hz is not None:
                rule.draw_truth(canvas, part.truth.freq_hz, part.named.freq_hz)

    def _draw_along_loop(self, canvas: Canvas, box: Box) -> None:
        done, left = self._review.done.slice_db, self._review.left.slice_db
        step = box.width / len(done)
        draw_bars(
            canvas,
            box,
            list(done),
            list(left),
            lambda index: box.x + (index + 0.5) * step,
            max(1.5, step * 0.36),
        )
        words = "Level along the loop, B against A"
        start_s, seconds = 0.0, self._round.loop.seconds
        for passage in self._round.loop.passages:
            if passage.name == self._round.question.recipe.passage:
                start_s = passage.start_frame / RATE_HZ
                seconds = (passage.stop_frame - passage.start_frame) / RATE_HZ
                words = f"Level along '{passage.name}', B against A"
        draw_time_axis(canvas, box, start_s, seconds, words)

    def _loop_next_passage(self) -> None:
        """The next passage by itself, and after the last one the whole loop again."""
        passages = (*self._round.loop.passages, None)
        now = passages.index(self._looped)
        self._looped = passages[(now + 1) % len(passages)]
        if self._looped is None:
            self._desk.sound.playhead.loop_region(None)
        else:
            self._desk.sound.playhead.loop_region(self._looped.start_frame, self._looped.stop_frame)
