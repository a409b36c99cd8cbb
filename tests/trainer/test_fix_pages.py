"""The pages of the fix rounds, drawn off screen: their keys, and that every word can be read."""

from __future__ import annotations

import time
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pygame
import pytest

from exercises.demo_loops import demo_loop
from exercises.fix_candidates import Candidate, fix_candidates
from exercises.kinds import Kind
from exercises.loops import Loop
from exercises.moves import Compressor, EqPoint, Expander, LowShelf, Ride
from exercises.question import Question, make_question
from exercises.recipe import Recipe
from exercises.samples import RATE_HZ
from exercises.time_fitting import TIMINGS
from tests.page_off_screen import Written
from tests.trainer.test_progress_page import SIZES
from trainer.choice_round import ChoiceRound
from trainer.fix_round import Stage
from trainer.kept_fixes import count_fixes, kept_fixes
from trainer.loop_shelf import LoopShelf
from trainer.open_round import OpenRound
from trainer.open_sound import YOURS
from trainer.own_moves import MOST_MOVES
from trainer.planner import Limits
from trainer.record import Record, RecordError
from trainer.window import fix_way
from trainer.window.choice_page import ChoicePage
from trainer.window.desk import Desk, Kept
from trainer.window.fix_review import FixReviewPage
from trainer.window.fix_way import FixWay
from trainer.window.frame import Screen
from trainer.window.open_fix_page import OpenFixPage

PATIENCE_S = 60.0


@pytest.fixture(scope="module", autouse=True)
def _fonts() -> Iterator[None]:
    pygame.display.init()
    pygame.font.init()
    yield
    pygame.font.quit()


@pytest.fixture(scope="module")
def asked() -> tuple[Question, Loop]:
    """On a track, so that every move is said at length."""
    loop = demo_loop("ferry-crossing")
    recipe = Recipe(
        1, loop.name, loop.fingerprint, Kind.TOO_MUCH, 6.0, 500.0, 0.8, "guitar", alone=True
    )
    return make_question(recipe, loop), loop


@pytest.fixture(scope="module")
def offered(asked: tuple[Question, Loop]) -> tuple[Candidate, ...]:
    return fix_candidates(*asked)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    kept = Kept(Record(tmp_path, "ada", "1"), LoopShelf(tmp_path / "loops"))
    return Desk(kept, Limits(), silent=True)


def sound_for_a_second(desk: Desk) -> None:
    """And a little more, for the fade in."""
    desk.sound.playhead.fill(np.empty((round(1.1 * RATE_HZ), 2), dtype=np.float32))


def way_of(desk: Desk) -> FixWay:
    return FixWay(
        desk.fixes,
        "Fix rounds",
        lambda: "6 min 40 s left",
        "to the question",
        desk.leave_drill,
        desk.leave_drill,
    )


def press(page: Screen | None, *keys: int | str, shift: bool = False) -> Screen | None:
    for key in keys:
        code = ord(key) if isinstance(key, str) else key
        character = key if isinstance(key, str) else ""
        mod = pygame.KMOD_SHIFT if shift else 0
        assert page is not None
        page = page.key(pygame.event.Event(pygame.KEYDOWN, key=code, unicode=character, mod=mod))
    return page


def nothing_overlaps(page: Screen, size: tuple[int, int]) -> set[str]:
    """The words on the page, once it is known that each can be read."""
    canvas = Written(size)
    canvas.clear()
    page.draw(canvas)
    page.move(canvas)
    for words, left, top, right, bottom in canvas.words:
        assert left >= 0, words
        assert top >= 0, words
        assert right <= canvas.width, words
        assert bottom <= canvas.height, words
    for one, other in combinations(canvas.words, 2):
        apart = one[3] <= other[1] or other[3] <= one[1] or one[4] <= other[2] or other[4] <= one[2]
        assert apart, (one, other)
    return {words for words, *_ in canvas.words}


def until(page: Screen, done: type) -> Screen:
    begun = time.monotonic()
    while time.monotonic() - begun < PATIENCE_S:
        shown = page.tick()
        assert shown is not None
        if isinstance(shown, done):
            return shown
        time.sleep(0.01)
    raise AssertionError("nothing came of it")


