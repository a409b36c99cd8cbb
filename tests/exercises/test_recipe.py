"""Recipes: any valid one stands and travels, any other is refused by the name of its field."""

from __future__ import annotations

import dataclasses
import json
import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.bands import BANDS, band_of
from exercises.errors import BadRecipe, NamefirstError
from exercises.kinds import (
    DYNAMICS,
    LARGEST_SIZE_DB,
    LEVEL,
    TONE,
    Help,
    Kind,
    Shape,
    Style,
)
from exercises.problems import Problem
from exercises.recipe import (
    HIGHEST_PROBLEM_HZ,
    LARGEST_Q,
    LOWEST_PROBLEM_HZ,
    SMALLEST_Q,
    VERSION,
    Recipe,
    draw_freq_hz,
    pick,
    read_recipe,
)
from tests.drawn_recipes import Choices, draw_recipe

TONE_FIELDS = {
    "seed": 7,
    "loop": "ferry",
    "fingerprint": "ab12",
    "kind": "too much",
    "size_db": 6.0,
    "freq_hz": 200.0,
    "q": 1.4,
    "track": "guitar",
    "alone": True,
    "shape": "peak",
    "style": "over-compressed",
    "passage": "verse",
    "help": 1,
    "second": None,
    "ask_track": False,
    "ask_passage": True,
    "other_passage": "chorus",
    "version": VERSION,
}
SHELF_FIELDS = TONE_FIELDS | {"shape": "low shelf", "q": None}
SQUASH_FIELDS = TONE_FIELDS | {"kind": "squashed", "freq_hz": None, "q": None}
PUMP_FIELDS = SQUASH_FIELDS | {"style": "pumping", "alone": False, "ask_track": True}
NOTHING_FIELDS = SQUASH_FIELDS | {"kind": "nothing", "size_db": 0.0}
SECOND_FIELDS = {
    "kind": "too little",
    "size_db": 6.0,
    "freq_hz": 400.0,
    "q": 1.4,
    "shape": "peak",
    "style": "over-compressed",
}
PAIR_FIELDS = TONE_FIELDS | {"second": SECOND_FIELDS}
LIFTED_SECOND = SECOND_FIELDS | {"kind": "lifted", "freq_hz": None, "q": None}


def problem_fields(draw, kind):
    toned = kind in TONE
    shape = draw(st.sampled_from(Shape)) if toned else Shape.PEAK
    style = draw(st.sampled_from(Style)) if kind is Kind.SQUASHED else Style.OVER_COMPRESSED
    peak = toned and shape is Shape.PEAK
    return {
        "kind": kind.value,
        "size_db": 0.0 if kind is Kind.NOTHING else draw(st.floats(0.1, LARGEST_SIZE_DB)),
        "freq_hz": draw(st.floats(LOWEST_PROBLEM_HZ, HIGHEST_PROBLEM_HZ)) if toned else None,
        "q": draw(st.floats(SMALLEST_Q, LARGEST_Q)) if peak else None,
        "shape": shape.value,
        "style": style.value,
    }


@st.composite
def valid_fields(draw):
    first = problem_fields(draw, draw(st.sampled_from(Kind)))
    kind = Kind(first["kind"])
    track = draw(st.none() | st.text(min_size=1, max_size=30))
    alone = draw(st.booleans()) if track is not None else False
    second = None
    if kind is not Kind.NOTHING and draw(st.booleans()):
        families = [family for family in (TONE, DYNAMICS, LEVEL) if kind not in family]
        if kind in TONE and draw(st.booleans()):
            second = problem_fields(draw, draw(st.sampled_from(sorted(TONE))))
            octave_up = first["freq_hz"] * 2.0**1.001
            apart_hz = octave_up if octave_up < HIGHEST_PROBLEM_HZ else first["freq_hz"] / 2.5
            second["freq_hz"] = apart_hz
        else:
            second = problem_fields(draw, draw(st.sampled_from(sorted(frozenset.union(*families)))))
    passage = draw(st.none() | st.text(min_size=1, max_size=30))
    other = None if passage is None or draw(st.booleans()) else passage + "'"
    return first | {
        "seed": draw(st.integers(0, 2**63 - 1)),
        "loop": draw(st.text(min_size=1, max_size=200)),
        "fingerprint": draw(st.text(min_size=1, max_size=200)),
        "track": track,
        "alone": alone,
        "passage": passage,
        "other_passage": other,
        "help": draw(st.sampled_from([0, 1, 2])),
        "second": second,
        "ask_track": draw(st.booleans()) and not alone,
        "ask_passage": draw(st.booleans()),
        "version": VERSION,
    }


