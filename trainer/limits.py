"""What a drill keeps to, as the learner asked for it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Final

from exercises.bands import BANDS
from exercises.errors import NamefirstError
from exercises.kinds import TONE, Kind
from trainer.ladder import STEPS
from trainer.skills import SKILLS, Skill

USUAL_FIXES: Final = 1
MOST_FIXES: Final = 8


@dataclass(frozen=True, slots=True)
class Limits:
    """What a drill keeps to. None stands for all; with bands and no kinds, only tone is asked.

    "Nothing" is asked whatever the kinds. ``step`` is a step of the ladder (None: the learner's).
    ``fixes`` is how many fix rounds there are in ten questions (None: as is usual). ``unheard``
    are bands that the output in use does not bring; it is no wish of the learner's, and not kept.
    Raises NamefirstError when nothing is left to ask.
    """

    bands: tuple[int, ...] | None = None
    kinds: tuple[Kind, ...] | None = None
    loops: tuple[str, ...] | None = None
    minutes: float = 10.0
    step: int | None = None
    fixes: int | None = None
    unheard: frozenset[int] = frozenset()

    def __post_init__(self) -> None:
        if not 0.0 < self.minutes <= 240.0:
            raise NamefirstError(f"--minutes {self.minutes:g}: give more than 0 and at most 240")
        if self.step is not None and not 1 <= self.step <= len(STEPS):
            raise NamefirstError(f"--step {self.step}: give a step from 1 to {len(STEPS)}")
        if self.fixes is not None and not 0 <= self.fixes <= MOST_FIXES:
            raise NamefirstError(f"--fixes {self.fixes}: give 0 to {MOST_FIXES} in ten questions")
        if not skills_within(self):
            raise NamefirstError("--bands and --kinds leave nothing to ask: widen one of them")

    @property
    def fixes_in_ten(self) -> int:
        """Fix rounds in ten questions: one, unless some were asked for, or only a part of all that
        can be hidden."""
        if self.fixes is not None:
            return self.fixes
        return USUAL_FIXES if self.kinds is None and self.bands is None else 0

    @property
    def bands_left(self) -> tuple[int, ...] | None:
        """The bands asked for without those that are unheard; None for all."""
        if self.bands is None and not self.unheard:
            return None
        wanted = range(len(BANDS)) if self.bands is None else self.bands
        return tuple(index for index in wanted if index not in self.unheard)

    def to_dict(self) -> dict[str, Any]:
        """Plain data for JSON."""
        plain = asdict(self)
        del plain["unheard"]
        return {name: list(v) if isinstance(v, tuple) else v for name, v in plain.items()}


def skills_within(limits: Limits) -> tuple[Skill, ...]:
    """The skills that ``limits`` leave to be asked."""
    kinds = limits.kinds
    if kinds is None:
        kinds = tuple(Kind) if limits.bands is None else tuple(TONE)
    bands = limits.bands_left
    return tuple(
        skill
        for skill in SKILLS
        if any(kind in kinds for kind in skill.kinds)
        and (skill.band_index is None or bands is None or skill.band_index in bands)
    )
