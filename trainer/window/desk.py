"""The desk: what every page of the window works with: the sound, the drill, and the clock.

Pages ask the desk to sound something, to take an answer, or for the page that comes next. It is
the only place of the window that reads the clock.
"""

from __future__ import annotations

import secrets
import time
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Final

import pygame

from exercises.samples import Samples
from trainer.drill import Drill
from trainer.loop_shelf import LoopShelf
from trainer.planner import Limits
from trainer.playhead import Playhead
from trainer.record import Listening, Record
from trainer.round import Round
from trainer.volume import SOFTEST_DB, louder_db, rests_due, softer_db, start_volume_db
from trainer.window.canvas import Box, Canvas
from trainer.window.frame import Screen
from trainer.window.look import HAIRLINE, INK, MARGIN, PAPER, SHADE, SMALL, SOFT_INK, Face
from trainer.words import REST, clock_words, volume_words

if TYPE_CHECKING:
    from trainer.player import Player, SilentPlayer

_VOLUME: Final = "volume_db"
_FADE_OUT_S: Final = 0.06


@dataclass(frozen=True, slots=True)
class Kept:
    """What a learner brings to the desk: their record and their loops."""

    record: Record
    shelf: LoopShelf


class Desk:
    """The sound, the drill in hand, and the clock, for one window."""

    def __init__(self, kept: Kept, limits: Limits, *, silent: bool = False) -> None:
        self.record = kept.record
        self.shelf = kept.shelf
        self.limits = limits
        self.playhead = Playhead(start_volume_db(kept.record.setting(_VOLUME)))
        self.drill: Drill | None = None
        self._silent = silent
        self._player: Player | SilentPlayer | None = None
        self._notice = ""
        self._notice_shown = ""
        self._rests_told = 0
        self._asked_at_s = 0.0

    # Sound ------------------------------------------------------------------------------------

    def sound(self, a: Samples, b: Samples) -> None:
        """Takes a new question's A and B; B is chosen, and goes on playing if sound was playing."""
        self.playhead.load({"B": b, "A": a})
        self._asked_at_s = time.monotonic()

    def add_sound(self, name: str, samples: Samples, round_: Round) -> None:
        """Adds one more sound to the question's A and B, at the same place in time."""
        question, chosen = round_.question, self.playhead.current
        self.playhead.load(
            {"A": question.a, "B": question.b, name: samples},
            at_frame=self.playhead.position_frames,
        )
        self.playhead.choose(chosen)

    def choose(self, source: str) -> None:
        """Sounds one of the plates; a stopped sound starts."""
        self.playhead.choose(source)
        self._play()

    def switch(self, sources: tuple[str, ...]) -> None:
        """Goes on to the next of ``sources``."""
        now = sources.index(self.playhead.current)
        self.choose(sources[(now + 1) % len(sources)])

    def play_or_stop(self) -> None:
        """Starts or stops the sound."""
        if self.playhead.playing:
            self.playhead.stop()
        elif self.playhead.frames:
            self._play()

    def change_volume(self, *, up: bool) -> None:
        """One step louder or softer, kept for the next start."""
        step = louder_db if up else softer_db
        self.playhead.set_volume_db(step(self.playhead.volume_db))
        self.record.set_setting(_VOLUME, self.playhead.volume_db)

    def _play(self) -> None:
        if self._player is None:
            self._player = self._open_player()
        self.playhead.play()

    def _open_player(self) -> Player | SilentPlayer:
        from trainer.player import NoAudioDevice, SilentPlayer, open_player

        if self._silent:
            return SilentPlayer(self.playhead)
        try:
            return open_player(self.playhead)
        except NoAudioDevice as error:
            self.say(str(error))
            return SilentPlayer(self.playhead)

    def keep_up(self) -> None:
        """Called often: lets a silent player move on, and says what there is to say."""
        if self._player is not None:
            self._player.keep_up()
            trouble = self._player.trouble()
            if trouble is not None and self.playhead.playing:
                self.playhead.stop()
                self._player.close()
                self._player = None
                self.say(trouble)
        due = rests_due(self.playhead.seconds_played)
        if due > self._rests_told:
            self._rests_told = due
            self.say(REST)

    def take_notice(self, event: pygame.event.Event) -> None:
        """Hands a window event to the player (an output may have been unplugged)."""
        if self._player is not None:
            self._player.notice(event)

    def close(self) -> None:
        """Fades out and gives the output back."""
        if self.playhead.playing:
            self.playhead.stop()
            time.sleep(_FADE_OUT_S)
        if self._player is not None:
            self._player.close()

    # What must be said ------------------------------------------------------------------------

    def say(self, notice: str) -> None:
        """Shows one line over the keys until a key is pressed."""
        self._notice = notice

    def hush(self) -> None:
        """Takes the line away again."""
        self._notice = ""

    @property
    def stale(self) -> bool:
        """Whether there is a line that is not drawn yet, or one drawn that is over."""
        return self._notice != self._notice_shown

    def draw_notice(self, canvas: Canvas) -> None:
        """The line, if there is one, over the keys."""
        self._notice_shown = self._notice
        if not self._notice:
            return
        box = Box(MARGIN - 16, canvas.height - 92, canvas.width - 2 * MARGIN + 32, 84)
        canvas.box(box, fill=INK)
        canvas.paragraph(
            box.x + 20, box.y + 34, self._notice, width=box.width - 40, size=17, colour=PAPER
        )

    # The drill --------------------------------------------------------------------------------

    def open_drill(self) -> Drill:
        """The drill in hand; today's, taken up or new, with its next question being made."""
        if self.drill is None:
            now = datetime.now().astimezone()
            self.drill = Drill(self.record, self.shelf, self.limits, secrets.randbelow(2**31), now)
            self.drill.begin_next()
        return self.drill

    def answer(self, round_: Round, *, sure: bool) -> Screen:
        """Takes the answer, has it written to disk, and opens the review."""
        from trainer.window.review_page import ReviewPage

        heard = self.playhead.heard
        listening = Listening(
            seconds=time.monotonic() - self._asked_at_s,
            switches=self.playhead.switches,
            heard_a_s=heard["A"],
            heard_b_s=heard["B"],
        )
        review = self.open_drill().answer(
            round_, sure=sure, listening=listening, now=datetime.now().astimezone()
        )
        return ReviewPage(self, round_, review)

    def next_page(self) -> Screen:
        """The next question, or the end of the drill when its minutes are up."""
        from trainer.window.end_page import EndPage
        from trainer.window.wait_page import WaitPage

        drill = self.open_drill()
        if drill.answers and drill.seconds_left(datetime.now().astimezone()) <= 0.0:
            self.playhead.stop()
            drill.end()
            self.drill = None
            return EndPage(self, drill)
        return WaitPage(self)

    def leave_drill(self) -> Screen:
        """Back to Today; the drill can be taken up again until midnight."""
        from trainer.window.today_page import TodayPage

        self.playhead.stop()
        self.drill = None
        return TodayPage(self)

    def where(self, *, answered: bool = False) -> str:
        """Where the learner is, for the head line: at this question, or reviewing it."""
        number = self.open_drill().number - answered
        return f"Today  \N{MIDDLE DOT}  question {number}"

    def seconds_left(self) -> float:
        """What is left of the drill's minutes, in seconds."""
        if self.drill is None:
            return self.limits.minutes * 60.0
        return self.drill.seconds_left(datetime.now().astimezone())

    def time_left(self) -> str:
        """What is left of the drill, in steps of ten seconds, for the head line."""
        seconds = self.seconds_left()
        return f"{clock_words(seconds)} left" if seconds > 0 else "time is up after this one"

    # Drawing ----------------------------------------------------------------------------------

    def draw_volume(self, canvas: Canvas, baseline: float) -> None:
        """The volume as a short scale at the right, to be clicked on either side."""
        right = canvas.width - MARGIN
        track = Box(right - 250, baseline - 10, 150, 8)
        share = 1.0 - self.playhead.volume_db / SOFTEST_DB
        canvas.text(track.x - 34, baseline, "volume", colour=SOFT_INK, side="right")
        for sign, x, up in (("\N{MINUS SIGN}", track.x - 16, False), ("+", track.right + 16, True)):
            canvas.text(x, baseline + 1, sign, size=20, side="centre", face=Face.SANS_SEMIBOLD)
            canvas.hot(
                Box(x - 15, baseline - 20, 30, 30),
                lambda up=up: self.change_volume(up=up),  # type: ignore[misc]
            )
        canvas.box(track, fill=SHADE, edge=HAIRLINE, radius=3)
        if share > 0:
            canvas.box(Box(track.x, track.y, track.width * share, track.height), fill=INK, radius=3)
        canvas.text(
            right, baseline, volume_words(self.playhead.volume_db), size=SMALL, side="right"
        )
