"""Nothing but the sound gives an answer away.

Listeners that cannot hear: each is given something other than the sound of many questions, learns
from one half of them what goes with which kind, and names the other half. By the exact binomial
test none does better than chance.
"""

from __future__ import annotations

import dataclasses
import random
import sys
from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.stats import binomtest

from exercises.kinds import DYNAMICS, LEVEL, TONE, Kind, Shape, Style
from exercises.loops import Loop, Passage
from exercises.loudness import loudness_lufs
from exercises.question import Question, make_question
from exercises.recipe import Recipe, pick
from tests.drawn_recipes import Choices, draw_recipe
from tests.meters import ebur128_lufs
from tests.synthetic_loops import frames_of, repeated, small_band

# Evidence against chance that no honest listener would be granted: one in a thousand.
LEAST_P = 0.001
SECONDS = 0.75
PASSAGES = (Passage("first", 0, 16_000), Passage("second", 16_000, frames_of(SECONDS)))
LOOPS = tuple(
    dataclasses.replace(small_band(SECONDS, seed=seed), passages=PASSAGES) for seed in (1, 2)
)


def drawn(count: int, kinds: Sequence[Kind]) -> list[tuple[Recipe, Loop]]:
    """Recipes of every shape, style, place and help, each kind as often as any other."""
    made = []
    for seed in range(count):
        source = random.Random(1_000_000 + seed)
        loop = pick(source, LOOPS)
        track = pick(source, (None, "drums", "bass", "keys"))
        choices = Choices(
            loop.name,
            loop.fingerprint,
            kinds=tuple(kinds),
            sizes_db=(3.0, 6.0, 9.0, 12.0),
            qs=(0.7, 1.4, 4.0),
            shapes=tuple(Shape),
            styles=tuple(Style),
            track=track,
            alone=track is not None and source.random() < 0.3,
            passage=pick(source, (None, "first", "second")),
        )
        made.append((draw_recipe(seed, choices), loop))
    return made


def better_than_chance(
    facts: Sequence[Sequence[float]], kinds: Sequence[Kind]
) -> tuple[float, float]:
    """Share named right by the fifteen nearest of the other half, and the p of that by chance.

    The first half of the questions is learned from, the second half named; each fact counts by how
    far it varies.
    """
    table = np.array(facts, dtype=np.float64)
    spread = table.std(axis=0)
    table = table / np.where(spread > 0.0, spread, 1.0)
    half = len(table) // 2
    right = 0
    for place in range(half, len(table)):
        distance = np.abs(table[:half] - table[place]).sum(axis=1)
        nearest = np.argsort(distance, kind="stable")[:15]
        named = Counter(kinds[which] for which in nearest).most_common(1)[0][0]
        right += named is kinds[place]
    asked = len(table) - half
    p = binomtest(right, asked, 1.0 / len(set(kinds)), alternative="greater").pvalue
    return right / asked, float(p)


def loudness_facts(question: Question) -> tuple[float, float]:
    """Integrated loudness of A and B, to a hundredth: ten times finer than a meter shows."""
    return round(loudness_lufs(question.a), 2), round(loudness_lufs(question.b), 2)


HEAVY = frozenset(
    {
        "settle_and_filter",
        "filter_loop",
        "filter_loop_swept",
        "levels_db",
        "sample_gains",
        "block_powers",
        "weighted_powers",
        "hand_weight",
        "playing_weight",
        "true_peak",
        "do_change",
        "change_of",
        "scaled",
        "mix",
    }
)
"""What takes time in the making of a question: every pass over all of its frames."""


def passes_of(make: Callable[[], Question]) -> tuple[Question, Counter[str]]:
    """A question and how often each heavy function was run: its render time without the clock."""
    counted: Counter[str] = Counter()

    def count(frame: object, event: str, _: object) -> None:
        if event == "call" and frame.f_code.co_name in HEAVY:  # type: ignore[attr-defined]
            counted[frame.f_code.co_name] += 1  # type: ignore[attr-defined]

    before = sys.getprofile()
    sys.setprofile(count)
    try:
        return make(), counted
    finally:
        sys.setprofile(before)


def outer_facts(question: Question, passes: Counter[str]) -> list[float]:
    """What can be seen of a question without hearing it."""
    facts: list[float] = []
    for sound in (question.a, question.b, question.a_alone, question.b_alone):
        if sound is None:
            facts += [0.0] * 6
            continue
        facts += [
            len(sound),
            sound.nbytes,
            sound.itemsize,
            float(sound.flags.f_contiguous),
            float(sound.flags.writeable),
            float(sound.base is None),
        ]
    return facts + [float(passes[name]) for name in sorted(HEAVY)]


