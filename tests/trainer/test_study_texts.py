"""Every subject has its words, in whole sentences, that agree with the rule and with print."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from exercises.bands import BANDS, octaves
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind
from trainer.study_texts import NO_SOURCE, text_of
from trainer.subject import SUBJECTS, Subject, subject_of, subjects_called

RANGES = json.loads(
    (Path(__file__).parent.parent / "references" / "region_words.json").read_text()
)["rows"]


def test_the_subjects_are_both_directions_of_ten_bands_and_four_kinds() -> None:
    assert len(SUBJECTS) == len(set(SUBJECTS)) == 24
    assert len({subject.key for subject in SUBJECTS}) == 24
    assert {subject.kind for subject in SUBJECTS} == TONE | DYNAMICS | LEVEL


@pytest.mark.parametrize("subject", SUBJECTS, ids=lambda subject: subject.key)
def test_a_text_is_whole_and_short_enough_for_its_page(subject: Subject) -> None:
    text = text_of(subject)
    assert 2 <= len(text.words) <= 4
    for sentence in (text.listen, text.causes, text.welcome, text.apart):
        assert sentence[0].isupper()
        assert sentence.endswith(".")
        assert 20 <= len(sentence) <= 180
    assert text.listen.startswith("Listen ")
    assert NO_SOURCE in text.standing


@pytest.mark.parametrize(
    "subject", [each for each in SUBJECTS if each.kind in TONE], ids=lambda subject: subject.key
)
def test_the_word_that_is_engraved_on_the_rule_comes_first(subject: Subject) -> None:
    assert subject.band_index is not None
    band = BANDS[subject.band_index]
    engraved = band.too_much if subject.kind is Kind.TOO_MUCH else band.too_little
    assert text_of(subject).words[0] == engraved


def test_no_two_subjects_say_the_same() -> None:
    for field in ("listen", "causes", "welcome", "apart"):
        said = [getattr(text_of(subject), field) for subject in SUBJECTS]
        assert len(set(said)) == len(SUBJECTS)


@pytest.mark.parametrize("row", RANGES, ids=lambda row: f"{row['direction']} {row['word']}")
def test_words_sit_in_the_range_that_print_or_practice_gives_them(row: dict[str, object]) -> None:
    """A word's band overlaps the range of its row; sources stand in the table."""
    kind = Kind(str(row["direction"]))
    found = [
        BANDS[subject.band_index]
        for subject in SUBJECTS
        if subject.kind is kind
        and subject.band_index is not None
        and row["word"] in text_of(subject).words
    ]
    assert found, f"no text has the word {row['word']}"
    low_hz, high_hz = float(str(row["low_hz"])), float(str(row["high_hz"]))
    for band in found:
        overlap = octaves(min(high_hz, band.high_hz), max(low_hz, band.low_hz))
        assert overlap > 0.25, (row["word"], band.name)


def test_a_text_that_names_a_source_stands_in_the_table_of_that_source() -> None:
    sourced = {
        (row["direction"], row["word"])
        for row in RANGES
        if not str(row["source"]).startswith("common practice")
    }
    for subject in SUBJECTS:
        text = text_of(subject)
        if text.sources:
            assert any((subject.kind.value, word) in sourced for word in text.words), subject.key


@pytest.mark.parametrize(
    ("typed", "keys"),
    [
        ("250", ["too much:250", "too little:250"]),
        ("200 Hz", ["too much:250", "too little:250"]),
        ("too much 4k", ["too much:4k"]),
        ("little 16k", ["too little:16k"]),
        ("Squashed", ["squashed"]),
        ("loud", ["too loud"]),
        ("nothing", []),
        ("too much", []),
        ("too much of it", []),
        ("5", []),
    ],
)
def test_what_a_subject_may_be_called(typed: str, keys: list[str]) -> None:
    assert [subject.key for subject in subjects_called(typed)] == keys


@pytest.mark.parametrize(
    ("kind", "band"), [(Kind.NOTHING, None), (Kind.TOO_MUCH, None), (Kind.SQUASHED, 3)]
)
def test_there_is_nothing_to_study_in_what_is_no_subject(kind: Kind, band: int | None) -> None:
    with pytest.raises(ValueError, match="nothing to study"):
        Subject(kind, band)


def test_a_problem_belongs_to_the_subject_of_its_band() -> None:
    assert subject_of(Kind.TOO_MUCH, 186.0) == Subject(Kind.TOO_MUCH, 3)
    assert subject_of(Kind.LIFTED, None) == Subject(Kind.LIFTED)
    assert subject_of(Kind.NOTHING, None) is None


def test_neighbours_are_the_bands_beside_or_the_kinds_compared() -> None:
    def keys(subject: Subject) -> list[str]:
        return [each.key for each in subject.neighbours]

    assert keys(Subject(Kind.TOO_MUCH, 3)) == ["too much:125", "too much:500"]
    assert keys(Subject(Kind.TOO_LITTLE, 0)) == ["too little:63"]
    assert keys(Subject(Kind.TOO_MUCH, 9)) == ["too much:8k"]
    assert keys(Subject(Kind.SQUASHED)) == ["lifted"]
