"""A mixer's walk: a doubtful mix made a loop, a claim put on it and tested blind, and mended.

The mix is invented: a demo loop's tracks summed, four times over, with a build-up near 200 Hz in
one passage that an equaliser not ours put there. The listener is not ours either: it tells X from
A and B by nothing but what was played.
"""

from __future__ import annotations

import re
import time
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pyloudnorm
import pytest
import soundfile
from pedalboard import PeakFilter

from exercises.loops import read_loop
from exercises.samples import RATE_HZ, Samples
from tests import captured_sound
from tests.screen import Window, window
from tests.trainer.test_cli import ROOT, run
from tests.walks.blind_listener import BlindListener
from tests.walks.clipboard import copied
from trainer.kept_claims import KeptClaim, kept_claims
from trainer.record import Record

LEARNER = "Wren"
BUILD_UP_HZ, BUILD_UP_DB, BUILD_UP_Q = 205.0, 8.0, 2.0
MEND_HZ, MEND_DB, MEND_Q = 200.0, -6.0, 1.4
START_S, STOP_S = 20.0, 25.0  # the third time round, its first passage
SWELL_FRAMES = 2400
# What pyloudnorm and ours differ by on music, and the seam of a round that began anywhere.
SAME_LU = 0.2


def equalised(mix: Samples, freq_hz: float, gain_db: float, q: float) -> Samples:
    """``mix`` through the bell filter of pedalboard."""
    bell = PeakFilter(cutoff_frequency_hz=freq_hz, gain_db=gain_db, q=q)
    made: Samples = bell(np.ascontiguousarray(mix.T), RATE_HZ).T
    return made


