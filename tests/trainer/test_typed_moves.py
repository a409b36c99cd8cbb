"""Lines typed in an open round: each move in several wordings, and one clear line for a bad one."""

from __future__ import annotations

import pytest

from exercises.loops import Passage
from exercises.moves import Compressor, EqPoint, Expander, HighShelf, LowShelf, Move, Ride
from exercises.time_fitting import TIMINGS
from trainer.typed_answer import Command, NotUnderstood, VolumeSteps, Wait
from trainer.typed_moves import OpenCommand, TakeOut, TypedMove, read_open_line

PASSAGES = (Passage("bars 1-2", 0, 100), Passage("open chords", 100, 200))
QUICK, MIDDLE, SLOW = TIMINGS


@pytest.mark.parametrize(
    ("line", "move"),
    [
        ("cut 6 at 186", EqPoint(186.0, -6.0, track="guitar")),
        ("Cut 6 dB at 186 Hz", EqPoint(186.0, -6.0, track="guitar")),
        ("cut 6dB 186", EqPoint(186.0, -6.0, track="guitar")),
        ("cut -6 at 3.2k q 2", EqPoint(3200.0, -6.0, 2.0, "guitar")),
        ("boost 2,5 at 200 q 0,7", EqPoint(200.0, 2.5, 0.7, "guitar")),
        ("shelf low 120 -3", LowShelf(120.0, -3.0, "guitar")),
        ("high shelf 8k +2", HighShelf(8000.0, 2.0, "guitar")),
        ("shelf high 8k \N{MINUS SIGN}2 dB", HighShelf(8000.0, -2.0, "guitar")),
        ("ride bars 1-2 -2", Ride(-2.0, PASSAGES[0], "guitar")),
        ("ride open 1.5", Ride(1.5, PASSAGES[1], "guitar")),
        ("compress 4", Compressor(4.0, QUICK, 4.0, "guitar")),
        ("compress 4 ratio 6 slow", Compressor(4.0, SLOW, 6.0, "guitar")),
        ("expand 3 dB middle", Expander(3.0, MIDDLE, 2.0, "guitar")),
    ],
)
def test_a_move(line: str, move: Move) -> None:
    assert read_open_line(line, "guitar", PASSAGES) == TypedMove(move)
    assert read_open_line(f"2 {line}", "guitar", PASSAGES) == TypedMove(move, 2)


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("take out 2", TakeOut(2)),
        ("out 1", TakeOut(1)),
        ("hear", OpenCommand.HEAR),
        ("f", OpenCommand.HEAR),
        ("list", OpenCommand.LIST),
        ("done", OpenCommand.DONE),
        ("", OpenCommand.DONE),
        ("a", Command.A),
        ("s", Command.PLAY_OR_STOP),
        ("q", Command.QUIT),
        ("?", Command.HELP),
        ("++", VolumeSteps(2)),
        ("wait 2", Wait(2.0)),
    ],
)
def test_what_else_can_be_asked_for(line: str, meant: object) -> None:
    assert read_open_line(line, None, PASSAGES) == meant


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("cut", "'cut' is not clear; try: cut 6 at 186"),
        ("cut six at 186", "try: cut 6 at 186"),
        ("boost 3 at nowhere", "'nowhere' is no frequency from 20 Hz to 20 kHz"),
        ("cut 3 at 5", "'5' is no frequency"),
        ("shelf 120 -3", "try: shelf low 120 -3"),
        ("ride chorus -2", "'chorus' is none of bars 1-2, open chords"),
        ("ride bars", "try: ride bars 1-2 -2"),
        ("compress hard", "try: compress 4 ratio 6"),
        ("expand 3 fast", "try: expand 3 slow"),
        ("take out two", "try: take out 2"),
        ("too much 200", "'too much 200' is no move; try: cut 6 at 186, or \\? for help"),
        ("nonsense \x07", "is no move"),
        ("wait long", "is no move"),
    ],
)
def test_a_line_that_is_not_clear(line: str, said: str) -> None:
    with pytest.raises(NotUnderstood, match=said) as caught:
        read_open_line(line, None, PASSAGES)
    assert str(caught.value).isprintable()


def test_a_loop_of_one_passage_has_nothing_to_ride() -> None:
    with pytest.raises(NotUnderstood, match="nothing to ride"):
        read_open_line("ride all -2", None, PASSAGES[:1])


@pytest.mark.parametrize("line", ["cut 6 at 186", "shelf low 120 -3", "compress 4", "expand 3"])
def test_moves_of_all_are_understood_where_there_are_no_passages(line: str) -> None:
    assert isinstance(read_open_line(line, None, ()), TypedMove)
