"""The table of smallest askable sizes: against the ear it is made from, and as kept data."""

from __future__ import annotations

import dataclasses
import json
import random

import pytest

from exercises.askable_table import AskableTable, askable_table, probes_hz, read_table
from exercises.audibility import MODEL_VERSION, askable, smallest_askable_db
from exercises.bands import BANDS
from exercises.errors import BadLoop
from exercises.heard import ear_of
from exercises.kinds import TONE, Kind, Shape, Style
from exercises.loops import Loop, Passage
from exercises.problems import Problem
from exercises.recipe import draw_freq_hz
from exercises.tone_curve import USUAL_Q
from tests.synthetic_loops import small_band

WAYS = [(None, False), *((name, alone) for name in ("drums", "bass", "keys") for alone in (0, 1))]


@pytest.fixture(scope="module")
def loop() -> Loop:
    return small_band(2.0)


@pytest.fixture(scope="module")
def table(loop) -> AskableTable:
    return askable_table(loop)


def test_every_way_of_hearing_and_every_kind_has_its_row(table):
    found = {(row.track, row.alone, row.kind, row.style) for row in table.rows}
    kinds = [(kind, Style.OVER_COMPRESSED) for kind in Kind if kind is not Kind.NOTHING]
    kinds += [(Kind.SQUASHED, Style.PUMPING)]
    assert found == {(track, bool(alone), *kind) for track, alone in WAYS for kind in kinds}
    assert len(found) == len(table.rows) == 49
    assert {(row.shape, row.passage) for row in table.rows} == {(Shape.PEAK, None)}
    for row in table.rows:
        assert len(row.sizes_db) == (10 if row.kind in TONE else 1)


@pytest.mark.parametrize("way", [(None, False), ("keys", False), ("bass", True)], ids=str)
@pytest.mark.parametrize("kind", sorted(TONE))
def test_a_band_takes_the_hardest_of_its_probes(loop, table, way, kind):
    heard = ear_of(loop, *way)
    for band in BANDS[::3]:
        sizes_db = [smallest_askable_db(heard, kind, hz, USUAL_Q) for hz in probes_hz(band)]
        expected = None if None in sizes_db else max(size for size in sizes_db if size)
        assert table.smallest_db(*way, kind, band.index) == expected


def test_passages_and_shapes_have_their_rows_when_asked_for(loop):
    halves = (Passage("a", 0, 40_000), Passage("b", 40_000, loop.frames))
    loop = dataclasses.replace(loop, tracks=loop.tracks[2:], passages=halves)
    table = askable_table(loop, shapes=(Shape.LOW_SHELF,), passages=("a", "b"))
    assert read_table(json.loads(json.dumps(table.to_dict()))) == table
    heard = ear_of(loop)
    for passage in ("a", "b"):
        assert table.smallest_db(None, False, Kind.LIFTED, passage=passage) == smallest_askable_db(
            heard, Kind.LIFTED, passage=passage
        )
        sizes_db = [
            smallest_askable_db(heard, Kind.TOO_MUCH, hz, shape=Shape.LOW_SHELF, passage=passage)
            for hz in probes_hz(BANDS[4])
        ]
        assert None not in sizes_db
        found = table.smallest_db(
            None, False, Kind.TOO_MUCH, 4, shape=Shape.LOW_SHELF, passage=passage
        )
        assert found == max(sizes_db)
    with pytest.raises(KeyError, match="no row for 'too much', peak"):
        table.smallest_db(None, False, Kind.TOO_MUCH, 4)


@pytest.mark.parametrize("kind", [Kind.SQUASHED, Kind.LIFTED, Kind.TOO_LOUD, Kind.TOO_QUIET])
def test_kinds_without_a_frequency_have_one_size(loop, table, kind):
    assert table.smallest_db("drums", False, kind) == smallest_askable_db(
        ear_of(loop, "drums"), kind
    )


def test_a_frequency_drawn_in_a_band_is_askable_at_the_tables_size(loop, table):
    """Nine of ten at least: between probes a spectrum of few partials may have holes."""
    source = random.Random(11)
    asked = fair = 0
    for track, alone in ((None, False), ("drums", False), ("keys", True)):
        heard = ear_of(loop, track, alone)
        for band in BANDS:
            for kind in sorted(TONE):
                size_db = table.smallest_db(track, alone, kind, band.index)
                if size_db is not None:
                    freq_hz = draw_freq_hz(source, band)
                    asked += 1
                    fair += askable(heard, Problem(kind, size_db, freq_hz, USUAL_Q))
    assert asked > 30
    assert fair >= 0.9 * asked


def test_no_top_octave_on_the_bass_and_no_bottom_octave_on_the_keys_in_the_mix(table):
    assert table.smallest_db("bass", True, Kind.TOO_MUCH, 9) is None
    assert table.smallest_db("bass", False, Kind.TOO_MUCH, 9) is None
    assert table.smallest_db("keys", False, Kind.TOO_MUCH, 0) is None
    assert table.smallest_db(None, False, Kind.TOO_MUCH, 5) is not None


def test_nothing_needs_no_size(table):
    assert table.smallest_db(None, False, Kind.NOTHING) == 0.0


def test_it_comes_back_from_json(table):
    assert read_table(json.loads(json.dumps(table.to_dict()))) == table


def test_it_fits_its_own_sound_and_model_only(loop, table):
    assert table.fits(loop)
    assert not table.fits(small_band(2.0, seed=5))
    assert not dataclasses.replace(table, model_version=MODEL_VERSION + 1).fits(loop)


@pytest.mark.parametrize(
    "damage",
    [
        lambda fields: fields.pop("rows"),
        lambda fields: fields["rows"][0].update(kind="too odd"),
        lambda fields: fields["rows"][0].update(sizes_db=[1.0, 2.0]),
        lambda fields: fields["rows"][0].update(sizes_db=["loud"] * 10),
        lambda fields: fields["rows"][0].update(shape="bell"),
        lambda fields: fields["rows"][0].pop("passage"),
        lambda fields: fields.update(rows=3),
    ],
)
def test_a_damaged_table_is_refused_in_one_line(table, damage):
    fields = json.loads(json.dumps(table.to_dict()))
    damage(fields)
    with pytest.raises(
        BadLoop, match=r"^the kept table of askable sizes is damaged .*; remove it$"
    ):
        read_table(fields)


@pytest.mark.parametrize("band_index", [None, -1, 10])
def test_a_tone_problem_needs_a_band(table, band_index):
    with pytest.raises(KeyError, match="needs a band from 0 to 9"):
        table.smallest_db(None, False, Kind.TOO_MUCH, band_index)


def test_an_unknown_track_is_refused(table):
    with pytest.raises(KeyError, match=r"no row for 'too loud', .*track 'flute'"):
        table.smallest_db("flute", False, Kind.TOO_LOUD)
