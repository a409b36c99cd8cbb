"""Tracks and passages in typed lines: in any order, shortened to what is clear."""

from __future__ import annotations

import pytest

from exercises.kinds import Kind
from trainer.typed_answer import Alone, Command, NotUnderstood, Said, read_line
from trainer.typed_place import Places

PLACES = Places(
    ("whole mix", "drums", "bass", "guitar", "low brass"),
    ("whole loop", "damped strokes", "lifted", "low brass"),
)
MUCH, LIFTED, NOTHING = Kind.TOO_MUCH, Kind.LIFTED, Kind.NOTHING


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("too much 200 guitar damped strokes", (MUCH, 200.0, "guitar", "damped strokes")),
        ("guitar damped too much 200", (MUCH, 200.0, "guitar", "damped strokes")),
        ("DAMPED  1 200 gui", (MUCH, 200.0, "guitar", "damped strokes")),
        ("too much at 3.2k, on the bass", (MUCH, 3200.0, "bass", None)),
        ("too much at 3.2k on bass in strokes", (MUCH, 3200.0, "bass", "damped strokes")),
        ("1 12,500 whole mix, whole loop", (MUCH, 12500.0, "whole mix", "whole loop")),
        ("much 90 whole mix whole loop", (MUCH, 90.0, "whole mix", "whole loop")),
        ("guitar", (None, None, "guitar", None)),
        ("strok", (None, None, None, "damped strokes")),
        ("on low brass in low brass", (None, None, "low brass", "low brass")),
        ("lifted", (LIFTED, None, None, None)),
        ("lifted lifted", (LIFTED, None, None, "lifted")),
        ("lifted bass in lifted", (LIFTED, None, "bass", "lifted")),
        ("in lifted", (None, None, None, "lifted")),
        ("nothing", (NOTHING, None, None, None)),
        ("200", (None, 200.0, None, None)),
    ],
)
def test_a_line_says_so_much(line: str, said: tuple[object, ...]) -> None:
    kind, freq_hz, track, passage = said
    assert read_line(line, PLACES) == Said(kind, freq_hz, False, track, passage)


def test_a_guess_is_a_guess_with_its_place() -> None:
    assert read_line("squashed drums lifted?", PLACES) == Said(
        Kind.SQUASHED, None, True, "drums", "lifted"
    )


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("too much 200 low brass", "'low brass' could be on low brass or in low brass"),
        ("whole", "'whole' could be on whole mix or in whole loop"),
        ("too much 200 banjo", "'200 banjo' is no frequency"),
        ("banjo", "'banjo' is no answer"),
        ("squashed 200 bass", "'squashed' has no frequency; leave out '200'"),
        ("l banjo", "'banjo' is none of whole mix, drums, bass"),
    ],
)
def test_what_is_not_clear_is_said(line: str, message: str) -> None:
    with pytest.raises(NotUnderstood, match=message):
        read_line(line, PLACES)


def test_where_no_place_is_asked_none_is_taken() -> None:
    with pytest.raises(NotUnderstood, match="is no frequency"):
        read_line("too much 200 guitar")


def test_a_track_can_be_heard_alone_by_name() -> None:
    assert read_line("l", PLACES) is Command.ALONE
    assert read_line("l gui", PLACES) == Alone("guitar")
    assert read_line("l low brass", PLACES) == Alone("low brass")
