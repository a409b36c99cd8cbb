"""The desk: what every page of the window works with: the sound, the drill, and the clock.

Pages ask the desk to sound something, to take an answer, or for the page that comes next. It is
the only place of the window that reads the clock.
"""

from __future__ import annotations

import math
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from exercises.loops import WHOLE_MIX
from exercises.question import stem_alone
from trainer.backstage import Backstage
from trainer.drill import Drill
from trainer.fix_maker import FixMaker, FixPlace
from trainer.loop_shelf import LoopShelf
from trainer.planner import Limits
from trainer.record import Listening, Record
from trainer.rehearsal import REHEARSAL
from trainer.round import Round
from trainer.study import SEEN_SETTING, Seen, after_opening
from trainer.subject import Subject
from trainer.volume import VOLUME_SETTING, start_volume_db
from trainer.window.canvas import Box, Canvas
from trainer.window.frame import Screen
from trainer.window.look import INK, MARGIN, SHADE
from trainer.window.sound import Sound
from trainer.words import clock_words

if TYPE_CHECKING:
    from trainer.study_sounds import StudyMaker


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
        self._silent = silent
        self._working_db: float | None = kept.record.setting(VOLUME_SETTING)
        self.sound = Sound(start_volume_db(self._working_db), self.say, silent=silent)
        self.drill: Drill | None = None
        self._opening: Backstage[Drill] = Backstage()
        self._study_maker: StudyMaker | None = None
        self.fixes = FixMaker(kept.record, kept.shelf, limits)
        self._notice = ""
        self._notice_shown = ""
        self._least_left_s = math.inf
        self._asked_at_s = 0.0
        if silent:
            self.say(REHEARSAL)

    def ask(self, round_: Round) -> None:
        """Sounds a new question; from now on the time to its answer runs."""
        self.sound.take({"B": round_.question.b, "A": round_.question.a})
        self._asked_at_s = time.monotonic()

    def change_volume(self, *, up: bool) -> None:
        """One step louder or softer, kept for the next start."""
        self.sound.change_volume(up=up)
        self.record.set_setting(VOLUME_SETTING, self.sound.playhead.volume_db)

    def solo_or_mix(self, round_: Round) -> str:
        """Hears the track in question alone, or all again; gives what hinders, in words."""
        recipe = round_.question.recipe
        track = round_.track if recipe.ask_track else recipe.track
        if track is None or recipe.alone:
            return "Say which track first." if recipe.ask_track else ""
        wanted = None if self.sound.soloed or track == WHOLE_MIX else track
        self.sound.solo(wanted, partial(stem_alone, round_.question, round_.loop))
        return ""

    def follow_solo(self, round_: Round) -> None:
        """When another track is marked while one is heard alone, hears that one."""
        if self.sound.soloed is not None:
            track = None if round_.track == WHOLE_MIX else round_.track
            self.sound.solo(track, partial(stem_alone, round_.question, round_.loop))

    @property
    def silent(self) -> bool:
        """Whether this is a rehearsal without sound."""
        return self._silent

    @property
    def has_level(self) -> bool:
        """Whether the learner has set a volume before, or nothing will sound anyway."""
        return self._silent or self.record.setting(VOLUME_SETTING) is not None

    @property
    def at_working_level(self) -> bool:
        """Whether the volume, which starts under it, is back where the learner works."""
        working_db, playhead = self._working_db, self.sound.playhead
        up = working_db is not None and playhead.volume_db >= working_db and not playhead.muted
        return self._silent or up

    def work_at_this_level(self) -> None:
        """The volume was set by hand just now: it is where the learner works."""
        self._working_db = self.sound.playhead.volume_db

    def after_level(
        self, onward: Callable[[], Screen], back: Callable[[], Screen] | None = None
    ) -> Screen:
        """The page that ``onward`` gives; before anything has sounded, a level that is safe, from
        where ``back`` gives the page that Esc leads to (None: Today)."""
        from trainer.window.level_page import LevelPage

        return onward() if self.has_level else LevelPage(self, onward, back)

    def say(self, notice: str) -> None:
        """Shows one line at the foot of the page until a key is pressed."""
        self._notice = notice

    def hush(self) -> None:
        """Takes the line away again."""
        self._notice = ""

    @property
    def stale(self) -> bool:
        """Whether there is a line that is not drawn yet, or one drawn that is over."""
        return self._notice != self._notice_shown

    def draw_notice(self, canvas: Canvas) -> None:
        """The line, if there is one; the first row of keys stays in sight."""
        self._notice_shown = self._notice
        if not self._notice:
            return
        width = canvas.width - 2 * MARGIN + 32
        lines = canvas.lines(self._notice, width - 40)
        height = 18 + 22 * len(lines)
        box = Box(MARGIN - 16, canvas.height - 8 - height, width, height)
        canvas.box(box, fill=SHADE, edge=INK, edge_width=2.5)
        for row, line in enumerate(lines):
            canvas.text(box.x + 20, box.y + 26 + 22 * row, line)

    def drill_is_open(self) -> bool:
        """Whether today's drill is in hand; opens it in the background if it is not.

        A long record whose cache was lost takes a while to be read.
        """
        if self.drill is None and not self._opening.begun:
            self._opening.begin(self._new_drill)
        return self.drill is not None or self._opening.ready

    def open_drill(self) -> Drill:
        """The drill in hand; today's, taken up or new, with its next question being made."""
        if self.drill is None:
            self.drill_is_open()
            self.drill = self._opening.take()
            self.drill.begin_next()
        return self.drill

    def _new_drill(self) -> Drill:
        now = datetime.now().astimezone()
        drill = Drill(self.record, self.shelf, self.limits, secrets.randbelow(2**31), now)
        drill.hold()  # the first page is no practice
        return drill

    def answer(self, round_: Round, *, sure: bool) -> Screen:
        """Takes the answer, has it written to disk, and opens the review."""
        from trainer.window.review_page import ReviewPage

        listening = Listening(
            seconds=time.monotonic() - self._asked_at_s,
            switches=self.sound.switches,
            heard_a_s=self.sound.heard_s("A"),
            heard_b_s=self.sound.heard_s("B"),
            alone_s=self.sound.alone_s,
        )
        review = self.open_drill().answer(
            round_, sure=sure, listening=listening, now=datetime.now().astimezone()
        )
        if self._fix_due() is not None:
            self.fixes.begin()
        return ReviewPage(self, round_, review)

    def _fix_due(self) -> FixPlace | None:
        """Where a fix round stands, if one comes before the drill's next question."""
        return None if self.drill is None else self.fixes.due(self.drill)

    def next_page(self) -> Screen:
        """The next question, now and then a fix round before it, or the end of the drill when its
        minutes are up."""
        from trainer.window.end_page import EndPage
        from trainer.window.fix_way import fix_in_drill
        from trainer.window.wait_page import WaitPage

        drill = self.drill
        if drill is not None and drill.answered and self.seconds_left() <= 0.0:
            self.sound.playhead.stop()
            page = EndPage(self, drill)  # which reads the record: before the drill is laid down
            drill.end()
            self._lay_drill_down()
            return page
        place = self._fix_due()
        return WaitPage(self) if place is None else fix_in_drill(self, place)

    def question_or_study(self, round_: Round) -> Screen:
        """The question; or first, now and then, a guided minute of what is new or weak."""
        from trainer.window.guided_page import GuidedPage, Way, heading_of
        from trainer.window.question_page import QuestionPage

        drill = self.open_drill()
        drill.run(datetime.now().astimezone())
        opened = drill.study_before(round_, self.studied())
        if opened is None:
            return QuestionPage(self, round_)
        subject, need = opened
        self.open_study(subject)
        way = Way(
            f"{heading_of(subject)} ({need.value})",
            "to the question",
            lambda: QuestionPage(self, round_),
            self.leave_drill,
        )
        return GuidedPage(self, subject, way)

    def studied(self) -> Seen:
        """What guided minutes were opened before."""
        seen: Seen = self.record.setting(SEEN_SETTING, {})
        return seen

    def open_study(self, subject: Subject) -> None:
        """Keeps that the minute of ``subject`` was opened."""
        seen = after_opening(subject, self.open_drill().ability, self.studied())
        self.record.set_setting(SEEN_SETTING, seen)

    def study_maker(self) -> StudyMaker:
        """What makes the sounds of Study; loads what is slow, so ask in the background."""
        from trainer.study_sounds import StudyMaker

        if self._study_maker is None:
            self._study_maker = StudyMaker(self.shelf)
        return self._study_maker

    def leave_drill(self) -> Screen:
        """Back to Today; the drill can be taken up again until midnight."""
        from trainer.window.today_page import TodayPage

        self.sound.playhead.stop()
        self._lay_drill_down()
        return TodayPage(self)

    def close(self) -> None:
        """Gives back the output, and lets go of what works in the background."""
        self.sound.close()
        self._lay_drill_down()
        self._opening.close()
        self.fixes.close()

    def _lay_drill_down(self) -> None:
        if self.drill is not None:
            self.drill.leave(datetime.now().astimezone())
            self.drill.close()
            self.drill = None
        self._least_left_s = math.inf

    def where(self, *, answered: bool = False) -> str:
        """Where the learner is, for the head line: at this question, or reviewing it."""
        number = self.open_drill().number - answered
        return f"Today  \N{MIDDLE DOT}  question {number}"

    def done_today(self) -> bool:
        """Whether a drill of today came to its end."""
        return self.record.drill_done(datetime.now().astimezone().date())

    def seconds_left(self) -> float:
        """What is left of the drill's minutes, in seconds."""
        if self.drill is None:
            return self.limits.minutes * 60.0
        return self.drill.seconds_left(datetime.now().astimezone())

    def time_left(self) -> str:
        """What is left of the drill, in steps of ten seconds, for the head line."""
        # An answer is counted by its own time, which may be less than what passed: never back up.
        seconds = self._least_left_s = min(self._least_left_s, self.seconds_left())
        return f"{clock_words(seconds)} left" if seconds > 0 else "time is up after this one"