@settings(deadline=None)
@given(valid_fields())
def test_any_valid_recipe_travels_as_json_and_comes_back_the_same(fields):
    recipe = read_recipe(fields)
    assert recipe.to_dict() == fields
    assert read_recipe(json.loads(json.dumps(recipe.to_dict()))) == recipe


def test_a_recipe_cannot_be_changed_once_made():
    with pytest.raises(dataclasses.FrozenInstanceError):
        read_recipe(TONE_FIELDS).size_db = 3.0  # type: ignore[misc]


def test_fields_with_defaults_may_be_left_out():
    kept = {k: v for k, v in SQUASH_FIELDS.items() if k in {f.name for f in _required()}}
    recipe = read_recipe(kept)
    assert (recipe.freq_hz, recipe.q, recipe.track, recipe.alone) == (None, None, None, False)
    assert (recipe.shape, recipe.style) == (Shape.PEAK, Style.OVER_COMPRESSED)
    assert (recipe.passage, recipe.help, recipe.second) == (None, Help.A_AT_HAND, None)
    assert not recipe.ask_track
    assert not recipe.ask_passage


def test_a_recipe_tells_its_problems_in_one_piece():
    recipe = read_recipe(PAIR_FIELDS)
    assert recipe.problem == Problem(Kind.TOO_MUCH, 6.0, 200.0, 1.4)
    assert recipe.problems == (recipe.problem, Problem(Kind.TOO_LITTLE, 6.0, 400.0, 1.4))
    assert read_recipe(TONE_FIELDS).problems == (recipe.problem,)
    assert read_recipe(SHELF_FIELDS).problem == Problem(
        Kind.TOO_MUCH, 6.0, 200.0, None, Shape.LOW_SHELF
    )
    assert read_recipe(PUMP_FIELDS).problem.style is Style.PUMPING


def _required():
    return [f for f in dataclasses.fields(Recipe) if f.default is dataclasses.MISSING]


