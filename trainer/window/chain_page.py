"""The chain check in the window: bursts are counted, and what reaches the ear is kept by output."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from datetime import datetime

import pygame

from exercises.bands import BANDS
from exercises.samples import RATE_HZ, Samples
from trainer.backstage import Backstage
from trainer.chain import ChainCheck, Presentation, Reach, is_believable
from trainer.chain_words import (
    NO_HEARING_TEST,
    RULES,
    check_sentence,
    reach_sentence,
    void_sentence,
)
from trainer.kept_chains import (
    KeptCheck,
    checked_outputs,
    keep_check,
    latest_check,
    output_in_use,
    use_output,
)
from trainer.window.canvas import Box, Canvas
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate, draw_waiting
from trainer.window.keys import HELP, UP_DOWN, VOLUME, KeyWords, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    FIRST_LINE,
    FOOT_HIGH,
    FOOT_PLATES,
    HAIRLINE,
    HEADING,
    INK,
    LETTER,
    MARGIN,
    SHADE,
    SMALL,
    SOFT_INK,
    TITLE,
    TITLE_STEP,
    Face,
)
from trainer.window.page import Page
from trainer.window.rule import HEIGHT, Rule

USUAL_OUTPUTS = ("headphones", "loudspeakers", "laptop", "phone")
_MOST_OUTPUTS = 7


class ChainPage(Page):
    """Which output is it, then the bursts, then how each band came out."""

    def __init__(self, desk: Desk, output: str | None = None) -> None:
        self._desk = desk
        self._outputs = _outputs(desk, output)
        self._chosen = 0
        self._check: ChainCheck | None = None
        self._train: Backstage[Samples] = Backstage()
        self._bursts: dict[str, Samples] = {}
        self._kept: KeptCheck | None = None
        self._void = ""
        desk.sound.playhead.stop()

    @property
    def title(self) -> str:
        if self._check is None:
            return "chain check"
        return "chain check done" if self._over else f"burst {len(self._check.counted) + 1}"

    @property
    def _over(self) -> bool:
        return self._kept is not None or bool(self._void)

    @property
    def keys(self) -> Sequence[KeyWords]:
        if self._check is None:
            return (
                key_words(UP_DOWN, "which output"),
                key_words("Enter", "check it"),
                key_words("U"),
                VOLUME,
                HELP,
                key_words("Esc", "back"),
            )
        if self._over:
            again = key_words("K", "chain check: again")
            return key_words("Enter", "back"), again, HELP, key_words("Esc", "back")
        return (
            key_words("0-3", "how many bursts"),
            key_words("Space", "hear it again"),
            VOLUME,
            HELP,
            key_words("Esc", "leave; nothing is kept"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            return self._leave()
        enter = event.key in (pygame.K_RETURN, pygame.K_KP_ENTER)
        letter = event.unicode.lower()
        if self._check is None:
            return self._choose(event.key, letter, enter=enter)
        if self._over:
            if enter:
                return self._leave()
            if letter == "k":
                self._begin()
        elif letter and letter in "0123":
            self._say(int(letter))
        return self

    def _choose(self, key: int, letter: str, *, enter: bool) -> Screen:
        if key in (pygame.K_UP, pygame.K_DOWN):
            step = 1 if key == pygame.K_DOWN else -1
            self._chosen = (self._chosen + step) % len(self._outputs)
        elif letter == "u":
            use_output(self._desk.record, self._outputs[self._chosen])
            return self._leave()
        elif enter and not self._desk.has_level:
            from trainer.window.level_page import LevelPage

            return LevelPage(self._desk, lambda: self)
        elif enter:
            self._begin()
        return self

    def tick(self) -> Screen | None:
        from exercises.check_noise import TRAIN_S

        playhead = self._desk.sound.playhead
        if self._train.ready:
            self._bursts = {"bursts": self._train.take()}
            self._play()
        # What follows the last burst is silence; then it would come round. The next time it is
        # played, it is from the beginning.
        if playhead.playing and playhead.position_frames > (TRAIN_S - 0.25) * RATE_HZ:
            playhead.stop()
            self._desk.sound.take(self._bursts)
        return self

    def _state(self) -> object:
        counted = 0 if self._check is None else len(self._check.counted)
        playhead = self._desk.sound.playhead
        return self._chosen, counted, self._over, playhead.playing, playhead.volume_db

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Chain check", self._desk.record.learner)
        if self._check is None:
            self._draw_choice(canvas)
        elif self._over:
            self._draw_verdict(canvas)
        else:
            self._draw_counting(canvas, self._check)

    # What is drawn ----------------------------------------------------------------------------

    def _draw_choice(self, canvas: Canvas) -> None:
        canvas.text(MARGIN, DISPLAY_LINE, "What reaches you?", face=Face.SERIF, size=DISPLAY)
        baseline = float(DISPLAY_LINE + TITLE_STEP)
        for rule in RULES:
            baseline = canvas.paragraph(
                MARGIN, baseline, rule, width=min(980.0, canvas.width - 2 * MARGIN), size=BODY
            )
        canvas.text(MARGIN, baseline + 30, "Which output is it?", face=Face.SERIF, size=HEADING)
        top = baseline + 48
        for index, output in enumerate(self._outputs):
            box = Box(MARGIN, top + index * 40, canvas.width - 2 * MARGIN, 34)
            chosen = index == self._chosen
            canvas.box(box, edge=INK if chosen else HAIRLINE, edge_width=2.5 if chosen else 1)
            face = Face.SANS_SEMIBOLD if chosen else Face.SANS
            canvas.text(box.x + 14, box.y + 23, output, face=face, size=SMALL)
            kept = latest_check(self._desk.record, output)
            known = "never checked" if kept is None else reach_sentence(kept.reach)
            canvas.text(box.x + 300, box.y + 23, known, colour=SOFT_INK)
            canvas.hot(box, lambda index=index: self._pick(index))  # type: ignore[misc]
        self._desk.sound.draw_volume(canvas)
        draw_plate(
            canvas,
            Box(MARGIN, canvas.height - FOOT_PLATES, 260, FOOT_HIGH),
            "Check it",
            "Enter",
            main=True,
        )

    def _draw_counting(self, canvas: Canvas, check: ChainCheck) -> None:
        canvas.text(MARGIN, DISPLAY_LINE, "How many bursts?", face=Face.SERIF, size=DISPLAY)
        playing = self._desk.sound.playhead.playing or self._train.begun
        state = "listen \N{HORIZONTAL ELLIPSIS}" if playing else "say how many; 0 for none"
        canvas.text(MARGIN, DISPLAY_LINE + TITLE_STEP, state, size=BODY, colour=SOFT_INK)
        for count in range(4):
            box = Box(MARGIN + count * 156, 230, 140, 110)
            canvas.box(box, fill=SHADE)
            canvas.text(
                box.x + 70,
                box.y + 72,
                str(count),
                face=Face.SERIF_SEMIBOLD,
                size=LETTER,
                side="centre",
            )
            canvas.hot(box, lambda count=count: self._say(count))  # type: ignore[misc]
        draw_plate(canvas, Box(MARGIN + 4 * 156 + 20, 230, 200, 54), "Again", "Space")
        done, left = len(check.counted), check.most_left
        bar = Box(MARGIN, 400, canvas.width - 2 * MARGIN, 8)
        canvas.box(bar, fill=SHADE, edge=HAIRLINE, radius=3)
        if done:
            share = done / (done + left)
            canvas.box(Box(bar.x, bar.y, bar.width * share, bar.height), fill=INK, radius=3)
        canvas.text(MARGIN, 436, f"{done} done, {left} to go at most", colour=SOFT_INK)

    def _draw_verdict(self, canvas: Canvas) -> None:
        width = canvas.width - 2 * MARGIN
        if self._kept is None:
            draw_waiting(canvas, self._void, "Nothing was kept.")
            return
        baseline = canvas.paragraph(
            MARGIN, FIRST_LINE, check_sentence(self._kept), width=width, face=Face.SERIF, size=TITLE
        )
        canvas.paragraph(MARGIN, baseline + 8, NO_HEARING_TEST, width=width, colour=SOFT_INK)
        rule = Rule(Box(MARGIN, 470, width, HEIGHT))
        rule.draw(canvas)
        for band, reach in zip(BANDS, self._kept.reach, strict=True):
            left, right = rule.x_of(band.low_hz) + 8, rule.x_of(band.high_hz) - 8
            box = Box(left, 340, right - left, 110)
            if reach is Reach.REPRODUCED:
                canvas.box(box, fill=INK, radius=0)
            elif reach is Reach.FAINT:
                canvas.hatch(Box(left, 395, right - left, 55), INK)
            canvas.text(
                (left + right) / 2,
                332 if reach is Reach.REPRODUCED else 387 if reach is Reach.FAINT else 444,
                reach.value,
                size=SMALL,
                side="centre",
            )
        missing = Reach.NOT in self._kept.reach
        words = "Bands marked 'not' are left out of the drill on this output until the next check."
        canvas.text(MARGIN, 592, words if missing else "", face=Face.SERIF_ITALIC, size=BODY)
        draw_plate(
            canvas,
            Box(MARGIN, canvas.height - FOOT_PLATES, 240, FOOT_HIGH),
            "Back",
            "Enter",
            main=True,
        )
        draw_plate(
            canvas,
            Box(MARGIN + 256, canvas.height - FOOT_PLATES, 240, FOOT_HIGH),
            "Check again",
            "K",
        )

    # What is done -----------------------------------------------------------------------------

    def _pick(self, index: int) -> None:
        self._chosen = index

    def _begin(self) -> None:
        self._kept, self._void = None, ""
        self._check = ChainCheck(secrets.randbelow(2**31))
        self._make_next()

    def _make_next(self) -> None:
        assert self._check is not None
        shown = self._check.current
        assert shown is not None
        self._train.begin(lambda: _train_of(shown))

    def _play(self) -> None:
        """From the beginning, once."""
        if self._train.begun or not self._bursts:
            return
        self._desk.sound.take(self._bursts)
        if not self._desk.sound.playhead.playing:
            self._desk.sound.play_or_stop()

    def _say(self, count: int) -> None:
        check = self._check
        if check is None or self._over or self._train.begun:
            return
        self._desk.sound.playhead.stop()
        if check.current is not None:  # else all was said, and could not be kept
            check.say(count)
        if check.current is not None:
            self._make_next()
        elif is_believable(check.counted):
            self._kept = keep_check(
                self._desk.record,
                self._outputs[self._chosen],
                check.counted,
                self._desk.sound.playhead.volume_db,
                datetime.now().astimezone(),
            )
        else:
            self._void = void_sentence(check.counted)

    def _leave(self) -> Screen:
        self._train.close()
        return self._desk.leave_drill()


def _outputs(desk: Desk, asked: str | None) -> list[str]:
    """What the output may be called: what was asked, is in use or was checked; then usual ones."""
    from trainer.player import device_names

    in_use = output_in_use(desk.record)
    names = [asked, in_use, *checked_outputs(desk.record), *device_names(), *USUAL_OUTPUTS]
    return list(dict.fromkeys(name for name in names if name))[:_MOST_OUTPUTS]


def _train_of(shown: Presentation) -> Samples:
    from exercises.check_noise import burst_train

    return burst_train(shown.band_index, shown.bursts, loud=shown.loud, seed=shown.seed)
