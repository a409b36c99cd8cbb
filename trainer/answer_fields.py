"""An answer as plain data: for the record, and to be carried elsewhere."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from exercises.bands import HIGHEST_HZ, LOWEST_HZ
from exercises.kinds import Kind
from trainer.judging import Answer, Named


def answer_plain(answer: Answer) -> dict[str, Any]:
    """The fields of an answer, as JSON holds them; ``read_answer`` takes them back."""
    return asdict(answer)


def read_answer(plain: Mapping[str, Any]) -> Answer:
    """The answer in ``plain``; other fields beside its own are let be.

    Raises:
        ValueError: a field is missing, of the wrong type or out of range; the error names it.
    """
    sure, second = plain.get("sure"), plain.get("second")
    if not isinstance(sure, bool):
        raise ValueError(f"'sure' {sure!r} is no bool")
    if second is not None and not isinstance(second, dict):
        raise ValueError(f"'second' {second!r} is no answer")
    named = _named(plain)
    return Answer(
        named.kind,
        named.freq_hz,
        sure,
        _name(plain, "track"),
        _name(plain, "passage"),
        None if second is None else _named(second),
    )


def _named(plain: Mapping[str, Any]) -> Named:
    freq_hz = plain.get("freq_hz")
    number = isinstance(freq_hz, int | float) and not isinstance(freq_hz, bool)
    if freq_hz is not None and not (number and LOWEST_HZ <= freq_hz <= HIGHEST_HZ):
        raise ValueError(f"'freq_hz' {freq_hz!r} is no frequency from 20 Hz to 20 kHz")
    return Named(Kind(plain.get("kind", "")), None if freq_hz is None else float(freq_hz))


def _name(plain: Mapping[str, Any], field: str) -> str | None:
    name = plain.get(field)
    if name is not None and not (isinstance(name, str) and name):
        raise ValueError(f"'{field}' {name!r} is no name")
    return name
