"""Claims, the chain check and the safe level in the window: real keys and mouse, a real record."""

from __future__ import annotations

import os
import re
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from exercises.equaliser import filter_loop, peaking
from exercises.samples import RATE_HZ, db_to_gain
from tests import captured_sound
from tests.exercises.test_build_up import pink
from tests.screen import Window, wait_until, window
from trainer.kept_chains import checked_outputs, latest_check, output_in_use
from trainer.kept_claims import KeptClaim, kept_claims
from trainer.record import Record
from trainer.volume import SOFTEST_DB, STEP_DB

SIZES = pytest.mark.parametrize("size", ["1280x800", "1024x640"])


def environment(home: Path, **more: str) -> dict[str, str]:
    return os.environ | {"NAMEFIRST_HOME": str(home), "SDL_AUDIODRIVER": "dummy"} | more


def claims(home: Path) -> list[KeptClaim]:
    record = Record(home, "ada", "test")
    try:
        return list(kept_claims(record))
    finally:
        record.close()


def volume_db(home: Path) -> float | None:
    record = Record(home, "ada", "test")
    try:
        kept: float | None = record.setting("volume_db")
        return kept
    finally:
        record.close()


def written_song(folder: Path) -> Path:
    path = folder / "song.wav"
    soundfile.write(path, filter_loop(pink(5.0, 1), peaking(186.0, 7.0, 2.0)), RATE_HZ)
    return path


def answer_trials(shown: Window) -> None:
    """Says one or the other, having heard X, until the trials are over."""
    number = 1
    while shown.title == f"claim: is it heard? {number}" and number <= 40:
        shown.press("x")
        time.sleep(0.15)
        shown.press(("1", "2", "Left", "Right")[number % 4])
        number += 1
        wait_until(lambda number=number: shown.title.endswith(("?", f" {number}", " 1", "verdict")))
    if shown.title == "claim: verdict":
        shown.press("1")  # it was not shown to be heard: pointing is offered
    shown.wait_title("claim: where is it? 1")


@SIZES
def test_a_claim_from_its_measurement_to_its_report(tmp_path: Path, size: str) -> None:
    words = ["claim", str(written_song(tmp_path)), "--at", "200", "--learner", "ada"]
    with window(words, environment(tmp_path), tmp_path, size=size) as shown:
        shown.wait_title("claim: is it there?")
        shown.picture(f"claim_evidence_{size}")
        shown.press("Return")
        shown.wait_title("claim: is it heard? 1")
        shown.press("1")  # X was not heard yet, so nothing is answered
        time.sleep(0.2)
        assert shown.title == "claim: is it heard? 1"
        shown.press("a")
        shown.picture(f"claim_trials_{size}")
        answer_trials(shown)
        for number, typed in enumerate(("200", "1.5k", "150", "250", "3k"), start=1):
            shown.wait_title(f"claim: where is it? {number}")
            shown.type(typed)
            if number == 1:
                shown.picture(f"claim_pointing_{size}")
            # The next pair is rendered first; until then Enter says nothing.
            following = f"where is it? {number + 1}" if number < 5 else "verdict"
            for _ in range(50):
                shown.press("Return")
                time.sleep(0.1)
                if shown.title == f"claim: {following}":
                    break
        shown.wait_title("claim: verdict")
        shown.picture(f"claim_verdict_{size}")
        shown.press("ctrl+s")
        reports = tmp_path / "claims"
        wait_until(lambda: reports.is_dir() and list(reports.iterdir()))
        shown.press("Return")
        shown.wait_title("Today")
    (kept,) = claims(tmp_path)
    assert kept.outcome in ("heard", "not shown", "undecided")
    assert [point.named_hz for point in kept.points] == [200.0, 1500.0, 150.0, 250.0, 3000.0]
    (report,) = reports.iterdir()
    html = report.read_text(encoding="utf-8")
    assert re.search(r"a build-up at 18\d Hz", html)
    assert f"{sum(t.right for t in kept.trials)} of {len(kept.trials)} right" in html


def test_a_claim_that_is_left_or_killed_is_kept(tmp_path: Path) -> None:
    words = ["claim", "ferry-crossing", "--at", "200", "--track", "guitar", "--learner", "ada"]
    with window(words, environment(tmp_path), tmp_path) as shown:
        shown.wait_title("claim: is it there?")
        shown.press("Return")
        shown.wait_title("claim: is it heard? 1")
        shown.press("x")
        time.sleep(0.4)
        shown.press("2")
        shown.wait_title("claim: is it heard? 2")
        shown.process.kill()
        shown.process.wait()
    (kept,) = claims(tmp_path)
    assert (len(kept.trials), kept.outcome, kept.track) == (1, "going on", "guitar")


def test_a_claim_is_made_on_the_form_by_mouse_and_keys(tmp_path: Path) -> None:
    with window(["drill", "--learner", "ada"], environment(tmp_path), tmp_path) as shown:
        shown.wait_title("Today")
        shown.press("c")
        shown.wait_title("claim")
        # Its first track, in two seconds of it; too little.
        shown.press("Down", "Right", "Down", "1", "minus", "3", "Down", "Right")
        shown.click(696, 578)  # 1 kHz on the rule
        shown.picture("claim_form")
        shown.press("Return")
        shown.wait_title("claim: is it there?")
        shown.picture("claim_evidence_of_a_track")
        shown.press("Escape")
        shown.wait_title("claim")
        shown.press("Escape")
        shown.wait_title("Today")
    assert claims(tmp_path) == []