@pytest.mark.parametrize("size", SIZES)
def test_choice_and_its_review(
    asked: tuple[Question, Loop],
    offered: tuple[Candidate, ...],
    desk: Desk,
    size: tuple[int, int],
) -> None:
    round_ = ChoiceRound(*asked, offered, 3)
    page: Screen | None = ChoicePage(desk, round_, way_of(desk))
    assert page is not None
    words = nothing_overlaps(page, size)
    assert {"1 move", "2 moves"} <= words
    assert not any("shelf" in each or "cut" in each for each in words)  # told in the review alone
    page = press(page, "\r", pygame.K_RETURN)
    assert isinstance(page, ChoicePage)
    assert "Hear one first: 1 to 4." in nothing_overlaps(page, size)
    page = press(page, "4", "a")
    assert isinstance(page, ChoicePage)
    assert round_.picked == 4
    assert desk.sound.letter == "A"
    assert "picked" in nothing_overlaps(page, size)
    page = press(page, pygame.K_TAB)
    assert desk.sound.letter == "4"
    page = press(page, "2", pygame.K_UP, "1", pygame.K_UP, "3", pygame.K_UP, pygame.K_DOWN)
    page = press(page, "4", pygame.K_UP)
    assert isinstance(page, ChoicePage)
    assert round_.marked == (2, 1, 4)
    assert {"1st", "2nd", "3rd", "mark", "In this order"} <= nothing_overlaps(page, size)
    page = press(page, pygame.K_RETURN)
    assert isinstance(page, FixReviewPage)
    assert count_fixes(desk.record) == 1
    assert desk.sound.letter == "2"  # the pick that is open, and not what was heard last
    press(page, "a", "f")
    assert desk.sound.letter == "2"
    for number in "1234":
        press(page, number)
        words = nothing_overlaps(page, size)
        assert desk.sound.letter == number
        assert any("shelf" in each for each in words)
        assert {"your pick", "your 2nd", "your 3rd", f"B with fix {number}"} <= words
        assert any(each.startswith("The order is ") for each in words)


def test_fixes_are_heard_and_marked_by_mouse(
    asked: tuple[Question, Loop], offered: tuple[Candidate, ...], desk: Desk
) -> None:
    round_ = ChoiceRound(*asked, offered, 3)
    page = ChoicePage(desk, round_, way_of(desk))

    def click(x: float, y: float) -> None:
        canvas = Written((1280, 800))
        page.draw(canvas)
        spot = canvas.spot_at(x, y)
        assert spot is not None
        spot.press(x, y)

    click(700, 420)  # the third card
    assert round_.at_hand == 3
    assert desk.sound.letter == "3"
    click(880, 380)  # its mark
    click(290, 380)  # and the first card's
    assert round_.marked == (3, 1)
    click(880, 380)
    assert round_.marked == (1,)


def test_a_pick_that_cannot_be_written_can_be_given_again(
    asked: tuple[Question, Loop], offered: tuple[Candidate, ...], desk: Desk
) -> None:
    page: Screen | None = ChoicePage(desk, ChoiceRound(*asked, offered, 3), way_of(desk))
    press(page, "2")
    desk.record._db.execute("PRAGMA query_only = ON")
    with pytest.raises(RecordError, match="readonly"):
        press(page, pygame.K_RETURN)
    desk.record._db.execute("PRAGMA query_only = OFF")
    page = press(page, "3", pygame.K_RETURN)  # another is heard, and is what is picked
    assert isinstance(page, FixReviewPage)
    assert [kept.result.marked for kept in kept_fixes(desk.record)] == [(3,)]


def test_a_fix_that_cannot_be_written_can_be_handed_in_again(
    asked: tuple[Question, Loop], desk: Desk
) -> None:
    round_ = OpenRound(*asked, 3)
    page = OpenFixPage(desk, round_, way_of(desk))
    press(page, "n", "f")
    sound_for_a_second(desk)
    desk.record._db.execute("PRAGMA query_only = ON")
    press(page, pygame.K_RETURN)
    assert round_.stage is Stage.HANDED_IN
    begun = time.monotonic()
    while round_.stage is not Stage.LISTENING and time.monotonic() - begun < PATIENCE_S:
        assert page.tick() is page
        time.sleep(0.01)
    assert "readonly" in desk._notice
    desk.record._db.execute("PRAGMA query_only = OFF")
    press(page, pygame.K_DOWN)
    sound_for_a_second(desk)
    press(page, pygame.K_RETURN)
    until(page, FixReviewPage)
    assert [kept.result.fix for kept in kept_fixes(desk.record)] == [round_.moves]


@pytest.mark.parametrize("size", SIZES)
def test_open_round_and_its_review(
    asked: tuple[Question, Loop], desk: Desk, size: tuple[int, int]
) -> None:
    round_ = OpenRound(*asked, 3)
    page: Screen | None = OpenFixPage(desk, round_, way_of(desk))
    assert page is not None
    nothing_overlaps(page, size)
    press(page, pygame.K_RETURN)
    assert "Make a move first." in nothing_overlaps(page, size)
    press(page, "n", "e", pygame.K_RIGHT, pygame.K_UP, pygame.K_UP, "n", pygame.K_PAGEDOWN)
    press(page, "n", *"eeee", pygame.K_UP, pygame.K_RIGHT)
    assert [type(move) for move in round_.moves] == [LowShelf, EqPoint, Compressor]
    assert len(round_.moves) == MOST_MOVES
    nothing_overlaps(page, size)
    press(page, "n")
    assert "3 moves at the most: take one out first." in nothing_overlaps(page, size)
    press(page, pygame.K_RETURN)
    assert "Listen to B with your moves first, for a second." in nothing_overlaps(page, size)
    press(page, "f")
    sound_for_a_second(desk)
    page = press(page, pygame.K_RETURN)
    assert isinstance(page, OpenFixPage)
    press(page, pygame.K_DELETE)  # too late: nothing happens
    assert len(round_.moves) == MOST_MOVES
    review = until(page, FixReviewPage)
    words = nothing_overlaps(review, size)
    assert {"yours", "the simplest"} <= words
    assert count_fixes(desk.record) == 1


