"""The whole of it by keyboard alone, in a small window: every room from Today and back again.

No mouse: what is pressed is what README and the bottom of each page say. ``?`` lists the keys of
every page (F1 where a page takes typed text), and Esc leads back from everywhere.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from typing import Final

import pytest

from tests.screen import Window, wait_until
from tests.walks.walker import Walker
from trainer.window.keys import ROOMS

SIZE: Final = "1024x640"
# One question, and none that hides what it will be taken for: too much at 25 Hz.
WORDS: Final = (
    *("drill", "--kinds", "too much,too little"),
    *("--bands", "250,500,1k,2k", "--minutes", "0.02"),
)
ROOM_TITLES: Final = {
    "T": "study",
    "M": "a safe level",  # first, as long as none was set
    "P": "progress",
    "O": "loops",
    "S": "sets",
    "C": "claim",
    "K": "chain check",
    "V": "a safe level",
}


def look_up_keys(shown: Window, key: str = "question") -> None:
    """Opens the page of all keys and comes back to the page that it lay over."""
    title = shown.title
    shown.press(key)
    shown.wait_title("all keys")
    shown.picture("keyboard_keys_of_" + "_".join(re.findall(r"\w+", title)))
    shown.press("Escape")
    shown.wait_title(title)


def go(shown: Window, key: str, title: str) -> None:
    """A key, and the page that it leads to."""
    shown.press(key)
    shown.wait_title(title)


@pytest.fixture(scope="module")
def walker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Walker]:
    """An evening of one question, and a look into every room."""
    folder = tmp_path_factory.mktemp("keyboard")
    walked = Walker(folder / "home", folder / "pictures")
    with walked.sits_down(*WORDS, size=SIZE) as shown:
        shown.wait_title("Today")
        shown.picture("keyboard_1_today")
        look_up_keys(shown)
        look_into_every_room(shown)
        answer_one_question(shown, walked)
        use_the_rooms(shown, walked)
        shown.press("Escape")
        assert shown.process.wait(timeout=20) == 0
    yield walked
    walked.forgets_sounds()


def look_into_every_room(shown: Window) -> None:
    for letter, title in ROOM_TITLES.items():
        go(shown, letter.lower(), title)
        time.sleep(0.5)
        shown.picture(f"keyboard_2_{ROOMS[letter].replace(' ', '_')}")
        look_up_keys(shown)
        go(shown, "Escape", "Today")


def answer_one_question(shown: Window, walker: Walker) -> None:
    """The level, a question, its review, the pair that was confused, and the end of the drill."""
    go(shown, "Return", "a safe level")
    walker.listens(0.5)
    shown.press("Return")
    time.sleep(0.3)
    shown.picture("keyboard_3_still_silent")
    assert shown.title == "a safe level"
    shown.press(*["plus"] * 9)
    go(shown, "Return", "question 1")
    look_up_keys(shown)
    shown.press("1", "Down")
    shown.type("25")
    shown.press("Return")
    time.sleep(0.3)
    shown.picture("keyboard_4_listen_first")
    assert shown.title == "question 1"
    shown.press("Tab")
    walker.listens(0.5)
    shown.press("Tab")
    walker.listens(2.0)
    shown.press("shift+Return")
    shown.wait_title("review 1")
    look_up_keys(shown)
    for key in ("Tab", "f", "x", "r", "w", "w"):
        shown.press(key)
        walker.listens(0.5)
    shown.picture("keyboard_5_review")
    go(shown, "t", "study")
    time.sleep(1.0)
    shown.picture("keyboard_6_what_was_confused")
    look_up_keys(shown)
    go(shown, "Escape", "review 1")
    shown.press("x")
    walker.listens(0.5)
    go(shown, "Return", "end of the drill")
    shown.picture("keyboard_7_end")
    look_up_keys(shown)
    go(shown, "p", "progress")
    go(shown, "Escape", "Today")
    go(shown, "Return", "question 1")  # of a new drill: that one is over
    go(shown, "Escape", "Today")


def use_the_rooms(shown: Window, walker: Walker) -> None:
    """One step further in each room, and back."""
    go(shown, "t", "study")
    go(shown, "d", "drag a mark")
    wait_until(lambda: walker.heard(walker.heard_frames - 4800).any())
    shown.press("Right", "Right", "Up")
    time.sleep(0.3)
    shown.picture("keyboard_8_drag_a_mark")
    look_up_keys(shown)
    go(shown, "Escape", "study")
    go(shown, "Escape", "Today")
    go(shown, "p", "progress")
    time.sleep(0.5)
    shown.press("4", "Down", "Home")
    go(shown, "Return", "a past answer")
    shown.press("f")
    shown.picture("keyboard_10_a_past_answer")
    look_up_keys(shown)
    go(shown, "Escape", "progress")
    go(shown, "Escape", "Today")
    go(shown, "o", "loops")
    shown.press("Down", "space")
    go(shown, "n", "add a loop")
    look_up_keys(shown, "F1")
    go(shown, "Escape", "loops")
    go(shown, "Escape", "Today")
    go(shown, "s", "sets")
    go(shown, "n", "make a set")
    look_up_keys(shown, "F1")
    go(shown, "Escape", "sets")
    go(shown, "i", "open a set")
    look_up_keys(shown, "F1")
    go(shown, "Escape", "sets")
    go(shown, "Escape", "Today")
    go(shown, "k", "chain check")
    go(shown, "Return", "burst 1")
    look_up_keys(shown)
    go(shown, "Escape", "Today")
    go(shown, "c", "claim")
    shown.type("200")
    go(shown, "Return", "claim: is it there?")
    look_up_keys(shown)
    go(shown, "Return", "claim: is it heard? 1")
    shown.picture("keyboard_11_is_it_heard")
    look_up_keys(shown)
    go(shown, "Escape", "claim: is it there?")
    go(shown, "Escape", "claim")
    go(shown, "Escape", "Today")
    shown.press("m")
    wait_until(lambda: shown.title in ("choose a fix", "make a fix"))
    shown.picture("keyboard_9_fix_round")
    look_up_keys(shown)
    go(shown, "Escape", "Today")


def test_every_room_of_the_glossary_was_walked() -> None:
    assert ROOM_TITLES.keys() == ROOMS.keys()


def test_the_question_was_answered_once_and_only_after_it_was_heard(walker: Walker) -> None:
    exported = walker.exported()
    (answer,) = exported["answer"]
    assert (answer["kind"], answer["freq_hz"], answer["sure"]) == ("too much", 25.0, False)
    assert answer["heard_b_s"] >= 1.0
    settings = {each["name"]: each["value"] for each in exported["setting"]}
    assert settings["volume_db"] == -60.0 + 9 * 2.0
    assert "chain_check" not in exported


def test_nothing_was_louder_than_the_level_that_was_set(walker: Walker) -> None:
    """-42 dB, under the cap of -1 dBTP."""
    loudest = float(abs(walker.heard()).max())
    assert 0.0 < loudest <= 10.0 ** ((-1.0 - 42.0) / 20.0)
