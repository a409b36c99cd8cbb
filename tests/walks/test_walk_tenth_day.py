"""A learner's tenth day: a broken drill taken up, what is weak studied, an old answer reheard."""

from __future__ import annotations

import re
import signal
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Final

import numpy as np
import pytest

from exercises.bands import band_of
from exercises.demo_loops import demo_loop
from exercises.question import make_question
from exercises.recipe import read_recipe
from exercises.samples import RATE_HZ, Samples, db_to_gain
from tests.captured_sound import who_sounds
from tests.filled_record import fill
from tests.screen import Window, wait_until
from tests.trainer.test_cli import run
from tests.walks.learning_ear import LISTEN_S, Told, round_frames, told_apart
from tests.walks.walker import Lines, Walker
from trainer.record import Record

LEARNER: Final = "Tove Reed"
WORDS: Final = ("drill", "--kinds", "too much,too little")
LOOPS: Final = ("oyster-shuffle", "winch-song")
ANSWERS, A_DAY = 180, 20
LEFT_AT_DB: Final = -20.0

Span = tuple[int, int]


@dataclass(slots=True)
class Day:
    """The day as it went: who walked, and when in a sitting's sound something was heard."""

    walker: Walker
    first_b: Span = (0, 0)
    studied: Told | None = None
    old: Span = (0, 0)


def nine_days(home: Path) -> None:
    """A record as nine days of practice leave it, the last of them yesterday."""
    record = Record(home, LEARNER, "test")
    loops = tuple((name, demo_loop(name).fingerprint) for name in LOOPS)
    first_day = date.today() - timedelta(days=10)  # every seventh was free
    fill(record, ANSWERS, a_day=A_DAY, loops=loops, first_day=first_day)
    record.set_setting("volume_db", LEFT_AT_DB)
    record.close()


def let_it_pass(shown: Window, number: int, *, sure: bool) -> None:
    """Says that there is nothing, so that nothing is taken for anything else."""
    shown.press("7", "Return" if sure else "shift+Return")
    shown.wait_title(f"review {number}")


def begin_and_break_off(day: Day) -> None:
    """One question answered; in the midst of the next one the computer goes off."""
    with day.walker.sits_down(*WORDS) as shown:
        shown.wait_title("Today")
        shown.press("Return")
        shown.wait_title("question 1")
        shown.press("b")
        day.first_b = 0, day.walker.listens(5.0)[1]
        let_it_pass(shown, 1, sure=True)
        shown.press("Return")
        shown.wait_title("question 2")
        shown.press("b")
        shown.process.send_signal(signal.SIGKILL)
        shown.process.wait()


def take_it_up_again(shown: Window, day: Day) -> None:
    shown.wait_title("Today")
    time.sleep(1.0)
    shown.picture("tenth_1_today")
    shown.press("Return")
    shown.wait_title("question 2")
    shown.press("b")
    day.walker.listens(3.0)
    let_it_pass(shown, 2, sure=False)
    shown.picture("tenth_2_review")
    shown.press("Escape")
    shown.wait_title("Today")


def study_what_is_weak(shown: Window, day: Day) -> None:
    """The list leads to it by one more T; its first step is heard without and with."""
    shown.press("t")
    shown.wait_title("study")
    time.sleep(2.0)  # what is next is being worked out
    shown.press("t")
    time.sleep(0.3)
    shown.picture("tenth_3_study")
    start = day.walker.heard_frames
    shown.press("Return")
    wait_until(lambda: day.walker.heard(start).any())
    pair = []
    for letter in "ab":
        shown.press(letter)
        day.walker.listens(0.5)
        pair.append(day.walker.heard(*day.walker.listens(LISTEN_S)))
    shown.picture("tenth_4_guided_minute")
    frames = round_frames(pair[0])
    day.studied = told_apart(pair[0][:frames], pair[1][:frames])
    shown.press("Right", "Escape")
    time.sleep(0.3)
    shown.press("Escape")
    shown.wait_title("Today")


