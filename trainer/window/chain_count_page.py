"""The chain check under way: bursts are counted."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from datetime import datetime

import pygame

from exercises.samples import RATE_HZ, Samples
from trainer.backstage import Backstage
from trainer.chain import ChainCheck, Presentation, is_believable
from trainer.chain_words import void_sentence
from trainer.kept_chains import KeptCheck, keep_check
from trainer.window.canvas import Box, Canvas
from trainer.window.chain_verdict_page import ChainVerdictPage
from trainer.window.desk import Desk
from trainer.window.frame import Screen, draw_head, draw_plate
from trainer.window.keys import HELP, VOLUME, KeyWords, key_words
from trainer.window.look import (
    BODY,
    DISPLAY,
    DISPLAY_LINE,
    HAIRLINE,
    INK,
    LETTER,
    MARGIN,
    SHADE,
    SOFT_INK,
    TITLE_STEP,
    Face,
)
from trainer.window.page import Page


class ChainCountPage(Page):
    """One train of bursts after another; the last leads to what reached the ear."""

    def __init__(self, desk: Desk, output: str) -> None:
        self._desk = desk
        self._output = output
        self._next: Screen = self
        self._check = ChainCheck(secrets.randbelow(2**31))
        self._train: Backstage[Samples] = Backstage()
        self._bursts: dict[str, Samples] = {}
        self._make_next()

    @property
    def title(self) -> str:
        return f"burst {len(self._check.counted) + 1}"

    @property
    def keys(self) -> Sequence[KeyWords]:
        return (
            key_words("0-3", "how many bursts"),
            key_words("Space", "hear it again"),
            VOLUME,
            HELP,
            key_words("Esc", "leave; nothing is kept"),
        )

    def key(self, event: pygame.event.Event) -> Screen | None:
        if event.key == pygame.K_ESCAPE:
            self._train.close()
            return self._desk.leave_drill()
        if event.unicode and event.unicode in "0123":
            self._say(int(event.unicode))
        return self._next

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
        return self._next

    def _state(self) -> object:
        playhead = self._desk.sound.playhead
        return len(self._check.counted), self._train.begun, playhead.playing, playhead.volume_db

    def _draw(self, canvas: Canvas) -> None:
        draw_head(canvas, "Chain check", self._desk.record.learner)
        check = self._check
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

    def _make_next(self) -> None:
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
        if self._next is not self or self._train.begun:
            return
        self._desk.sound.playhead.stop()
        if check.current is not None:  # else all was said, and could not be kept
            check.say(count)
        if check.current is not None:
            self._make_next()
        elif is_believable(check.counted):
            kept = keep_check(
                self._desk.record,
                self._output,
                check.counted,
                self._desk.sound.playhead.volume_db,
                datetime.now().astimezone(),
            )
            self._finish(kept)
        else:
            self._finish(None)

    def _finish(self, kept: KeptCheck | None) -> None:
        self._train.close()
        void = void_sentence(self._check.counted) if kept is None else ""
        self._next = ChainVerdictPage(self._desk, self._output, kept, void)


def _train_of(shown: Presentation) -> Samples:
    from exercises.check_noise import burst_train

    return burst_train(shown.band_index, shown.bursts, loud=shown.loud, seed=shown.seed)