INVALID = [
    (TONE_FIELDS, "seed", [-1, 2**63, 1.0, "7", True, None]),
    (TONE_FIELDS, "loop", ["", "x" * 201, None, 3]),
    (TONE_FIELDS, "fingerprint", ["", "x" * 201, None, b"ab"]),
    (TONE_FIELDS, "kind", ["mud", "", None, 1, [], "TOO_MUCH"]),
    (TONE_FIELDS, "size_db", [0.0, 0.09, -6.0, 18.1, math.nan, math.inf, "6", None, True, 10**400]),
    (SQUASH_FIELDS, "size_db", [0.0, -1.0, 18.1, math.nan, None]),
    (NOTHING_FIELDS, "size_db", [0.1, -0.1, 6.0, math.nan, None, False]),
    (TONE_FIELDS, "freq_hz", [24.9, 17_501.0, 0.0, -200.0, math.nan, math.inf, "200", None, True]),
    (SQUASH_FIELDS, "freq_hz", [200.0, 0.0, math.nan]),
    (TONE_FIELDS, "q", [0.29, 12.1, 0.0, -1.0, math.nan, None, "1.4", [1.4]]),
    (NOTHING_FIELDS, "q", [1.4, 0.0]),
    (TONE_FIELDS, "track", ["", 1, ["guitar"], True]),
    (TONE_FIELDS, "alone", [1, 0, None, "yes"]),
    (TONE_FIELDS | {"track": None, "alone": False}, "alone", [True]),
    (TONE_FIELDS, "version", [0, 2, 1.0, "1", True, None]),
    (TONE_FIELDS, "shape", ["bell", "", None, 1, "PEAK"]),
    (SQUASH_FIELDS, "shape", ["low shelf", "high shelf"]),
    (SHELF_FIELDS, "q", [1.4, 0.7]),
    (SQUASH_FIELDS, "style", ["slow", "", None, 0]),
    (TONE_FIELDS, "style", ["pumping"]),
    (TONE_FIELDS | {"kind": "lifted", "freq_hz": None, "q": None}, "style", ["pumping"]),
    (TONE_FIELDS, "passage", ["", 1, ["verse"], True]),
    (TONE_FIELDS, "other_passage", ["", 1, ["verse"], "verse"]),
    (TONE_FIELDS | {"passage": None, "other_passage": None}, "other_passage", ["chorus"]),
    (TONE_FIELDS, "help", [-1, 3, 1.0, "1", None, True, []]),
    (TONE_FIELDS, "ask_track", [True, 1, None, "yes"]),
    (PUMP_FIELDS, "ask_track", [0, 1, None, "yes"]),
    (TONE_FIELDS, "ask_passage", [0, None, "yes"]),
    (TONE_FIELDS, "second", ["too much", 6.0, [], True]),
    (NOTHING_FIELDS, "second", [SECOND_FIELDS]),
    (
        TONE_FIELDS,
        "second",
        [SECOND_FIELDS | {"freq_hz": hz} for hz in (100.1, 200.0, 399.0)],
    ),
    (TONE_FIELDS, "second", [LIFTED_SECOND | {"kind": "nothing", "size_db": 0.0}]),
    (SQUASH_FIELDS, "second", [LIFTED_SECOND, LIFTED_SECOND | {"kind": "squashed"}]),
    (
        SQUASH_FIELDS | {"kind": "too loud"},
        "second",
        [LIFTED_SECOND | {"kind": kind} for kind in ("too quiet", "too loud")],
    ),
]
BAD_SECOND = [
    ("kind", "mud"),
    ("kind", None),
    ("size_db", 0.0),
    ("size_db", 18.1),
    ("size_db", "6"),
    ("freq_hz", None),
    ("freq_hz", 24.0),
    ("q", None),
    ("q", 13.0),
    ("shape", "bell"),
    ("style", "pumping"),
    ("track", "guitar"),
]
CASES = [(good, field, bad) for good, field, values in INVALID for bad in values]


@pytest.mark.parametrize(
    ("good", "field", "bad"), CASES, ids=[f"{g['kind']}: {f}={b!r:.20}" for g, f, b in CASES]
)
def test_any_invalid_recipe_is_refused_and_the_field_named(good, field, bad):
    read_recipe(good)
    with pytest.raises(BadRecipe, match=f"recipe field '{field}': ") as refused:
        read_recipe(good | {field: bad})
    assert refused.value.field == field
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(("field", "bad"), BAD_SECOND, ids=[f"{f}={b!r}" for f, b in BAD_SECOND])
def test_a_second_problem_that_cannot_be_is_refused_and_its_field_named(field, bad):
    read_recipe(PAIR_FIELDS)
    with pytest.raises(BadRecipe, match=rf"recipe field 'second\.{field}': ") as refused:
        read_recipe(PAIR_FIELDS | {"second": SECOND_FIELDS | {field: bad}})
    assert refused.value.field == f"second.{field}"


def test_a_second_problem_needs_its_kind_and_size():
    for field in ("kind", "size_db"):
        second = {name: value for name, value in SECOND_FIELDS.items() if name != field}
        with pytest.raises(BadRecipe, match=rf"'second\.{field}': is missing"):
            read_recipe(TONE_FIELDS | {"second": second})


@pytest.mark.parametrize(
    "second", [SECOND_FIELDS, SECOND_FIELDS | {"freq_hz": 100.0}, LIFTED_SECOND]
)
def test_a_second_problem_may_be_an_octave_away_or_of_another_family(second):
    assert read_recipe(TONE_FIELDS | {"second": second}).to_dict()["second"] == second


