"""Study as its user meets it: real keys and mouse on a virtual screen, the sound captured."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from exercises.demo_loops import demo_loop
from exercises.kinds import Kind
from exercises.samples import RATE_HZ, Samples, db_to_gain
from tests import captured_sound
from tests.captured_sound import BETWEEN, SILENCE, Heard
from tests.screen import PATIENCE_S, Window, sounded_s, wait_until, window
from trainer.loop_shelf import LoopShelf
from trainer.playhead import SWITCH_FRAMES
from trainer.record import Record
from trainer.study import SEEN_SETTING
from trainer.study_sounds import Mark, Pencil, StepSounds, StudyMaker
from trainer.subject import Subject
from trainer.volume import FIRST_START_DB

ROOT = Path(__file__).parents[2]
HONK = Subject(Kind.TOO_MUCH, 5)
# About four times faster than real time, so that a minute is over in a quarter of one.
FAST_MS = 2
PIECE = 4096


def environment(home: Path, **more: str) -> dict[str, str]:
    return os.environ | {"NAMEFIRST_HOME": str(home), "SDL_AUDIODRIVER": "dummy"} | more


def planned(home: Path) -> tuple[StepSounds, ...]:
    """The minute that a fresh learner is given on 1 kHz, made once more."""
    maker = StudyMaker(LoopShelf(home / "loops"))
    return tuple(maker.sounds_of(step) for step in maker.steps_of(HONK, None))


def set_a_volume(home: Path) -> None:
    """As of a learner who has set one: before the very first drill a safe level is asked for."""
    record = Record(home, "ada", "test")
    record.set_setting("volume_db", FIRST_START_DB)
    record.close()


def open_study(shown: Window) -> None:
    shown.wait_title("Today")
    shown.press("t")
    shown.wait_title("study")


def seen(home: Path) -> dict[str, int]:
    record = Record(home, "ada", "test")
    try:
        return dict(record.setting(SEEN_SETTING, {}))
    finally:
        record.close()


def sounding_part(capture: Path) -> Samples:
    captured = captured_sound.read_capture(capture)
    loud = np.flatnonzero(captured.any(axis=1))
    return captured[loud[0] : loud[-1] + 1]


def without_waits(captured: Samples) -> Samples:
    """Leaves out silences of half a second and more: how long one waits for the next step to be
    made is up to the machine."""
    pieces = np.array_split(captured, max(1, len(captured) // (RATE_HZ // 4)))
    silent = [not piece.any() for piece in pieces]
    return np.concatenate(
        [
            piece
            for at, piece in enumerate(pieces)
            if not (silent[at] and (silent[at - 1] or silent[(at + 1) % len(silent)]))
        ]
    )


def heard_in(captured: Samples, made: StepSounds) -> list[Heard]:
    return captured_sound.who_sounds(captured, made.sounds, PIECE)


def names_in_turn(windows: Sequence[Heard]) -> list[str]:
    names = [one.name for one in windows if one.name not in (SILENCE, BETWEEN)]
    return [name for at, name in enumerate(names) if at == 0 or names[at - 1] != name]


def test_a_guided_minute_plays_every_step_in_order_matched_and_without_a_click(
    tmp_path: Path,
) -> None:
    capture = tmp_path / "sound.raw"
    sound = captured_sound.capture_environment(capture, delay_ms=FAST_MS)
    steps = planned(tmp_path)
    total_s = sum(made.step.seconds for made in steps)
    with window(["drill", "--learner", "ada"], environment(tmp_path, **sound), tmp_path) as shown:
        open_study(shown)
        shown.picture("study")
        shown.press("1", "Right", "Right")  # from 250 Hz to 1 kHz
        shown.press("Return")
        time.sleep(4.0)
        shown.picture("guided_minute")

        def over() -> bool:
            if sounded_s(capture) < 0.98 * total_s:  # a loop may have a moment of silence itself
                return False
            time.sleep(0.5)
            return not captured_sound.read_capture(capture)[-2048:].any()

        wait_until(over)
        shown.picture("guided_minute_over")
        shown.press("Return")
        wait_until(lambda: shown.title == "study")
        shown.press("Escape", "Escape")
        assert shown.process.wait(timeout=PATIENCE_S) == 0
    assert seen(tmp_path) == {HONK.key: 0}
    captured = without_waits(sounding_part(capture))
    gain = db_to_gain(FIRST_START_DB)
    assert 0.98 * total_s <= len(captured) / RATE_HZ <= total_s + 6.0
    begun_s = 0.0
    for made in steps:
        start = max(0, int((begun_s - 0.3) * RATE_HZ))
        stop = int((begun_s + made.step.seconds + 2.5) * RATE_HZ)
        windows = heard_in(captured[start:stop], made)
        expected = [name for name, _ in made.step.turns]
        got = names_in_turn(windows)
        # Before and after it, a step beside it on the same loop may hold the same sound.
        runs = [got[at : at + len(expected)] for at in range(len(got))]
        assert expected in runs, (made.step.title, got)
        levels_db = [
            one.gain_db for one in windows if one.name in made.sounds and one.left_db < -60.0
        ]
        settled = [level for level in levels_db if abs(level - FIRST_START_DB) < 0.1]
        assert len(settled) > 0.8 * len(levels_db)  # all at the learner's volume, but for fades
        begun_s += made.step.seconds + 0.1
    every = {f"{made.step.title} {name}": s for made in steps for name, s in made.sounds.items()}
    assert captured_sound.click_excess(captured, every, gain) < 1.1
    loudest = max(float(np.abs(each).max()) for each in every.values())
    assert float(np.abs(captured).max()) <= loudest * gain * 1.001


def test_a_mark_is_heard_as_it_is_dragged_without_a_dip_or_a_click(tmp_path: Path) -> None:
    capture = tmp_path / "sound.raw"
    sound = captured_sound.capture_environment(capture, delay_ms=10)
    names = LoopShelf(tmp_path / "loops").names()
    pencil = Pencil(demo_loop(names[0]))

    def a_sounds() -> bool:
        latest = captured_sound.read_capture(capture)[-4 * PIECE :]
        heard = captured_sound.who_sounds(latest, {"A": pencil.a}, PIECE)
        return all(one.name == "A" and one.left_db < -60.0 for one in heard)

    with window(["drill", "--learner", "ada"], environment(tmp_path, **sound), tmp_path) as shown:
        open_study(shown)
        shown.press("t", "d")
        shown.wait_title("drag a mark")
        wait_until(lambda: sounded_s(capture) > 2.0)
        for x in range(300, 1000, 20):  # along the rule, as a hand would
            shown.xdotool("mousemove", str(x), "500")
            if x == 300:
                shown.xdotool("mousedown", "1")
            time.sleep(0.03)
        shown.xdotool("mouseup", "1")
        dragged_s = sounded_s(capture)
        wait_until(lambda: sounded_s(capture) > dragged_s + 1.5)
        shown.picture("drag_a_mark")
        shown.press("a")
        wait_until(a_sounds)
        shown.press("Escape")
        wait_until(lambda: shown.title == "study")
        shown.press("Escape", "Escape")
        assert shown.process.wait(timeout=PATIENCE_S) == 0
    captured = sounding_part(capture)
    sources = {
        "A": pencil.a,
        "first": pencil.b(Mark(Kind.TOO_MUCH, 250.0, 6.0)),
    }
    windows = captured_sound.who_sounds(captured, sources, PIECE)
    order = names_in_turn(windows)
    assert order == ["first", "A"]
    between = sum(one.name == BETWEEN for one in windows) * PIECE / RATE_HZ
    assert between > 1.5  # other marks were heard on the way
    gain = db_to_gain(FIRST_START_DB)
    moved = {
        f"{freq_hz}": pencil.b(Mark(Kind.TOO_MUCH, freq_hz, 6.0))
        for freq_hz in (90.0, 250.0, 1000.0, 4000.0)
    }
    assert captured_sound.click_excess(captured, sources | moved, gain) < 1.15
    # The place goes on: the end is as far along the loop as the beginning says.
    first = next(
        one
        for one in windows
        if one.name == "first" and one.left_db < -60.0 and one.gain_db > FIRST_START_DB - 0.1
    )  # past the ramp that every sound begins with
    last = [one for one in windows if one.name == "A"][-1]
    frames = len(pencil.a)
    assert (first.place + last.start - first.start - last.place) % frames in (0, frames)
    # No dip: a fade out and in again would take every 20 ms window at its middle down by 14 dB.
    own = pencil.a[(first.place + np.arange(last.start - first.start)) % frames]
    pieces = range(0, len(own) - SWITCH_FRAMES, SWITCH_FRAMES // 2)
    asked = [float(np.mean(own[at : at + SWITCH_FRAMES] ** 2)) * gain**2 for at in pieces]
    heard = captured[first.start : last.start]
    got = [float(np.mean(heard[at : at + SWITCH_FRAMES] ** 2)) for at in pieces]
    loud = np.array(asked) > max(asked) * 1e-3
    assert min((np.array(got) / np.array(asked))[loud]) > 0.1


def test_a_drill_opens_with_a_minute_of_what_is_new_once(tmp_path: Path) -> None:
    set_a_volume(tmp_path)
    words = ["drill", "--learner", "ada", "--kinds", "too much", "--minutes", "60"]
    with window(words, environment(tmp_path), tmp_path, size="1024x640") as shown:
        shown.wait_title("Today")
        shown.press("Return")
        for number in range(1, 13):
            shown.wait_title(f"question {number}")
            shown.hear_b()
            shown.press("1")
            shown.type("1000")
            shown.press("Return")
            shown.wait_title(f"review {number}")
            shown.press("Return")
        shown.wait_title("study")
        time.sleep(2.5)
        shown.picture("a_minute_in_the_drill")
        shown.press("g")  # skipped with one key
        shown.wait_title("question 13")
    assert len(seen(tmp_path)) == 1


def test_a_minute_in_the_terminal_is_said_and_heard(tmp_path: Path) -> None:
    capture = tmp_path / "sound.raw"
    told = subprocess.run(
        [
            sys.executable,
            "-m",
            "trainer",
            "study",
            "--terminal",
            "too",
            "much",
            "1k",
            "--learner",
            "ada",
        ],
        input="b\nwait 1\nq\n",
        env=captured_sound.capture_environment(capture, delay_ms=10)
        | {"NAMEFIRST_HOME": str(tmp_path)},
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    ).stdout
    lines = told.splitlines()
    made = planned(tmp_path)[0]
    assert "Too much at 1 kHz. Mixers say: honk, horn-like, nasal." in lines
    assert f"Step 1 of 5: Without and with. On '{made.loop.title}'." in lines
    said = [line for line in lines if line[:3] in ("A: ", "B: ")]
    assert said == ["A: without", "B: with, 6 dB"] * 2 + ["B: with, 6 dB"]
    assert told.isascii() or "\x1b" not in told
    assert names_in_turn(heard_in(sounding_part(capture), made)) == ["A", "B", "A", "B"]
    assert seen(tmp_path) == {HONK.key: 0}


def test_the_command_opens_the_page_of_what_is_to_be_studied(tmp_path: Path) -> None:
    words = ["study", "too", "little", "4k", "--learner", "ada"]
    with window(words, environment(tmp_path), tmp_path) as shown:
        shown.wait_title("study")
        time.sleep(1.0)
        shown.picture("study_by_command")
        shown.press("Escape")
        shown.wait_title("Today")


def test_study_without_a_subject_lists_them_and_says_what_is_next(tmp_path: Path) -> None:
    def study(*about: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "trainer", "study", "--terminal", *about, "--learner", "ada"],
            env=environment(tmp_path),
            cwd=ROOT,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )

    listed = study()
    assert listed.returncode == 0
    assert "namefirst study --terminal too much 250" in listed.stdout.splitlines()[0]
    assert "Too little at 16 kHz: no air, closed (new)" in listed.stdout
    wrong = study("the", "boat")
    assert wrong.returncode == 2
    assert "'the boat' is nothing to study; try a band (250)" in wrong.stderr
