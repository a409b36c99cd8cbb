"""A claim in plain sentences: the same in the window, in the terminal and in the report.

Every rate is said with the count that it stands on; nobody is ever told that they cannot hear.
"""

from __future__ import annotations

from typing import Final

from exercises.bands import show_hz
from exercises.build_up import Hill
from exercises.evidence import Evidence, Part
from exercises.loops import WHOLE_MIX
from trainer.claim import Aim, Claim, Stage
from trainer.claim_case import Case
from trainer.progress_words import band_words
from trainer.sequential_test import RULE, Outcome, operating
from trainer.statistics import binomial_tail
from trainer.words import counted

_WILD_OCTAVES: Final = 0.5  # who scatters so much points at nothing in particular
_MINUS: Final = "\N{MINUS SIGN}"
_FRACTIONS: Final = (
    (1 / 6, "a sixth of an octave"),
    (1 / 4, "a quarter of an octave"),
    (1 / 3, "a third of an octave"),
    (1 / 2, "half an octave"),
    (2 / 3, "two thirds of an octave"),
    (1.0, "an octave"),
    (1.5, "one and a half octaves"),
    (2.0, "two octaves"),
)

RULES: Final = (
    "A is the stretch as it is, B the same with the change, as loud as each other.",
    "X is A or B, drawn anew for every trial. Say which. Nothing is told before the end.",
    f"It ends as soon as it is decided, after {RULE.most} trials at most.",
)
POINTING_RULES: Final = (
    "Now where? A is as it is; in B the change sits somewhere else each time, within an octave of "
    "your claim. Point at it, five times; nothing is told before the end."
)


def claim_sentence(case: Case) -> str:
    """What is claimed."""
    change = case.change
    what = "too little" if case.evidence.hollow else "too much"
    return f"The claim: {what} near {show_hz(change.freq_hz)} in {stretch_words(case)}."


def change_sentence(case: Case) -> str:
    """What B has that A has not."""
    change = case.change
    done = "a boost" if change.gain_db > 0 else "a cut"
    where = "all of it" if case.stretch.track is None else f"'{case.stretch.track}'"
    return (
        f"B has {done} of {abs(change.gain_db):g} dB at {show_hz(change.freq_hz)}, Q {change.q:g}, "
        f"on {where}."
    )


def stretch_words(case: Case) -> str:
    """Which sound: "song.wav, 0:30 to 0:38, track 'guitar'"."""
    stretch = case.stretch
    said = (
        f"{stretch.title}, {clock(stretch.start_s)} to {clock(stretch.start_s + stretch.seconds)}"
    )
    if stretch.found:
        said += " (where it stands out most)"
    return said + f", {WHOLE_MIX if stretch.track is None else f'track {stretch.track!r}'}"


def evidence_sentences(evidence: Evidence) -> tuple[str, ...]:
    """What was measured, in a few sentences."""
    sentences = [_hill_sentence(evidence)]
    if evidence.range is not None:
        usual = evidence.range
        # Compared as they are shown, so that no figure stands on its bound and is called above it.
        power_db, low_db, high_db = (
            round(usual.power_db, 1),
            round(usual.low_db),
            round(usual.high_db),
        )
        side = "above" if power_db > high_db else "below" if power_db < low_db else "within"
        sentences.append(
            f"The {band_words(usual.band)} band holds {signed(power_db)} dB of the whole; in "
            f"eight of ten recorded mixes {signed(low_db, 0)} to {signed(high_db, 0)} "
            f"dB: {side} that range."
        )
    sentences.append(_parts_sentence(evidence))
    return tuple(sentences)


def hill_words(hill: Hill) -> str:
    """A hill in figures: "186 Hz, +5.2 dB, about a third of an octave wide"."""
    width = min(_FRACTIONS, key=lambda fraction: abs(fraction[0] - hill.width_octaves))[1]
    height = signed(hill.height_db, plus=True)
    return f"{show_hz(hill.centre_hz)}, {height} dB, about {width} wide"


