"""A chain check in plain sentences: the same in the window, in the terminal and in Progress."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from exercises.bands import BANDS
from trainer.chain import SILENT, Counted, Reach, false_counts
from trainer.kept_chains import KeptCheck, bands_left_out, latest_check, output_in_use
from trainer.limits import Limits
from trainer.progress_words import band_words, day_words
from trainer.record import Record

RULES: Final = (
    "You hear 1 to 3 soft bursts of noise, or nothing at all. Say how many you counted; 0 is as "
    "good an answer as any.",
    "Ten bands, soft and loud, and silences among them, in random order: about two minutes.",
    "Use the output and the volume that you work with; leave both alone until the end.",
)
NO_HEARING_TEST: Final = (
    "This is what reached you on this output, at this volume, in this room. It is no hearing test."
)
_NOTHING: Final = "Nothing reached you: see that the output is on and the volume up."


def reach_sentence(reach: Sequence[Reach]) -> str:
    """How the bands came out: "Nothing below 125 Hz reaches you; faint: 125 Hz"."""
    heard = [index for index, each in enumerate(reach) if each is not Reach.NOT]
    if not heard:
        return _NOTHING
    parts = []
    if heard[0] > 0:
        parts.append(f"nothing below {band_words(BANDS[heard[0]])}")
    if heard[-1] < len(BANDS) - 1:
        parts.append(f"nothing above {band_words(BANDS[heard[-1]])}")
    said = " and ".join(parts) + " reaches you" if parts else ""
    between = [BANDS[index] for index in range(heard[0], heard[-1]) if reach[index] is Reach.NOT]
    if between:
        names, verb = ", ".join(map(band_words, between)), "do" if len(between) > 1 else "does"
        said = f"{said}, nor {verb} {names}" if said else f"{names} {verb} not reach you"
    said = said or "all ten bands reach you"
    faint = [BANDS[index] for index, each in enumerate(reach) if each is Reach.FAINT]
    if faint:
        said += "; faint: " + ", ".join(map(band_words, faint))
    return f"{said[0].upper()}{said[1:]}."


def check_sentence(kept: KeptCheck) -> str:
    """A kept check with its output and day."""
    day = day_words(kept.checked_at.date())
    return f"On '{kept.output}' (checked {day}): {reach_sentence(kept.reach)}"


def unasked_sentence(record: Record, limits: Limits) -> str | None:
    """Which bands are not asked now, and why; None when all that was wanted may be."""
    missing = sorted(bands_left_out(record, limits))
    names = " and ".join(", ".join(band_words(BANDS[i]) for i in missing).rsplit(", ", 1))
    if not missing:
        return None
    output = output_in_use(record)
    if latest_check(record, output) is None:
        return f"{names}: asked once a chain check has shown that they reach you."
    return f"{names}: not asked, since '{output}' does not bring them to you."


def void_sentence(counted: Sequence[Counted]) -> str:
    """Why nothing was kept of a check."""
    if not any(each.right and each.shown.bursts for each in counted):
        return f"{_NOTHING} Nothing was kept."
    return (
        f"Bursts were counted in {false_counts(counted)} of {SILENT} silences, so the other counts "
        "mean nothing either, and none were kept. Check again, and say 0 when you hear none."
    )


def left_out_sentence(record: Record) -> str | None:
    """Which bands the drill leaves out on the output in use; None when it leaves out none."""
    kept = latest_check(record, output_in_use(record))
    if kept is None or Reach.NOT not in kept.reach:
        return None
    names = [band_words(BANDS[i]) for i, each in enumerate(kept.reach) if each is Reach.NOT]
    return (
        f"{check_sentence(kept)} Not asked and not scored there until it is checked again: "
        f"{', '.join(names)}."
    )
