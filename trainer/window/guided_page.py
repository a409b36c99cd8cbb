"""The guided minute: one thing to listen for after another, heard and said. Nothing is scored."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import pygame

from exercises.bands import octaves
from exercises.errors import NamefirstError
from exercises.kinds import TONE
from trainer.backstage import Backstage
from trainer.guided_minute import GuidedMinute, Step
from trainer.study import finest_db
from trainer.study_texts import text_of
from trainer.subject import Subject, subject_of
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, draw_waiting
from trainer.window.keys import ALONG, HELP, VOLUME, KeyWords, beside, key_words
from trainer.window.listening import BENEATH, ONWARD_HIGH, ONWARD_TOP, Plate, draw_listening
from trainer.window.look import (
    BODY,
    HEADING,
    HEADING_STEP,
    MARGIN,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule
from trainer.window.study_notes import draw_notes, draw_side_by_side
from trainer.window.wave import Wave
from trainer.words import clock_words

if TYPE_CHECKING:
    from trainer.study_sounds import StepSounds


_PLATE: Final = 250.0


@dataclass(frozen=True, slots=True)
class Way:
    """Where a minute leads: ``onward`` when it is over or skipped (``words`` say where that is),
    ``leave`` on Esc; ``heading`` stands in the head line."""

    heading: str
    words: str
    onward: Callable[[], Screen]
    leave: Callable[[], Screen]

    @property
    def skips(self) -> bool:
        """Whether a minute that is skipped leads elsewhere than one that is left."""
        return self.onward != self.leave


@dataclass(frozen=True, slots=True)
class _Made:
    """All steps, and the sounds of one of them."""

    steps: tuple[Step, ...]
    at: int
    sounds: StepSounds


class GuidedPage(Page):
    """Plays the steps of a minute one after another; each is made while the one before sounds."""

    def __init__(
        self, desk: Desk, subject: Subject | None, way: Way, steps: tuple[Step, ...] = ()
    ) -> None:
        """A minute on ``subject``; or the ``steps`` given, with the notes of what they compare."""
        self._desk = desk
        self._subject = subject
        self._compares = bool(steps)
        self._way = way
        self._backstage: Backstage[_Made] = Backstage()
        self._ready: dict[int, StepSounds] = {}
        self._minute: GuidedMinute | None = None
        self._sounding: int | None = None
        self._counted_s = 0.0
        self._wave: Wave | None = None
        self._trouble = ""
        desk.sound.playhead.stop()
        self._make(steps, 0)

    @property
    def title(self) -> str:
        return "study"

    @property
    def keys(self) -> Sequence[KeyWords]:
        names = [part.name for part in self._minute.step.parts] if self._minute else []
        numbers = [name for name in names if name.isdigit()]
        return (
            key_words("Space"),
            key_words("Tab", "the next to hear"),
            *(key_words(name) for name in names if name not in numbers),
            *((key_words(f"1-{len(numbers)}", "hear one"),) if numbers else ()),
            key_words("Enter", self._onward),
            key_words(ALONG, "step back, on"),
            *((key_words("G", f"skip it: {self._way.words}"),) if self._way.skips else ()),
            VOLUME,
            HELP,
            *(() if self._way.skips else (self._leave_key,)),
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(self.keys, *((self._leave_key,) if self._way.skips else ()))

    @property
    def _leave_key(self) -> KeyWords:
        return key_words("Esc", "leave" if self._way.skips else self._way.words)

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            return self._close(self._way.leave)
        if event.key == pygame.K_g and self._way.skips:
            return self._close(self._way.onward)
        minute = self._minute
        if minute is None:
            return self
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER, pygame.K_RIGHT):
            if minute.over:
                return self._close(self._way.onward)
            self._turn_to(minute, minute.go_on)
        elif event.key == pygame.K_LEFT:
            self._turn_to(minute, minute.go_back)
        elif event.key == pygame.K_TAB:
            names = [part.name for part in minute.step.parts]
            self._hear(names[(names.index(minute.part) + 1) % len(names)])
        elif event.unicode.upper() in {part.name for part in minute.step.parts}:
            self._hear(event.unicode.upper())
        return self

    def tick(self) -> Screen | None:
        if self._backstage.ready:
            try:
                self._take(self._backstage.take())
            except NamefirstError as error:
                self._trouble = str(error)
        if self._minute is not None:
            self._follow(self._minute)
        return self

    def move(self, canvas: Canvas) -> list[pygame.Rect]:
        if self._wave is None or not self._shows_a_step:
            return []
        return self._wave.move(canvas, self._desk.sound.playhead.position_frames)

    def _state(self) -> object:
        playhead, minute = self._desk.sound.playhead, self._minute
        return (
            self._trouble,
            self._sounding,
            minute and (minute.number, minute.over, minute.held, minute.part, self._left()),
            playhead.current,
            playhead.playing,
            playhead.volume_db,
        )

    def _draw(self, canvas: Canvas) -> None:
        minute = self._minute
        draw_head(canvas, self._way.heading, self._left())
        if minute is None or self._wave is None or not self._shows_a_step:
            draw_waiting(canvas, self._trouble, "The minute cannot be made.")
            if self._subject is not None:
                canvas.text(MARGIN, BENEATH, self._subject.title, face=Face.SERIF, size=HEADING)
                draw_notes(canvas, self._subject, BENEATH + HEADING_STEP, listen=True)
            return
        step = minute.step
        wide = 136.0 if len(step.parts) < 4 else 92.0
        draw_listening(
            canvas,
            self._ready[minute.number - 1].loop.title,
            [Plate(part.name, part.name, "", part.words, wide) for part in step.parts],
            self._desk.sound,
            self._hear,
            self._wave,
        )
        title = f"{minute.number}.  {step.title}" if len(minute.steps) > 1 else step.title
        canvas.text(MARGIN, BENEATH, title, face=Face.SERIF, size=HEADING)
        said = "That was it. Nothing was scored." if minute.over else step.listen
        below = canvas.paragraph(
            MARGIN,
            BENEATH + HEADING_STEP,
            said,
            width=canvas.width - 2 * MARGIN - _PLATE - 4 * UNIT,
            size=BODY,
        )
        onward = self._onward.capitalize()
        box = Box(canvas.width - MARGIN - _PLATE, ONWARD_TOP, _PLATE, ONWARD_HIGH)
        draw_plate(canvas, box, onward, "Enter", main=True)
        if self._compares:
            draw_side_by_side(canvas, _compared(step), below + UNIT)
        elif self._subject is not None:
            draw_notes(canvas, self._subject, below + UNIT, listen=False)
        self._draw_rule(canvas, step)
        self._desk.sound.draw_volume(canvas)

    def _draw_rule(self, canvas: Canvas, step: Step) -> None:
        """The rule with what sounds marked on it, where it has a place."""
        places: dict[float, str] = {}
        for part in step.parts:
            if part.problem is not None and part.problem.freq_hz is not None:
                known = [hz for hz in places if abs(octaves(hz, part.problem.freq_hz)) < 0.02]
                places.setdefault(known[0] if known else part.problem.freq_hz, part.name)
        if not places:
            return
        rule = Rule(Box(MARGIN, 71 * UNIT, canvas.width - 2 * MARGIN, HEIGHT))
        problems = {part.name: part.problem for part in step.parts if part.problem is not None}
        kinds = {problem.kind for problem in problems.values()}
        # The words are those of what sounds; of what was there, while A or a level does.
        heard = problems.get(self._desk.sound.letter, next(iter(problems.values())))
        if heard.kind not in TONE:
            heard = next(problem for problem in problems.values() if problem.kind in TONE)
        rule.draw(canvas, heard.kind.value)
        alone = len(places) == len(kinds) == 1
        for freq_hz, name in places.items():
            rule.draw_aside(canvas, freq_hz, "here" if alone else name)

    def _left(self) -> str:
        if self._minute is None:
            return ""
        return f"{clock_words(self._minute.seconds_left)} left" if not self._minute.over else ""

    def _make(self, steps: tuple[Step, ...], at: int) -> None:
        maker, subject = self._desk.study_maker, self._subject
        finest = None
        if subject is not None and not steps:
            finest = finest_db(subject, self._desk.open_drill().ability)

        def make() -> _Made:
            planned = steps
            if not planned and subject is not None:
                planned = maker().steps_of(subject, finest)
            return _Made(planned, at, maker().sounds_of(planned[at]))

        self._backstage.begin(make)

    def _take(self, made: _Made) -> None:
        self._ready[made.at] = made.sounds
        if self._minute is None:
            self._minute = GuidedMinute(made.steps)
        if made.at + 1 < len(made.steps):
            self._make(made.steps, made.at + 1)

    def _follow(self, minute: GuidedMinute) -> None:
        """Lets the sound follow the minute, and the minute the seconds that were heard."""
        sound, at = self._desk.sound, minute.number - 1
        if minute.over:
            return
        if self._sounding != at:
            if at not in self._ready:
                sound.playhead.stop()
                return
            ready = self._ready[at]
            sound.take(dict(ready.sounds))
            sound.choose(minute.part)
            self._wave = Wave(next(iter(ready.sounds.values())), ready.loop.passages)
            self._sounding, self._counted_s = at, sound.playhead.seconds_played
            return
        heard_s = sound.playhead.seconds_played
        minute.pass_time(heard_s - self._counted_s)
        self._counted_s = heard_s
        if minute.over:
            sound.playhead.stop()
        elif minute.number - 1 != at:
            self._follow(minute)
        elif minute.part != sound.letter:
            sound.choose(minute.part)

    @property
    def _onward(self) -> str:
        """What Enter leads to."""
        minute = self._minute
        if minute is not None and minute.over:
            return self._way.words
        return "done" if minute is not None and minute.number == len(minute.steps) else "next step"

    @property
    def _shows_a_step(self) -> bool:
        """Whether the step that the minute is at is made and sounds, or has just sounded."""
        return self._minute is not None and self._sounding == self._minute.number - 1

    def _turn_to(self, minute: GuidedMinute, turn: Callable[[], None]) -> None:
        """Another step by hand, from its beginning; the end of all falls silent."""
        turn()
        if minute.over:
            self._desk.sound.playhead.stop()
        else:
            self._sounding = None

    def _hear(self, name: str) -> None:
        minute = self._minute
        if minute is None or not self._shows_a_step:
            return
        if not minute.over:
            minute.choose(name)
        self._desk.sound.choose(name)

    def _close(self, then: Callable[[], Screen]) -> Screen:
        self._backstage.close()
        self._desk.sound.playhead.stop()
        return then()


def _compared(step: Step) -> list[tuple[str, Subject]]:
    """What is compared in a step: the name of its part with each subject, once each."""
    found: dict[Subject, str] = {}
    for part in step.parts:
        if part.problem is not None:
            subject = subject_of(part.problem.kind, part.problem.freq_hz)
            if subject is not None:
                found[subject] = f"{found[subject]}, {part.name}" if subject in found else part.name
    return [(names, subject) for subject, names in found.items()]


def heading_of(subject: Subject) -> str:
    """The head line of a subject's minute."""
    return f"Study  \N{MIDDLE DOT}  {subject.title}: {text_of(subject).words[0]}"