def test_who_works_with_the_mouse_is_at_it_as_who_works_with_keys(
    asked: tuple[Question, Loop],
    offered: tuple[Candidate, ...],
    desk: Desk,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A gap counts up to ninety seconds, so each click a minute after the last counts whole."""
    now_s = 0.0
    monkeypatch.setattr(fix_way, "time", SimpleNamespace(monotonic=lambda: now_s))

    def clicked(page: ChoicePage | OpenFixPage, *places: tuple[float, float]) -> float:
        """Seconds that count, of a minute before each click."""
        nonlocal now_s
        for x, y in places:
            now_s += 60.0
            canvas = Written((1280, 800))
            page.draw(canvas)
            spot = canvas.spot_at(x, y)
            assert spot is not None
            spot.press(x, y)
        return page._watch._active.seconds

    chart, third_mark, plate_b = (600.0, 450.0), (880.0, 380.0), (260.0, 160.0)
    open_page = OpenFixPage(desk, OpenRound(*asked, 3), way_of(desk))
    assert clicked(open_page, chart, plate_b) == 120.0
    choice_page = ChoicePage(desk, ChoiceRound(*asked, offered, 3), way_of(desk))
    assert clicked(choice_page, third_mark, plate_b) == 120.0


def test_moves_are_made_turned_and_taken_out_by_keys(
    asked: tuple[Question, Loop], desk: Desk
) -> None:
    round_ = OpenRound(*asked, 3)
    page = OpenFixPage(desk, round_, way_of(desk))
    press(page, *"200")  # typing makes a point where there is none
    press(page, pygame.K_DOWN, pygame.K_DOWN)
    assert round_.moves == (EqPoint(200.0, -4.0, 1.4, "guitar"),)
    press(page, pygame.K_UP, shift=True)
    press(page, pygame.K_BACKSPACE, *"k")  # "20k": to the end of the rule
    assert round_.moves == (EqPoint(20_000.0, -3.9, 1.4, "guitar"),)
    press(page, pygame.K_RIGHT)
    assert round_.moves[0].freq_hz == 20_000.0  # type: ignore[union-attr]
    press(page, "n", "e", "e", "e", pygame.K_RIGHT)
    passages = asked[1].passages
    assert round_.moves[1] == Ride(-3.0, passages[1], "guitar")
    press(page, pygame.K_PAGEUP)  # a ride has no width: nothing changes
    assert round_.moves[1] == Ride(-3.0, passages[1], "guitar")
    press(page, pygame.K_END, pygame.K_DELETE)
    assert round_.moves == (Ride(-3.0, passages[1], "guitar"),)
    for _ in range(60):
        press(page, pygame.K_DOWN)
    assert round_.moves == (Ride(-18.0, passages[1], "guitar"),)
    press(page, pygame.K_DELETE, pygame.K_DELETE)
    assert round_.moves == ()


def test_dynamics_are_set_by_keys(asked: tuple[Question, Loop], desk: Desk) -> None:
    round_ = OpenRound(*asked, 3)
    page = OpenFixPage(desk, round_, way_of(desk))
    press(page, "n", *"eeee", pygame.K_UP, pygame.K_RIGHT, pygame.K_PAGEDOWN)
    assert round_.moves == (Compressor(3.5, TIMINGS[1], 6.0, "guitar"),)
    press(page, "e", pygame.K_PAGEUP)
    for _ in range(10):
        press(page, pygame.K_DOWN)
    assert round_.moves == (Expander(0.5, TIMINGS[0], 1.5, "guitar"),)
    press(page, "e")
    assert isinstance(round_.moves[0], EqPoint)


def test_only_the_latest_state_of_the_moves_is_rendered(
    asked: tuple[Question, Loop], desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    round_ = OpenRound(*asked, 3)
    page = OpenFixPage(desk, round_, way_of(desk))
    made = []
    render = round_.sound_of
    monkeypatch.setattr(round_, "sound_of", lambda moves: (made.append(moves), render(moves))[1])
    press(page, "n")
    page.tick()
    for _ in range(8):
        press(page, pygame.K_DOWN)  # eight more states while it is made
        page.tick()
    begun = time.monotonic()
    while not page._heard.whole and time.monotonic() - begun < PATIENCE_S:
        page.tick()
        time.sleep(0.005)
    assert made[-1] == round_.moves
    assert len(made) < 9
    assert desk.sound.has(YOURS)
