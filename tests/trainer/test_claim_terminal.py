"""Claims, the chain check and the level from a terminal: processes of their own, typed lines.

Also the report: what is in it, that it fetches nothing, and that a hostile name stays text.
"""

from __future__ import annotations

import random
import re
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path

import pygame
import pytest
import soundfile

from exercises.equaliser import filter_loop, peaking
from exercises.samples import RATE_HZ
from exercises.stretch import Asked
from exercises.with_and_without import PointFilter
from tests.exercises.test_build_up import pink
from tests.trainer.test_cli import refused, run
from trainer.claim import Claim, Stage
from trainer.claim_case import Case, open_case
from trainer.claim_report import report_html
from trainer.claim_words import (
    aim_sentences,
    claim_sentence,
    clock,
    evidence_sentences,
    outcome_sentences,
)
from trainer.cli import main
from trainer.kept_claims import keep_claim, kept_claims
from trainer.loop_shelf import LoopShelf
from trainer.record import Record
from trainer.sequential_test import Outcome, Rule
from trainer.window import app

NOW = datetime(2026, 3, 5, 12, 0, tzinfo=UTC)
HOSTILE = '<script>alert(1)</script> & "mud".wav'


@pytest.fixture(scope="module")
def song(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twelve seconds of noise with a build-up at 186 Hz from 4 s to 8 s."""
    plain = pink(12.0, 1)
    thick = filter_loop(plain, peaking(186.0, 7.0, 2.0))
    sound = plain.copy()
    sound[4 * RATE_HZ : 8 * RATE_HZ] = thick[4 * RATE_HZ : 8 * RATE_HZ]
    path = tmp_path_factory.mktemp("songs") / "song.wav"
    soundfile.write(path, sound, RATE_HZ)
    return path


@pytest.fixture(scope="module")
def case(song: Path, tmp_path_factory: pytest.TempPathFactory) -> Case:
    shelf = LoopShelf(tmp_path_factory.mktemp("shelf"))
    return open_case(shelf, song, Asked(None, 4.0, 8.0), PointFilter(200.0, -6.0, 1.4))


def played(share: float, seed: int = 1, rule: Rule | None = None) -> Claim:
    claim = Claim(200.0, seed) if rule is None else Claim(200.0, seed, rule)
    draws = random.Random(seed)
    while claim.stage is Stage.TRIALS:
        right = draws.random() < share
        claim.say_x(claim.x if right else {"A": "B", "B": "A"}[claim.x])
    return claim


def pointed(claim: Claim, bias: float) -> Claim:
    draws = random.Random(5)
    while claim.stage is Stage.POINTING:
        claim.point(claim.place_hz * 2.0 ** draws.gauss(bias, 0.1))
    return claim


# In words -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("off_db", "side"),
    [(-0.06, "within"), (-0.04, "within"), (0.04, "within"), (0.06, "above")],
)
def test_a_figure_that_stands_on_its_bound_is_within_it(
    case: Case, off_db: float, side: str
) -> None:
    """What is shown as the bound itself is never called above it, or below."""
    usual = case.evidence.range
    assert usual is not None

    def sentence(power_db: float) -> str:
        moved = replace(case.evidence, range=replace(usual, power_db=power_db))
        return evidence_sentences(moved)[1]

    assert sentence(usual.high_db + off_db).endswith(f": {side} that range.")
    assert sentence(usual.low_db - off_db).endswith(
        f": {'below' if side == 'above' else side} that range."
    )


def test_evidence_says_what_was_measured(case: Case) -> None:
    said = " ".join(evidence_sentences(case.evidence))
    assert re.search(r"Measured: a build-up at 18\d Hz, \+\d\.\d dB, about .* octave wide", said)
    assert "octave below 200 Hz" in said
    assert "The 250 Hz band holds" in said
    assert claim_sentence(case) == (
        "The claim: too much near 200 Hz in song.wav, 0:04 to 0:08, whole mix."
    )


def test_each_outcome_has_its_figures_and_nobody_cannot_hear() -> None:
    for share, seed, outcome, begins in (
        (1.0, 1, Outcome.HEARD, "Heard: 6 of 6 right."),
        (0.4, 1, Outcome.NOT_SHOWN, "Not shown: "),
    ):
        claim = played(share, seed)
        assert claim.outcome is outcome
        said = outcome_sentences(claim)
        assert said[0].startswith(begins)
        assert "cannot hear" not in " ".join(said)
        assert "can't" not in " ".join(said)
    heard = " ".join(outcome_sentences(played(1.0)))
    assert "3.3 % of cases" in heard  # by guessing, as counted exactly
    assert "0.016" in heard  # binomial: 1/64
    never = Rule(heard_at=1e30, not_shown_at=1e30, most=10)
    undecided = played(0.6, 3, never)
    assert outcome_sentences(undecided)[0].startswith("Undecided: ")
    left = Claim(200.0, 1)
    assert outcome_sentences(left) == ("Left before the first trial.",)
    left.say_x("A")
    assert outcome_sentences(left) == ("Left after 1 trial: nothing is decided.",)


def test_pointing_in_words(case: Case) -> None:
    said = aim_sentences(pointed(played(1.0), 0.5), case.evidence)
    assert "octave too high on average (95 % interval +" in said[0]
    unbiased = aim_sentences(pointed(played(1.0, 2), 0.0), case.evidence)
    assert "Pointing, 5 times: " in unbiased[0]
    skipped = played(1.0)
    skipped.skip_pointing()
    assert aim_sentences(skipped, case.evidence) == ("Where it is was not asked.",)


@pytest.mark.parametrize(
    ("seconds", "said"), [(0.0, "0:00"), (30.0, "0:30"), (62.5, "1:02.5"), (59.96, "1:00")]
)
def test_places_in_a_file(seconds: float, said: str) -> None:
    assert clock(seconds) == said


# The report -----------------------------------------------------------------------------------


class Page(HTMLParser):
    """Every tag with its attributes, and the text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


def test_report_holds_everything_and_fetches_nothing(case: Case) -> None:
    claim = pointed(played(1.0), 0.0)
    html = report_html(case, claim, "ada", NOW)
    page = Page(html)
    names = {tag for tag, _ in page.tags}
    assert not names & {"script", "link", "img", "iframe", "object", "embed", "video", "audio"}
    for _, attributes in page.tags:
        assert not set(attributes) & {"src", "href", "onload", "onclick", "srcset"}
    assert "url(" not in html
    assert "http" not in html.replace("http-equiv", "")
    assert [tag for tag, _ in page.tags].count("svg") == 2
    assert [tag for tag, _ in page.tags].count("polyline") == 2
    for sentence in (
        *evidence_sentences(case.evidence),
        *outcome_sentences(claim),
        *aim_sentences(claim, case.evidence),
        "5 March 2026",
    ):
        assert sentence in page.text


def test_a_hostile_name_stays_text(song: Path, tmp_path: Path) -> None:
    path = tmp_path / HOSTILE.replace("/", "\N{DIVISION SLASH}")
    path.write_bytes(song.read_bytes())
    change = PointFilter(200.0, -6.0, 1.4)
    case = open_case(LoopShelf(tmp_path / "loops"), path, Asked(None, 4.0, 8.0), change)
    page = Page(report_html(case, played(1.0), "<b>ada</b>", NOW))
    assert not {"script", "b"} & {tag for tag, _ in page.tags}
    assert "<b>ada</b>" in page.text
    assert path.name in page.text


# The record -----------------------------------------------------------------------------------


def test_claims_are_kept_as_they_stand_also_when_left(case: Case, tmp_path: Path) -> None:
    record = Record(tmp_path, "ada", "test")
    claim = Claim(200.0, 1)
    for letter in "ABA":
        claim.say_x(letter)
        keep_claim(record, case, claim, NOW)
    record.close()
    record = Record(tmp_path, "ada", "test")
    (kept,) = kept_claims(record)
    assert kept.trials == claim.trials
    assert kept.outcome == "going on"
    assert (kept.title, kept.track, kept.start_s, kept.seconds) == ("song.wav", None, 4.0, 4.0)
    assert kept.change == case.change
    assert kept.nearest == case.evidence.nearest
    done = pointed(played(1.0), 0.0)
    keep_claim(record, case, done, NOW.replace(hour=13))
    assert [each.outcome for each in kept_claims(record)] == ["going on", "heard"]
    assert list(kept_claims(record))[1].points == done.points
    record.close()


# The command line -----------------------------------------------------------------------------


def test_a_claim_from_a_script_ends_with_a_verdict_and_a_report(song: Path, tmp_path: Path) -> None:
    report = tmp_path / "claim.html"
    typed = "1\na\n+\n?\nx\n" + "wait 0.3\n1\n" * 40 + "b\n200\n210\nzzz\n190\n220\n250\n"
    options = ("--from", "0:04", "--to", "8", "--terminal", "--report", str(report))
    done = run(tmp_path, "claim", str(song), "--at", "200", *options, typed=typed)
    assert done.returncode == 0, done.stderr
    assert "Measured: a build-up at 18" in done.stdout
    assert done.stdout.count("Listen to X first (x).") == 1
    assert "Trial 1, of 40 at most." in done.stdout
    assert "Volume -38 dB." in done.stdout
    assert re.search(r"^(Heard|Not shown|Undecided): \d+ of \d+ right", done.stdout, re.M)
    # What was typed on after the verdict was no frequency, or was one: five pointings in all.
    assert "Pointing 1 of 5." in done.stdout
    assert report.exists()
    record = Record(tmp_path, _user(tmp_path), "test")
    (kept,) = kept_claims(record)
    record.close()
    assert kept.outcome in ("heard", "not shown", "undecided")


def _user(home: Path) -> str:
    record = Record(home, "nobody else", "test")
    try:
        return next(name for name in record.learners() if name != "nobody else")
    finally:
        record.close()


def test_a_loop_by_its_name_on_one_track_and_left_at_the_end_of_input(tmp_path: Path) -> None:
    done = run(
        tmp_path, "claim", "ferry-crossing", "--at", "186", "--track", "guitar", "--boost", "4",
        "--terminal", typed="x\nwait 0.3\n1\nwait 0.3\n2\n",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "too little near 186 Hz in Ferry crossing" in done.stdout
    assert "a boost of 4 dB at 186 Hz, Q 1.4, on 'guitar'" in done.stdout
    assert done.stdout.rstrip().endswith("Left after 2 trials: nothing is decided.")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("nothing.wav", "--at", "200"), "no such file"),
        (
            ("Nowhere", "--at", "200"),
            "no loop 'Nowhere'; there are bandstand-waltz, ferry-crossing",
        ),
        (("n" * 300, "--at", "200"), "no such file"),
        (
            ("FERRY crossing", "--at", "200", "--track", "harp"),
            "'ferry-crossing' has no track 'harp'",
        ),
        (("ferry-crossing",), "--at"),
        (("ferry-crossing", "--at", "20000"), "give 25 to 17500 Hz"),
        (("ferry-crossing", "--at", "loud"), "no frequency"),
        (("ferry-crossing", "--at", "200", "--cut", "30"), "give 0.5 to 18 dB"),
        (("ferry-crossing", "--at", "200", "--cut", "-3"), "above 0"),
        (("ferry-crossing", "--at", "200", "--q", "50"), "give 0.3 to 12"),
        (("ferry-crossing", "--at", "200", "--cut", "3", "--boost", "3"), "not allowed with"),
        (("ferry-crossing", "--at", "200", "--track", "harp"), "no track 'harp'"),
        (("ferry-crossing", "--at", "200", "--from", "1:00"), "move its start or its end"),
        (("ferry-crossing", "--at", "200", "--from", "noon"), "is no time"),
    ],
)
def test_bad_claims_are_refused_in_one_line(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    says: str,
) -> None:
    monkeypatch.setenv("NAMEFIRST_HOME", str(tmp_path))
    assert main(["claim", *arguments, "--terminal"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert says in told.err
    assert len(told.err.splitlines()) == 1


def test_a_loop_that_is_not_there_is_told_before_a_screen_that_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def no_screen() -> None:
        raise pygame.error("no video device")

    monkeypatch.setenv("NAMEFIRST_HOME", str(tmp_path))
    monkeypatch.setattr(app, "_opened", no_screen)
    for called, says in (("Nowhere", "no loop 'Nowhere'"), ("Slipway", "no window can be opened")):
        assert main(["claim", called, "--at", "200"]) == 2
        assert says in capsys.readouterr().err


def test_a_report_is_never_written_over(song: Path, tmp_path: Path) -> None:
    report = tmp_path / "claim.html"
    report.write_text("mine")
    options = ("--terminal", "--report", str(report))
    line = refused(run(tmp_path, "claim", str(song), "--at", "200", *options))
    assert "is already there" in line
    assert report.read_text() == "mine"


def test_level_from_silence_by_hand(tmp_path: Path) -> None:
    typed = "\n" + "+++\n" * 4 + "-\nwait 0.1\n\n"
    done = run(tmp_path, "level", "--terminal", "--learner", "ada", typed=typed)
    assert done.returncode == 0, done.stderr
    assert "It is still silent" in done.stdout
    for source in ("NIOSH (98-126)", "WHO-ITU H.870", "Local rules", "hearing professionals"):
        assert source in done.stdout
    assert "SPL" not in done.stdout
    # 12 steps of 2 dB up from silence at -60 dB, one down.
    assert "Volume -38 dB. Kept." in done.stdout
    record = Record(tmp_path, "ada", "test")
    assert record.setting("volume_db") == -38.0
    record.close()


def test_level_that_was_left_changes_nothing(tmp_path: Path) -> None:
    for typed in ("++\nq\n", "++\n"):
        done = run(tmp_path, "level", "--terminal", "--learner", "ada", typed=typed)
        assert "Left; the level is as it was." in done.stdout
    record = Record(tmp_path, "ada", "test")
    assert record.setting("volume_db") is None
    record.close()


def test_an_output_that_was_never_checked_is_not_gone_over_to(tmp_path: Path) -> None:
    done = run(tmp_path, "chain", "--use", "laptop", "--learner", "ada")
    assert "--use laptop: no such output was checked; there are none yet" in refused(done)


@pytest.mark.parametrize(
    "words", [("claim", "ferry-crossing", "--at", "200"), ("chain",), ("level",)]
)
def test_what_is_to_be_heard_is_refused_without_sound(
    tmp_path: Path, words: tuple[str, ...]
) -> None:
    for face in ((), ("--terminal",)):
        line = refused(run(tmp_path, *words, *face, "--silent"))
        assert "--silent" in line
        assert "leave --silent out" in line


def test_chain_sets_a_level_first_and_keeps_nothing_when_left(tmp_path: Path) -> None:
    done = run(
        tmp_path, "chain", "--output", "laptop", "--terminal", "--learner", "ada",
        typed="+++\n\nx\n0\n",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Kept." in done.stdout
    assert "Output 'laptop', volume -54 dB." in done.stdout
    assert "Type 0, 1, 2 or 3." in done.stdout
    assert done.stdout.rstrip().endswith("Left before the end; nothing was kept.")
