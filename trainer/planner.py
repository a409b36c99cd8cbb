"""What to ask next: two easy questions, then the mix that tells most and trains what is weak.

Pure: the belief, what this drill has asked so far, the limits and a seed decide. Skills are drawn
in proportion to how weak and how uncertain they are, less so the more often this drill had them,
never the same band twice running (interleaving helps: Brunmair and Richter, Psychological Bulletin
145, 2019). About one question in eight hides nothing, drawn afresh each time, so that no position
gives it away. A size is the one whose answer tells most about the finest size, as long as success
is foretold in 75 % of cases or more, and never smaller than can be heard on that loop.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from typing import Any, Final, TypeVar

import numpy as np

from exercises.bands import BANDS
from exercises.errors import NamefirstError
from exercises.kinds import TONE, Kind
from exercises.recipe import HIGHEST_PROBLEM_HZ, LOWEST_PROBLEM_HZ
from trainer.ability import Ability
from trainer.answer_model import Floats
from trainer.skills import LEVEL_NAME, SKILL_POSITION, SKILLS, Skill

EASY_QUESTIONS: Final = 2
EASY_SUCCESS: Final = 0.92
LEAST_SUCCESS: Final = 0.75
NOTHING_SHARE: Final = 1.0 / 8.0
TONE_SIZES_DB: Final = (1.0, 12.0)
SQUASHED_SIZES_DB: Final = (1.0, 12.0)
LEVEL_SIZES_DB: Final = (0.5, 6.0)
SIZE_STEP_LOG2: Final = 1.0 / 16.0
"""A coarse menu overshoots the least success that is wanted, and that costs information."""
BANDLESS_SHARE: Final = 2.0
"""Squashed and level are drawn twice as often as one band of one direction."""
LEAST_SHARE: Final = 0.25
"""No skill's draw falls below this part of the mean: what is mastered comes round again."""

SmallestAskable = Callable[[str, Kind, float | None], float | None]
"""(loop name, kind, frequency in Hz or None) -> the smallest size, dB, that can be heard there;
None when none can. Called for one loop after another until one will do."""

_Item = TypeVar("_Item")


@dataclass(frozen=True, slots=True)
class Limits:
    """What a drill keeps to. None stands for all; with bands and no kinds, only tone is asked.

    "Nothing" is asked whatever the kinds. Raises NamefirstError when nothing is left to ask.
    """

    bands: tuple[int, ...] | None = None
    kinds: tuple[Kind, ...] | None = None
    loops: tuple[str, ...] | None = None
    minutes: float = 10.0

    def __post_init__(self) -> None:
        if not 0.0 < self.minutes <= 240.0:
            raise NamefirstError(f"--minutes {self.minutes:g}: give more than 0 and at most 240")
        if not _skills_within(self):
            raise NamefirstError("--bands and --kinds leave nothing to ask: widen one of them")

    def to_dict(self) -> dict[str, Any]:
        """Plain data for JSON; ``read_limits`` takes it back."""
        plain = asdict(self)
        return {name: list(v) if isinstance(v, tuple) else v for name, v in plain.items()}


def read_limits(fields: dict[str, Any]) -> Limits:
    """The limits that ``Limits.to_dict`` wrote. Raises KeyError, TypeError or ValueError."""
    bands, kinds, loops = fields["bands"], fields["kinds"], fields["loops"]
    return Limits(
        None if bands is None else tuple(int(index) for index in bands),
        None if kinds is None else tuple(Kind(kind) for kind in kinds),
        None if loops is None else tuple(str(name) for name in loops),
        float(fields["minutes"]),
    )


@dataclass(frozen=True, slots=True)
class Asked:
    """What the planner needs to know of a question that this drill has asked already."""

    kind: Kind
    band_index: int | None
    loop: str


