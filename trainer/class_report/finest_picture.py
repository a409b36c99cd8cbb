"""A student's finest sizes as a picture: one line a skill along a scale of sizes, as SVG."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from markupsafe import Markup, escape

from trainer.ability import Estimate
from trainer.class_report.student_figures import skill_words
from trainer.skills import Skill
from trainer.words import counted

_SCALE_DB: Final = (0.5, 1, 2, 3, 6, 12, 24)
_LEFT, _WIDE, _LINE, _TOP = 130, 340, 18, 18


def finest_picture(
    finest: Sequence[tuple[Skill, Estimate]], before: dict[Skill, Estimate]
) -> Markup:
    """Bar: 90 % interval; cross line: estimate; ring: the set before; pale: not enough answers."""
    high = _TOP + _LINE * len(finest) + 4
    parts = [
        f'<svg class="finest" viewBox="0 0 {_LEFT + _WIDE + 110} {high}" role="img"'
        ' aria-label="finest sizes in dB">'
    ]
    for size_db in _SCALE_DB:
        x = _x(size_db)
        parts.append(f'<path class="grid" d="M{x:.1f} {_TOP - 4}V{high}"/>')
        parts.append(f'<text class="tick" x="{x:.1f}" y="11">{size_db:g}</text>')
    for place, (skill, each) in enumerate(finest):
        y = _TOP + _LINE * place + 9
        pale = "" if each.enough else " pale"
        low, high_x, middle = _x(each.low_db), _x(each.high_db), _x(each.size_db)
        parts.append(f'<text class="name" x="0" y="{y + 4}">{escape(skill_words(skill))}</text>')
        parts.append(
            f'<rect class="bar{pale}" x="{low:.1f}" y="{y - 4}"'
            f' width="{max(1.0, high_x - low):.1f}" height="8"/>'
            f'<path class="mark{pale}" d="M{middle:.1f} {y - 7}V{y + 7}"/>'
        )
        if skill in before:
            parts.append(
                f'<circle class="before" cx="{_x(before[skill].size_db):.1f}" cy="{y}" r="4"/>'
            )
        figure = f"{each.size_db:.1f} dB" if each.enough else counted(each.answers, "answer")
        parts.append(f'<text class="figure" x="{_LEFT + _WIDE + 8}" y="{y + 4}">{figure}</text>')
    return Markup("".join([*parts, "</svg>"]))


def _x(size_db: float) -> float:
    low, high = math.log(_SCALE_DB[0]), math.log(_SCALE_DB[-1])
    share = (math.log(size_db) - low) / (high - low)
    return _LEFT + _WIDE * min(1.0, max(0.0, share))
