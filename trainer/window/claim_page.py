"""A claim in the window: what was measured, blind trials, blind pointings, and the verdict."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from datetime import datetime
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING

import pygame

from exercises.bands import read_hz, show_hz
from exercises.errors import NamefirstError
from trainer.backstage import Backstage
from trainer.claim import POINTINGS, Claim, Stage
from trainer.record import RecordError
from trainer.sequential_test import Outcome
from trainer.window.canvas import Box, Canvas
from trainer.window.claim_picture import draw_points, draw_told
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate
from trainer.window.keys import ALONG, FINE, HELP, UNKNOWN, VOLUME, KeyWords, beside, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    HAIRLINE,
    HEADING,
    INK,
    LETTER,
    MARGIN,
    PAPER,
    SHADE,
    SMALL,
    SOFT_INK,
    TITLE,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule, pointed_hz

if TYPE_CHECKING:
    from exercises.stretch import Asked
    from exercises.with_and_without import Pair, PointFilter
    from trainer.claim_case import Case

_STEP_OCTAVES = 1.0 / 12.0
_FINE_STEP_OCTAVES = 1.0 / 48.0
_FIRST_MARK_HZ = 1000.0
_TYPED_KEYS = "0123456789.,k"


class View(Enum):
    """What the page shows; the value is the window's title."""

    MEASURING = "measuring"
    EVIDENCE = "is it there?"
    TRIALS = "is it heard?"
    POINTING = "where is it?"
    VERDICT = "verdict"
    TROUBLE = "no claim"


