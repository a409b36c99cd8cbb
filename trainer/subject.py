"""What can be studied: too much and too little of each octave band, and each kind without a place.

The order is that of the rule, from low to high, then the kinds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from exercises.bands import BANDS, band_of, read_hz
from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind


@dataclass(frozen=True, slots=True)
class Subject:
    """One thing to study: ``band_index`` for tone alone.

    Raises:
        ValueError: a tone without a band, a band without tone, or "nothing".
    """

    kind: Kind
    band_index: int | None = None

    def __post_init__(self) -> None:
        if self.kind is Kind.NOTHING or (self.kind in TONE) != (self.band_index is not None):
            raise ValueError(f"nothing to study in '{self.kind}' with band {self.band_index}")

    @property
    def key(self) -> str:
        """Stable text for the record: "too much:250", "squashed"."""
        if self.band_index is None:
            return self.kind.value
        return f"{self.kind}:{BANDS[self.band_index].name}"

    @property
    def freq_hz(self) -> float | None:
        """Where it is studied: the middle of its band, in Hz."""
        return None if self.band_index is None else BANDS[self.band_index].mid_hz

    @property
    def title(self) -> str:
        """What it is called: "Too much at 250 Hz", "Squashed"."""
        said = self.kind.value.capitalize()
        if self.band_index is None:
            return said
        return f"{said} at {place_name(self.band_index)}"

    @property
    def neighbours(self) -> tuple[Subject, ...]:
        """What it is easily taken for: the bands beside it, or the kinds that it is compared to."""
        if self.band_index is None:
            return tuple(Subject(kind) for kind in _COMPARED[self.kind])
        beside = (self.band_index - 1, self.band_index + 1)
        return tuple(Subject(self.kind, index) for index in beside if 0 <= index < len(BANDS))


_COMPARED: Final = {
    Kind.SQUASHED: (Kind.LIFTED,),
    Kind.LIFTED: (Kind.SQUASHED,),
    Kind.TOO_LOUD: (Kind.TOO_QUIET, Kind.SQUASHED),
    Kind.TOO_QUIET: (Kind.TOO_LOUD, Kind.LIFTED),
}

SUBJECTS: Final = (
    *(Subject(kind, band.index) for kind in (Kind.TOO_MUCH, Kind.TOO_LITTLE) for band in BANDS),
    *(Subject(kind) for kind in Kind if kind in DYNAMICS | LEVEL),
)
"""Everything that can be studied, in order."""


def subject_of(kind: Kind, freq_hz: float | None) -> Subject | None:
    """What a problem belongs to; None for "nothing"."""
    if kind is Kind.NOTHING:
        return None
    return Subject(kind, None if freq_hz is None else band_of(freq_hz).index)


def place_name(band_index: int) -> str:
    """A band as it is said: "250 Hz", "1 kHz"."""
    name = BANDS[band_index].name
    return f"{name.removesuffix('k')} kHz" if name.endswith("k") else f"{name} Hz"


def subjects_called(text: str) -> tuple[Subject, ...]:
    """What goes by ``text``: "250" (too much, then too little), "too little 250", "squashed".

    Empty when nothing does.
    """
    plain = " ".join(text.lower().split())
    for kind in Kind:
        for name in (kind.value, kind.value.removeprefix("too ")):
            if plain == name and kind not in TONE:
                return tuple(subject for subject in SUBJECTS if subject.kind is kind)
            if plain.startswith(f"{name} ") and kind in TONE:
                freq_hz = read_hz(plain.removeprefix(f"{name} "))
                return () if freq_hz is None else (Subject(kind, band_of(freq_hz).index),)
    freq_hz = read_hz(plain)
    if freq_hz is None:
        return ()
    return tuple(Subject(kind, band_of(freq_hz).index) for kind in (Kind.TOO_MUCH, Kind.TOO_LITTLE))
