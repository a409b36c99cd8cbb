"""What can be heard of one question: A, B and more, and any track alone; how long each was.

The sounds lie under one playhead. A letter ("A", "B", "fix") is chosen; while a track is heard
alone, its version of that letter sounds where there is one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from typing import Final

from exercises.samples import Samples
from trainer.playhead import Playhead

_ALONE: Final = "/"


class Plates:
    """The sounds of one question under ``playhead``; the first of them, if any, is chosen."""

    def __init__(self, playhead: Playhead, sounds: Mapping[str, Samples]) -> None:
        self.soloed: str | None = None
        self._playhead = playhead
        self._sounds = dict(sounds)
        self._heard_before: Counter[str] = Counter()
        self._switches_before = 0
        if sounds:
            playhead.load(self._sounds)

    @property
    def letter(self) -> str:
        """The letter of what is chosen."""
        return self._playhead.current.partition(_ALONE)[0]

    def has(self, letter: str) -> bool:
        """Whether there is such a sound."""
        return letter in self._sounds

    def add(self, sounds: Mapping[str, Samples]) -> None:
        """Adds sounds, at the same place in time; what sounds goes on, and what repeats repeats."""
        self._heard_before.update(self._playhead.heard)
        self._switches_before += self._playhead.switches
        chosen = self._playhead.current
        self._sounds = {chosen: self._sounds[chosen], **self._sounds, **sounds}
        playhead = self._playhead
        playhead.load(self._sounds, playhead.region, playhead.position_frames)

    def replace(self, letter: str, samples: Samples) -> None:
        """Puts another sound in a letter's place, at the same place in time."""
        self._sounds[letter] = samples
        self._playhead.replace(letter, samples)

    def named(self, letter: str) -> str:
        """What sounds for ``letter`` now: with a track alone, its version."""
        alone = f"{letter}{_ALONE}{self.soloed}"
        return alone if alone in self._sounds else letter

    def solo(self, track: str | None, alone: Callable[[str], tuple[Samples, Samples]]) -> None:
        """Only ``track`` (None: everything again) from now on; ``alone`` gives its A and B."""
        if track is not None and f"A{_ALONE}{track}" not in self._sounds:
            a, b = alone(track)
            self.add({f"A{_ALONE}{track}": a, f"B{_ALONE}{track}": b})
        self.soloed = track
        self._playhead.choose(self.named(self.letter))

    def heard_s(self, letter: str) -> float:
        """Seconds that a letter was heard, tracks alone included."""
        return sum(s for name, s in self._heard().items() if name.partition(_ALONE)[0] == letter)

    @property
    def alone_s(self) -> float:
        """Seconds that tracks were heard alone."""
        return sum(seconds for name, seconds in self._heard().items() if _ALONE in name)

    @property
    def switches(self) -> int:
        """How often something else was chosen."""
        return self._switches_before + self._playhead.switches

    def _heard(self) -> Counter[str]:
        return self._heard_before + Counter(self._playhead.heard)
