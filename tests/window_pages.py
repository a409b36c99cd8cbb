"""Every page of the window in the states that it can be seen in, off screen, for tests to look at.

The pages are made of the learner's simulated record and the demo loops; their innards are set
where that state would take minutes to reach.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pygame

from exercises.demo_loops import demo_loop
from exercises.kinds import Help, Kind
from exercises.loop_writing import write_loop
from exercises.question import Question, make_question
from exercises.recipe import Recipe
from exercises.stretch import Asked
from exercises.with_and_without import PointFilter
from tests.filled_record import fill
from tests.page_off_screen import press, until, written
from tests.simulated_class import class_set
from tests.synthetic_loops import small_band
from trainer.chain import Reach
from trainer.loop_shelf import LoopShelf
from trainer.planner import Limits
from trainer.record import Record
from trainer.round import Round
from trainer.subject import Subject
from trainer.window.desk import Desk, Kept
from trainer.window.frame import Screen

SIZES = ((1280, 800), (1024, 640), (2560, 1440))
LOOP = "ferry-crossing"


class Rig:
    """A desk with a learner of four hundred answers, and questions to show."""

    def __init__(self, home: Path) -> None:
        self.home = home
        loop = demo_loop(LOOP)
        record = Record(home, "Ottilie Marchbanks", "1")
        fill(record, 400, a_day=20, loops=((LOOP, loop.fingerprint),))
        record.set_setting("volume_db", -28.0)
        write_loop(small_band(3.0, level_db=-6.0), home / "loops" / "small")
        self.desk = Desk(Kept(record, LoopShelf(home / "loops")), Limits(), silent=True)
        self.desk.seconds_left = lambda: 400.0  # type: ignore[method-assign]  # no clock
        self.loop = loop
        self._questions: dict[Recipe, Question] = {}

    def recipe(self, **fields: Any) -> Recipe:
        usual = {"kind": Kind.TOO_MUCH, "size_db": 6.0, "freq_hz": 186.0, "q": 1.4}
        return Recipe(1, self.loop.name, self.loop.fingerprint, **(usual | fields))

    def round(self, **fields: Any) -> Round:
        recipe = self.recipe(**fields)
        if recipe not in self._questions:
            self._questions[recipe] = make_question(recipe, self.loop)
        return Round(self._questions[recipe], self.loop)

    def level(self, kind: Kind, **fields: Any) -> Round:
        return self.round(**({"kind": kind, "freq_hz": None, "q": None} | fields))


def answered(round_: Round, kind: Kind, freq_hz: float | None = None) -> Round:
    """The round answered so, rightly where it is on a track and in a passage."""
    recipe = round_.question.recipe
    round_.mark_kind(kind)
    if freq_hz is not None:
        round_.mark_freq(freq_hz)
    if round_.tracks:
        round_.mark_track(recipe.track or round_.tracks[0])
    if round_.passages:
        round_.mark_passage(recipe.passage or round_.passages[0])
    if round_.wants_another and recipe.second is not None:
        round_.keep_first()
        round_.mark_kind(recipe.second.kind)
        if recipe.second.freq_hz is not None:
            round_.mark_freq(recipe.second.freq_hz)
    round_.answer(sure=True, heard_b_s=9.0)
    round_.open_review()
    return round_


Make = Callable[[], Screen]


def pages(rig: Rig) -> Iterator[tuple[str, Make]]:
    """Names of states, and what puts a page into each."""
    yield from _first_pages(rig)
    yield from _question_pages(rig)
    yield from _review_pages(rig)
    yield from _claim_pages(rig)
    yield from _chain_pages(rig)
    yield from _progress_pages(rig)
    yield from _study_pages(rig)
    yield from _set_pages(rig)
    yield from _loop_pages(rig)
    yield from _fix_pages(rig)


def _first_pages(rig: Rig) -> Iterator[tuple[str, Make]]:
    from trainer.window.end_page import EndPage
    from trainer.window.keys_page import KeysPage
    from trainer.window.level_page import LevelPage
    from trainer.window.today_page import TodayPage
    from trainer.window.wait_page import WaitPage

    desk = rig.desk

    def today() -> Screen:
        page = TodayPage(desk)
        written(page)
        return until(page, lambda _: desk.drill is not None)

    def keys() -> Screen:
        return KeysPage(QuestionPage(desk, rig.round()))

    from trainer.window.question_page import QuestionPage

    yield "today", today
    yield "level", lambda: LevelPage(desk, desk.leave_drill)
    yield "wait", lambda: WaitPage(desk)
    yield "keys", keys
    yield "end", lambda: EndPage(desk, desk.open_drill())


def _question_pages(rig: Rig) -> Iterator[tuple[str, Make]]:
    from exercises.problems import Problem
    from trainer.window.question_page import QuestionPage

    guitar, passage = rig.loop.tracks[1].name, rig.loop.passages[0].name
    desk = rig.desk
    second = Problem(Kind.TOO_LITTLE, 6.0, 3000.0, 1.4)

    def marked() -> Screen:
        return press(QuestionPage(desk, rig.round()), *"1200")

    def placeless() -> Screen:
        return press(QuestionPage(desk, rig.round()), *"7300")

    def everything() -> Screen:
        round_ = rig.round(
            track=guitar, passage=passage, ask_track=True, ask_passage=True, second=second
        )
        return press(QuestionPage(desk, round_), *"121")

    def no_a() -> Screen:
        return QuestionPage(desk, rig.round(help=Help.NO_A, track=guitar))

    yield "question", lambda: QuestionPage(desk, rig.round())
    yield "question-marked", marked
    yield "question-placeless", placeless
    yield "question-everything", everything
    yield "question-no-a", no_a


def _review_pages(rig: Rig) -> Iterator[tuple[str, Make]]:
    from exercises.problems import Problem
    from trainer.window.review_page import ReviewPage

    guitar, passage = rig.loop.tracks[1].name, rig.loop.passages[0].name
    desk = rig.desk
    second = Problem(Kind.TOO_LITTLE, 6.0, 3000.0, 1.4)

    def review(round_: Round, kind: Kind, freq_hz: float | None = None) -> Screen:
        answered(round_, kind, freq_hz)
        assert round_.review is not None
        desk.sound.take({"B": round_.question.b, "A": round_.question.a})
        return ReviewPage(desk, round_, round_.review)

    tone, level = rig.round, rig.level
    yield "review-right", lambda: review(tone(), Kind.TOO_MUCH, 200.0)
    yield "review-miss", lambda: review(tone(), Kind.TOO_MUCH, 500.0)
    yield "review-other-kind", lambda: review(tone(), Kind.TOO_LITTLE, 190.0)
    yield "review-nothing-said", lambda: review(tone(), Kind.NOTHING)
    yield (
        "review-passage",
        lambda: review(
            tone(track=guitar, passage=passage, ask_track=True, ask_passage=True, size_db=9.0),
            Kind.TOO_LITTLE,
            3000.0,
        ),
    )
    yield (
        "review-two",
        lambda: review(
            tone(track=guitar, passage=passage, ask_track=True, ask_passage=True, second=second),
            Kind.TOO_MUCH,
            200.0,
        ),
    )
    yield "review-squashed", lambda: review(level(Kind.SQUASHED, size_db=6.0), Kind.TOO_MUCH, 1e4)
    yield "review-loud", lambda: review(level(Kind.TOO_LOUD, size_db=4.0), Kind.TOO_LOUD)
    yield "review-nothing", lambda: review(level(Kind.NOTHING, size_db=0.0), Kind.SQUASHED)


def _claim_pages(rig: Rig) -> Iterator[tuple[str, Make]]:
    from trainer.window.claim_form_page import ClaimFormPage
    from trainer.window.claim_page import ClaimPage

    desk = rig.desk

    def claim() -> ClaimPage:
        change = PointFilter(200.0, -6.0, 1.4)
        return ClaimPage(desk, LOOP, Asked(None), change)

    def evidence() -> Screen:
        return until(claim(), lambda page: page.title.endswith("is it there?"))

    def trials() -> Screen:
        return press(evidence(), pygame.K_RETURN)

    def told(*, rightly: bool) -> Screen:
        """The page after the trials, each of them told ``rightly`` or not."""
        page: Any = trials()
        while "is it heard?" in page.title:
            desk.sound.heard_s = lambda _letter: 1.0
            x = page._way.claim.x
            page._say(x if rightly else "B" if x == "A" else "A")
            page = page.tick()
        del desk.sound.heard_s
        return page

    def pointing() -> Screen:
        page: Any = told(rightly=True)
        return until(page, lambda page: not page._rendering.begun)

    def verdict() -> Screen:
        page: Any = pointing()
        for _ in range(5):
            until(page, lambda page: not page._rendering.begun)
            page._mark(240.0)
            page._point()
        return page.tick()

    def trouble() -> Screen:
        page = ClaimPage(
            desk, Path("/nowhere/at/all.wav"), Asked(None), PointFilter(200.0, -6.0, 1.4)
        )
        return until(page, lambda page: page.title.endswith("no claim"))

    yield "claim-form", lambda: ClaimFormPage(desk)
    yield "claim-measuring", claim
    yield "claim-evidence", evidence
    yield "claim-trials", trials
    yield "claim-not-shown", lambda: told(rightly=False)
    yield "claim-pointing", pointing
    yield "claim-verdict", verdict
    yield "claim-trouble", trouble


def _chain_pages(rig: Rig) -> Iterator[tuple[str, Make]]:
    from trainer.kept_chains import KeptCheck
    from trainer.window.chain_page import ChainPage
    from trainer.window.chain_verdict_page import ChainVerdictPage

    desk = rig.desk

    def counting() -> Screen:
        page = press(ChainPage(desk), pygame.K_RETURN)
        return until(page, lambda _: desk.sound.playhead.playing)

    def void() -> Screen:
        page: Any = counting()
        while page.title != "chain check done":
            until(page, lambda page: not page._train.begun)
            page._say(0)
            page = page.tick()
        return page

    def kept() -> Screen:
        reach = (Reach.NOT, Reach.FAINT, *[Reach.REPRODUCED] * 8)
        now = datetime(2026, 3, 5, tzinfo=UTC)
        check = KeptCheck("headphones", now, -28.0, reach, (), "1")
        return ChainVerdictPage(desk, "headphones", check)

    yield "chain", lambda: ChainPage(desk)
    yield "chain-counting", counting
    yield "chain-void", void
    yield "chain-kept", kept


def _progress_pages(rig: Rig) -> Iterator[tuple[str, Make]]:
    from trainer.window.progress_page import ProgressPage
    from trainer.window.strips_view import FIXES

    def progress(*keys: int | str) -> Screen:
        page = until(ProgressPage(rig.desk), lambda page: page._progress is not None)
        return press(page, *keys)

    yield "progress", progress
    for steps in range(7, 7 + FIXES - 9):
        yield f"progress-{steps + 3}", lambda steps=steps: progress(*[pygame.K_RIGHT] * steps)
    yield "progress-kinds", lambda: progress("2")
    yield "progress-bands", lambda: progress("3")
    yield "progress-past", lambda: progress("4")


def _study_pages(rig: Rig) -> Iterator[tuple[str, Make]]:
    from trainer.window.drag_page import DragPage
    from trainer.window.guided_page import GuidedPage, Way
    from trainer.window.question_page import QuestionPage
    from trainer.window.review_page import ReviewPage
    from trainer.window.study_page import StudyPage

    desk = rig.desk
    mud = Subject(Kind.TOO_MUCH, 3)

    def study(subject: Subject | None = None) -> Screen:
        page = StudyPage(desk, subject)
        written(page)
        return until(page, lambda page: page._needs is not None)

    def guided(step: int) -> Screen:
        way = Way(
            "Study", "to the question", lambda: QuestionPage(desk, rig.round()), desk.leave_drill
        )
        page: Any = GuidedPage(desk, mud, way)
        until(page, lambda _: page._shows_a_step)
        for number in range(step):
            press(page, pygame.K_RETURN)
            if not page._minute.over:
                until(page, lambda _, number=number: page._sounding == number + 1)
        return page

    def pair() -> Screen:
        round_ = answered(rig.round(), Kind.TOO_LITTLE, 3000.0)
        assert round_.review is not None
        desk.sound.take({"B": round_.question.b, "A": round_.question.a})
        page: Any = press(ReviewPage(desk, round_, round_.review), "t")
        return press(until(page, lambda page: page._shows_a_step), "2")

    def drag() -> Screen:
        return until(DragPage(desk, mud), lambda page: page._made is not None)

    yield "study", study
    yield "study-level", lambda: study(Subject(Kind.SQUASHED))
    for step in range(6):
        yield f"guided-{step + 1}", lambda step=step: guided(step)
    yield "guided-pair", pair
    yield "drag", drag


def _set_pages(rig: Rig) -> Iterator[tuple[str, Make]]:
    from trainer.assignments.known_sets import remember
    from trainer.home import sets_folder
    from trainer.window.set_build_page import SetBuildPage
    from trainer.window.set_open_page import SetOpenPage
    from trainer.window.set_page import SetPage
    from trainer.window.set_questions_page import SetQuestionsPage, answered_lines
    from trainer.window.sets_page import SetsPage

    desk = rig.desk
    title = "Low mids of the third week, thick and boxy, with headphones, before the long break"
    made = class_set(20, title=title[:60])

    def sets() -> Screen:
        remember(made, sets_folder(), made_here=True)
        return SetsPage(desk)

    def one() -> Screen:
        remember(made, sets_folder(), made_here=True)
        return SetPage(desk, made)

    def questions() -> Screen:
        lines = answered_lines(desk.record.latest_answers(30))
        heading = f"Review  \N{MIDDLE DOT}  {title[:50]}"
        return SetQuestionsPage(desk, heading, lines, lambda _: rig.round(), desk.leave_drill)

    yield "sets", sets
    yield "set", one
    yield "set-questions", questions
    yield "set-build", lambda: SetBuildPage(desk)
    yield "set-open", lambda: press(SetOpenPage(desk), *"/post/week three.toml")


def _loop_pages(rig: Rig) -> Iterator[tuple[str, Make]]:
    from trainer.window.loop_add_page import LoopAddPage
    from trainer.window.loop_search_page import LoopSearchPage
    from trainer.window.loops_page import LoopsPage

    desk = rig.desk

    def loops(*keys: int | str) -> Screen:
        page: Any = LoopsPage(desk, "small")
        until(page, lambda _: page._chosen.table is not None)
        return press(page, *keys)

    def choices() -> Screen:
        page = LoopSearchPage(desk, rig.home / "loops" / "small")
        return until(page, lambda page: page.title == "choose a loop")

    yield "loops", loops
    yield "loops-track", lambda: loops(pygame.K_RIGHT)
    yield "loops-removing", lambda: loops(pygame.K_DELETE)
    yield "loop-add", lambda: press(LoopAddPage(desk), *"/music/night train.wav")
    yield "loop-search", lambda: LoopSearchPage(desk, Path("/music/night train.wav"))
    yield "loop-choices", choices


def _fix_pages(rig: Rig) -> Iterator[tuple[str, Make]]:
    from exercises.fix_candidates import fix_candidates
    from trainer.choice_round import ChoiceRound
    from trainer.open_round import OpenRound
    from trainer.window.choice_page import ChoicePage
    from trainer.window.fix_way import FixWay
    from trainer.window.open_fix_page import OpenFixPage

    desk = rig.desk

    def way() -> FixWay:
        return FixWay(
            desk.fixes,
            "Fix rounds",
            lambda: "6 min 40 s left",
            "to the question",
            desk.leave_drill,
            desk.leave_drill,
        )

    def choice() -> Screen:
        round_ = rig.round(freq_hz=500.0, track="guitar", alone=True)
        offered = fix_candidates(round_.question, rig.loop)
        return ChoicePage(desk, ChoiceRound(round_.question, rig.loop, offered, 3), way())

    def open_fix() -> Screen:
        round_ = rig.round(freq_hz=500.0, track="guitar", alone=True)
        return OpenFixPage(desk, OpenRound(round_.question, rig.loop, 3), way())

    yield "fix-choice", choice
    yield "fix-open", open_fix
