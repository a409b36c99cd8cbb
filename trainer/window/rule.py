"""The rule: a wide logarithmic ruler on which a frequency is marked with a pencil.

Ten octave bands are engraved on it with third-octave ticks and the trade's words in small print.
The same rule carries the answer, the truth and the learner's progress.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from exercises.bands import BANDS, HIGHEST_HZ, LOWEST_HZ, THIRD_OCTAVE_MID_HZ, read_hz, show_hz
from trainer.window.canvas import Box, Canvas
from trainer.window.look import (
    ACCENT,
    BODY,
    HAIRLINE,
    INK,
    SMALL,
    SOFT_INK,
    STEEL,
    STEEL_INK,
    Face,
)

HEIGHT: Final = 84
_STEP_OCTAVES: Final = 1.0 / 12.0
_FINE_STEP_OCTAVES: Final = 1.0 / 48.0
_FIRST_MARK_HZ: Final = 1000.0
_ENGRAVED_WITHIN: Final = 0.01
_LOW_HZ: Final = 20.6
_HIGH_HZ: Final = 24_300.0


def pointed_hz(freq_hz: float) -> float:
    """A place pointed at, as it is marked and kept: to three figures, held within 20 Hz to 20 kHz.

    Within a percent of an engraved frequency, about the width of its line, it is that one: 250 Hz,
    and not the band's exact middle of 251.2 Hz.
    """
    held_hz = min(HIGHEST_HZ, max(LOWEST_HZ, freq_hz))
    for band in BANDS:
        engraved_hz = read_hz(band.name) or band.mid_hz
        if abs(held_hz / engraved_hz - 1.0) <= _ENGRAVED_WITHIN:
            return engraved_hz
    return float(f"{held_hz:.3g}")


def step_octaves(direction: int, *, fine: bool = False) -> float:
    """How far an arrow key moves a mark, up (1) or down (-1): a semitone, or a quarter of one."""
    return direction * (_FINE_STEP_OCTAVES if fine else _STEP_OCTAVES)


def stepped_hz(freq_hz: float | None, direction: int, *, fine: bool = False) -> float:
    """Where a mark lies after an arrow key; the first one in the middle of the rule."""
    if freq_hz is None:
        return _FIRST_MARK_HZ
    return freq_hz * math.exp2(step_octaves(direction, fine=fine))


def typed_words(typed: str) -> str:
    """Figures as they are typed, as a frequency ("3.2 kHz"), and its bounds where it is none."""
    figures, thousands, _ = typed.partition("k")
    bounds = "" if read_hz(typed) else "  (20 Hz to 20 kHz)"
    return f"{figures} {thousands}Hz{bounds}"


@dataclass(frozen=True, slots=True)
class Rule:
    """Where a rule lies, and how frequencies lie along it."""

    box: Box

    def x_of(self, freq_hz: float) -> float:
        """Where a frequency lies, in units."""
        return self.box.x + self.box.width * math.log(freq_hz / _LOW_HZ) / math.log(
            _HIGH_HZ / _LOW_HZ
        )

    def freq_at(self, x: float) -> float:
        """The frequency at a place along the rule, held within 20 Hz to 20 kHz."""
        share = (x - self.box.x) / self.box.width
        return min(HIGHEST_HZ, max(LOWEST_HZ, _LOW_HZ * math.pow(_HIGH_HZ / _LOW_HZ, share)))

    def draw(self, canvas: Canvas, words: str = "too much") -> None:
        """The engraved rule; ``words`` says which of the trade's words stand beneath."""
        box = self.box
        canvas.box(box, fill=STEEL, edge=HAIRLINE)
        for band in BANDS:
            edge = self.x_of(band.low_hz)
            canvas.line((edge, box.y + 1), (edge, box.bottom - 1))
            middle = self.x_of(band.mid_hz)
            canvas.text(
                middle, box.y + 45, band.name, face=Face.SANS_SEMIBOLD, size=SMALL, side="centre"
            )
            canvas.text(
                middle,
                box.y + 67,
                band.too_little if words == "too little" else band.too_much,
                face=Face.SERIF_ITALIC,
                size=SMALL,
                colour=STEEL_INK,
                side="centre",
            )
        canvas.line(
            (self.x_of(BANDS[-1].high_hz), box.y + 1),
            (self.x_of(BANDS[-1].high_hz), box.bottom - 1),
        )
        mids = {round(band.mid_hz, 3) for band in BANDS}
        for freq_hz in THIRD_OCTAVE_MID_HZ:
            if BANDS[0].low_hz < freq_hz < BANDS[-1].high_hz:
                main = round(freq_hz, 3) in mids
                x = self.x_of(freq_hz)
                canvas.line(
                    (x, box.y + 1),
                    (x, box.y + (27 if main else 13)),
                    INK if main else STEEL_INK,
                    1.5 if main else 1.0,
                )

    def draw_mark(self, canvas: Canvas, freq_hz: float, words: str | None = None) -> None:
        """The learner's pencil mark: an arrow from above, with its frequency or ``words``."""
        x, top = self.x_of(freq_hz), self.box.y
        canvas.line((x, top - 64), (x, top - 12), INK, 2)
        canvas.polygon([(x - 6, top - 14), (x + 6, top - 14), (x, top - 3)], INK)
        canvas.text(
            min(max(x, self.box.x + 50), self.box.right - 50),
            top - 71,
            words or show_hz(freq_hz),
            face=Face.SANS_SEMIBOLD,
            size=BODY,
            side="centre",
        )

    def draw_aside(self, canvas: Canvas, freq_hz: float, words: str) -> None:
        """A mark that was laid aside: shorter and lighter than the pencil's."""
        x, top = self.x_of(freq_hz), self.box.y
        canvas.line((x, top - 34), (x, top - 4), SOFT_INK, 2)
        canvas.text(x, top - 40, words, colour=SOFT_INK, side="centre")

    def draw_truth(self, canvas: Canvas, true_hz: float, named_hz: float | None) -> None:
        """The truth inked as a bar, and beside it the learner's mark as an arrow."""
        x, top = self.x_of(true_hz), self.box.y
        canvas.line((x, top - 30), (x, top), ACCENT, 5)
        yours_right = named_hz is None or named_hz >= true_hz
        canvas.text(
            x + (-8 if yours_right else 8),
            top - 34,
            "true",
            face=Face.SANS_SEMIBOLD,
            colour=ACCENT,
            size=SMALL,
            side="right" if yours_right else "left",
        )
        if named_hz is None:
            return
        mark = self.x_of(named_hz)
        canvas.line((mark, top - 64), (mark, top - 12), SOFT_INK, 2)
        canvas.polygon([(mark - 6, top - 14), (mark + 6, top - 14), (mark, top - 3)], SOFT_INK)
        canvas.text(
            mark + (8 if yours_right else -8),
            top - 50,
            "yours",
            face=Face.SANS_SEMIBOLD,
            colour=SOFT_INK,
            size=SMALL,
            side="left" if yours_right else "right",
        )