def test_a_listener_who_knows_the_answer_is_found_out():
    """The measure itself: a fact that tells the kind, and one that does by a quarter."""
    kinds = [pick(random.Random(seed), tuple(Kind)) for seed in range(400)]
    known = [[float(list(Kind).index(kind))] for kind in kinds]
    share, p = better_than_chance(known, kinds)
    assert share > 0.95
    assert p < 1e-9
    hints = [
        fact if random.Random(seed).random() < 0.25 else [7.0 * random.Random(seed).random()]
        for seed, fact in enumerate(known)
    ]
    assert better_than_chance(hints, kinds)[1] < LEAST_P
    noise = [[random.Random(-seed).random()] for seed in range(1, 401)]
    assert better_than_chance(noise, kinds)[1] > LEAST_P


@dataclass(frozen=True)
class Asked:
    """What the listeners are given of one question."""

    kind: Kind
    loudness: tuple[float, float]
    outside: list[float]


ASKED: list[Asked] = []


def ask(count: int) -> list[Asked]:
    """The first ``count`` questions; each is made once."""
    for recipe, loop in drawn(count, tuple(Kind))[len(ASKED) :]:
        question, passes = passes_of(lambda recipe=recipe, loop=loop: make_question(recipe, loop))
        ASKED.append(Asked(recipe.kind, loudness_facts(question), outer_facts(question, passes)))
    return ASKED[:count]


def check_listeners(asked: Sequence[Asked]) -> None:
    """Loudness is held against the kinds that it must not tell, all else against every kind."""
    unlevelled = [each for each in asked if each.kind not in LEVEL]
    share, p = better_than_chance(
        [each.loudness for each in unlevelled], [each.kind for each in unlevelled]
    )
    assert p > LEAST_P, f"named {share:.0%} by loudness alone"
    share, p = better_than_chance([each.outside for each in asked], [each.kind for each in asked])
    assert p > LEAST_P, f"named {share:.0%} without hearing"


def test_no_kind_is_named_without_hearing():
    check_listeners(ask(400))


@pytest.mark.slow
def test_no_kind_is_named_without_hearing_in_2000_questions():
    """Of five kinds by loudness, of all seven (2,800 questions) by all else."""
    asked = ask(2_800)
    assert sum(each.kind not in LEVEL for each in asked) > 1_950
    check_listeners(asked)


def made_for_every_kind(**place: object) -> dict[Hashable, tuple[Question, Counter[str]]]:
    loop = LOOPS[0]
    made: dict[Hashable, tuple[Question, Counter[str]]] = {}
    for kind in Kind:
        for style in Style if kind is Kind.SQUASHED else (Style.OVER_COMPRESSED,):
            choices = Choices(loop.name, loop.fingerprint, (kind,), styles=(style,), **place)
            recipe = draw_recipe(3, choices)
            made[kind, style] = passes_of(lambda recipe=recipe: make_question(recipe, loop))
    return made


@pytest.mark.parametrize(
    "place",
    [
        {},
        {"track": "keys"},
        {"track": "keys", "alone": True},
        {"passage": "second"},
        {"track": "bass", "passage": "first"},
    ],
    ids=str,
)
def test_every_kind_is_made_by_the_same_passes_over_the_sound(place):
    """So that it takes the same time, whatever the machine."""
    made = made_for_every_kind(**place)
    passes = [counted for _, counted in made.values()]
    assert sum(passes[0].values()) > 10
    assert all(counted == passes[0] for counted in passes)
    outsides = {tuple(outer_facts(question, counted)) for question, counted in made.values()}
    assert len(outsides) == 1


@pytest.mark.parametrize("kind", sorted(TONE | DYNAMICS))
def test_another_meter_reads_no_difference_either(kind):
    """libebur128 over the loop repeated, on tracks and passages."""
    for recipe, loop in drawn(8, (kind,)):
        question = make_question(recipe, loop)
        a_lufs, b_lufs = (ebur128_lufs(repeated(x, 12.0)) for x in (question.a, question.b))
        assert b_lufs == pytest.approx(a_lufs, abs=0.1)


@pytest.mark.parametrize("kind", sorted(LEVEL))
def test_a_level_in_one_passage_is_not_told_by_loudness_either(kind):
    loop = LOOPS[0]
    for track in (None, "drums", "keys"):
        choices = Choices(loop.name, loop.fingerprint, (kind,), track=track, passage="first")
        question = make_question(draw_recipe(1, choices), loop)
        a_lufs, b_lufs = loudness_facts(question)
        assert b_lufs == pytest.approx(a_lufs, abs=0.02)