def test_a_second_problem_made_directly_is_one():
    fields = {
        "seed": 1,
        "loop": "ferry",
        "fingerprint": "ab",
        "kind": Kind.SQUASHED,
        "size_db": 6.0,
    }
    with pytest.raises(BadRecipe, match="recipe field 'second'"):
        Recipe(**fields, second=LIFTED_SECOND)  # type: ignore[arg-type]
    with pytest.raises(BadRecipe, match="recipe field 'help'"):
        Recipe(**fields, help=1)  # type: ignore[arg-type]


@settings(deadline=None)
@given(
    valid_fields(),
    st.sampled_from([field.name for field in dataclasses.fields(Recipe)]),
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=5)
    | st.lists(st.integers(), max_size=2),
)
def test_whatever_a_field_holds_it_makes_a_recipe_or_a_clear_refusal(fields, name, value):
    changed = fields | {name: value}
    refused = _refusal(changed)
    if refused is None:
        assert read_recipe(changed).to_dict()[name] == value
    else:
        # Another field may be what no longer fits: a kind without frequency, a track gone.
        others = {"size_db", "freq_hz", "q", "alone", "shape", "style", "second", "ask_track"}
        others |= {"other_passage"}
        assert refused.field in {name} | others
        assert str(refused).startswith(f"recipe field '{refused.field}': ")


def _refusal(fields):
    try:
        read_recipe(fields)
    except BadRecipe as refused:
        return refused
    return None


@pytest.mark.parametrize("field", [f.name for f in _required()])
def test_a_missing_field_is_named(field):
    fields = {name: value for name, value in TONE_FIELDS.items() if name != field}
    with pytest.raises(BadRecipe, match=f"'{field}': is missing"):
        read_recipe(fields)


@pytest.mark.parametrize("field", ["gain", "Size_db", "", 3])
def test_an_unknown_field_is_named(field):
    with pytest.raises(BadRecipe, match=f"'{field}': is not one of this version's fields"):
        read_recipe(TONE_FIELDS | {field: 1.0})


def test_a_plain_string_is_no_kind_when_made_directly():
    with pytest.raises(BadRecipe, match="recipe field 'kind'"):
        Recipe(1, "ferry", "ab", "squashed", 6.0)  # type: ignore[arg-type]


def test_numbers_of_numpy_are_numbers():
    assert read_recipe(TONE_FIELDS | {"size_db": np.float64(6.0)}) == read_recipe(TONE_FIELDS)


def test_a_refusal_is_one_the_user_can_mend():
    assert issubclass(BadRecipe, NamefirstError)


@settings(deadline=None, max_examples=200)
@given(st.integers(0, 2**63 - 1), st.sampled_from(BANDS))
def test_a_drawn_frequency_lies_in_its_band_and_is_one_to_write_down(seed, band):
    freq_hz = draw_freq_hz(random.Random(seed), band)
    assert band_of(freq_hz) is band
    assert LOWEST_PROBLEM_HZ <= freq_hz <= HIGHEST_PROBLEM_HZ
    # Three digits, but for the few that would round out of their band.
    steps = freq_hz / 10.0 ** (math.ceil(math.log10(freq_hz)) - 3)
    beside_an_edge = min(abs(freq_hz / edge - 1.0) for edge in (band.low_hz, band.high_hz)) < 0.005
    assert abs(steps - round(steps)) < 1e-9 or beside_an_edge


class _Fixed(random.Random):
    """A source that always gives one value."""

    def __init__(self, value):
        super().__init__(0)
        self._value = value

    def random(self):
        return self._value


@pytest.mark.parametrize("band", BANDS, ids=lambda band: band.name)
@pytest.mark.parametrize("value", [1e-5, 0.0005, 0.5, 0.9995, 1.0 - 1e-5])
def test_a_frequency_beside_an_edge_is_not_rounded_into_the_next_band(band, value):
    assert band_of(draw_freq_hz(_Fixed(value), band)) is band


