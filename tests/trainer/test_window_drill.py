"""The window as its user meets it: real keys and mouse on a virtual screen, the sound captured."""

from __future__ import annotations

import os
import time
from pathlib import Path

import numpy as np
import pygame
import pytest

from exercises.demo_loops import demo_loop
from exercises.question import make_question, undo_answers
from exercises.samples import Samples, db_to_gain
from tests import captured_sound
from tests.screen import Window, window
from trainer.judging import as_fixes
from trainer.record import KeptAnswer, Record
from trainer.volume import FIRST_START_DB

TONE_ONLY = ["drill", "--learner", "ada", "--kinds", "too much,too little"]


def environment(home: Path, **more: str) -> dict[str, str]:
    return os.environ | {"NAMEFIRST_HOME": str(home), "SDL_AUDIODRIVER": "dummy"} | more


def answers(home: Path) -> list[KeptAnswer]:
    record = Record(home, "ada", "test")
    try:
        return list(record.answers())
    finally:
        record.close()


def start(shown: Window) -> None:
    shown.wait_title("Today")
    shown.press("Return")
    shown.wait_title("question 1")


def answer(shown: Window, number: int, hz: str, *, kind: str = "1", sure: bool = True) -> None:
    shown.hear_b()
    shown.press(kind)
    shown.type(hz)
    shown.press("Return" if sure else "shift+Return")
    shown.wait_title(f"review {number}")


def sounds_of(kept: KeptAnswer) -> dict[str, Samples]:
    """What question and review had to play, made again from the record."""
    loop = demo_loop(kept.recipe.loop)
    question = make_question(kept.recipe, loop)
    fix = undo_answers(question, loop, *as_fixes(kept.recipe, kept.answer))
    return {"A": question.a, "B": question.b, "fix": fix}


def test_a_drill_of_ten_questions_by_keyboard(tmp_path: Path) -> None:
    capture = tmp_path / "sound.raw"
    sound = captured_sound.capture_environment(capture, delay_ms=10)
    with window(TONE_ONLY, environment(tmp_path, **sound), tmp_path) as shown:
        shown.wait_title("Today")
        shown.picture("today")
        start(shown)
        shown.press("space")  # B
        time.sleep(1.5)
        for key in ("Tab", "b", "a"):  # A, B, A
            shown.press(key)
            time.sleep(0.7)
        shown.press("1")
        shown.type("3.2k")
        shown.picture("question")
        shown.press("Return")
        shown.wait_title("review 1")
        shown.press("f")
        time.sleep(0.9)
        shown.picture("review")
        shown.press("space")
        time.sleep(0.3)
        first_frames = capture.stat().st_size // 8
        for number in range(2, 11):
            shown.press("Return")
            shown.wait_title(f"question {number}")
            answer(shown, number, "250", sure=number % 2 == 0)
        shown.press("Escape")
        shown.wait_title("Today")
        shown.picture("today_with_a_drill_to_go_on_with")
        shown.press("Escape")
        assert shown.process.wait(timeout=20) == 0
    kept = answers(tmp_path)
    assert len(kept) == 10
    assert kept[0].answer.freq_hz == 3200.0
    assert {each.answer.freq_hz for each in kept[1:]} == {250.0}
    assert [each.answer.sure for each in kept[1:]] == [True, False] * 4 + [True]
    assert kept[0].listening.switches == 3
    assert 1.5 < kept[0].listening.heard_b_s < 10.0
    _check_sound(captured_sound.read_capture(capture)[:first_frames], sounds_of(kept[0]))


def _check_sound(captured: Samples, sources: dict[str, Samples]) -> None:
    sounding = np.flatnonzero(np.abs(captured).max(axis=1) > 0.0)
    captured = captured[sounding[0] : sounding[-1] + 1]
    order = captured_sound.order_heard(captured, sources)
    if sources["A"].tobytes() == sources["B"].tobytes():
        pytest.fail("the first question of a drill hides something")
    assert order == ["B", "A", "B", "A", "fix"]
    gain = db_to_gain(FIRST_START_DB)
    loudest = max(float(np.abs(each).max()) for each in sources.values())
    assert float(np.abs(captured).max()) <= loudest * gain * 1.001
    assert captured_sound.click_excess(captured, sources, gain) < 1.1
    start_up = np.abs(captured[: len(captured) // 50]).max()
    assert start_up < loudest * gain * 0.5  # it fades in


@pytest.mark.parametrize("size", [(1024, 640), (1280, 800), (2560, 1440)])
def test_pages_fill_windows_of_every_size(tmp_path: Path, size: tuple[int, int]) -> None:
    screen = "x".join(map(str, size))
    with window(TONE_ONLY, environment(tmp_path), tmp_path, size=screen) as shown:
        start(shown)
        shown.resize(*size)
        picture = pygame.image.load(shown.picture(f"question_{screen}"))
    pixels = pygame.surfarray.array3d(picture).astype(int).sum(axis=2)
    assert pixels.shape == size
    inked = pixels < 3 * 0x60
    assert inked.any(axis=1)[-size[0] // 10 :].any()  # the rule reaches far to the right
    assert inked.any(axis=0)[-size[1] // 6 :].any()  # and keys stand near the bottom


def test_without_a_sound_device_it_says_so_and_nothing_is_answered(tmp_path: Path) -> None:
    words = environment(tmp_path, SDL_AUDIODRIVER="there_is_no_such_driver")
    with window(TONE_ONLY, words, tmp_path) as shown:
        start(shown)
        shown.hear_b()
        shown.picture("no_sound_device")
        shown.press("1")
        shown.type("100")
        shown.press("Return")
        time.sleep(1.0)
        shown.picture("not_listened_to")
        assert shown.title == "question 1"
        assert shown.process.poll() is None
    assert answers(tmp_path) == []
