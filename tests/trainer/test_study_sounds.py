"""What a guided step and the free pencil sound like: as loud as one another, and what they say.

Loudness is measured by libebur128 (pyebur128), an implementation of ITU-R BS.1770 that is not ours.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from exercises.demo_loops import demo_loop
from exercises.errors import NamefirstError
from exercises.kinds import LEVEL, Kind
from exercises.problems import Problem
from exercises.question import make_question
from exercises.recipe import Recipe
from exercises.samples import RATE_HZ, Samples, db_to_gain
from exercises.tone_curve import USUAL_Q
from tests.meters import ebur128_dbtp, ebur128_lufs
from trainer.guided_minute import Ground, Step, confused_step, minute_of
from trainer.judging import Answer, judge
from trainer.loop_shelf import LoopShelf
from trainer.study_sounds import Mark, Pencil, StudyMaker, sounds_of
from trainer.subject import Subject

LOOP = "ferry-crossing"
HERE = Ground(LOOP, 2.0, (2.0, 2.0))
STUDIED = [
    Subject(Kind.TOO_MUCH, 3),
    Subject(Kind.TOO_LITTLE, 6),
    Subject(Kind.SQUASHED),
    Subject(Kind.TOO_LOUD),
]
# libebur128 reads blocks from the file's start, we read round the loop: a tenth of an LU apart.
MATCHED_LU = 0.12


def steps_of(subject: Subject) -> list[Step]:
    return list(minute_of(subject, (HERE,), 2.0))


CASES = [
    pytest.param(step, id=f"{subject.key}, {step.title.lower()}")
    for subject in STUDIED
    for step in steps_of(subject)
]


@pytest.mark.parametrize("step", CASES)
def test_parts_are_as_loud_as_one_another_but_for_levels_and_regions(step: Step) -> None:
    made = sounds_of(step, demo_loop(LOOP))
    assert list(made.sounds) == [part.name for part in step.parts]
    levels: list[float] = []
    for part in step.parts:
        sound = made.sounds[part.name]
        assert sound.shape == (demo_loop(LOOP).frames, 2)
        assert ebur128_dbtp(sound) <= -0.9
        if part.region_hz is None:
            kind = part.problem.kind if part.problem else None
            sign = {Kind.TOO_LOUD: 1.0, Kind.TOO_QUIET: -1.0}.get(kind, 0.0)  # type: ignore[arg-type]
            moved_db = sign * part.problem.size_db if part.problem else 0.0
            levels.append(ebur128_lufs(sound) - moved_db)
    assert max(levels) - min(levels) < MATCHED_LU


def change_db(sound: Samples, reference: Samples, freq_hz: float) -> float:
    """How the power within five per cent of ``freq_hz`` differs, in dB; by one FFT of the loop."""
    freqs_hz = np.fft.rfftfreq(len(sound), 1 / RATE_HZ)
    near = np.abs(np.log(freqs_hz.clip(1.0) / freq_hz)) < 0.05
    after, before = (
        float(np.sum(np.abs(np.fft.rfft(each, axis=0)[near]) ** 2)) for each in (sound, reference)
    )
    return 10.0 * math.log10(after / before)


def test_each_size_of_the_fading_step_is_what_its_plate_says() -> None:
    """At 250 Hz against 2.5 kHz, whatever the loudness match did: the bell of its size."""
    (step,) = [each for each in steps_of(STUDIED[0]) if each.title == "Fading"]
    made = sounds_of(step, demo_loop(LOOP))
    for part in step.parts[1:]:
        assert part.problem is not None
        near, far = (
            change_db(made.sounds[part.name], made.sounds["A"], freq_hz)
            for freq_hz in (251.19, 2511.9)
        )
        assert near - far == pytest.approx(part.problem.size_db, abs=0.15)
        assert part.words == f"{part.problem.size_db:.1f} dB"


def test_a_region_alone_holds_that_region_and_swells_with_the_problem() -> None:
    (step,) = [each for each in steps_of(STUDIED[0]) if each.title == "The region alone"]
    made = sounds_of(step, demo_loop(LOOP))
    spectrum = np.abs(np.fft.rfft(made.sounds["1"][:, 0])) ** 2
    freqs = np.fft.rfftfreq(len(made.sounds["1"]), 1 / 48_000)
    inside = spectrum[(freqs > 125) & (freqs < 500)].sum() / spectrum.sum()
    assert inside > 0.95
    grown_db = ebur128_lufs(made.sounds["2"]) - ebur128_lufs(made.sounds["1"])
    assert 2.0 < grown_db < 6.0  # 6 dB at its middle, less at its edges, and then matched


def test_what_was_confused_sits_where_the_question_had_it() -> None:
    loop = demo_loop(LOOP)
    asked = Recipe(
        seed=3,
        loop=LOOP,
        fingerprint=loop.fingerprint,
        kind=Kind.TOO_MUCH,
        size_db=8.0,
        freq_hz=186.0,
        q=1.4,
        track=loop.tracks[1].name,
        passage=loop.passages[0].name,
    )
    answer = Answer(Kind.TOO_MUCH, 500.0, True)
    step = confused_step(asked, answer, judge(asked, answer))
    assert step is not None
    made = sounds_of(step, loop)
    inside = slice(loop.passages[0].start_frame, loop.passages[0].stop_frame)
    outside = slice(loop.passages[1].start_frame + RATE_HZ, loop.passages[1].stop_frame - RATE_HZ)
    a = made.sounds["A"]
    for name, here_hz, there_hz in (("1", 186.0, 500.0), ("2", 500.0, 186.0)):
        sound = made.sounds[name]
        here, there = (change_db(sound[inside], a[inside], hz) for hz in (here_hz, there_hz))
        assert here > there + 1.0
        assert abs(change_db(sound[outside], a[outside], here_hz)) < 0.6
        assert ebur128_lufs(sound) == pytest.approx(ebur128_lufs(a), abs=MATCHED_LU)


@pytest.mark.parametrize("loop", [LOOP, "fog-signal"])
@pytest.mark.parametrize("size_db", [3.0, 12.0])
@pytest.mark.parametrize("freq_hz", [20.0, 90.0, 1000.0, 7000.0, 20_000.0])
def test_wherever_the_pencil_is_b_is_as_loud_as_a(
    loop: str, freq_hz: float, size_db: float
) -> None:
    pencil = Pencil(demo_loop(loop))
    for kind in (Kind.TOO_MUCH, Kind.TOO_LITTLE):
        b = pencil.b(Mark(kind, freq_hz, size_db))
        assert ebur128_lufs(b) == pytest.approx(ebur128_lufs(pencil.a), abs=MATCHED_LU)
        assert ebur128_dbtp(b) <= -0.9


def test_the_pencil_makes_what_a_question_would() -> None:
    loop = demo_loop(LOOP)
    pencil = Pencil(loop)
    for kind, freq_hz in ((Kind.TOO_MUCH, 240.0), (Kind.TOO_LITTLE, 5000.0)):
        asked = Recipe(1, LOOP, loop.fingerprint, kind, 9.0, freq_hz, USUAL_Q)
        question = make_question(asked, loop)
        turned = db_to_gain(pencil.gain_db - question.gain_db)
        assert pencil.b(Mark(kind, freq_hz, 9.0)) == pytest.approx(question.b * turned, abs=1e-5)
        assert pencil.a == pytest.approx(question.a * turned, abs=1e-5)


def test_the_pencil_turns_both_down_for_a_mark_that_asks_for_it() -> None:
    pencil = Pencil(demo_loop(LOOP))
    before_db, a = pencil.gain_db, pencil.a
    pencil.b(Mark(Kind.TOO_MUCH, 1000.0, 3.0))
    assert pencil.a is a
    pencil.gain_db, pencil.a = before_db + 20.0, 10.0 * a
    b = pencil.b(Mark(Kind.TOO_MUCH, 1000.0, 3.0))
    assert pencil.gain_db < before_db + 20.0
    assert ebur128_lufs(b) == pytest.approx(ebur128_lufs(pencil.a), abs=MATCHED_LU)


def test_a_maker_plans_on_loops_where_the_subject_is_well_heard(tmp_path: Path) -> None:
    maker = StudyMaker(LoopShelf(tmp_path / "loops"))
    steps = maker.steps_of(Subject(Kind.TOO_MUCH, 3), None)
    assert len({step.loop for step in steps}) == 3
    made = maker.sounds_of(steps[0])
    assert made.loop.name == steps[0].loop
    problem = steps[0].parts[1].problem
    assert problem is not None
    assert problem.size_db >= 6.0
    assert isinstance(maker.pencil(15), Pencil)


class NoShelf(LoopShelf):
    """A shelf with nothing on it."""

    def names(self) -> tuple[str, ...]:
        return ()


def test_without_a_loop_it_says_so(tmp_path: Path) -> None:
    with pytest.raises(NamefirstError, match="Squashed: cannot be heard on any of the loops"):
        StudyMaker(NoShelf(tmp_path)).steps_of(Subject(Kind.SQUASHED), None)


def test_levels_are_the_only_ones_that_move_by_level() -> None:
    loud = [each for each in STUDIED if each.kind in LEVEL]
    (step,) = [each for each in steps_of(loud[0]) if each.title == "Side by side"]
    made = sounds_of(step, demo_loop(LOOP))
    problems = {part.name: part.problem for part in step.parts}
    assert problems["1"] == Problem(Kind.TOO_LOUD, 3.0)
    apart = ebur128_lufs(made.sounds["1"]) - ebur128_lufs(made.sounds["2"])
    assert apart == pytest.approx(6.0, abs=MATCHED_LU)
