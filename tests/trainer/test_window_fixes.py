"""Fix rounds in the window as their user meets them: keys and mouse, and the sound captured."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest

from exercises.demo_loops import demo_loop
from exercises.fix_candidates import fix_candidates
from exercises.kinds import Kind
from exercises.loudness import loudness_lufs
from exercises.moves import EqPoint, HighShelf, Ride
from exercises.question import make_question
from exercises.recipe import Recipe
from exercises.samples import RATE_HZ, Samples, db_to_gain
from tests import captured_sound
from tests.screen import Window, window
from trainer.choice_round import ChoiceRound
from trainer.fix_round import FixResult, Sort, as_loud_as_the_softest
from trainer.kept_fixes import KeptFix, keep_fix, kept_fixes, new_kept_fix
from trainer.open_round import OpenRound
from trainer.record import Record
from trainer.round import LEAST_HEARD_S
from trainer.volume import START_DROP_DB
from trainer.window.canvas import Box
from trainer.window.fix_chart import FixChart
from trainer.window.rule import HEIGHT, Rule

LOOP = "gull-parade"
WORDS = ["drill", "--learner", "ada", "--loops", LOOP]
VOLUME_DB = -28.0
GAIN = db_to_gain(VOLUME_DB - START_DROP_DB)


@contextmanager
def opened(home: Path, learner: str = "ada") -> Iterator[Record]:
    record = Record(home, learner, "test")
    try:
        yield record
    finally:
        record.close()


def kept_in(home: Path) -> list[KeptFix]:
    with opened(home) as record:
        return list(kept_fixes(record))


def prepare(home: Path, *, a_choice_behind: bool = False, learner: str = "ada") -> None:
    """A record with a volume, and perhaps a choice round, so that an open one is next."""
    with opened(home, learner) as record:
        record.set_setting("volume_db", VOLUME_DB)
        if a_choice_behind:
            loop = demo_loop(LOOP)
            recipe = Recipe(1, LOOP, loop.fingerprint, Kind.TOO_MUCH, 6.0, 300.0, 1.0)
            one = (EqPoint(300.0, -6.0, 1.0),)
            result = FixResult(Sort.CHOICE, recipe, 1, (one,), one, one, False, 0.0, 0.0)
            keep_fix(record, new_kept_fix(result, datetime(2026, 1, 1, tzinfo=UTC), 1.0))


def environment(home: Path, **more: str) -> dict[str, str]:
    return os.environ | {"NAMEFIRST_HOME": str(home), "SDL_AUDIODRIVER": "dummy"} | more


def sounding(capture: Path) -> Samples:
    captured = captured_sound.read_capture(capture)
    heard = np.flatnonzero(np.abs(captured).max(axis=1) > 0.0)
    return captured[heard[0] : heard[-1] + 1]


def choice_of(kept: KeptFix) -> ChoiceRound:
    """The round that was played, made again from what was kept of it."""
    loop = demo_loop(LOOP)
    question = make_question(kept.result.recipe, loop)
    return ChoiceRound(question, loop, fix_candidates(question, loop), kept.result.seed)


def test_a_choice_by_keyboard_is_played_level_matched_without_a_click(tmp_path: Path) -> None:
    prepare(tmp_path)
    capture = tmp_path / "sound.raw"
    sound = captured_sound.capture_environment(capture, delay_ms=10)
    with window(WORDS, environment(tmp_path, **sound), tmp_path) as shown:
        shown.wait_title("Today")
        shown.press("m")
        shown.wait_title("choose a fix")
        shown.press("Return")  # nothing is marked yet: it stays
        for key in ("b", "1", "2", "3", "4", "a", "2"):
            shown.press(key)
            time.sleep(1.3)
        shown.picture("choose_a_fix")
        shown.press("Return")
        shown.wait_title("fixes reviewed")
        shown.press("1")
        time.sleep(1.0)
        shown.picture("fixes_reviewed")
        shown.press("Escape")
        shown.wait_title("Today")
        shown.press("Escape")
        assert shown.process.wait(timeout=20) == 0
    (kept,) = kept_in(tmp_path)
    round_ = choice_of(kept)
    assert kept.result.sort is Sort.CHOICE
    assert kept.result.offered == tuple(each.fix for each in round_.offered)
    assert kept.result.fix == round_.offered[1].fix
    assert kept.seconds > 8.0
    assert kept.drill_id is None
    captured, sources = sounding(capture), round_.sounds()
    alike = _alike(sources)
    windows = [
        replace(one, name=alike.get(one.name, one.name))
        for one in captured_sound.who_sounds(captured, sources)
    ]
    wanted = [alike[name] for name in ("B", "1", "2", "3", "4", "A", "2", "1")]
    assert _held(windows) == [name for name, _ in groupby(wanted)]
    settled = windows[2 * RATE_HZ // captured_sound.WINDOW_FRAMES :]  # the first fade-in is over
    gains_db = {
        name: [one.gain_db for one in settled if one.name == name]
        for name in {alike[name] for name in ("1", "2", "3", "4")}
    }
    heard_lufs = [
        loudness_lufs(sources[name]) + float(np.median(gains)) for name, gains in gains_db.items()
    ]
    assert max(heard_lufs) - min(heard_lufs) < 0.05
    assert captured_sound.click_excess(captured, sources, GAIN) < 1.1


def _alike(sources: Mapping[str, Samples]) -> dict[str, str]:
    """For each name the first that sounds the same but for a thirtieth of it: two moves can come to
    what one does, to the sample nearly, and no capture tells which was which."""
    names = list(sources)
    return {
        name: next(
            other
            for other in names
            if np.linalg.norm(sources[name] - sources[other]) < np.linalg.norm(sources[name]) / 30
        )
        for name in names
    }


def _held(windows: Sequence[captured_sound.Heard]) -> list[str]:
    """What sounded for more than a fade, in order: between two that are nearly alike, a window of
    the fade may be taken for a third."""
    runs = [(name, len(list(run))) for name, run in groupby(one.name for one in windows)]
    names = [name for name, length in runs if length > 4]
    return [name for at, name in enumerate(names) if at == 0 or names[at - 1] != name]


def test_a_fix_made_by_keyboard_is_heard_as_it_is_made_without_zipper_noise(
    tmp_path: Path,
) -> None:
    prepare(tmp_path, a_choice_behind=True)
    capture = tmp_path / "sound.raw"
    sound = captured_sound.capture_environment(capture, delay_ms=10)
    with window(WORDS, environment(tmp_path, **sound), tmp_path) as shown:
        shown.wait_title("Today")
        shown.press("m")
        shown.wait_title("make a fix")
        shown.press("f")
        time.sleep(1.5)
        shown.press("n", "e", "e")  # a high shelf, 3 dB down
        for _ in range(12):
            shown.press("Down")  # half a decibel more, each heard
        shown.press("Left", "Left")
        time.sleep(1.5)
        shown.press("Tab")  # bypassed
        time.sleep(1.0)
        shown.press("Tab")
        time.sleep(1.0)
        shown.picture("make_a_fix")
        shown.press("Return")
        shown.wait_title("fixes reviewed")
        shown.press("2")
        time.sleep(1.0)
        shown.picture("own_fix_reviewed")
        shown.press("Escape")
        shown.wait_title("Today")
        shown.press("Escape")
        assert shown.process.wait(timeout=20) == 0
    kept = kept_in(tmp_path)[1]
    (shelf,) = kept.result.fix
    assert isinstance(shelf, HighShelf)
    assert shelf.gain_db == pytest.approx(-9.0)
    assert shelf.freq_hz == pytest.approx(8000.0 * 2.0 ** (-2.0 / 12.0), rel=0.01)
    assert kept.result.sort is Sort.OPEN
    loop = demo_loop(LOOP)
    question = make_question(kept.result.recipe, loop)
    round_ = OpenRound(question, loop, 1)
    sources = {
        "B": round_.sound_of(()),
        "yours": round_.sound_of(kept.result.fix),
        "smallest": round_.sound_of(kept.result.smallest),
        "A": question.a,
    }
    matched = as_loud_as_the_softest(sources)
    for name, each in sources.items():
        assert np.abs(each - matched[name]).max() < 0.003, name  # was level-matched already
    captured = sounding(capture)
    order = captured_sound.order_heard(captured, sources)
    assert order[0] == "B"
    assert order[-4:] == ["yours", "B", "yours", "smallest"]
    assert captured_sound.click_excess(captured, sources, GAIN) < 1.1


def test_a_fix_made_by_mouse_alone(tmp_path: Path) -> None:
    prepare(tmp_path, a_choice_behind=True)
    rule = Rule(Box(56, 576, 1280 - 2 * 56, HEIGHT))
    chart = FixChart(Box(56, 400, 1280 - 2 * 56, 160), rule)

    def at(freq_hz: float, gain_db: float) -> tuple[int, int]:
        return round(rule.x_of(freq_hz)), round(chart.y_of(gain_db))

    with window(WORDS, environment(tmp_path), tmp_path) as shown:
        shown.wait_title("Today")
        shown.press("m")
        shown.wait_title("make a fix")
        shown.click(450, 163)  # with your moves
        shown.click(*at(500.0, -4.0))  # a new point
        shown.click(*at(4000.0, 3.0))  # another
        _drag_slowly(shown, at(500.0, -4.0), at(1000.0, -8.0))
        shown.click(150, 683)  # a ride: the first passage
        time.sleep(LEAST_HEARD_S + 0.6)
        shown.picture("a_fix_by_mouse")
        shown.click(1120, 260)  # Done
        shown.wait_title("fixes reviewed")
    one, two, ride = kept_in(tmp_path)[1].result.fix
    assert isinstance(one, EqPoint)
    assert isinstance(two, EqPoint)
    assert isinstance(ride, Ride)
    assert one.freq_hz == pytest.approx(1000.0, rel=0.01)
    assert one.gain_db == pytest.approx(-8.0, abs=0.5)
    assert two.freq_hz == pytest.approx(4000.0, rel=0.01)
    assert two.gain_db == pytest.approx(3.0, abs=0.5)
    assert ride.passage == demo_loop(LOOP).passages[0]


def _drag_slowly(shown: Window, start: tuple[int, int], stop: tuple[int, int]) -> None:
    shown.xdotool("mousemove", *map(str, start), "mousedown", "1")
    time.sleep(0.2)
    half = [str((one + other) // 2) for one, other in zip(start, stop, strict=True)]
    shown.xdotool("mousemove", *half)
    time.sleep(0.2)
    shown.xdotool("mousemove", *map(str, stop))
    time.sleep(0.3)
    shown.xdotool("mouseup", "1")


def test_a_drill_has_a_fix_before_a_question_and_does_not_ask_it_twice(tmp_path: Path) -> None:
    prepare(tmp_path)
    words = [*WORDS, "--kinds", "too much,too little", "--fixes", "8"]
    with window(words, environment(tmp_path), tmp_path) as shown:
        shown.wait_title("Today")
        for number in (1, 2):
            shown.press("Return")
            shown.wait_title(f"question {number}")
            shown.hear_b()
            shown.press("1")
            shown.type("400")
            shown.press("Return")
            shown.wait_title(f"review {number}")
        shown.press("Return")
        shown.wait_title("choose a fix")
        shown.picture("a_fix_in_the_drill")
        shown.press("3", "Return")
        shown.wait_title("fixes reviewed")
        shown.press("Return")
        shown.wait_title("question 3")
        shown.press("Escape")
        shown.wait_title("Today")
        shown.press("Return")
        shown.wait_title("question 3")
    (kept,) = kept_in(tmp_path)
    assert kept.number == 3
    assert kept.drill_id is not None
    assert kept.result.sort is Sort.CHOICE
