"""Progress in plain sentences: the same in the window and in the terminal.

Every figure is said with its interval: sizes and biases with 90 %, shares, medians, d' and the
criterion with 95 %.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Final

from exercises.bands import BANDS, Band, show_hz
from trainer.ability import Estimate
from trainer.mastery import BELIEF, LEAST_ANSWERS
from trainer.naming_spread import Naming
from trainer.planner import sizes_db
from trainer.progress import Progress, Strip
from trainer.progress_counts import Median
from trainer.sensitivity import ENOUGH_OF_EACH, Sensitivity
from trainer.skills import DYNAMICS_NAME, LEVEL_NAME, Skill
from trainer.statistics import Calibration, Share
from trainer.words import counted

if TYPE_CHECKING:
    from trainer.fix_counts import FixCounts

NOT_ENOUGH: Final = "not enough yet"
_MINUS: Final = "\N{MINUS SIGN}"


def practised_sentence(progress: Progress) -> str:
    """How much was practised, and since when."""
    if progress.first_day is None:
        return "Nothing was answered yet: the first drill starts the record."
    rounds = sum(counts.rounds for counts in progress.fixes)
    fixes = f", {counted(rounds, 'fix round')}" if rounds else ""
    return (
        f"{counted(progress.days, 'day')} practised since {day_words(progress.first_day)}, "
        f"{counted(round(progress.minutes), 'minute')}, "
        f"{counted(progress.answers, 'answer')}{fixes}."
    )


def mastery_sentence(progress: Progress) -> str:
    """What "mastered" means."""
    return (
        f"Mastered: at the end of each of the last two days practised it was {BELIEF * 100:.0f} % "
        f"likely or more, after {LEAST_ANSWERS} answers at least, that your finest size lies "
        f"below {progress.goal_db:g} dB."
    )


def skill_words(skill: Skill) -> str:
    """A skill by name: "too much at 250 Hz", "too loud or too quiet"."""
    if skill.problem == LEVEL_NAME:
        return "too loud or too quiet"
    if skill.problem == DYNAMICS_NAME:
        return "squashed or lifted"
    if skill.band_index is None:
        return skill.problem
    return f"{skill.problem} at {band_words(BANDS[skill.band_index])}"


def band_words(band: Band) -> str:
    """A band by its nominal frequency: "31.5 Hz", "250 Hz", "2 kHz"."""
    return f"{band.name[:-1]} kHz" if band.name.endswith("k") else f"{band.name} Hz"


def size_words(skill: Skill, finest: Estimate) -> str:
    """Finest size with its interval, or why there is none."""
    if not finest.enough:
        return NOT_ENOUGH
    largest = sizes_db(skill)[1]
    if finest.size_db >= largest:
        return f"hardly yet at {largest:g} dB (from {finest.low_db:.1f} dB)"
    return f"{finest.size_db:.1f} dB ({finest.low_db:.1f} to {finest.high_db:.1f})"


def finest_sentence(strip: Strip) -> str:
    """What is known of one skill, in a sentence or two."""
    finest, largest = strip.finest, sizes_db(strip.skill)[1]
    if not finest.enough:
        return f"Not enough yet: {counted(strip.answers, 'answer')}."
    if finest.size_db >= largest:
        said = (
            f"Hardly named yet at {largest:g} dB, the most that is asked "
            f"(90 % interval from {finest.low_db:.1f} dB)."
        )
    else:
        said = (
            f"Named from {finest.size_db:.1f} dB "
            f"(90 % interval {finest.low_db:.1f} to {finest.high_db:.1f} dB)."
        )
    return f"{said} Mastered." if strip.mastered else said


def share_words(share: Share) -> str:
    """A share with its interval: "31 of 45, 69 % (54 to 80)"."""
    if share.share is None or share.low is None or share.high is None:
        return "none yet"
    interval = f"({share.low * 100:.0f} to {share.high * 100:.0f})"
    return f"{share.right} of {share.total}, {share.share * 100:.0f} % {interval}"


def median_words(median: Median, unit: str, digits: int) -> str:
    """A median with its interval: "8.2 s (7.9 to 8.6)"."""
    said = f"{median.median:.{digits}f} {unit}"
    if median.low is None or median.high is None:
        return f"{said} (too few for an interval)"
    return f"{said} ({median.low:.{digits}f} to {median.high:.{digits}f})"


def bias_sentence(band: Band, naming: Naming, enough: int) -> str:
    """Where the names for a band fall: "You name 400 Hz for 250 Hz"."""
    if naming.answers < enough:
        return (
            f"Bias: not enough yet ({counted(naming.answers, 'frequency', 'frequencies')} named)."
        )
    if naming.bias_low <= 0.0 <= naming.bias_high:
        interval = f"{_octaves(naming.bias_low)} to {_octaves(naming.bias_high)}"
        return f"No bias that shows: {_octaves(naming.bias)} octave ({interval})."
    named = show_hz(float(f"{band.mid_hz * 2.0**naming.bias:.2g}"))
    side = "high" if naming.bias > 0 else "low"
    least, most = sorted((abs(naming.bias_low), abs(naming.bias_high)))
    size = f"{abs(naming.bias):.2f} octave {side} ({least:.2f} to {most:.2f})"
    return f"You name {named} for {band_words(band)}: {size}."


def sensitivity_sentences(sensitivity: Sensitivity) -> tuple[str, ...]:
    """False alarms, d' and criterion, each as a line."""
    alarms = f"A problem named where nothing was: {share_words(sensitivity.false_alarms)}."
    heard = f"A problem named where there was one: {share_words(sensitivity.hits)}."
    if (
        sensitivity.d_prime is None
        or sensitivity.d_prime_reach is None
        or sensitivity.criterion is None
        or sensitivity.criterion_reach is None
    ):
        least = f"{ENOUGH_OF_EACH} questions with a problem and {ENOUGH_OF_EACH} without"
        return alarms, heard, f"d': not enough yet (from {least})."
    d, reach = sensitivity.d_prime, sensitivity.d_prime_reach
    c, c_reach = sensitivity.criterion, sensitivity.criterion_reach
    inclined = (
        "inclined to hear problems"
        if c + c_reach < 0
        else "inclined to hear none"
        if c - c_reach > 0
        else "inclined to neither side that shows"
    )
    return (
        alarms,
        heard,
        f"d' {_signed(d)} ({_signed(d - reach)} to {_signed(d + reach)}): how well the two are "
        "told apart; 0 is chance.",
        f"Criterion {_signed(c)} ({_signed(c - c_reach)} to {_signed(c + c_reach)}): {inclined}.",
    )