def hear_an_old_answer(shown: Window, day: Day) -> None:
    """The oldest of all; the list is left as it was."""
    shown.press("p")
    shown.wait_title("progress")
    time.sleep(1.5)
    shown.picture("tenth_5_progress")
    shown.press("4")
    time.sleep(0.3)
    shown.press("End")
    time.sleep(0.3)
    shown.picture("tenth_6_past_answers")
    start = day.walker.heard_frames
    shown.press("Return")
    shown.wait_title("a past answer")
    wait_until(lambda: day.walker.heard(start).any())
    day.walker.listens(2.0)
    shown.press("a")
    day.walker.listens(2.0)
    day.old = start, day.walker.heard_frames
    shown.picture("tenth_7_a_past_answer")
    shown.press("Escape")
    shown.wait_title("progress")
    shown.press("Escape")
    shown.wait_title("Today")


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Day]:
    """The whole day: two sittings, the first of which breaks off."""
    folder = tmp_path_factory.mktemp("tenth_day")
    walked = Day(Walker(folder / "home", folder / "pictures", LEARNER))
    nine_days(walked.walker.home)
    begin_and_break_off(walked)
    with walked.walker.sits_down(*WORDS) as shown:
        take_it_up_again(shown, walked)
        study_what_is_weak(shown, walked)
        hear_an_old_answer(shown, walked)
        shown.press("Escape")
        assert shown.process.wait(timeout=20) == 0
    yield walked
    walked.walker.forgets_sounds()


@pytest.fixture(scope="module")
def exported(day: Day) -> dict[str, Lines]:
    return day.walker.exported()


def test_the_broken_drill_is_taken_up_and_loses_nothing(exported: dict[str, Lines]) -> None:
    old, new = exported["answer"][:ANSWERS], exported["answer"][ANSWERS:]
    assert len(old) == ANSWERS
    assert [(each["kind"], each["sure"]) for each in new] == [("nothing", True), ("nothing", False)]
    assert new[0]["drill"] == new[1]["drill"] == exported["drill"][-1]["number"]
    assert len(exported["drill"]) == 10


def sources(exported: dict[str, Lines], number: int) -> dict[str, Samples]:
    """A and B of an answer, made once more from the recipe on its line."""
    recipe = read_recipe(exported["answer"][number]["recipe"])
    question = make_question(recipe, demo_loop(recipe.loop))
    return {"A": question.a, "B": question.b}


def test_it_starts_12_db_under_where_it_was_left(day: Day, exported: dict[str, Lines]) -> None:
    sound = day.walker.heard(*day.first_b, sitting=0)
    b = sources(exported, ANSWERS)["B"]
    heard = [one for one in who_sounds(sound, {"B": b}) if one.name == "B"]
    assert len(heard) > 100
    assert max(one.gain_db for one in heard) == pytest.approx(LEFT_AT_DB - 12.0, abs=0.1)
    # It fades in: of its first tenth of a second hardly anything is heard.
    begun = heard[0].start - heard[0].place
    first, own = sound[begun : begun + RATE_HZ // 10], b[: RATE_HZ // 10]
    share = np.sqrt(np.mean(first**2) / np.mean(own**2))
    assert share < db_to_gain(LEFT_AT_DB - 12.0 - 12.0)


def test_what_is_studied_is_what_is_weak(day: Day) -> None:
    """The ear places what the first step exaggerates in the band that the command line names."""
    told = run(day.walker.home, "study", "--terminal", "--learner", LEARNER).stdout
    due = re.search(r"^Next to study: (Too \w+) at .* \(weak\)\. Type: .* (\S+)$", told, re.M)
    assert due is not None, told.splitlines()[0]
    heard = day.studied
    assert heard is not None
    assert heard.kind == due[1].lower()
    assert band_of(heard.freq_hz).name == due[2]


def test_the_old_answer_sounds_as_it_did(day: Day, exported: dict[str, Lines]) -> None:
    """B, then A: the recipe's own samples, at the volume of a start."""
    assert exported["answer"][0]["answered_at"].startswith(str(date.today() - timedelta(days=10)))
    sound = day.walker.heard(*day.old)
    heard = who_sounds(sound, sources(exported, 0))
    settled = [one for one in heard if one.left_db < -60.0]
    names = [one.name for one in settled]
    assert set(names) == {"A", "B"}
    assert names == sorted(names, reverse=True)
    assert np.median([one.left_db for one in settled]) < -110.0
    gains_db = [one.gain_db for one in settled[len(settled) // 4 :]]
    assert np.median(gains_db) == pytest.approx(LEFT_AT_DB - 12.0, abs=0.1)