class ClaimPage(Page):
    """One claim from its measurement to its verdict; every answer is on disk at once."""

    def __init__(
        self,
        desk: Desk,
        file: str,
        asked: Asked,
        change: PointFilter,
        report: Path | None = None,
    ) -> None:
        self._desk = desk
        self._view = View.MEASURING
        self._freq_hz = change.freq_hz
        self._report = report
        self._case: Case | None = None
        self._claim = Claim(change.freq_hz, secrets.randbelow(2**31))
        self._begun = datetime.now().astimezone()
        self._mark_hz: float | None = None
        self._typed = ""
        self._trouble = ""
        self._opening: Backstage[Case] = Backstage()
        self._rendering: Backstage[Pair] = Backstage()
        desk.sound.playhead.stop()
        self._opening.begin(lambda: _open(desk, file, asked, change))

    @property
    def title(self) -> str:
        number = f" {self._claim.number}" if self._view in (View.TRIALS, View.POINTING) else ""
        return f"claim: {self._view.value}{number}"

    @property
    def keys(self) -> Sequence[KeyWords]:
        own: dict[View, tuple[KeyWords, ...]] = {
            View.EVIDENCE: (key_words("Enter", "put it to the test"), VOLUME),
            View.TRIALS: (
                key_words("Space"),
                key_words("A"),
                key_words("B"),
                key_words("X", *UNKNOWN),
                key_words("Tab", "the next to hear"),
                key_words(f"1 {ALONG[0]}", "X is A"),
                key_words(f"2 {ALONG[-1]}", "X is B"),
                VOLUME,
            ),
            View.POINTING: (
                key_words("Space"),
                key_words("Tab"),
                key_words(f"0-9 . k {ALONG}", "where"),
                key_words("Enter", "there"),
                key_words("G", "skip it: the verdict"),
                VOLUME,
            ),
            View.VERDICT: (
                key_words("Enter", "back"),
                key_words("Ctrl S"),
                *((key_words("1", "point at it all the same"),) if self._may_point else ()),
            ),
            View.TROUBLE: (key_words("Enter", "back"),),
        }
        under_way = self._claim.trials and self._view in (View.TRIALS, View.POINTING)
        leave = "leave; what was answered is kept" if under_way else "back"
        return (*own.get(self._view, ()), HELP, key_words("Esc", leave))

    @property
    def all_keys(self) -> Sequence[KeyWords]:
        if self._view is not View.POINTING:
            return self.keys
        return beside(
            self.keys,
            key_words("A"),
            key_words("B"),
            key_words(FINE, "move the mark by a hair"),
            key_words("Backspace", "take back a figure"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        saves = event.key == pygame.K_s and bool(event.mod & pygame.KMOD_CTRL)
        enter = event.key in (pygame.K_RETURN, pygame.K_KP_ENTER)
        if event.key == pygame.K_ESCAPE or (enter and self._view in (View.VERDICT, View.TROUBLE)):
            return self._leave()
        letter = event.unicode.lower()
        if self._view is View.EVIDENCE and enter:
            self._begin_trials()
        elif self._view is View.TRIALS:
            self._trial_key(event.key, letter)
        elif self._view is View.POINTING:
            self._pointing_key(event, letter, enter=enter)
        elif self._view is View.VERDICT and saves:
            self._save()
        elif self._view is View.VERDICT and letter == "1" and self._may_point:
            self._begin_pointing()
        return self

    def tick(self) -> Screen | None:
        try:
            if self._opening.ready:
                self._case = self._opening.take()
                self._view = View.EVIDENCE
            if self._rendering.ready:
                pair = self._rendering.take()
                self._desk.sound.take({"B": pair.b, "A": pair.a})
        except NamefirstError as error:
            self._trouble, self._view = str(error), View.TROUBLE
        return self

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        claim = self._claim
        return (
            self._view,
            len(claim.trials),
            len(claim.points),
            self._mark_hz,
            self._typed,
            self._rendering.begun,
            playhead.current,
            playhead.playing,
            playhead.volume_db,
        )

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Claim", self._desk.record.learner)
        case = self._case
        if case is None or self._view is View.TROUBLE:
            self._draw_waiting(canvas)
        else:
            draw: dict[View, Callable[[Canvas, Case], None]] = {
                View.EVIDENCE: self._draw_evidence,
                View.TRIALS: self._draw_trials,
                View.POINTING: self._draw_pointing,
                View.VERDICT: self._draw_verdict,
            }
            draw[self._view](canvas, case)

    # What is drawn ----------------------------------------------------------------------------

    def _draw_waiting(self, canvas: Canvas) -> None:
        if self._trouble:
            canvas.text(MARGIN, 140, "This cannot be tested.", face=Face.SERIF, size=TITLE)
            canvas.paragraph(MARGIN, 184, self._trouble, width=canvas.width - 2 * MARGIN, size=BODY)
            return
        words = f"Looking near {show_hz(self._freq_hz)} \N{HORIZONTAL ELLIPSIS}"
        canvas.text(MARGIN, 140, words, face=Face.SERIF, size=TITLE, colour=SOFT_INK)

    def _draw_evidence(self, canvas: Canvas, case: Case) -> None:
        from trainer.claim_words import change_sentence, claim_sentence, evidence_sentences
        from trainer.window.spectrum_picture import draw_parts, draw_spectrum

        width = canvas.width - 2 * MARGIN
        baseline = canvas.paragraph(
            MARGIN, 98, claim_sentence(case), width=width, face=Face.SERIF, size=HEADING
        )
        for sentence in evidence_sentences(case.evidence)[:-1]:
            baseline = canvas.paragraph(MARGIN, baseline, sentence, width=width, size=SMALL)
        canvas.paragraph(
            MARGIN, baseline, change_sentence(case), width=width, size=SMALL, colour=SOFT_INK
        )
        rule = Rule(Box(MARGIN, 470, width, HEIGHT))
        draw_spectrum(canvas, Box(MARGIN, 256, width, 204), rule, case.evidence)
        rule.draw(canvas, "too little" if case.evidence.hollow else "too much")
        draw_parts(canvas, Box(MARGIN, 576, width - 330, 132), case.evidence)
        draw_plate(
            canvas, Box(canvas.width - MARGIN - 300, 600, 300, 62), "Test it", "Enter", main=True
        )

    def _draw_trials(self, canvas: Canvas, case: Case) -> None:
        from trainer.claim_words import RULES, change_sentence

        claim, most = self._claim, self._claim.rule.most
        canvas.text(MARGIN, 110, "Is X A, or is it B?", face=Face.SERIF, size=DISPLAY)
        canvas.text(
            canvas.width - MARGIN,
            110,
            f"trial {claim.number}, of {most} at most",
            size=BODY,
            colour=SOFT_INK,
            side="right",
        )
        canvas.text(MARGIN, 150, change_sentence(case), size=BODY, colour=SOFT_INK)
        beneath = {"A": "as it is", "B": "with the change", "X": "one of the two"}
        self._draw_letters(canvas, beneath, top=190)
        for index, letter in enumerate("AB"):
            box = Box(MARGIN + index * 316, 360, 300, 74)
            cap = "1 \N{LEFTWARDS ARROW}" if letter == "A" else "2 \N{RIGHTWARDS ARROW}"
            canvas.box(box, edge=INK, edge_width=2)
            canvas.text(box.x + 20, box.y + 46, f"X is {letter}", face=Face.SERIF, size=HEADING)
            canvas.text(box.right - 18, box.y + 44, cap, size=SMALL, colour=SOFT_INK, side="right")
            canvas.hot(box, lambda letter=letter: self._say(letter))  # type: ignore[misc]
        done = len(claim.trials)
        step = (canvas.width - 2 * MARGIN) / most
        for index in range(most):
            box = Box(MARGIN + index * step, 474, step - 5, 12)
            canvas.box(box, fill=INK if index < done else None, edge=HAIRLINE, radius=2)
        baseline = 530.0
        for rule in RULES:
            baseline = canvas.paragraph(
                MARGIN, baseline, rule, width=canvas.width - 2 * MARGIN, size=SMALL, colour=SOFT_INK
            )
        self._desk.sound.draw_volume(canvas, canvas.height - 110)

    def _draw_pointing(self, canvas: Canvas, case: Case) -> None:
        from trainer.claim_words import POINTING_RULES

        canvas.text(MARGIN, 110, "Where does B differ?", face=Face.SERIF, size=DISPLAY)
        canvas.text(
            canvas.width - MARGIN,
            110,
            f"pointing {self._claim.number} of {POINTINGS}",
            size=BODY,
            colour=SOFT_INK,
            side="right",
        )
        canvas.paragraph(
            MARGIN,
            148,
            POINTING_RULES,
            width=canvas.width - 2 * MARGIN,
            size=SMALL,
            colour=SOFT_INK,
        )
        if not self._rendering.begun:
            beneath = {"A": "as it is", "B": "with the change, somewhere"}
            self._draw_letters(canvas, beneath, top=220)
        hint = "type it, point, or step with the arrows"
        if self._typed:
            hint = self._typed + " Hz" + ("" if read_hz(self._typed) else "  (20 Hz to 20 kHz)")
        canvas.text(MARGIN, 400, hint, colour=SOFT_INK)
        rule = Rule(Box(MARGIN, 500, canvas.width - 2 * MARGIN, HEIGHT))
        rule.draw(canvas, "too little" if case.evidence.hollow else "too much")
        if self._mark_hz is not None:
            rule.draw_mark(canvas, self._mark_hz)
        around = Box(rule.box.x, rule.box.y - 80, rule.box.width, rule.box.height + 80)
        canvas.hot_at(around, lambda x, _y: self._mark(rule.freq_at(x)))
        draw_plate(canvas, Box(MARGIN, 620, 240, 54), "There", "Enter", main=True)
        draw_plate(canvas, Box(MARGIN + 256, 620, 300, 54), "Skip it", "G")
        self._desk.sound.draw_volume(canvas, 654)

    def _draw_verdict(self, canvas: Canvas, case: Case) -> None:
        from trainer.claim_words import aim_sentences, claim_sentence, outcome_sentences
        from trainer.claim_words import evidence_sentences as measured

        width = canvas.width - 2 * MARGIN
        verdict, *figures = outcome_sentences(self._claim)
        canvas.text(MARGIN, 96, claim_sentence(case), size=SMALL, colour=SOFT_INK)
        canvas.text(MARGIN, 142, verdict, face=Face.SERIF, size=DISPLAY)
        baseline = 180.0
        for sentence in figures:
            baseline = canvas.paragraph(MARGIN, baseline, sentence, width=width, size=SMALL)
        baseline = draw_told(canvas, self._claim.trials, baseline + 14)
        found = measured(case.evidence)
        for sentence in (*aim_sentences(self._claim, case.evidence), found[0], found[-1]):
            baseline = canvas.paragraph(MARGIN, baseline, sentence, width=width, size=SMALL)
        if self._claim.points:
            draw_points(canvas, Rule(Box(MARGIN, 546, width, HEIGHT)), self._claim.points)
        draw_plate(canvas, Box(MARGIN, 648, 240, 50), "Back", "Enter", main=True)
        draw_plate(canvas, Box(MARGIN + 256, 648, 320, 50), "Save the report", "Ctrl S")
        if self._may_point:
            box = Box(MARGIN + 592, 648, 380, 50)
            draw_plate(canvas, box, "Point at it all the same", "1")

    def _draw_letters(self, canvas: Canvas, beneath: dict[str, str], top: float) -> None:
        sound = self._desk.sound
        for index, (letter, words) in enumerate(beneath.items()):
            box = Box(MARGIN + index * 200, top, 184, 96)
            sounding = letter == sound.letter
            canvas.box(box, fill=INK if sounding else SHADE)
            ink = PAPER if sounding else INK
            canvas.text(
                box.x + 22, box.y + 64, letter, face=Face.SERIF_SEMIBOLD, size=LETTER, colour=ink
            )
            if sounding:
                state = "playing" if sound.playhead.playing else "chosen"
                canvas.text(box.x + 84, box.y + 42, state, colour=ink, size=SMALL)
            canvas.text(box.x + 14, box.bottom + 24, words, colour=SOFT_INK)
            canvas.hot(box, lambda letter=letter: sound.choose(letter))  # type: ignore[misc]

    # What is done -----------------------------------------------------------------------------

    def _begin_trials(self) -> None:
        if not self._desk.has_level:
            self._desk.say("The volume is low to begin with: turn it up with + as far as you need.")
        self._view = View.TRIALS
        self._load_trial()

    def _load_trial(self) -> None:
        from trainer.claim_terminal import sounds_of_trial

        assert self._case is not None
        self._desk.sound.take(sounds_of_trial(self._case, self._claim))

    def _trial_key(self, key: int, letter: str) -> None:
        if letter and letter in "abx":
            self._desk.sound.choose(letter.upper())
        elif key == pygame.K_TAB:
            self._desk.sound.next_of(("A", "B", "X"))
        elif letter == "1" or key == pygame.K_LEFT:
            self._say("A")
        elif letter == "2" or key == pygame.K_RIGHT:
            self._say("B")

    def _say(self, letter: str) -> None:
        if not self._desk.sound.heard_s("X"):
            self._desk.say("Listen to X first.")
            return
        assert self._case is not None
        self._claim.say_x(letter)
        self._keep()
        if self._claim.stage is Stage.TRIALS:
            self._load_trial()
        elif self._claim.outcome is Outcome.HEARD:
            self._begin_pointing()
        else:
            self._finish()  # what was not shown to be heard may be pointed at, but need not be

    @property
    def _may_point(self) -> bool:
        """Whether pointing is left to be done, and offered."""
        return self._claim.stage is Stage.POINTING

    def _begin_pointing(self) -> None:
        self._desk.sound.playhead.stop()
        self._view = View.POINTING
        self._make_pointing()

    def _make_pointing(self) -> None:
        case, place_hz = self._case, self._claim.place_hz
        assert case is not None
        self._mark_hz, self._typed = None, ""
        self._rendering.begin(lambda: case.pair_at(place_hz))

    def _pointing_key(self, event: pygame.event.Event, letter: str, *, enter: bool) -> None:
        key, shift = event.key, bool(event.mod & pygame.KMOD_SHIFT)
        if letter == "g":
            self._claim.skip_pointing()
            self._finish()
        elif enter:
            self._point()
        elif key in (pygame.K_LEFT, pygame.K_RIGHT):
            step = _FINE_STEP_OCTAVES if shift else _STEP_OCTAVES
            direction = 1 if key == pygame.K_RIGHT else -1
            now = self._mark_hz
            self._mark(_FIRST_MARK_HZ if now is None else now * 2.0 ** (direction * step))
        elif key == pygame.K_BACKSPACE:
            self._type(self._typed[:-1])
        elif letter and letter in "ab":
            self._desk.sound.choose(letter.upper())
        elif key == pygame.K_TAB:
            self._desk.sound.next_of(("A", "B"))
        elif letter and letter in _TYPED_KEYS:
            self._type((self._typed + letter)[:7])

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
            self._desk.say("Point at a place first: type it, click, or use the arrows.")
            return
        if self._rendering.begun:
            return
        self._claim.point(self._mark_hz)
        self._keep()
        if self._claim.stage is Stage.OVER:
            self._finish()
        else:
            self._make_pointing()

    def _finish(self) -> None:
        self._desk.sound.playhead.stop()
        self._view = View.VERDICT
        if self._report is not None:
            self._save()

    def _keep(self) -> None:
        from trainer.kept_claims import keep_claim

        assert self._case is not None
        try:
            keep_claim(self._desk.record, self._case, self._claim, self._begun)
        except RecordError:
            self._claim.take_back()
            raise

    def _save(self) -> None:
        from trainer.claim_command import save_report
        from trainer.home import home_folder

        assert self._case is not None
        path = self._report
        if path is None:
            place = show_hz(self._freq_hz).replace(" ", "-")
            path = home_folder() / "claims" / f"{self._begun:%Y-%m-%d-%H%M%S}-{place}.html"
        save_report(path, self._case, self._claim, self._desk.record.learner)
        self._desk.say(f"The report is written to {path}.")

    def _leave(self) -> Screen:
        self._opening.close()
        self._rendering.close()
        return self._desk.leave_drill()


def _open(desk: Desk, file: str, asked: Asked, change: PointFilter) -> Case:
    from trainer.claim_case import open_case

    return open_case(desk.shelf, file, asked, change)
