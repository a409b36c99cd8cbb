"""The form of a new set, by keyboard: where the arrows start, and what leaving it leaves behind."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pygame
import pytest

from exercises.loop_writing import write_loop
from tests.page_off_screen import press
from tests.synthetic_loops import small_band
from trainer.assignments.set_form import FORM_ROWS, Row
from trainer.home import results_folder, sets_folder
from trainer.loop_shelf import LoopShelf
from trainer.planner import Limits
from trainer.record import Record
from trainer.window.desk import Desk, Kept
from trainer.window.keys_page import KeysPage
from trainer.window.set_build_page import SetBuildPage
from trainer.window.sets_page import SetsPage


@pytest.fixture
def page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SetBuildPage]:
    monkeypatch.setenv("NAMEFIRST_HOME", str(tmp_path))
    record = Record(tmp_path, "Quill", "1")
    desk = Desk(Kept(record, LoopShelf(tmp_path / "loops")), Limits(), silent=True)
    yield SetBuildPage(desk)
    desk.close()


@pytest.mark.parametrize(
    ("row", "along", "taken"),
    [
        (Row.COUNT, pygame.K_LEFT, "15"),
        (Row.COUNT, pygame.K_RIGHT, "30"),
        (Row.TRIES, pygame.K_RIGHT, "2"),
    ],
)
def test_the_arrows_start_from_what_is_chosen(
    page: SetBuildPage, row: Row, along: int, taken: str
) -> None:
    press(page, *[pygame.K_DOWN] * FORM_ROWS.index(row), along, pygame.K_SPACE)
    form = page._form
    chosen = [words for at, words in enumerate(form.choices(row)) if form.chosen(row, at)]
    assert chosen == [taken]


def test_what_is_filled_in_is_let_go_of_at_the_second_time_of_asking(page: SetBuildPage) -> None:
    assert press(page, *"Thick", pygame.K_ESCAPE) is page
    assert "lets go of all that is filled in" in page._desk._notice
    assert press(page, *"er", pygame.K_ESCAPE) is page, "typing on is no answer to the question"
    assert page._form.text(Row.TITLE) == "Thicker"
    assert isinstance(press(page, pygame.K_ESCAPE), SetsPage)


def test_an_empty_form_is_left_at_once(page: SetBuildPage) -> None:
    press(page, pygame.K_DOWN, pygame.K_DOWN, pygame.K_RIGHT)
    assert isinstance(press(page, pygame.K_ESCAPE), SetsPage)


def test_a_question_mark_is_text_where_text_is_typed_and_else_shows_the_keys(
    page: SetBuildPage,
) -> None:
    assert press(page, *"Mud?") is page
    assert page._form.text(Row.TITLE) == "Mud?"
    assert isinstance(press(page, *[pygame.K_DOWN] * FORM_ROWS.index(Row.COUNT), "?"), KeysPage)


def test_loops_are_called_by_their_titles(page: SetBuildPage, tmp_path: Path) -> None:
    write_loop(
        replace(small_band(level_db=-12.0), name="take-3", title="Élan, take #3"),
        tmp_path / "loops" / "t3",
    )
    titles = SetBuildPage(page._desk)._form.choices(Row.LOOPS)
    assert titles[0] == "Élan, take #3"
    assert "Ferry crossing" in titles


def test_a_set_that_was_left_while_it_was_drawn_is_not_made(
    page: SetBuildPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawing, go_on = threading.Event(), threading.Event()

    def slowly(_shelf: object) -> object:
        drawing.set()
        go_on.wait(20.0)
        return object()  # written, it would fail; it is not to come to that

    monkeypatch.setattr(type(page._form), "wanted", lambda *_: slowly)
    press(page, *"Thick", pygame.K_RETURN)
    assert drawing.wait(20.0)
    assert press(page, pygame.K_ESCAPE) is page
    assert isinstance(press(page, pygame.K_ESCAPE), SetsPage)
    go_on.set()
    with pytest.raises(Exception, match="no set was made"):
        page._making.take()
    assert not list(results_folder().glob("*"))
    assert not sets_folder().exists() or not list(sets_folder().iterdir())