def outcome_sentences(claim: Claim) -> tuple[str, ...]:
    """The verdict on hearing, with its figures."""
    right, total = claim.right, len(claim.trials)
    if total == 0:
        return ("Left before the first trial.",)
    score = f"{right} of {total} right"
    chance = f"Exact binomial: by guessing, {right} or more of {total} have a chance of "
    beside = f"{chance}{binomial_tail(right, total):.2g}."
    guessing, hearing = operating(0.5, claim.rule), operating(claim.rule.worth_share, claim.rule)
    worth = f"{claim.rule.worth_share * 100:.0f} %"
    if claim.outcome is Outcome.HEARD:
        return (
            f"Heard: {score}.",
            f"By guessing alone this test says 'heard' in {_percent(guessing.heard)}.",
            beside,
        )
    if claim.outcome is Outcome.NOT_SHOWN:
        return (
            f"Not shown: {score}.",
            f"This test did not show that the change is heard here. Somebody who tells it in "
            f"{worth} of trials still comes out so in {_percent(hearing.not_shown)}. A larger "
            "change, another stretch, or rested ears may show it.",
            beside,
        )
    if claim.outcome is Outcome.UNDECIDED:
        return (
            f"Undecided: {score}, and {total} trials are the most that is asked.",
            f"That is between guessing and hearing. Somebody who tells it in {worth} of trials "
            f"ends here in {_percent(hearing.undecided)}, a guesser in "
            f"{_percent(guessing.undecided)}.",
            beside,
        )
    return (f"Left after {counted(total, 'trial')}: nothing is decided.",)


def aim_sentences(claim: Claim, evidence: Evidence) -> tuple[str, ...]:
    """The verdict on pointing."""
    aim = claim.aim
    if aim is None:
        if claim.stage is Stage.OVER and not claim.points:
            return ("Where it is was not asked.",)
        return ()
    interval = f"95 % interval {signed(aim.low, 2, plus=True)} to {signed(aim.high, 2, plus=True)}"
    if aim.low <= 0.0 <= aim.high:
        bias = f"no bias that shows ({signed(aim.bias, 2, plus=True)} octave, {interval})"
    else:
        side = "high" if aim.bias > 0 else "low"
        bias = f"{abs(aim.bias):.2f} octave too {side} on average ({interval})"
    sentences = [
        f"Pointing, {len(claim.points)} times: {bias}; scattered by {aim.spread:.2f} octave "
        "(standard deviation)."
    ]
    if evidence.there and evidence.off_octaves is not None and aim.spread <= _WILD_OCTAVES:
        sentences.append(_against_measured(aim, evidence.off_octaves, evidence.hollow))
    return tuple(sentences)


def signed(value: float, digits: int = 1, *, plus: bool = False) -> str:
    """A figure with a true minus sign, and with a plus where it is asked for."""
    rounded = f"{abs(value):.{digits}f}"
    if float(rounded) == 0.0:
        return rounded
    return f"{_MINUS if value < 0 else '+' if plus else ''}{rounded}"


def clock(seconds: float) -> str:
    """A place in a file: "0:30", "1:02.5"."""
    minutes, rest = divmod(round(seconds * 10.0) / 10.0, 60.0)
    return f"{minutes:.0f}:{rest:04.1f}".removesuffix(".0")


def _hill_sentence(evidence: Evidence) -> str:
    hill, what = evidence.nearest, "hollow" if evidence.hollow else "build-up"
    near = show_hz(evidence.claimed_hz)
    if hill is None:
        return f"Measured: no {what} anywhere that chance could not make."
    if not evidence.there:
        return (
            f"Measured: no {what} within half an octave of {near}. The nearest: {hill_words(hill)}."
        )
    off = evidence.off_octaves or 0.0
    side = "above" if off > 0 else "below"
    away = f"at {near} itself" if abs(off) < 0.02 else f"{abs(off):.2f} octave {side} {near}"
    return f"Measured: a {what} at {hill_words(hill)}; {away}."


def _parts_sentence(evidence: Evidence) -> str:
    place = show_hz(evidence.place_hz)
    out = [part for part in evidence.parts if part.stands_out(hollow=evidence.hollow)]
    rest = [part for part in evidence.parts if part not in out]
    if not out:
        return f"By itself no passage stands out at {place}."
    said = f"At {place} it stands out in {_named(out)}"
    return f"{said}; not in {_named(rest)}." if rest else f"{said}."


def _named(parts: list[Part]) -> str:
    return ", ".join(
        f"'{part.passage.name}' ({signed(part.excess_db, plus=True)} dB)" for part in parts
    )


def _against_measured(aim: Aim, off_octaves: float, hollow: bool) -> str:
    what = "hollow" if hollow else "build-up"
    if abs(off_octaves) <= max(aim.spread, 1.0 / 12.0):
        return (
            f"The measured {what} lies nearer to your claim than you scatter: it may well be meant."
        )
    return f"The measured {what} lies farther from your claim than you scatter: look there too."


def _percent(share: float) -> str:
    return f"{share * 100:.1f} % of cases"
