"""Questions drawn by rule or listed: the same everywhere, dealt evenly, never what is not heard."""

from __future__ import annotations

from collections import Counter

import pytest

from exercises.bands import band_of
from exercises.demo_loops import demo_loop
from exercises.kinds import TONE, Help, Kind
from exercises.question import make_question
from tests.simulated_class import LOOPS
from trainer.assignments.practice_set import BadSet, Rule, SetLoop
from trainer.assignments.set_questions import draw_questions, listed_questions

ALL_BANDS = tuple(range(10))
RULE = Rule(
    ALL_BANDS, (Kind.TOO_MUCH, Kind.TOO_LITTLE, Kind.NOTHING), (3.0, 9.0), (Help.A_AT_HAND,)
)


def everything(_loop: str, _kind: Kind, _freq_hz: float | None) -> float | None:
    return 1.0


def test_the_same_seed_draws_the_same_and_another_another() -> None:
    one = draw_questions(RULE, LOOPS, 60, 5, everything)
    assert draw_questions(RULE, LOOPS, 60, 5, everything) == one
    assert draw_questions(RULE, LOOPS, 60, 6, everything) != one


def test_the_first_draws_of_a_seed_stay_what_they_were() -> None:
    """A snapshot: these draws were made by this program. It changes when the drawing does."""
    drawn = draw_questions(RULE, LOOPS, 4, 2026, everything)
    told = [(q.recipe.kind.value, q.recipe.size_db, q.recipe.freq_hz, q.recipe.loop) for q in drawn]
    assert told == SNAPSHOT


SNAPSHOT = [
    ("too little", 3.0, 26.5, "ferry-crossing"),
    ("too little", 9.0, 75.9, "slipway"),
    ("too much", 9.0, 60.9, "ferry-crossing"),
    ("too much", 9.0, 1350.0, "slipway"),
]


def test_every_band_and_direction_comes_before_any_comes_again() -> None:
    drawn = [q.recipe for q in draw_questions(RULE, LOOPS, 200, 3, everything)]
    cards = [(each.kind, band_of(each.freq_hz).index) for each in drawn if each.freq_hz is not None]
    for start in range(0, len(cards) - 20, 20):
        assert len(set(cards[start : start + 20])) == 20
    loops = Counter(each.loop for each in drawn)
    assert abs(loops[LOOPS[0].name] - loops[LOOPS[1].name]) <= 1
    nothing = sum(each.kind is Kind.NOTHING for each in drawn)
    assert 10 <= nothing <= 42  # 1 in 8 of 200: mean 25, sd 4.7


def test_what_cannot_be_heard_is_not_asked() -> None:
    def only_bass_on_the_first(loop: str, kind: Kind, freq_hz: float | None) -> float | None:
        if loop == LOOPS[0].name and freq_hz is not None and freq_hz > 300.0:
            return None
        return 5.0

    drawn = draw_questions(RULE, LOOPS, 80, 1, only_bass_on_the_first)
    for each in drawn:
        recipe = each.recipe
        if recipe.kind in TONE:
            assert recipe.size_db == 9.0  # 3 dB would be under what can be heard
            assert recipe.loop == LOOPS[1].name or recipe.freq_hz <= 300.0


def test_a_rule_that_leaves_nothing_is_told() -> None:
    with pytest.raises(BadSet, match="allow larger sizes"):
        draw_questions(RULE, LOOPS, 5, 1, lambda _loop, _kind, _hz: 10.0)
    with pytest.raises(BadSet, match="leave nothing to ask"):
        draw_questions(
            Rule((), (Kind.TOO_MUCH,), (6.0,), (Help.A_AT_HAND,)), LOOPS, 5, 1, everything
        )
    with pytest.raises(BadSet, match="1 to 1,000"):
        draw_questions(RULE, LOOPS, 1_000_000, 1, everything)


def test_an_adaptive_set_keeps_what_can_be_heard_as_its_least() -> None:
    rule = Rule(ALL_BANDS, (Kind.TOO_MUCH,), (), (Help.A_ONCE, Help.NO_A))
    drawn = draw_questions(rule, LOOPS, 20, 1, lambda _loop, _kind, _hz: 2.5)
    assert {each.least_db for each in drawn} == {2.5}
    assert {each.recipe.help for each in drawn} == {Help.A_ONCE, Help.NO_A}


def test_a_drawn_question_sounds_the_same_to_the_sample() -> None:
    loop = demo_loop("ferry-crossing")
    loops = (SetLoop(loop.name, loop.fingerprint),)
    rule = Rule((3,), (Kind.TOO_MUCH,), (9.0,), (Help.A_AT_HAND,))
    first, second = (draw_questions(rule, loops, 1, 4, everything)[0] for _ in range(2))
    one, other = make_question(first.recipe, loop), make_question(second.recipe, loop)
    assert one.b.tobytes() == other.b.tobytes()
    assert one.b.tobytes() != one.a.tobytes()


LIST = """kind,freq_hz,size_db,loop,help,track,ask_track
too much,3.2k,6,ferry-crossing,,,
squashed,,9,slipway,1,,
nothing,,,slipway,2,,
too little,186,4.5,ferry-crossing,0,drums,yes
"""


def test_a_list_is_taken_in_its_order() -> None:
    recipes = [q.recipe for q in listed_questions(LIST.splitlines(), LOOPS, "list.csv")]
    assert [each.kind.value for each in recipes] == [
        "too much",
        "squashed",
        "nothing",
        "too little",
    ]
    assert recipes[0].freq_hz == 3200.0
    assert recipes[1].help is Help.A_ONCE
    assert (recipes[3].track, recipes[3].ask_track, recipes[3].size_db) == ("drums", True, 4.5)


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("too much,99999,6,ferry-crossing,,,", "line 2: '99999' is no frequency"),
        ("too much,200,6,nowhere,,,", "line 2: 'nowhere' is no loop"),
        ("too big,200,6,ferry-crossing,,,", "line 2: 'too big' is not a valid Kind"),
        ("too much,200,nan,ferry-crossing,,,", "line 2: recipe field 'size_db'"),
        ("too much,200,6,ferry-crossing,9,,", "line 2: 9 is not a valid Help"),
        ("too much,200,6,ferry-crossing,0,,,,,,", "too many cells"),
        ("", "lists no question"),
    ],
)
def test_a_line_that_is_not_understood_is_named(line: str, why: str) -> None:
    with pytest.raises(BadSet, match=why):
        listed_questions([LIST.splitlines()[0], line], LOOPS, "list.csv")


def test_a_list_without_its_columns_is_told_them() -> None:
    with pytest.raises(BadSet, match="the columns are kind, freq_hz"):
        listed_questions(["kind,colour", "too much,red"], LOOPS, "list.csv")