@dataclass(frozen=True, slots=True)
class Ask:
    """A question to make. ``size_db`` is 0 for *nothing*; ``freq_hz`` is set for tone alone;
    ``seed`` is for whatever the making still leaves open."""

    kind: Kind
    band_index: int | None
    freq_hz: float | None
    size_db: float
    loop: str
    seed: int

    @property
    def asked(self) -> Asked:
        """What to remember of this question within the drill."""
        return Asked(self.kind, self.band_index, self.loop)


def plan_next(
    ability: Ability,
    asked: Sequence[Asked],
    limits: Limits,
    loops: Sequence[str],
    smallest_askable: SmallestAskable,
    seed: int,
    *,
    help: int = 0,
) -> Ask:
    """The next question of a drill; the same arguments give the same question.

    ``loops`` are the names at hand, which ``limits`` may narrow; ``help`` as in Observation.

    Raises:
        NamefirstError: no loop is left, or none can carry any problem that may be asked.
    """
    draws = random.Random((seed << 20) + len(asked))
    names = _loops_within(limits, loops)
    easy = len(asked) < EASY_QUESTIONS
    if draws.random() < NOTHING_SHARE and not easy:
        loop = _loops_in_turn(names, asked, draws)[0]
        return Ask(Kind.NOTHING, None, None, 0.0, loop, _new_seed(draws))
    skills = _skills_in_turn(ability, asked, limits, draws, easy=easy)
    in_turn = _loops_in_turn(names, asked, draws)
    for skill in skills:
        kinds = [k for k in skill.kinds if limits.kinds is None or k in limits.kinds]
        kind = kinds[int(draws.random() * len(kinds))]
        freq_hz = None if skill.band_index is None else _freq_within(skill.band_index, draws)
        smallest = ((loop, smallest_askable(loop, kind, freq_hz)) for loop in in_turn)
        best_size = partial(best_size_db, ability, skill, easy=easy, help=help)
        placed = _place(smallest, best_size, *sizes_db(skill))
        if placed is not None:
            loop, size_db = placed
            return Ask(kind, skill.band_index, freq_hz, size_db, loop, _new_seed(draws))
    raise NamefirstError(
        "none of these loops can carry a problem that could be heard: "
        "add a loop, or widen --bands, --kinds or --loops"
    )


def sizes_db(skill: Skill) -> tuple[float, float]:
    """Smallest and largest size, dB, that a drill asks of a skill."""
    if skill.band_index is not None:
        return TONE_SIZES_DB
    return LEVEL_SIZES_DB if skill.problem == LEVEL_NAME else SQUASHED_SIZES_DB


def _skills_within(limits: Limits) -> tuple[Skill, ...]:
    kinds = limits.kinds
    if kinds is None:
        kinds = tuple(Kind) if limits.bands is None else tuple(TONE)
    return tuple(
        skill
        for skill in SKILLS
        if any(kind in kinds for kind in skill.kinds)
        and (skill.band_index is None or limits.bands is None or skill.band_index in limits.bands)
    )


def _loops_within(limits: Limits, loops: Sequence[str]) -> tuple[str, ...]:
    names = tuple(name for name in loops if limits.loops is None or name in limits.loops)
    if not names:
        wanted = "any" if limits.loops is None else ", ".join(limits.loops)
        raise NamefirstError(f"no loop to ask on ({wanted} wanted): add one, or widen --loops")
    return names


def _skills_in_turn(
    ability: Ability,
    asked: Sequence[Asked],
    limits: Limits,
    draws: random.Random,
    *,
    easy: bool,
) -> list[Skill]:
    """Every skill that may be asked now, in drawn order: the first is wanted most."""
    within = _skills_within(limits)
    last = next((each for each in reversed(asked) if each.kind is not Kind.NOTHING), None)
    fresh = [skill for skill in within if last is None or not _repeats(skill, last)]
    skills = fresh or list(within)
    mean, sd = ability.log2_finest()
    weights = []
    for skill in skills:
        position = SKILL_POSITION[skill]
        largest = sizes_db(skill)[1]
        weakness = min(largest, 2.0 ** float(mean[position])) / largest
        weight = weakness**-2.0 if easy else weakness * float(sd[position])
        weights.append(weight if skill.band_index is not None else weight * BANDLESS_SHARE)
    least = LEAST_SHARE * sum(weights) / len(weights)
    times = [sum(_exercises(each, skill) for each in asked) for skill in skills]
    weights = [max(weight, least) / (1 + n) for weight, n in zip(weights, times, strict=True)]
    return _drawn_order(skills, weights, draws)


