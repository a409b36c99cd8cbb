"""Study: what can be studied, along the rule, with what is said of it; nothing here is scored."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import pygame

from exercises.bands import BANDS, band_of
from exercises.errors import NamefirstError
from exercises.kinds import TONE, Kind
from trainer.backstage import Backstage
from trainer.study import CONFUSED_AMONG, Need, study_next
from trainer.subject import Subject, place_name
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import ALONG, HELP, UP_DOWN, VOLUME, KeyWords, beside, key_words
from trainer.window.look import (
    BODY,
    FIRST_LINE,
    HAIRLINE,
    INK,
    MARGIN,
    PLATE_GAP,
    SOFT_INK,
    TITLE,
    UNIT,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule
from trainer.window.study_notes import draw_notes
from trainer.words import ABOUT

_FIRST_BAND: Final = 3
KINDS: Final = tuple(kind for kind in Kind if kind is not Kind.NOTHING)


class StudyPage(Page):
    """A kind, and for tone a band, is chosen; its notes are read, its minute is begun."""

    def __init__(self, desk: Desk, subject: Subject | None = None) -> None:
        self._desk = desk
        self._needs: dict[Subject, Need] | None = None
        self._next: Subject | None = None
        self._chosen = subject is not None
        self._kind, self._band = Kind.TOO_MUCH, _FIRST_BAND
        if subject is not None:
            self._choose(subject)
        self._ahead: Backstage[bool] = Backstage()
        self._more = True

    @property
    def title(self) -> str:
        return "study"

    @property
    def subject(self) -> Subject:
        """What is chosen."""
        return Subject(self._kind, self._band if self._kind in TONE else None)

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words(f"1-{len(KINDS)}", "what"),
            *((key_words(ALONG, "where"),) if self._kind in TONE else ()),
            key_words("Enter", "a guided minute"),
            key_words("D"),
            VOLUME,
            HELP,
            key_words("Esc", "back"),
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        goes = self._next is not None and self._next != self.subject
        following = (key_words("T", "study: what is next"),) if goes else ()
        return beside(self.keys, key_words(UP_DOWN, "the kind before, after"), *following)

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            from trainer.window.today_page import TodayPage

            self._ahead.close()
            self._desk.sound.playhead.stop()
            return TodayPage(self._desk)
        if event.key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            return self._desk.after_level(self._begin, lambda: self)
        if event.key == pygame.K_d:
            from trainer.window.drag_page import DragPage

            self._ahead.close()
            return self._desk.after_level(lambda: DragPage(self._desk, self.subject), lambda: self)
        self._chosen = True
        if event.key in (pygame.K_LEFT, pygame.K_RIGHT) and self._kind in TONE:
            step = 1 if event.key == pygame.K_RIGHT else -1
            self._band = max(0, min(len(BANDS) - 1, self._band + step))
        elif event.key in (pygame.K_UP, pygame.K_DOWN):
            step = 1 if event.key == pygame.K_DOWN else -1
            place = KINDS.index(self._kind) + step
            self._kind = KINDS[max(0, min(len(KINDS) - 1, place))]
        elif event.key == pygame.K_t and self._next is not None:
            self._choose(self._next)
        elif event.unicode.isdecimal() and 1 <= int(event.unicode) <= len(KINDS):
            self._kind = KINDS[int(event.unicode) - 1]
        return self

    def tick(self) -> Screen | None:
        if self._needs is None and self.drawn and self._desk.drill_is_open():
            self._find_needs()
        self._measure_ahead()
        return self

    def _measure_ahead(self) -> None:
        """One loop after another, while the page is read: a minute then begins sooner."""
        if self._ahead.ready:
            try:
                self._more = self._ahead.take()
            except NamefirstError:  # a damaged loop: said when it is needed
                self._more = False
        if self._more and not self._ahead.begun and self._needs is not None:
            self._ahead.begin(lambda: self._desk.study_maker().measure_next())

    def _find_needs(self) -> None:
        """What should be studied next: once the record has been read."""
        ability = self._desk.open_drill().ability
        answers = self._desk.record.latest_answers(CONFUSED_AMONG)[::-1]
        wanted = study_next(ability, answers, self._desk.studied())
        self._needs = dict(wanted)
        if wanted:
            self._next = wanted[0][0]
            if not self._chosen:
                self._choose(self._next)

    def _state(self) -> object:
        return self.subject, self._needs is None, self._desk.sound.playhead.volume_db

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Study", self._desk.record.learner)
        canvas.text(MARGIN, FIRST_LINE, self.subject.title, face=Face.SERIF, size=TITLE)
        hint = "Listen first, be asked later: nothing here is scored."
        if self._next is not None:
            said = f"{self._next.title[0].lower()}{self._next.title[1:]}"
            hint = f"Next to study: {said} ({self._need(self._next)}).  T goes there."
        canvas.text(canvas.width - MARGIN, FIRST_LINE, hint, colour=SOFT_INK, side="right")
        self._draw_kinds(canvas, 15 * UNIT)
        self._draw_rule(canvas, 36 * UNIT)
        draw_notes(canvas, self.subject, 54 * UNIT, listen=True)
        draw_plate(canvas, foot_box(canvas, 300), "A guided minute", "Enter", main=True)
        drag = foot_box(canvas, 260, after=300 + PLATE_GAP)
        draw_plate(canvas, drag, "Drag a mark", "D")
        self._desk.sound.draw_volume(canvas)

    def _draw_kinds(self, canvas: Canvas, top: float) -> None:
        width = (canvas.width - 2 * MARGIN - UNIT * (len(KINDS) - 1)) / len(KINDS)
        for index, kind in enumerate(KINDS):
            box = Box(MARGIN + index * (width + UNIT), top, width, 8 * UNIT)
            chosen = kind is self._kind
            canvas.box(box, edge=INK if chosen else HAIRLINE, edge_width=2.5 if chosen else 1)
            face = Face.SANS_SEMIBOLD if chosen else Face.SANS
            canvas.text(box.x + 14, box.y + 25, f"{index + 1}", colour=SOFT_INK)
            canvas.text(box.x + 36, box.y + 25, kind.value, face=face, size=BODY)
            need = "" if kind in TONE else self._need(Subject(kind))
            canvas.text(box.x + 36, box.y + 47, need or ABOUT[kind], colour=SOFT_INK)
            canvas.hot(box, lambda kind=kind: self._choose_kind(kind))  # type: ignore[misc]

    def _draw_rule(self, canvas: Canvas, top: float) -> None:
        rule = Rule(Box(MARGIN, top, canvas.width - 2 * MARGIN, HEIGHT))
        tone = self._kind if self._kind in TONE else Kind.TOO_MUCH
        rule.draw(canvas, tone.value)
        if self._kind not in TONE:
            return
        rule.draw_mark(canvas, BANDS[self._band].mid_hz, place_name(self._band))
        for band in BANDS:
            words = self._need(Subject(tone, band.index))
            if Subject(tone, band.index) == self._next:
                words = f"\N{BLACK UP-POINTING TRIANGLE} {words}"
            x = rule.x_of(band.mid_hz)
            canvas.text(x, rule.box.bottom + 19, words, colour=SOFT_INK, side="centre")
        around = Box(rule.box.x, rule.box.y - 70, rule.box.width, rule.box.height + 96)
        canvas.hot_at(around, lambda x, _y: self._choose_band(rule.freq_at(x)))

    def _need(self, subject: Subject) -> str:
        """Why a subject should be studied, in a word; empty where it need not be."""
        need = (self._needs or {}).get(subject)
        return need.value if need else ""

    def _choose(self, subject: Subject) -> None:
        self._kind = subject.kind
        if subject.band_index is not None:
            self._band = subject.band_index

    def _choose_kind(self, kind: Kind) -> None:
        self._kind, self._chosen = kind, True

    def _choose_band(self, freq_hz: float) -> None:
        self._band, self._chosen = band_of(freq_hz).index, True

    def _begin(self) -> Screen:
        from trainer.window.guided_page import GuidedPage, Way, heading_of

        self._ahead.close()
        subject, desk = self.subject, self._desk
        desk.open_study(subject)

        def back() -> Screen:
            return StudyPage(desk, subject)

        return GuidedPage(desk, subject, Way(heading_of(subject), "back to the list", back, back))
