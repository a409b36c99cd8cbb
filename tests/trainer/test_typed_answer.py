"""Lines typed during a drill: what they mean, and that nothing else is taken for an answer."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exercises.kinds import TONE, Kind
from trainer.typed_answer import (
    Command,
    NotUnderstood,
    Said,
    Typed,
    VolumeSteps,
    Wait,
    kind_called,
    read_line,
)


@pytest.mark.parametrize(
    ("line", "meaning"),
    [
        ("too much 200", Said(Kind.TOO_MUCH, 200.0, False)),
        ("1 200", Said(Kind.TOO_MUCH, 200.0, False)),
        ("much 3.2k", Said(Kind.TOO_MUCH, 3200.0, False)),
        ("  Too  LITTLE   12,5 kHz \n", Said(Kind.TOO_LITTLE, 12_500.0, False)),
        ("2 186hz?", Said(Kind.TOO_LITTLE, 186.0, True)),
        ("too much at 200 ?", Said(Kind.TOO_MUCH, 200.0, True)),
        ("squashed", Said(Kind.SQUASHED, None, False)),
        ("3?", Said(Kind.SQUASHED, None, True)),
        ("too loud", Said(Kind.TOO_LOUD, None, False)),
        ("loud", Said(Kind.TOO_LOUD, None, False)),
        ("nothing", Said(Kind.NOTHING, None, False)),
        ("nothing ?", Said(Kind.NOTHING, None, True)),
        # Parts of an answer: the rest may follow.
        ("too much", Said(Kind.TOO_MUCH, None, False)),
        ("200", Said(None, 200.0, False)),
        ("1 k", Said(None, 1000.0, False)),
        ("2k?", Said(None, 2000.0, True)),
    ],
)
def test_an_answer(line: str, meaning: Typed) -> None:
    assert read_line(line) == meaning


@pytest.mark.parametrize(
    ("line", "meaning"),
    [
        ("a", Command.A),
        ("B\n", Command.B),
        ("f", Command.FIX),
        ("s", Command.PLAY_OR_STOP),
        ("?", Command.HELP),
        ("help", Command.HELP),
        ("q", Command.QUIT),
        ("", Command.GO_ON),
        ("   \r\n", Command.GO_ON),
        ("+", VolumeSteps(1)),
        ("=", VolumeSteps(1)),
        ("--", VolumeSteps(-2)),
        ("\N{MINUS SIGN}", VolumeSteps(-1)),
        # However many are typed, it never gets more than three steps louder in one go.
        ("++++++++++", VolumeSteps(3)),
        ("wait 2", Wait(2.0)),
        ("WAIT 0,25", Wait(0.25)),
    ],
)
def test_something_to_do(line: str, meaning: Typed) -> None:
    assert read_line(line) == meaning


@pytest.mark.parametrize(
    ("line", "said_back"),
    [
        ("mud 200", "'mud 200' is no answer"),
        ("too", "'too' is no answer"),
        ("??", "'' is no answer"),
        ("9", "'9' is no frequency"),
        ("0", "'0' is no frequency"),
        ("19.9", "'19.9' is no frequency from 20 Hz to 20 kHz"),
        ("too much 25k", "'25k' is no frequency"),
        ("too much 1 200", "'1 200' is no frequency"),
        ("9 200", "there is no kind 9; they are 1 to 7"),
        ("too much mud", "'mud' is a word for the 250 band; say where, as in: 200, or 3.2k"),
        ("too little no air", "'no air' is a word for the 16k band"),
        ("1 -200", "'-200' is no frequency"),
        ("1 at", "'' is no frequency"),
        ("nothing 200", "'nothing' has no frequency; leave out '200'"),
        ("squashed a lot", "leave out 'a lot'"),
        ("wait", "'wait' needs seconds"),
        ("wait -1", "'wait' needs seconds"),
        ("wait nan", "'wait' needs seconds"),
        ("wait 601", "600 at most"),
        ("a b", "'a b' is no answer"),
        ("\x00\x1b[31m", r"'\?\?\[31m' is no answer"),
    ],
)
def test_what_means_nothing_is_said_back_and_mended(line: str, said_back: str) -> None:
    with pytest.raises(NotUnderstood, match=said_back):
        read_line(line)


@pytest.mark.parametrize("kind", list(Kind))
def test_every_kind_goes_by_its_name_and_its_number_in_the_window(kind: Kind) -> None:
    number = list(Kind).index(kind) + 1  # the window's keys 1 to 6
    assert kind_called(kind.value) is kind_called(str(number)) is kind


@given(st.text())
def test_any_line_is_understood_or_refused_in_one_line(line: str) -> None:
    try:
        typed = read_line(line)
    except NotUnderstood as refused:
        message = str(refused)
        assert message.isprintable()  # so it is one line, too
        return
    if isinstance(typed, Said):
        assert typed.kind is not None or typed.freq_hz is not None
        assert typed.freq_hz is None or 20.0 <= typed.freq_hz <= 20_000.0
        assert typed.kind in TONE or typed.kind is None or typed.freq_hz is None
