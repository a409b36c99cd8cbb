"""Moves carried as plain data: there and back whole, and anything foreign refused by name."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exercises.compressor import Timing
from exercises.loops import Passage
from exercises.move_fields import MOST_MOVES, fix_to_list, move_to_dict, read_fix, read_move
from exercises.moves import Compressor, EqPoint, Expander, HighShelf, LowShelf, Ride

TRACKS = st.none() | st.text(min_size=1, max_size=20)
HZ = st.floats(20.0, 20_000.0)
DB = st.floats(-24.0, 24.0)
TIMINGS = st.builds(Timing, st.floats(1e-4, 1.0), st.floats(1e-3, 5.0))
PASSAGES = st.builds(
    lambda name, start, length: Passage(name, start, start + length),
    st.text(min_size=1, max_size=20),
    st.integers(0, 10**6),
    st.integers(1, 10**6),
)
MOVES = st.one_of(
    st.builds(EqPoint, HZ, DB, st.floats(0.3, 12.0), TRACKS, st.none() | PASSAGES),
    st.builds(LowShelf, HZ, DB, TRACKS, st.none() | PASSAGES),
    st.builds(HighShelf, HZ, DB, TRACKS),
    st.builds(Ride, DB, st.none() | PASSAGES, TRACKS),
    st.builds(Compressor, st.floats(0.0, 18.0), TIMINGS, st.floats(1.5, 20.0), TRACKS),
    st.builds(Expander, st.floats(0.0, 18.0), TIMINGS, st.floats(1.5, 20.0), TRACKS),
)


@given(st.lists(MOVES, max_size=8).map(tuple))
def test_a_fix_comes_back_from_json_as_it_was(fix):
    assert read_fix(json.loads(json.dumps(fix_to_list(fix)))) == fix


def test_a_move_names_its_fields_with_their_units():
    assert move_to_dict(EqPoint(200.0, -6.0, 1.4, "guitar")) == {
        "move": "eq point",
        "freq_hz": 200.0,
        "gain_db": -6.0,
        "q": 1.4,
        "track": "guitar",
    }


POINT = move_to_dict(EqPoint(200.0, -6.0))
RIDE = move_to_dict(Ride(2.0, Passage("verse", 0, 100)))
PRESSED = move_to_dict(Compressor(3.0))


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        (None, "is no move"),
        ("eq point", "is no move"),
        (POINT | {"move": "reverb"}, "'move' 'reverb' is none of"),
        (POINT | {"move": ["eq point"]}, "is none of"),
        ({key: value for key, value in POINT.items() if key != "q"}, "'q' is missing"),
        (POINT | {"slope": 12}, "'slope' is no field"),
        (POINT | {"freq_hz": 0.0}, "'freq_hz' 0.0"),
        (POINT | {"freq_hz": float("nan")}, "'freq_hz' nan"),
        (POINT | {"gain_db": True}, "'gain_db' True"),
        (POINT | {"gain_db": "6"}, "'gain_db' '6'"),
        (POINT | {"track": ""}, "'track' ''"),
        (POINT | {"track": 3}, "'track' 3"),
        (RIDE | {"passage": "verse"}, "'passage' 'verse'"),
        (RIDE | {"passage": {"name": "v", "start_frame": 9, "stop_frame": 9}}, "no stretch"),
        (RIDE | {"passage": {"name": "v", "start_frame": 0.0, "stop_frame": 9}}, "no stretch"),
        (RIDE | {"passage": {"name": None, "start_frame": 0, "stop_frame": 9}}, "missing"),
        (PRESSED | {"timing": 0.1}, "'timing' 0.1"),
        (PRESSED | {"timing": {"attack_s": 0.0, "release_s": 1.0}}, "'attack_s' 0.0"),
        (PRESSED | {"ratio": 0.5}, "'ratio' 0.5"),
    ],
)
def test_a_foreign_move_is_refused_by_its_field(fields, named):
    with pytest.raises(ValueError, match=named):
        read_move(fields)


@pytest.mark.parametrize("moves", [None, "eq point", POINT, [POINT] * (MOST_MOVES + 1)])
def test_what_is_no_list_of_moves_is_no_fix(moves):
    with pytest.raises(ValueError, match="a fix is a list"):
        read_fix(moves)