def test_frequencies_are_even_along_the_octave():
    band = BANDS[5]
    source = random.Random(3)
    drawn = [math.log2(draw_freq_hz(source, band) / band.low_hz) for _ in range(4_000)]
    octave = math.log2(band.high_hz / band.low_hz)
    counts, _ = np.histogram(drawn, bins=4, range=(0.0, octave))
    # 1000 in each quarter, standard deviation 27.
    assert np.abs(counts - 1_000).max() < 5 * 27


@pytest.mark.parametrize(
    ("value", "place"), [(0.0, 0), (0.00099, 0), (0.0011, 1), (0.5, 500), (1.0 - 2.0**-53, 999)]
)
def test_pick_shares_its_items_out_evenly(value, place):
    assert pick(_Fixed(value), range(1_000)) == place


CHOICES = Choices("ferry", "ab12", sizes_db=(3.0, 6.0, 9.0), qs=(0.7, 1.4, 4.0), track="guitar")


@settings(deadline=None)
@given(st.integers(0, 2**63 - 1))
def test_the_same_seed_draws_the_same_recipe(seed):
    recipe = draw_recipe(seed, CHOICES)
    assert recipe == draw_recipe(seed, CHOICES)
    assert recipe.seed == seed
    assert (recipe.loop, recipe.fingerprint, recipe.track) == ("ferry", "ab12", "guitar")
    assert recipe.size_db in ((0.0,) if recipe.kind is Kind.NOTHING else CHOICES.sizes_db)
    assert (recipe.q in CHOICES.qs) if recipe.kind in TONE else (recipe.q is None)
    assert (recipe.passage, recipe.help) == (None, Help.A_AT_HAND)


def test_shapes_styles_a_passage_and_help_are_drawn_where_they_are_among_the_choices():
    choices = dataclasses.replace(
        CHOICES, shapes=tuple(Shape), styles=tuple(Style), passage="verse", help=Help.NO_A
    )
    drawn = [draw_recipe(seed, choices) for seed in range(300)]
    assert {r.shape for r in drawn if r.kind in TONE} == set(Shape)
    assert {r.style for r in drawn if r.kind is Kind.SQUASHED} == set(Style)
    assert {(r.passage, r.help) for r in drawn} == {("verse", Help.NO_A)}


def test_every_kind_is_drawn_about_as_often():
    drawn = [draw_recipe(seed, CHOICES).kind for seed in range(2_100)]
    for kind in Kind:
        # 300 expected, standard deviation 16.
        assert abs(drawn.count(kind) - 300) < 5 * 16


def test_choices_that_no_recipe_may_have_are_refused():
    with pytest.raises(BadRecipe, match=r"'size_db': 40\.0 is not a number from 0.1 to 18"):
        draw_recipe(1, Choices("ferry", "ab", kinds=(Kind.TOO_MUCH,), sizes_db=(40.0,)))


# Regression snapshot of the stream of random.Random(seed).random(), which Python promises to keep
# (library reference, random, "Notes on Reproducibility"), and of the order in which we draw.
GOLDEN = [
    (0, "too quiet", 9.0, None, None),
    (1, "too much", 9.0, 3360.0, 1.4),
    (2, "nothing", 0.0, None, None),
    (3, "too little", 6.0, 270.0, 1.4),
    (5, "too loud", 9.0, None, None),
    (8, "too little", 9.0, 72.7, 0.7),
    (13, "too little", 9.0, 2540.0, 0.7),
    (21, "too little", 9.0, 1970.0, 0.7),
    (34, "lifted", 6.0, None, None),
    (4611686018427387904, "too little", 9.0, 668.0, 0.7),
]


@pytest.mark.parametrize(("seed", "kind", "size_db", "freq_hz", "q"), GOLDEN)
def test_draws_stay_what_they_were(seed, kind, size_db, freq_hz, q):
    recipe = draw_recipe(seed, CHOICES)
    assert (recipe.kind.value, recipe.size_db, recipe.freq_hz, recipe.q) == (
        kind,
        size_db,
        freq_hz,
        q,
    )