def calibration_sentence(calibration: Calibration) -> str:
    """How far *sure* and *guessing* can be believed."""
    return (
        f"When sure, right: {share_words(calibration.sure)}. "
        f"When guessing: {share_words(calibration.guessing)}."
    )


def time_sentence(progress: Progress) -> str:
    """Seconds to an answer, in the latest week and in the first."""
    seconds = [week.seconds for week in progress.weeks if week.seconds is not None]
    if not seconds:
        return "Time to answer: none yet."
    said = f"Median time to answer: {median_words(seconds[-1], 's', 1)} in the latest week"
    if len(seconds) == 1:
        return f"{said}."
    return f"{said}; {median_words(seconds[0], 's', 1)} in the first."


def day_words(day: date) -> str:
    """A day as it is read: "5 March 2026"."""
    return f"{day.day} {day:%B} {day.year}"


def _octaves(octaves: float) -> str:
    return _signed(octaves, plus=True)


def _signed(value: float, *, plus: bool = False) -> str:
    rounded = f"{abs(value):.2f}"
    if value < 0 and float(rounded) > 0:
        return f"{_MINUS}{rounded}"
    return f"+{rounded}" if plus and float(rounded) > 0 else rounded


def rounds_words(count: int) -> str:
    """ "1 round", "12 rounds"."""
    return counted(count, "round")


def fix_sentence(counts: FixCounts) -> str:
    """How fix rounds of one sort went: "Choosing the simplest fix: 12 rounds; works ..."."""
    what = {"choice": "Choosing the simplest fix", "open": "Making a fix"}[counts.sort]
    said = f"{what}: {rounds_words(counts.rounds)}"
    left, over = counts.left_db, counts.moves_over
    if left is None or left.low is None:
        return f"{said}, {NOT_ENOUGH}."
    said += f"; works {share_words(counts.works)}; simplest {share_words(counts.simplest)}"
    if over is not None and over.low is not None:
        said += f"; {median_words(over, 'move', 1)} over the simplest"
    return f"{said}; {median_words(left, 'dB', 1)} left."
