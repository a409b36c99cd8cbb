"""The chain check with simulated loudspeakers and listeners; how its results are kept and used."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
import scipy.signal

from exercises.bands import BANDS, band_of
from exercises.check_noise import burst_train
from exercises.errors import NamefirstError
from exercises.kinds import TONE
from exercises.samples import RATE_HZ, Floats
from trainer.ability import Ability
from trainer.chain import (
    MOST_FALSE,
    SILENT,
    ChainCheck,
    Presentation,
    Reach,
    false_counts,
    is_believable,
    reach_of,
)
from trainer.chain_words import (
    check_sentence,
    left_out_sentence,
    reach_sentence,
    unasked_sentence,
    void_sentence,
)
from trainer.drill import Drill
from trainer.kept_chains import (
    bands_left_out,
    bands_not_reproduced,
    checked_outputs,
    keep_check,
    latest_check,
    output_in_use,
    use_output,
    within_reach,
)
from trainer.ladder import STEPS
from trainer.limits import Limits
from trainer.loop_shelf import LoopShelf
from trainer.record import Record
from trainer.round import IllegalMove
from trainer.wanted import Asking, candidates

NOW = datetime(2026, 3, 5, 12, 0, tzinfo=UTC)
# ISO 389-7:2019, thresholds of tones in a free field at the octave mid-bands, dB SPL (from memory).
THRESHOLD_DB = (59.5, 37.5, 22.1, 11.4, 4.4, 2.4, -1.3, -5.4, 12.6, 40.2)
PROGRAMME_DB_SPL = 65.0  # at the ear, for a mix at -23 LUFS: a comfortable level
Listener = Callable[[Presentation], int]


def listener(sos: Floats | None, draws: random.Random, *, false: float = 0.0) -> Listener:
    """Somebody behind an output with the response ``sos``, who hears what is over the threshold.

    ``false`` is how often silence is taken for a burst.
    """

    def count(shown: Presentation) -> int:
        if shown.bursts == 0:
            return 1 if draws.random() < false else 0
        train = burst_train(shown.band_index, shown.bursts, loud=shown.loud, seed=shown.seed)
        sound = train[:, 0].astype(float)
        if sos is not None:
            sound = scipy.signal.sosfilt(sos, sound)
        sounding = abs(train[:, 0]) > 0.0
        level_dbfs = 10.0 * math.log10(float((sound[sounding] ** 2).mean()))
        # The bursts' whole mix sits at -25.3 dBFS a channel: that is the programme's level.
        level_db = PROGRAMME_DB_SPL + level_dbfs + 25.3
        return shown.bursts if level_db > THRESHOLD_DB[shown.band_index] else 0

    return count


def run(check: ChainCheck, count: Listener) -> None:
    while (shown := check.current) is not None:
        check.say(count(shown))


def high_pass(freq_hz: float) -> Floats:
    sos: Floats = scipy.signal.butter(4, freq_hz, "highpass", fs=RATE_HZ, output="sos")
    return sos


def low_pass(freq_hz: float) -> Floats:
    sos: Floats = scipy.signal.butter(8, freq_hz, "lowpass", fs=RATE_HZ, output="sos")
    return sos


def record_in(folder: Path) -> Record:
    return Record(folder, "ada", "test")


@pytest.mark.parametrize("seed", range(5))
def test_a_laptop_comes_out_as_nothing_below(seed: int) -> None:
    check = ChainCheck(seed)
    run(check, listener(high_pass(300.0), random.Random(seed)))
    assert is_believable(check.counted)
    reach = reach_of(check.counted)
    assert reach[0] is reach[1] is Reach.NOT
    assert all(each is not Reach.NOT for each in reach[3:9])
    assert reach_sentence(reach).startswith("Nothing below 125 Hz ")


def test_a_wide_output_reaches_the_ear_from_63_hz_to_8_khz() -> None:
    check = ChainCheck(1)
    run(check, listener(None, random.Random(1)))
    reach = reach_of(check.counted)
    assert all(each is not Reach.NOT for each in reach[1:9])
    assert all(each is Reach.REPRODUCED for each in reach[2:8])


def test_a_dull_output_comes_out_as_nothing_above() -> None:
    check = ChainCheck(2)
    run(check, listener(low_pass(3000.0), random.Random(2)))
    assert reach_sentence(reach_of(check.counted)).startswith("Nothing above 4 kHz ")


def test_silence_is_among_them_in_any_place() -> None:
    first = [ChainCheck(seed).current for seed in range(400)]
    silent = sum(each is not None and each.bursts == 0 for each in first)
    assert 0.6 * SILENT / 28 < silent / 400 < 1.5 * SILENT / 28
    for seed in range(20):
        check = ChainCheck(seed)
        shown = []
        while (each := check.current) is not None:
            shown.append(each)
            check.say(each.bursts)
        assert sum(each.bursts == 0 for each in shown) == SILENT
        assert sorted((each.band_index, each.loud) for each in shown if each.bursts) == [
            (band.index, loud) for band in BANDS for loud in (False, True)
        ]


def test_guessers_and_those_who_hear_sound_in_silence_are_not_believed() -> None:
    believed = 0
    for seed in range(300):
        check, draws = ChainCheck(seed), random.Random(seed)
        run(check, lambda _shown, draws=draws: int(draws.random() < 0.5) * 2)
        believed += is_believable(check.counted)
    # Binomial: at most one of eight at one half, (1 + 8) / 256 = 3.5 %.
    assert believed / 300 < 0.08
    check = ChainCheck(1)
    run(check, listener(None, random.Random(1), false=1.0))
    assert false_counts(check.counted) == SILENT > MOST_FALSE
    assert "in 8 of 8 silences" in void_sentence(check.counted)


def test_where_nothing_was_heard_nothing_is_believed() -> None:
    check = ChainCheck(1)
    run(check, lambda _shown: 0)
    assert not is_believable(check.counted)
    assert void_sentence(check.counted).startswith("Nothing reached you")


def test_a_slip_is_asked_once_more_and_so_is_a_loud_band_not_heard() -> None:
    check = ChainCheck(3)
    slipped: set[tuple[int, bool]] = set()

    def count(shown: Presentation) -> int:
        if shown.bursts and (shown.band_index, shown.loud) not in slipped:
            slipped.add((shown.band_index, shown.loud))
            return shown.bursts % 3 + 1  # wrong, and not nought
        return shown.bursts

    run(check, count)
    assert reach_of(check.counted) == (Reach.REPRODUCED,) * 10
    assert len(check.counted) == 2 * 20 + SILENT
    deaf = ChainCheck(4)
    run(deaf, lambda shown: 0 if shown.band_index == 0 else shown.bursts)
    loud = [each for each in deaf.counted if each.shown.bursts and each.shown.band_index == 0]
    assert [each.shown.loud for each in loud].count(True) == 2
    assert reach_of(deaf.counted)[0] is Reach.NOT


def test_illegal_moves_raise_and_change_nothing() -> None:
    check = ChainCheck(1)
    with pytest.raises(IllegalMove, match="0 to 3 bursts, not 4"):
        check.say(4)
    assert check.counted == ()
    run(check, lambda shown: shown.bursts)
    with pytest.raises(IllegalMove, match="is over"):
        check.say(0)


def checked(record: Record, output: str, sos: Floats | None, now: datetime = NOW) -> None:
    check = ChainCheck(1)
    run(check, listener(sos, random.Random(1)))
    keep_check(record, output, check.counted, -20.0, now)


def test_kept_by_output_with_its_day_until_checked_again(tmp_path: Path) -> None:
    record = record_in(tmp_path)
    checked(record, "laptop", high_pass(300.0))
    assert output_in_use(record) == "laptop"
    assert bands_not_reproduced(record, "laptop") >= {0, 1}
    checked(record, "headphones", None)
    assert not bands_not_reproduced(record, "headphones") & set(range(1, 9))
    assert checked_outputs(record) == ("headphones", "laptop")
    record.close()
    record = record_in(tmp_path)
    kept = latest_check(record, "laptop")
    assert kept is not None
    assert kept.checked_at.date() == date(2026, 3, 5)
    assert kept.volume_db == -20.0
    assert check_sentence(kept).startswith("On 'laptop' (checked 5 March 2026): Nothing below ")
    use_output(record, "laptop")
    said = left_out_sentence(record)
    assert said is not None
    assert "63 Hz" in said
    checked(record, "laptop", None)
    assert 1 not in bands_not_reproduced(record, "laptop")
    assert latest_check(record, "studio") is None
    assert bands_not_reproduced(record, None) == frozenset()
    other = Record(tmp_path, "ben", "test")
    assert checked_outputs(other) == ()
    other.close()
    record.close()


def test_the_outermost_bands_wait_for_a_check_unless_they_are_asked_for(tmp_path: Path) -> None:
    record = record_in(tmp_path)
    assert bands_left_out(record, Limits()) == {0, 9}
    said = unasked_sentence(record, Limits())
    assert said == "31.5 Hz and 16 kHz: asked once a chain check has shown that they reach you."
    assert bands_left_out(record, Limits(bands=(0, 4))) == frozenset()
    assert unasked_sentence(record, Limits(bands=(0, 4))) is None
    checked(record, "laptop", high_pass(300.0))
    assert (
        {0, 1} <= bands_left_out(record, Limits()) == bands_left_out(record, Limits(bands=(0, 4)))
    )
    said = unasked_sentence(record, Limits())
    assert said is not None
    assert said.endswith(": not asked, since 'laptop' does not bring them to you.")
    use_output(record, "studio")
    assert bands_left_out(record, Limits()) == {0, 9}
    record.close()


def test_a_drill_asks_neither_outermost_band_before_a_check(tmp_path: Path) -> None:
    record = record_in(tmp_path)
    drill = Drill(record, LoopShelf(tmp_path / "loops"), Limits(kinds=tuple(TONE)), 7, NOW)
    asked_hz = [
        recipe.freq_hz
        for seed in range(12)
        for recipe in [drill._make(drill._scored, [], seed).question.recipe]
        if recipe.freq_hz is not None
    ]
    drill.close()
    record.close()
    assert len(asked_hz) > 8
    assert {band_of(freq_hz).index for freq_hz in asked_hz} <= set(range(1, 9))


def test_limits_leave_out_what_does_not_reach() -> None:
    missing = frozenset((0, 1))
    whole = within_reach(Limits(), missing)
    assert whole.bands_left == tuple(range(2, 10))
    assert whole.to_dict() == Limits().to_dict()  # no wish of the learner's
    some = within_reach(Limits(bands=(1, 4)), missing)
    assert some.bands_left == (4,)
    assert within_reach(Limits(), frozenset()) == Limits()
    with pytest.raises(NamefirstError, match="none of the bands asked for reaches you"):
        within_reach(Limits(bands=(0, 1)), missing)


def test_a_step_keeps_its_kinds_and_bands_where_a_band_does_not_reach() -> None:
    for step in STEPS:
        here, there = (
            {
                (candidate.skill, candidate.problem.kind)
                for seed in range(30)
                for candidate in candidates(
                    Asking(Ability.fresh(), [], limits, step, False), random.Random(seed)
                )
            }
            for limits in (Limits(), within_reach(Limits(), frozenset((0,))))
        )
        assert there == {each for each in here if each[0].band_index != 0}


@pytest.mark.parametrize(
    ("nots", "faints", "said"),
    [
        ((), (), "All ten bands reach you."),
        ((0, 1, 2), (3,), "Nothing below 250 Hz reaches you; faint: 250 Hz."),
        ((0, 9), (), "Nothing below 63 Hz and nothing above 8 kHz reaches you."),
        ((0, 4), (), "Nothing below 63 Hz reaches you, nor does 500 Hz."),
        ((1,), (0,), "63 Hz does not reach you; faint: 31.5 Hz."),
        ((1, 4), (), "63 Hz, 500 Hz do not reach you."),
        (tuple(range(10)), (), "Nothing reached you: see that the output is on and the volume up."),
    ],
)
def test_reach_in_words(nots: tuple[int, ...], faints: tuple[int, ...], said: str) -> None:
    reach = [
        Reach.NOT if index in nots else Reach.FAINT if index in faints else Reach.REPRODUCED
        for index in range(10)
    ]
    assert reach_sentence(reach) == said


@pytest.mark.parametrize("seed", range(20))
def test_what_is_to_go_at_most_never_rises(seed: int) -> None:
    check, draws = ChainCheck(seed), random.Random(seed)
    left = check.most_left
    while check.current is not None:
        check.say(int(draws.random() * 4))
        assert check.left <= check.most_left < left
        left = check.most_left
    assert left == 0