def test_what_cannot_be_read_is_told_in_the_window(tmp_path: Path) -> None:
    damaged = tmp_path / "damaged.wav"
    damaged.write_bytes(b"RIFF, and nothing more")
    words = ["claim", str(damaged), "--at", "200", "--learner", "ada"]
    with window(words, environment(tmp_path), tmp_path) as shown:
        shown.wait_title("claim: no claim")
        shown.picture("claim_trouble")
        shown.press("Escape")
        shown.wait_title("Today")


def test_in_a_trial_a_b_and_x_sound_as_they_should(tmp_path: Path) -> None:
    capture = tmp_path / "sound.raw"
    sound = captured_sound.capture_environment(capture, delay_ms=10)
    words = ["claim", str(written_song(tmp_path)), "--at", "186", "--cut", "9", "--learner", "ada"]
    with window(words, environment(tmp_path, **sound), tmp_path) as shown:
        shown.wait_title("claim: is it there?")
        shown.press("Return")
        shown.wait_title("claim: is it heard? 1")
        for key in ("a", "b", "x"):
            shown.press(key)
            time.sleep(0.8)
        shown.press("1")
        shown.wait_title("claim: is it heard? 2")
        shown.press("space")
        time.sleep(0.3)
        shown.press("Escape")
        shown.wait_title("Today")
    (kept,) = claims(tmp_path)
    from exercises.stretch import Asked
    from exercises.with_and_without import PointFilter
    from trainer.claim_case import open_case
    from trainer.loop_shelf import LoopShelf

    case = open_case(
        LoopShelf(tmp_path / "loops"),
        tmp_path / "song.wav",
        Asked(),
        PointFilter(186.0, -9.0, 1.4),
    )
    captured = captured_sound.read_capture(capture)
    sounding = np.flatnonzero(np.abs(captured).max(axis=1) > 0.0)
    sources = {"A": case.pair.a, "B": case.pair.b}
    heard = captured_sound.order_heard(captured[sounding[0] : sounding[-1] + 1], sources)
    # A, B, then X, which is what the record says it was; then the next X from the beginning.
    expected = ["A", "B", kept.trials[0].x]
    merged = [name for at, name in enumerate(expected) if at == 0 or expected[at - 1] != name]
    assert heard[: len(merged)] == merged
    gain = db_to_gain(-40.0)
    assert float(np.abs(captured).max()) <= 0.892 * gain


# The level ------------------------------------------------------------------------------------


def test_a_level_that_is_left_is_asked_for_again(tmp_path: Path) -> None:
    words = ["drill", "--learner", "ada"]
    with window(words, environment(tmp_path), tmp_path, first_run=True) as shown:
        shown.wait_title("Today")
        shown.press("Return")
        shown.wait_title("a safe level")
        shown.press("Escape")
        shown.wait_title("Today")
        shown.press("Return")
        shown.wait_title("a safe level")
    assert volume_db(tmp_path) is None


def test_a_held_plus_is_one_step(tmp_path: Path) -> None:
    words = ["level", "--learner", "ada"]
    with window(words, environment(tmp_path), tmp_path, first_run=True) as shown:
        shown.wait_title("a safe level")
        time.sleep(0.5)
        shown.xdotool("keydown", "plus")
        time.sleep(1.5)
        shown.xdotool("keyup", "plus")
        time.sleep(0.3)
        shown.press("Escape")
        shown.wait_title("Today")
    assert volume_db(tmp_path) == SOFTEST_DB + STEP_DB


# The chain check ------------------------------------------------------------------------------


@SIZES
def test_a_chain_check_by_keys_is_kept_by_output(tmp_path: Path, size: str) -> None:
    with window(["drill", "--learner", "ada"], environment(tmp_path), tmp_path, size=size) as shown:
        shown.wait_title("Today")
        shown.press("k")
        shown.wait_title("chain check")
        shown.picture(f"chain_{size}")
        shown.press("Down", "Return")
        # A start lies under where the learner works, and would lose what is faint.
        shown.wait_title("a safe level")
        shown.press("plus", "Return")
        shown.wait_title("chain check")
        shown.press("Return")
        shown.wait_title("burst 1")
        shown.picture(f"chain_burst_{size}")
        number = 1
        while number < 80 and shown.title == f"burst {number}":
            shown.press("0", "0", "0")  # nothing reaches this ear; the first that is taken counts
            wait_until(lambda number=number: shown.title != f"burst {number}")
            number = int(shown.title.split()[-1]) if shown.title.startswith("burst") else 99
        shown.wait_title("chain check done")
        shown.picture(f"chain_void_{size}")
        shown.press("Return")
        shown.wait_title("Today")
    record = Record(tmp_path, "ada", "test")
    # To hear nothing anywhere is an output that is off: it bars no band.
    assert checked_outputs(record) == ()
    assert output_in_use(record) is None
    assert latest_check(record, "loudspeakers") is None
    record.close()


def test_what_an_output_does_not_bring_is_shown_and_not_asked(tmp_path: Path) -> None:
    from tests.trainer.test_chain import checked, high_pass

    record = Record(tmp_path, "ada", "test")
    checked(record, "laptop", high_pass(300.0))
    record.close()
    words = ["drill", "--bands", "31.5,63", "--learner", "ada"]
    with window(words, environment(tmp_path), tmp_path) as shown:
        shown.wait_title("Today")
        shown.press("k")
        shown.wait_title("chain check")
        shown.picture("chain_known")
        shown.press("Escape")
        shown.wait_title("Today")
        shown.press("p")
        shown.wait_title("progress")
        time.sleep(2.0)
        shown.picture("progress_with_bands_left_out")
        shown.press("Escape")
        shown.wait_title("Today")
        shown.press("Return")
        time.sleep(4.0)
        shown.picture("nothing_reaches")
        assert shown.title == "getting the loop ready"  # and it says why, instead of asking
