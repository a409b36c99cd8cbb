"""Where is it? The change sits somewhere else each time, and is pointed at, blind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import pygame

from exercises.bands import read_hz
from exercises.errors import NamefirstError
from trainer.backstage import Backstage
from trainer.claim import POINTINGS, Stage
from trainer.window.canvas import Box, Canvas
from trainer.window.claim_letters import draw_letters
from trainer.window.claim_trouble_page import ClaimTroublePage
from trainer.window.claim_under_way import ClaimUnderWay
from trainer.window.claim_verdict_page import ClaimVerdictPage
from trainer.window.frame import Screen, draw_head, draw_plate, foot_box
from trainer.window.keys import ALONG, FINE, HELP, VOLUME, KeyWords, beside, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    HEADING_STEP,
    MARGIN,
    SMALL,
    SOFT_INK,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule, pointed_hz, stepped_hz, typed_words

if TYPE_CHECKING:
    from exercises.with_and_without import Pair

_TYPED_KEYS: Final = "0123456789.,k"


class ClaimPointingPage(Page):
    """A mark on the rule for each change; the last leads to the verdict."""

    def __init__(self, way: ClaimUnderWay) -> None:
        self._way = way
        self._next: Screen = self
        self._mark_hz: float | None = None
        self._typed = ""
        self._rendering: Backstage[Pair] = Backstage()
        way.desk.sound.playhead.stop()
        self._make()

    @property
    def title(self) -> str:
        return f"claim: where is it? {self._way.claim.number}"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("Space"),
            key_words("Tab"),
            key_words(f"0-9 . k {ALONG}", "where"),
            key_words("Enter", "there"),
            key_words("G", "skip it: the verdict"),
            VOLUME,
            HELP,
            key_words("Esc", self._way.leave_words),
        )

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        return beside(
            self.keys,
            key_words("A"),
            key_words("B"),
            key_words(FINE, "move the mark by a hair"),
            key_words("Backspace", "take back a figure"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        key, letter = event.key, event.unicode.lower()
        sound = self._way.desk.sound
        if key == pygame.K_ESCAPE:
            self._rendering.close()
            return self._way.desk.leave_drill()
        if letter == "g":
            self._way.claim.skip_pointing()
            self._finish()
        elif key in (pygame.K_RETURN, pygame.K_KP_ENTER):
            self._point()
        elif key in (pygame.K_LEFT, pygame.K_RIGHT):
            fine = bool(event.mod & pygame.KMOD_SHIFT)
            direction = 1 if key == pygame.K_RIGHT else -1
            self._mark(stepped_hz(self._mark_hz, direction, fine=fine))
        elif key == pygame.K_BACKSPACE:
            self._type(self._typed[:-1])
        elif letter and letter in "ab":
            sound.choose(letter.upper())
        elif key == pygame.K_TAB:
            sound.next_of(("A", "B"))
        elif letter and letter in _TYPED_KEYS:
            self._type((self._typed + letter)[:7])
        return self._next

    def tick(self) -> Screen | None:
        if self._rendering.ready:
            try:
                pair = self._rendering.take()
            except NamefirstError as error:
                self._rendering.close()
                return ClaimTroublePage(self._way.desk, str(error), self._way.back)
            self._way.desk.sound.take({"B": pair.b, "A": pair.a})
        return self._next

    def _state(self) -> object:
        playhead = self._way.desk.sound.playhead
        return (
            len(self._way.claim.points),
            self._mark_hz,
            self._typed,
            self._rendering.begun,
            playhead.current,
            playhead.playing,
            playhead.volume_db,
        )

    def _draw(self, canvas: Canvas) -> None:
        from trainer.claim_words import POINTING_RULES

        draw_head(canvas, "Claim", self._way.desk.record.learner)
        canvas.text(MARGIN, DISPLAY_LINE, "Where does B differ?", face=Face.SERIF, size=DISPLAY)
        canvas.text(
            canvas.width - MARGIN,
            DISPLAY_LINE,
            f"pointing {self._way.claim.number} of {POINTINGS}",
            size=BODY,
            colour=SOFT_INK,
            side="right",
        )
        canvas.paragraph(
            MARGIN,
            DISPLAY_LINE + HEADING_STEP,
            POINTING_RULES,
            width=canvas.width - 2 * MARGIN,
            size=SMALL,
            colour=SOFT_INK,
        )
        if not self._rendering.begun:
            beneath = {"A": "as it is", "B": "with the change, somewhere"}
            draw_letters(canvas, self._way.desk.sound, beneath, top=200)
        hint = "type it, point, or step with the arrows"
        if self._typed:
            hint = typed_words(self._typed)
        canvas.text(MARGIN, 400, hint, colour=SOFT_INK)
        rule = Rule(Box(MARGIN, 500, canvas.width - 2 * MARGIN, HEIGHT))
        rule.draw(canvas, "too little" if self._way.case.evidence.hollow else "too much")
        if self._mark_hz is not None:
            rule.draw_mark(canvas, self._mark_hz)
        around = Box(rule.box.x, rule.box.y - 80, rule.box.width, rule.box.height + 80)
        canvas.hot_at(around, lambda x, _y: self._mark(rule.freq_at(x)))
        draw_plate(
            canvas,
            foot_box(canvas, 240),
            "There",
            "Enter",
            main=True,
        )
        draw_plate(canvas, foot_box(canvas, 300, after=256), "Skip it", "G")
        self._way.desk.sound.draw_volume(canvas)

    def _make(self) -> None:
        case, place_hz = self._way.case, self._way.claim.place_hz
        self._mark_hz, self._typed = None, ""
        self._rendering.begin(lambda: case.pair_at(place_hz))

    def _mark(self, freq_hz: float) -> None:
        self._typed = ""
        self._mark_hz = pointed_hz(freq_hz)

    def _type(self, typed: str) -> None:
        self._typed = typed
        freq_hz = read_hz(typed)
        if freq_hz is not None:
            self._mark_hz = freq_hz

    def _point(self) -> None:
        if self._mark_hz is None or (self._typed and read_hz(self._typed) is None):
            self._way.desk.say("Point at a place first: type it, click, or use the arrows.")
            return
        if self._rendering.begun:
            return
        self._way.claim.point(self._mark_hz)
        self._way.keep()
        if self._way.claim.stage is Stage.OVER:
            self._finish()
        else:
            self._make()

    def _finish(self) -> None:
        self._rendering.close()
        self._next = ClaimVerdictPage(self._way)
