"""A learner's first evening: a safe level, the chain check, the first questions, progress.

By mouse where there is something to click, else by keys. The learner has nothing but ears: bursts
are counted and B is told from A by what was played.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import pytest

from exercises.bands import octaves
from exercises.demo_loops import demo_loop
from exercises.question import make_question, undo_answers
from exercises.recipe import read_recipe
from exercises.samples import RATE_HZ, Samples, db_to_gain
from tests.captured_sound import BETWEEN, click_excess, largest_bend, order_heard, who_sounds
from tests.meters import ebur128_dbtp
from tests.screen import Window
from tests.trainer.test_cli import run
from tests.walks.learning_ear import (
    LISTEN_S,
    SmallSpeaker,
    Told,
    level_lufs,
    round_frames,
    told_apart,
)
from tests.walks.walker import Lines, Walker
from trainer.answer_fields import read_answer
from trainer.judging import as_fixes

WORDS: Final = ("drill", "--kinds", "too much,too little")
LEVEL_DB: Final = -30.0
STEPS_UP: Final = 15
WRONG_HZ: Final = 30.0
SILENT_S, SILENT_WALL_S = 5.0, 1.5  # as played, and for a slow machine to make the bursts
LOWEST_HZ: Final = 180.0

START: Final = (200, 243)
CHAIN_CHECK: Final = (780, 400)
LOUDER: Final = (1198, 309)
KEEP: Final = (200, 417)
A_PLATE, B_PLATE, FIX_PLATE = (126, 163), (276, 163), (440, 163)
TOO_MUCH: Final = (150, 328)
AT_1K, AT_WRONG = (650, 560), (120, 560)
SURE: Final = (150, 657)
NEXT: Final = (1120, 261)

Span = tuple[int, int]


@dataclass(slots=True)
class Evening:
    """What was done, and when in the sound: frames of the capture."""

    walker: Walker
    spans: dict[str, Span] = field(default_factory=dict)
    steps: list[Span] = field(default_factory=list)
    told: Told | None = None

    def sound(self, name: str) -> Samples:
        return self.walker.heard(*self.spans[name])


# The walk -------------------------------------------------------------------------------------


def set_the_level(shown: Window, evening: Evening) -> None:
    shown.wait_title("a safe level")
    evening.spans["silent"] = evening.walker.listens(1.0)
    shown.picture("first_3_level_silent")
    for _ in range(STEPS_UP):
        shown.click(*LOUDER)
        evening.steps.append(evening.walker.listens(0.4))
    shown.picture("first_4_level_set")
    evening.spans["noise"] = evening.walker.listens(4.0)
    shown.click(*KEEP)


def check_the_chain(shown: Window, evening: Evening) -> None:
    noise = evening.sound("noise")
    least = float(np.sqrt((noise[:, 0] ** 2).mean())) * db_to_gain(-42.0)
    speaker = SmallSpeaker(LOWEST_HZ, least)
    shown.wait_title("chain check")
    start = evening.walker.heard_frames
    shown.press("Return")
    shown.wait_title("burst 1")
    while (title := shown.title).startswith("burst"):
        said = count(evening.walker, speaker, start)
        if title == "burst 3":
            shown.picture("first_5_bursts")
        # What follows may begin before its title is seen.
        start = evening.walker.heard_frames
        shown.press(str(said))
        for _ in range(100):
            if shown.title != title:
                break
            time.sleep(0.02)
    shown.wait_title("chain check done")
    shown.picture("first_6_chain_check_done")


def count(walker: Walker, speaker: SmallSpeaker, start: int) -> int:
    """Listens until no more bursts can come, and counts them."""
    began = time.monotonic()
    while True:
        walker.listens(0.3)
        sound = walker.heard(start)
        loud = np.flatnonzero(np.abs(sound).max(axis=1) > 0.0)
        if len(loud):
            walker.listens(3.0 - (len(sound) - loud[0]) / RATE_HZ)
            return speaker.bursts_in(walker.heard(start))
        if len(sound) > SILENT_S * RATE_HZ and time.monotonic() > began + SILENT_WALL_S:
            return 0


def answer_wrongly_by_mouse(shown: Window, evening: Evening) -> None:
    shown.wait_title("question 1")
    shown.click(*A_PLATE)
    evening.walker.listens(2.0)
    shown.click(*B_PLATE)
    evening.walker.listens(4.0)
    shown.click(*TOO_MUCH)
    shown.drag(AT_1K, AT_WRONG)
    shown.picture("first_7_question_by_mouse")
    shown.click(*SURE)
    shown.wait_title("review 1")
    start = evening.walker.heard_frames
    for plate in (A_PLATE, B_PLATE, FIX_PLATE):
        shown.click(*plate)
        evening.walker.listens(1.5)
    evening.spans["review"] = start, evening.walker.heard_frames
    shown.picture("first_8_review_of_a_wrong_answer")
    shown.click(*NEXT)


def answer_by_ear(shown: Window, evening: Evening) -> None:
    shown.wait_title("question 2")
    walker = evening.walker
    for letter in "ab":
        shown.press(letter)
        walker.listens(0.5)
        evening.spans[letter] = walker.listens(LISTEN_S)
    start, _ = walker.listens(0.3)
    for _ in range(5):
        shown.press("Tab")
        time.sleep(0.2)  # or two of them may fall into one block of sound
        walker.listens(0.3)
    evening.spans["switches"] = start, walker.heard_frames
    a, b = evening.sound("a"), evening.sound("b")
    frames = round_frames(a)
    told = evening.told = told_apart(a[:frames], b[:frames])
    shown.press("1" if told.kind == "too much" else "2")
    shown.type(f"{told.freq_hz:.0f}")
    shown.picture("first_9_question_by_ear")
    shown.press("Return")


def review_loudly(shown: Window, evening: Evening) -> None:
    shown.wait_title("review 2")
    shown.picture("first_10_review_of_a_right_answer")
    shown.press(*["plus"] * STEPS_UP)
    for letter in "abfxr":
        shown.press(letter)
        evening.spans[f"loud {letter}"] = evening.walker.listens(3.0)
    shown.picture("first_11_review_loud")


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Evening]:
    """The whole evening, from an empty home folder to the closed window."""
    folder = tmp_path_factory.mktemp("first_evening")
    walked = Evening(Walker(folder / "home", folder / "pictures"))
    with walked.walker.sits_down(*WORDS) as shown:
        shown.wait_title("Today")
        shown.picture("first_1_today")
        shown.click(*CHAIN_CHECK)
        shown.wait_title("chain check")
        shown.press("Down", "Down")  # the laptop
        shown.picture("first_2_chain_check")
        shown.press("Return")
        set_the_level(shown, walked)
        check_the_chain(shown, walked)
        shown.press("Return")
        shown.wait_title("Today")
        shown.click(*START)
        answer_wrongly_by_mouse(shown, walked)
        answer_by_ear(shown, walked)
        review_loudly(shown, walked)
        shown.press("Escape")
        shown.wait_title("Today")
        time.sleep(0.5)
        shown.picture("first_12_today_after_two_questions")
        shown.press("p")
        shown.wait_title("progress")
        time.sleep(1.0)
        shown.picture("first_13_progress")
        shown.press("Escape")
        shown.wait_title("Today")
        shown.press("Escape")
        assert shown.process.wait(timeout=20) == 0
    yield walked
    walked.walker.forgets_sounds()


# The record -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def exported(evening: Evening) -> dict[str, Lines]:
    return evening.walker.exported()


def test_what_was_answered_is_in_the_record(evening: Evening, exported: dict[str, Lines]) -> None:
    first, second = exported["answer"]
    assert (first["kind"], first["sure"]) == ("too much", True)
    assert abs(octaves(first["freq_hz"], WRONG_HZ)) < 0.02
    told = evening.told
    assert told is not None
    assert (second["kind"], second["freq_hz"]) == (told.kind, round(told.freq_hz))
    assert first["heard_b_s"] > 3.0
    assert second["switches"] == 7  # A, B, and five to and fro


def test_an_ear_alone_names_the_second_and_not_the_first(
    evening: Evening, exported: dict[str, Lines]
) -> None:
    """By the README: the kind right, and the frequency within a third of an octave."""
    first, second = exported["answer"]
    assert abs(octaves(first["freq_hz"], first["recipe"]["freq_hz"])) > 1.0 / 3.0
    assert second["kind"] == second["recipe"]["kind"]
    assert abs(octaves(second["freq_hz"], second["recipe"]["freq_hz"])) < 1.0 / 3.0
    told = evening.told
    assert told is not None
    # Third octaves round off the top of a peak of Q 1.4 by a tenth or two.
    assert 0.75 < abs(told.more_db) / second["recipe"]["size_db"] < 1.05


def test_what_the_laptop_does_not_bring_is_not_asked(exported: dict[str, Lines]) -> None:
    (check,) = exported["chain_check"]
    assert (check["output"], check["volume_db"]) == ("laptop", LEVEL_DB)
    assert check["reach"][:2] == ["not", "not"]
    assert "not" not in check["reach"][2:]
    # On a slow machine the listener may have given up on one before it came.
    assert check["reach"][3:].count("reproduced") >= 6
    # The band of 63 Hz ends at 89 Hz (IEC 61260-1).
    assert all(each["recipe"]["freq_hz"] > 89.0 for each in exported["answer"])


def test_progress_is_told_in_words_too(evening: Evening) -> None:
    done = run(evening.walker.home, "progress")
    assert (done.returncode, done.stderr) == (0, "")
    assert "2 answers" in done.stdout
    assert "Nothing below 125 Hz reaches you" in " ".join(done.stdout.split())


# The level ------------------------------------------------------------------------------------


def rms_db(sound: Samples) -> float:
    return 10.0 * float(np.log10(np.mean(sound.astype(np.float64) ** 2)))


def test_the_noise_starts_silent_and_rises_by_the_hand_alone(evening: Evening) -> None:
    assert not evening.sound("silent").any()
    at_rest = [evening.walker.heard(stop - RATE_HZ // 5, stop) for _, stop in evening.steps]
    levels_db = [rms_db(sound) for sound in at_rest]
    assert levels_db[0] < -75.0
    # A fifth of a second of pink noise wavers by about 1 dB.
    assert np.diff(levels_db) == pytest.approx(2.0, abs=2.0)
    assert levels_db[-1] - levels_db[0] == pytest.approx(2.0 * (STEPS_UP - 1), abs=2.0)


def test_the_noise_never_jumps(evening: Evening) -> None:
    """No 20 ms are 6 dB over the loudest of what was heard before, nor is there a click."""
    rising = evening.walker.heard(0, evening.spans["noise"][1])
    pieces = rising[: len(rising) // 960 * 960].reshape(-1, 960, 2)
    loud = np.flatnonzero(np.abs(pieces).max(axis=(1, 2)) > 0.0)
    # From silence to the first step it fades in, over five of these.
    levels_db = np.array([rms_db(piece) for piece in pieces[loud[0] + 5 :]])
    before_db = np.maximum.accumulate(levels_db)[:-1]
    assert (levels_db[1:] - before_db).max() < 6.0
    assert largest_bend(rising) < 1.3 * largest_bend(evening.sound("noise"))


def test_the_music_is_as_loud_as_the_noise_was(evening: Evening) -> None:
    """At the target level of EBU R 128, -23 LUFS, under the volume that was set."""
    a = evening.sound("a")
    music_lufs = level_lufs(a[: round_frames(a)])
    assert music_lufs == pytest.approx(-23.0 + LEVEL_DB, abs=0.3)
    # Half of the noise's round.
    assert level_lufs(evening.sound("noise")) == pytest.approx(music_lufs, abs=1.5)


# A, B and the fix -----------------------------------------------------------------------------


def sources(answer: dict[str, Any]) -> dict[str, Samples]:
    """What there was to hear of an answered question, made once more from its line."""
    recipe = read_recipe(answer["recipe"])
    loop = demo_loop(recipe.loop)
    question = make_question(recipe, loop)
    fix = undo_answers(question, loop, *as_fixes(recipe, read_answer(answer)))
    return {"A": question.a, "B": question.b, "fix": fix}


def test_the_review_sounds_a_b_and_the_fix(evening: Evening, exported: dict[str, Lines]) -> None:
    names = [
        one.name
        for one in who_sounds(evening.sound("review"), sources(exported["answer"][0]), 4096)
        if one.name != BETWEEN
    ]
    order = [name for at, name in enumerate(names) if names[at - 1 : at] != [name]]
    assert order[-3:] == ["A", "B", "fix"]


def test_no_switch_clicks(evening: Evening, exported: dict[str, Lines]) -> None:
    there = sources(exported["answer"][1])
    pair = {name: there[name] for name in "AB"}
    sound = evening.sound("switches")
    assert order_heard(sound, pair) == ["B", "A", "B", "A", "B", "A"]
    assert click_excess(sound, pair, db_to_gain(LEVEL_DB)) < 1.1


def test_a_and_b_are_as_loud_as_each_other(evening: Evening) -> None:
    """By BS.1770, as pyloudnorm measures it: it differs from ours by where its blocks lie."""
    a, b = evening.sound("a"), evening.sound("b")
    frames = round_frames(a)
    assert level_lufs(a[:frames]) == pytest.approx(level_lufs(b[:frames]), abs=0.2)


@pytest.mark.parametrize("letter", "abfxr")
def test_nothing_passes_the_cap_when_all_is_turned_up(evening: Evening, letter: str) -> None:
    """By libebur128; what is cut out of a sound may ring a little over it."""
    peak_db = ebur128_dbtp(evening.sound(f"loud {letter}"))
    softest_db = -60.0 if letter == "r" else -30.0  # a region alone can be a quiet one
    assert softest_db < peak_db < -1.0 + 0.1


def test_the_volume_is_kept_as_it_was_left(exported: dict[str, Lines]) -> None:
    settings = {each["name"]: each["value"] for each in exported["setting"]}
    assert settings["volume_db"] == 0.0
