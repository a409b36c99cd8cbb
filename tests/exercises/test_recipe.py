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
from exercises.kinds import LARGEST_SIZE_DB, TONE, Kind
from exercises.recipe import (
    HIGHEST_PROBLEM_HZ,
    LARGEST_Q,
    LOWEST_PROBLEM_HZ,
    SMALLEST_Q,
    VERSION,
    Choices,
    Recipe,
    draw_freq_hz,
    draw_recipe,
    pick,
    read_recipe,
)

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
    "version": VERSION,
}
SQUASH_FIELDS = TONE_FIELDS | {"kind": "squashed", "freq_hz": None, "q": None}
NOTHING_FIELDS = SQUASH_FIELDS | {"kind": "nothing", "size_db": 0.0}


@st.composite
def valid_fields(draw):
    kind = draw(st.sampled_from(Kind))
    toned = kind in TONE
    track = draw(st.none() | st.text(min_size=1, max_size=30))
    return {
        "seed": draw(st.integers(0, 2**63 - 1)),
        "loop": draw(st.text(min_size=1, max_size=200)),
        "fingerprint": draw(st.text(min_size=1, max_size=200)),
        "kind": kind.value,
        "size_db": 0.0 if kind is Kind.NOTHING else draw(st.floats(0.1, LARGEST_SIZE_DB)),
        "freq_hz": draw(st.floats(LOWEST_PROBLEM_HZ, HIGHEST_PROBLEM_HZ)) if toned else None,
        "q": draw(st.floats(SMALLEST_Q, LARGEST_Q)) if toned else None,
        "track": track,
        "alone": draw(st.booleans()) if track is not None else False,
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
        assert refused.field in {name, "size_db", "freq_hz", "q", "alone"}
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


def test_every_kind_is_drawn_about_as_often():
    drawn = [draw_recipe(seed, CHOICES).kind for seed in range(1_800)]
    for kind in Kind:
        # 300 expected, standard deviation 16.
        assert abs(drawn.count(kind) - 300) < 5 * 16


def test_choices_that_no_recipe_may_have_are_refused():
    with pytest.raises(BadRecipe, match=r"'size_db': 40\.0 is not a number from 0.1 to 18"):
        draw_recipe(1, Choices("ferry", "ab", kinds=(Kind.TOO_MUCH,), sizes_db=(40.0,)))


# Regression snapshot of the stream of random.Random(seed).random(), which Python promises to keep
# (library reference, random, "Notes on Reproducibility"), and of the order in which we draw.
GOLDEN = [
    (0, "nothing", 0.0, None, None),
    (1, "too much", 9.0, 3360.0, 1.4),
    (2, "nothing", 0.0, None, None),
    (3, "too little", 6.0, 270.0, 1.4),
    (5, "too loud", 9.0, None, None),
    (8, "too little", 9.0, 72.7, 0.7),
    (13, "too little", 9.0, 2540.0, 0.7),
    (21, "too much", 9.0, 1970.0, 0.7),
    (34, "too loud", 6.0, None, None),
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
