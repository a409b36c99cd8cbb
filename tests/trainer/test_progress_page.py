"""The Progress page, drawn off screen: every view, every key, and a past answer heard again."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import date
from itertools import combinations
from pathlib import Path

import numpy as np
import pygame
import pytest

from exercises.demo_loops import demo_loop, demo_loop_names
from exercises.question import make_question
from tests.filled_record import fill
from tests.page_off_screen import PATIENCE_S, Written, press, until
from trainer.loop_shelf import LoopShelf
from trainer.planner import Limits
from trainer.record import Record, RecordError
from trainer.window import progress_page
from trainer.window.confusion import cell_colours
from trainer.window.desk import Desk, Kept
from trainer.window.frame import Screen
from trainer.window.look import contrast
from trainer.window.progress_page import ProgressPage
from trainer.window.review_page import ReviewPage
from trainer.window.strips_view import FIXES

SIZES = ((1280, 800), (1024, 640), (1600, 640))


@pytest.fixture(scope="module", autouse=True)
def _fonts() -> Iterator[None]:
    pygame.font.init()
    yield
    pygame.font.quit()


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("home")
    name = demo_loop_names()[0]
    fill(
        Record(folder, "ada", "1"),
        400,
        a_day=20,
        loops=((name, demo_loop(name).fingerprint), ("gone", "0" * 64)),
    )
    return folder


def _desk(home: Path, learner: str = "ada") -> Desk:
    kept = Kept(Record(home, learner, "1"), LoopShelf(home / "loops"))
    return Desk(kept, Limits(), silent=True)


def _page(desk: Desk) -> ProgressPage:
    """The page with its figures read."""
    page = ProgressPage(desk)
    until(page, lambda _: page._progress is not None)
    return page


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("answers", ["many", "few", "none"])
def test_no_words_overlap_or_leave_the_page_in_any_view(
    tmp_path: Path, home: Path, answers: str, size: tuple[int, int]
) -> None:
    learner = "ada"
    if answers != "many":
        home, learner = tmp_path, "bo"
        fill(Record(home, learner, "1"), 40 if answers == "few" else 0)
    page = _page(_desk(home, learner))
    for key in (*[pygame.K_RIGHT] * (FIXES + 1), pygame.K_2, pygame.K_3, pygame.K_4):
        press(page, key)
        canvas = Written(size)
        canvas.clear()
        page.draw(canvas)
        assert canvas.words
        for words, left, top, right, bottom in canvas.words:
            assert left >= 0, words
            assert top >= 0, words
            assert right <= canvas.width, words
            assert bottom <= canvas.height, words
        for one, other in combinations(canvas.words, 2):
            apart = (
                one[3] <= other[1] or other[3] <= one[1] or one[4] <= other[2] or other[4] <= one[2]
            )
            assert apart, (one, other)


def test_the_page_waits_for_its_figures_without_standing_still(tmp_path: Path) -> None:
    fill(Record(tmp_path, "bo", "1"), 1500)
    desk = _desk(tmp_path, "bo")
    page = ProgressPage(desk)
    told = set()

    def read(_: Screen) -> bool:
        canvas = Written((1280, 800))
        page.draw(canvas)
        told.update(words for words, *_ in canvas.words if words.startswith("Going through"))
        return page._progress is not None

    until(page, read)
    assert told
    assert all(words.endswith(" of 1,500 answers") for words in told)


def test_a_record_that_cannot_be_read_is_told_and_can_be_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def damaged(*_: object) -> None:
        raise RecordError("record.sqlite: is damaged; put a copy back")

    monkeypatch.setattr(progress_page, "progress_of", damaged)
    desk = _desk(tmp_path, "bo")
    page = ProgressPage(desk)
    until(page, lambda _: bool(desk._notice))
    assert desk._notice == "record.sqlite: is damaged; put a copy back"
    canvas = Written((1280, 800))
    page.draw(canvas)
    assert "The record cannot be read." in [words for words, *_ in canvas.words]
    for key in (pygame.K_2, pygame.K_4, pygame.K_RETURN, pygame.K_DOWN):
        assert press(page, key) is page
        page.draw(canvas)
    shown = press(page, pygame.K_ESCAPE)
    assert shown is not None
    assert shown.title == "Today"


def test_leaving_gives_up_a_long_reading(tmp_path: Path) -> None:
    fill(Record(tmp_path, "bo", "1"), 3000)
    desk = _desk(tmp_path, "bo")
    page = ProgressPage(desk)
    press(page, pygame.K_ESCAPE)
    begun = time.monotonic()
    while not page._reading.ready:
        assert time.monotonic() - begun < PATIENCE_S
        time.sleep(0.01)
    assert desk.record.setting("ability") is None


def test_every_key_that_is_named_does_something(home: Path) -> None:
    page = _page(_desk(home))
    page.draw(Written((1280, 800)))
    for key in (
        pygame.K_RIGHT,
        pygame.K_LEFT,
        pygame.K_2,
        pygame.K_3,
        pygame.K_4,
        pygame.K_DOWN,
        pygame.K_END,
        pygame.K_PAGEUP,
        pygame.K_HOME,
        pygame.K_PAGEDOWN,
        pygame.K_UP,
        pygame.K_1,
    ):
        page.draw(Written((1280, 800)))
        assert not page.stale
        assert press(page, key) is page
        assert page.stale, pygame.key.name(key)


def test_a_click_chooses_a_band_a_card_and_a_view(home: Path) -> None:
    page = _page(_desk(home))
    canvas = Written((1280, 800))
    seen = []
    for x, y in ((697, 250), (250, 472), (1150, 90), (400, 300)):
        canvas.clear()
        page.draw(canvas)
        spot = canvas.spot_at(x, y)
        assert spot is not None
        spot.press(x, y)
        seen.append((page._chosen, page._view.name, page._past and page._past.place))
    assert seen == [
        (5, "STRIPS", 0),
        (10, "STRIPS", 0),
        (10, "PAST", 0),
        (10, "PAST", 4),
    ]


def test_a_past_answer_is_opened_and_heard_again_exactly(home: Path) -> None:
    desk = _desk(home)
    page = _page(desk)
    press(page, pygame.K_4)
    kept = next(k for k in desk.record.latest_answers(40) if k.recipe.loop != "gone")
    assert page._past is not None
    page._past.go([k.id for k in desk.record.latest_answers(40)].index(kept.id))
    before = desk.record.count_answers()
    press(page, pygame.K_RETURN)
    review = until(page, lambda shown: shown is not page)
    assert isinstance(review, ReviewPage)
    question = make_question(kept.recipe, demo_loop(kept.recipe.loop))
    again = review._round.question
    assert np.array_equal(again.a, question.a)
    assert np.array_equal(again.b, question.b)
    assert review._review.answer == kept.answer
    assert review._review.verdict == kept.verdict
    assert desk.sound.playhead.playing
    assert desk.sound.playhead.current == "B"
    canvas = Written((1024, 640))
    review.draw(canvas)
    heads = [words for words, *_ in canvas.words]
    assert any(words.startswith("Progress") and "answered on" in words for words in heads)
    assert "Back" in heads
    assert desk.drill is None
    assert press(review, pygame.K_RETURN) is page
    assert not desk.sound.playhead.playing
    assert desk.record.count_answers() == before


def test_an_answer_whose_loop_is_gone_is_told_in_one_line(home: Path) -> None:
    desk = _desk(home)
    page = _page(desk)
    press(page, pygame.K_4)
    assert page._past is not None
    latest = desk.record.latest_answers(10)
    page._past.go([k.recipe.loop for k in latest].index("gone"))
    press(page, pygame.K_RETURN)
    until(page, lambda _: not page._making.begun)
    assert "loop 'gone' is not at hand" in desk._notice
    assert "\n" not in desk._notice


def test_escape_goes_back_to_today(home: Path) -> None:
    shown = press(_page(_desk(home)), pygame.K_ESCAPE)
    assert shown is not None
    assert shown.title == "Today"


def test_an_empty_list_has_nothing_to_open(tmp_path: Path) -> None:
    page = _page(_desk(tmp_path, "bo"))
    assert press(page, pygame.K_4, pygame.K_DOWN, pygame.K_END, pygame.K_RETURN) is page
    assert not page._making.begun


@pytest.mark.parametrize("share", [0.0, 0.1, 0.3, 0.499, 0.5, 0.7, 1.0])
def test_a_number_can_be_read_on_its_cell(share: float) -> None:
    """WCAG 2.2, success criterion 1.4.3: 4.5 to 1."""
    fill_colour, ink = cell_colours(share)
    assert contrast(ink, fill_colour) >= 4.5


def test_the_latest_answers_come_in_pages_without_a_gap(home: Path) -> None:
    record = Record(home, "ada", "1")
    whole = record.latest_answers(60)
    assert [*record.latest_answers(25), *record.latest_answers(35, 25)] == list(whole)
    assert whole[0].day == max(kept.day for kept in record.answers())
    assert whole[0].day > date(2026, 1, 5)
