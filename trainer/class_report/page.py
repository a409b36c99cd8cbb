"""The page: one HTML file with everything in it, written as it is made.

Jinja2 escapes whatever goes in; what is markup already is our own picture, style and script. The
page allows no other script than its own, by its hash, and nothing from the network.
"""

from __future__ import annotations

import base64
import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import files
from typing import IO, Any, Final

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from exercises.bands import BANDS
from trainer.ability import ENOUGH_ANSWERS
from trainer.assignments.set_words import moment_words, tries_words
from trainer.class_report.figures import COLUMN_NAMES, KINDS, SetFigures
from trainer.class_report.finest_picture import finest_picture
from trainer.class_report.gathering import RefusedFile
from trainer.class_report.item_analysis import FEWEST
from trainer.class_report.student_figures import Student
from trainer.statistics import Share, wilson_interval
from trainer.words import counted

SHADES: Final = 5
_OPEN_UP_TO: Final = 12
"""A small class is shown with every student laid open."""
_BUFFERED: Final = 200


@dataclass(frozen=True, slots=True)
class PageData:
    """What goes into the page beside the students, who come one at a time."""

    title: str
    made_at: datetime
    sets: Sequence[SetFigures]
    student_count: int
    result_count: int
    check_words: str
    with_missing: frozenset[str]
    unfinished: frozenset[str]
    refused: Sequence[RefusedFile]


def write_page(out: IO[bytes], data: PageData, students: Iterable[Student]) -> None:
    """Writes the page in UTF-8."""
    style, script = _asset("page.css"), _asset("page.js")
    stream = _template().stream(
        title=data.title,
        made_at=moment_words(data.made_at),
        sets=data.sets,
        student_count=data.student_count,
        result_count=data.result_count,
        check_words=data.check_words,
        with_missing=data.with_missing,
        unfinished=data.unfinished,
        refused=data.refused,
        students=students,
        open_all=data.student_count <= _OPEN_UP_TO,
        column_names=COLUMN_NAMES,
        kinds=[kind.value for kind in KINDS],
        bands=[band.name for band in BANDS],
        fewest=FEWEST,
        enough=ENOUGH_ANSWERS,
        style=Markup(style),
        script=Markup(script),
        style_hash=_hash(style),
        script_hash=_hash(script),
    )
    stream.enable_buffering(_BUFFERED)
    stream.dump(out, encoding="utf-8")


def _template() -> Any:
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    environment.filters |= {
        "any_change": lambda changes: any(each is not None for each in changes),
        "counted": counted,
        "day": lambda at: f"{at.day} {at:%b %Y}",
        "interval": _interval,
        "moment": lambda at: moment_words(at.astimezone()),
        "percent": _percent,
        "picture": lambda student: finest_picture(student.finest, student.before),
        "short": lambda at: f"{at.day} {at:%b, %H:%M}",
        "signed": _signed,
        "step": _step,
        "tries": tries_words,
        "two": lambda value: f"{value:.2f}".replace("-", "\N{MINUS SIGN}"),
    }
    return environment.from_string(_asset("page.html.j2"))


def _asset(name: str) -> str:
    return files("trainer.class_report").joinpath(name).read_text(encoding="utf-8")


def _hash(text: str) -> Markup:
    """A source for Content-Security-Policy: only an element of exactly this text may act."""
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return Markup(f"sha256-{digest}")


def _percent(share: Share) -> str:
    return "" if share.share is None else f"{share.share:.0%}"


def _interval(share: Share) -> str:
    if share.total == 0:
        return "none asked"
    low, high = wilson_interval(share.right, share.total)
    return f"{low:.0%} to {high:.0%}"


def _signed(value: float | None) -> str:
    """A change of a share in percentage points."""
    if value is None:
        return ""
    sign = "+" if value > 0 else "\N{MINUS SIGN}" if value < 0 else "\N{PLUS-MINUS SIGN}"
    return f"{sign}{abs(value) * 100:.0f}"


def _step(cell: tuple[int, int]) -> int:
    """The shade of a cell, from 0 (nothing named) to the palest."""
    return min(SHADES - 1, math.floor(SHADES * cell[0] / cell[1]))