@pytest.fixture(scope="module")
def mix(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Forty seconds of an invented band, thick near 200 Hz from 20 s to 25 s."""
    loop = read_loop(ROOT / "assets" / "loops" / "ferry-crossing")
    plain = np.tile(loop.mix(), (4, 1))
    there = np.zeros(len(plain))
    there[round(START_S * RATE_HZ) : round(STOP_S * RATE_HZ)] = 1.0
    swell = np.hanning(SWELL_FRAMES)
    there = np.convolve(there, swell / swell.sum(), "same")[:, None]
    sound = plain + there * (equalised(plain, BUILD_UP_HZ, BUILD_UP_DB, BUILD_UP_Q) - plain)
    path = tmp_path_factory.mktemp("mixes") / "Quay song v3.wav"
    soundfile.write(path, 0.5 * sound / np.abs(sound).max(), RATE_HZ, subtype="PCM_24")
    return path


# The claim ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Walked:
    """What a walk through a claim left behind."""

    claim: KeptClaim
    heard_db: list[float]
    as_it_is: Samples
    with_change: Samples
    report: str
    loop: Path


def add_as_loop(shown: Window, mix: Path) -> None:
    """Pastes where ``mix`` lies, hears the second loop that is found in it, and keeps that."""
    shown.press("o")
    shown.wait_title("loops")
    shown.press("n")
    shown.wait_title("add a loop")
    with copied(f"{mix}\n", shown.display):
        shown.press("ctrl+v")
        time.sleep(0.4)
        shown.picture("mixer_1_path_pasted")
    shown.press("Return")
    shown.wait_title("choose a loop")
    shown.press("2")
    time.sleep(1.0)
    shown.picture("mixer_2_loops_found")
    shown.press("Return")
    shown.wait_title("loops")
    time.sleep(0.5)
    shown.picture("mixer_3_on_the_shelf")
    shown.press("Escape")
    shown.wait_title("Today")


def claim_on_it(shown: Window) -> None:
    """Claims too much near 200 Hz, on the form: one's own loop comes first there."""
    shown.press("c")
    shown.wait_title("claim")
    shown.type("200")
    time.sleep(0.2)
    shown.picture("mixer_4_claim")
    shown.press("Return")
    shown.wait_title("claim: is it there?")
    time.sleep(0.4)
    shown.picture("mixer_5_is_it_there")
    shown.press("Return")
    shown.wait_title("claim: is it heard? 1")


def tell_x(shown: Window, ear: BlindListener) -> list[float]:
    """Listens to X and says which it is, until the test is over; what was heard at the claim."""
    heard_db: list[float] = []
    while shown.title.startswith("claim: is it heard?"):
        shown.press("x")
        heard_db.append(ear.change_at_db(ear.next_piece(), MEND_HZ))
        if len(heard_db) == 2:
            shown.picture("mixer_6_is_it_heard")
        before = shown.title
        shown.press("1" if heard_db[-1] > 0.5 * MEND_DB else "2")
        for _ in range(50):
            if shown.title != before:
                break
            time.sleep(0.05)
    return heard_db


def point(shown: Window, ear: BlindListener) -> None:
    """Listens to B five times, and types where it differs from the loop."""
    for number in range(1, 6):
        shown.wait_title(f"claim: where is it? {number}")
        time.sleep(1.0)  # its sounds are being rendered
        shown.press("b")
        shown.type(f"{ear.place_hz(ear.next_piece(2.0)):.0f}")
        time.sleep(0.2)
        if number == 2:
            shown.picture("mixer_7_where_is_it")
        shown.press("Return")
    shown.wait_title("claim: verdict")


@pytest.fixture(scope="module")
def tested(mix: Path, tmp_path_factory: pytest.TempPathFactory) -> Walked:
    """The whole walk in the window, from the first page to a saved report."""
    home, capture = tmp_path_factory.mktemp("home"), tmp_path_factory.mktemp("sound") / "sound.raw"
    environment = captured_sound.capture_environment(capture, delay_ms=3)
    words = ["drill", "--learner", LEARNER]
    with window(words, environment | {"NAMEFIRST_HOME": str(home)}, home / "pictures") as shown:
        shown.wait_title("Today")
        add_as_loop(shown, mix)
        (folder,) = (each for each in (home / "loops").iterdir() if each.is_dir())
        loop = read_loop(folder)
        claim_on_it(shown)
        ear = BlindListener(capture, loop.mix())
        pair = []
        for letter in "ab":
            shown.press(letter)
            pair.append(ear.next_piece(loop.frames / RATE_HZ))
        heard_db = tell_x(shown, ear)
        point(shown, ear)
        time.sleep(0.3)
        shown.picture("mixer_8_verdict")
        shown.press("ctrl+s")
        time.sleep(0.5)
        shown.picture("mixer_9_report_saved")
        shown.press("Return")
        shown.wait_title("Today")
    record = Record(home, LEARNER, "test")
    (claim,) = kept_claims(record)
    record.close()
    (report,) = (home / "claims").glob("*.html")
    return Walked(claim, heard_db, pair[0], pair[1], text_of(report), folder)


class _Text(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.text = ""

    def handle_data(self, data: str) -> None:
        self.text += data


def text_of(page: Path) -> str:
    parser = _Text()
    parser.feed(page.read_text(encoding="utf-8"))
    return " ".join(parser.text.split())


def octaves_apart(one_hz: float, other_hz: float) -> float:
    return abs(float(np.log2(one_hz / other_hz)))


def test_what_was_told_by_ear_is_the_verdict(tested: Walked) -> None:
    claim = tested.claim
    assert claim.outcome == "heard"
    assert [trial.said for trial in claim.trials] == [
        "A" if heard > 0.5 * MEND_DB else "B" for heard in tested.heard_db
    ]
    assert all(trial.right for trial in claim.trials)
    # The ear was not in doubt: the cut was there or it was not.
    for heard in tested.heard_db:
        assert min(abs(heard), abs(heard - MEND_DB)) < 1.5
    right = len(claim.trials)
    assert f"Heard: {right} of {right} right." in tested.report


def test_where_it_was_pointed_at_is_kept_and_told(tested: Walked) -> None:
    points = tested.claim.points
    assert len(points) == 5
    for point in points:
        assert octaves_apart(point.true_hz, point.named_hz) < 1.0 / 3.0
        assert octaves_apart(point.true_hz, MEND_HZ) <= 1.0
    assert "Pointing, 5 times:" in tested.report


def test_the_measurement_names_the_build_up_and_its_passages(tested: Walked, mix: Path) -> None:
    nearest = tested.claim.nearest
    assert nearest is not None
    assert octaves_apart(nearest.centre_hz, BUILD_UP_HZ) < 1.0 / 3.0
    named = re.search(r"Measured: a build-up at (\d+) Hz", tested.report)
    assert named is not None
    assert octaves_apart(float(named[1]), BUILD_UP_HZ) < 1.0 / 3.0
    said = re.search(r"it stands out in ([^;]*?)(;|\. )", tested.report)
    assert said is not None
    # The song is thick there of itself, too, where chords are open.
    named_passages = re.findall("'([^']*)'", said[1])
    thick = thick_passages(tested.loop, mix)
    assert thick
    assert set(thick) <= set(named_passages)


def thick_passages(folder: Path, mix: Path) -> list[str]:
    """The loop's passages that lie in the mix where the build-up was put."""
    loop = read_loop(folder)
    whole = soundfile.read(mix, dtype="float32", always_2d=True)[0]
    size = len(whole) + loop.frames
    likeness = np.fft.irfft(
        np.fft.rfft(whole[:, 0], n=size) * np.conj(np.fft.rfft(loop.mix()[:, 0], n=size)), n=size
    )
    start = int(np.argmax(likeness))
    thick = []
    for passage in loop.passages:
        first, last = start + passage.start_frame, start + passage.stop_frame
        inside = min(last, STOP_S * RATE_HZ) - max(first, START_S * RATE_HZ)
        if inside > 0.5 * (last - first):
            thick.append(passage.name)
    assert 0 < len(thick) < len(loop.passages)
    return thick


def test_a_and_b_sounded_as_loud_as_each_other(tested: Walked) -> None:
    """Held to pyloudnorm; a start at -40 dB lies near its gate, so it is turned up before."""
    meter = pyloudnorm.Meter(RATE_HZ)
    levels = [
        meter.integrated_loudness(100.0 * sound) for sound in (tested.as_it_is, tested.with_change)
    ]
    assert levels[0] == pytest.approx(levels[1], abs=SAME_LU)


# The mend -------------------------------------------------------------------------------------


def test_the_moves_of_the_mended_mix_name_the_cut(mix: Path, tmp_path: Path) -> None:
    before = soundfile.read(mix, dtype="float32", always_2d=True)[0]
    after = tmp_path / "Quay song v4.wav"
    soundfile.write(after, equalised(before, MEND_HZ, MEND_DB, MEND_Q), RATE_HZ, subtype="PCM_24")
    picture = tmp_path / "moves.svg"
    done = run(
        tmp_path, "moves", "--before", str(mix), "--after", str(after), "--picture", str(picture)
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "1 move explains the rest:" in done.stdout
    move = re.search(r"^1\. cut ([0-9.]+) dB at ([0-9.]+) Hz", done.stdout, re.M)
    assert move is not None
    assert -float(move[1]) == pytest.approx(MEND_DB, abs=0.5)
    assert octaves_apart(float(move[2]), MEND_HZ) < 1.0 / 12.0
    drawn = ElementTree.parse(picture).getroot()
    assert drawn.tag == "{http://www.w3.org/2000/svg}svg"
    words = [text.text for text in drawn.iter("{http://www.w3.org/2000/svg}text")]
    assert move[0] in [word and word.split(", Q")[0] for word in words]
    assert "Quay song v3.wav, then Quay song v4.wav" in words