def _repeats(skill: Skill, last: Asked) -> bool:
    if last.band_index is not None:
        return skill.band_index == last.band_index
    return last.kind in skill.kinds


def _exercises(each: Asked, skill: Skill) -> bool:
    return each.kind in skill.kinds and each.band_index == skill.band_index


def _drawn_order(
    items: Sequence[_Item], weights: Sequence[float], draws: random.Random
) -> list[_Item]:
    """Drawn one after another without putting back, in proportion to the weights: sorted by
    exponential waiting times (P. S. Efraimidis, P. G. Spirakis, Inf. Process. Lett. 97, 2006)."""
    waits = [-math.log(1.0 - draws.random()) / weight for weight in weights]
    return [items[place] for place in sorted(range(len(items)), key=waits.__getitem__)]


def _loops_in_turn(names: Sequence[str], asked: Sequence[Asked], draws: random.Random) -> list[str]:
    """Least used in this drill first, ties drawn; the loop just heard last of all."""
    used = {name: sum(each.loop == name for each in asked) for name in names}
    tie = {name: draws.random() for name in names}
    just_heard = asked[-1].loop if asked else None
    return sorted(names, key=lambda name: (name == just_heard, used[name], tie[name]))


def _freq_within(band_index: int, draws: random.Random) -> float:
    """Even in log frequency within the band, kept to what a problem may sit at; to 0.1 Hz."""
    band = BANDS[band_index]
    low = max(band.low_hz, LOWEST_PROBLEM_HZ)
    high = min(band.high_hz, HIGHEST_PROBLEM_HZ)
    freq_hz = round(low * math.exp(math.log(high / low) * draws.random()), 1)
    # Rounding must not carry it over the edge into another band.
    return min(math.floor(high * 10.0) / 10.0, max(math.ceil(low * 10.0) / 10.0, freq_hz))


def _place(
    smallest_askable: Iterable[tuple[str, float | None]],
    best_size_db: Callable[[float, float], float],
    least: float,
    largest: float,
) -> tuple[str, float] | None:
    """Loop and size: the first loop that can carry the wanted size, or else the one that can
    carry the smallest, at the best size it can carry; None when none can."""
    wanted = best_size_db(least, largest)
    best: tuple[float, str] | None = None
    for loop, smallest in smallest_askable:
        if smallest is None or smallest > largest:
            continue
        if smallest <= wanted:
            return loop, wanted
        if best is None or smallest < best[0]:
            best = (smallest, loop)
    return None if best is None else (best[1], best_size_db(best[0], largest))


def best_size_db(
    ability: Ability, skill: Skill, least: float, largest: float, *, easy: bool, help: int
) -> float:
    """The size from ``least`` to ``largest`` that tells most, success being likely enough; for
    an easy question the smallest that is easy. The largest where no success is likely enough."""
    low, high = math.log2(least), math.log2(largest)
    count = max(2, math.ceil((high - low) / SIZE_STEP_LOG2) + 1)
    sizes: Floats = np.linspace(low, high, count)
    success, information = ability.placement(skill, sizes, help=help)
    fit = success >= (EASY_SUCCESS if easy else LEAST_SUCCESS)
    if not fit.any():
        return largest
    place = int(fit.argmax() if easy else np.where(fit, information, -1.0).argmax())
    # To 0.1 dB, upwards: neither what can be heard nor the least success is undercut.
    return min(largest, math.ceil(math.exp2(sizes[place]) * 10.0 - 1e-6) / 10.0)


def _new_seed(draws: random.Random) -> int:
    return int(draws.random() * 2**31)
