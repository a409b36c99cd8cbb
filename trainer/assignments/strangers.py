"""Reading what strangers send: sets and results are data, and nothing in them is trusted.

A file is measured before it is read and parsed within bounds of time and memory; every field is
checked as it is taken, and a field that nobody asked for is refused. What is refused is refused in
one line that names the file, the field and the reason.

    Refused         a file, or a field of it, that cannot be what it says it is
"""

from __future__ import annotations

import json
import math
import re
import stat
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any, Final, NoReturn, TypeVar

from exercises.errors import NamefirstError

LONGEST_NAME: Final = 60
_LARGEST_WHOLE: Final = 2**63
_TOML_WORK: Final = 1_000_000
_SHOWN: Final = 40
_JOINERS: Final = str.maketrans("", "", "\u200c\u200d")
"""They print nothing by themselves but belong to names in some scripts."""

_Word = TypeVar("_Word", bound=StrEnum)


class Refused(NamefirstError):
    """A file from elsewhere that cannot be used; the message says what is wrong with it."""


def read_within(path: Path, largest_bytes: int) -> bytes:
    """The bytes of a plain file of at most so many.

    Raises:
        Refused: it is not there, no plain file, or larger.
    """
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise Refused(f"{path}: is no plain file; choose a file")
        if found.st_size > largest_bytes:
            raise Refused(
                f"{path}: is too large ({found.st_size:,} bytes, at most {largest_bytes:,})"
                "; it cannot be a file of ours"
            )
        with path.open("rb") as opened:
            return opened.read(largest_bytes)
    except OSError as error:
        raise Refused(f"{path}: cannot be read ({error.strerror}); check it") from None
    except ValueError:  # a name with a zero character
        raise Refused(f"{path!r}: is no file's name; check it") from None


def read_toml(data: bytes, where: str) -> Fields:
    """The table that ``data`` holds as TOML.

    Raises:
        Refused: it is no TOML, or one made to be slow.
    """
    try:
        text = data.decode("utf-8-sig")
        _check_toml_work(text, where)
        return Fields(tomllib.loads(text), where)
    except UnicodeDecodeError:
        raise Refused(f"{where}: is not text in UTF-8; save it as such") from None
    except RecursionError:
        raise Refused(f"{where}: is nested too deeply; it cannot be a file of ours") from None
    except ValueError as error:  # bad TOML, and whole numbers of thousands of digits
        raise Refused(f"{where}: is no TOML ({shown(str(error), 90)}); mend it") from None


_STRINGS_AND_COMMENTS: Final = re.compile(
    r'"""(?:\\.|[^\\])*?(?:"""|\Z)'
    r"|'''.*?(?:'''|\Z)"
    r'|"(?:\\.|[^"\\\n])*(?:"|$)'
    r"|'[^'\n]*(?:'|$)"
    r"|#[^\n]*",
    re.DOTALL | re.MULTILINE,
)


def _check_toml_work(text: str, where: str) -> None:
    """``tomllib`` takes a dotted key apart in time that grows with the cube of its parts."""
    bare = _STRINGS_AND_COMMENTS.sub("", text)
    if sum(line.count(".") ** 3 for line in bare.splitlines()) > _TOML_WORK:
        raise Refused(f"{where}: has keys of too many parts; it cannot be a file of ours")


def read_json(data: bytes, where: str) -> Fields:
    """The object that ``data`` holds as JSON, no name in it twice.

    Raises:
        Refused: it is no JSON object, or holds NaN, an endless number or a name twice.
    """
    try:
        plain = json.loads(data, object_pairs_hook=_once_each, parse_constant=_no_constant)
    except RecursionError:
        raise Refused(f"{where}: is nested too deeply; it cannot be a file of ours") from None
    except ValueError as error:
        raise Refused(f"{where}: is no JSON ({shown(str(error), 90)}); send it again") from None
    if not isinstance(plain, dict):
        raise Refused(f"{where}: is no JSON object; send the file again")
    return Fields(plain, where)


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        raise ValueError("a name stands there twice")
    return made


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number")


def shown(value: object, longest: int = _SHOWN) -> str:
    """``value`` fit for one line of a message, however large it is or whatever is in it."""
    if isinstance(value, int) and abs(value) >= _LARGEST_WHOLE:
        return "a huge number"
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a table"
    text = value[: longest + 1] if isinstance(value, str) else str(value)
    plain = "".join(each if each.isprintable() else "?" for each in text)
    return plain if len(plain) <= longest else plain[:longest] + "..."


@dataclass(slots=True)
class Fields:
    """The fields of one table, each checked as it is taken; ``where`` goes into every message."""

    values: dict[str, Any]
    where: str
    taken: set[str] = field(default_factory=set)

    def refuse(self, name: str, why: str) -> NoReturn:
        """Raises Refused about the field ``name``."""
        raise Refused(f"{self.where}: '{shown(name)}' {why}")

    def has(self, name: str) -> bool:
        """Whether the field is there."""
        return name in self.values

    def take(self, name: str) -> Any:
        """The field as it stands; refuses one that is missing."""
        self.taken.add(name)
        if name not in self.values:
            self.refuse(name, "is missing; add it")
        return self.values[name]

    def text(self, name: str, longest: int, *, lines: bool = False) -> str:
        """Text that can be shown on one line, or on several."""
        value = self.take(name)
        if not isinstance(value, str) or len(value) > longest:
            self.refuse(name, f"is no text of at most {longest} characters")
        plain = value.translate(_JOINERS)
        if lines:
            plain = plain.replace("\n", "").replace("\t", "")
        if not plain.isprintable():
            self.refuse(name, "holds characters that cannot be shown; take them out")
        return value

    def name(self, name: str, longest: int = LONGEST_NAME) -> str:
        """Text that is not blank."""
        value = self.text(name, longest)
        if not value.strip():
            self.refuse(name, "is blank; write something")
        return value

    def whole(self, name: str, low: int, high: int) -> int:
        """A whole number within bounds."""
        value = self.take(name)
        if type(value) is not int or not low <= value <= high:
            self.refuse(name, f"({shown(value)}) is no whole number from {low} to {high}")
        return value

    def number(self, name: str, low: float, high: float) -> float:
        """A finite number within bounds."""
        value = self.take(name)
        if not is_number(value) or not low <= value <= high:
            self.refuse(name, f"({shown(value)}) is no number from {low:g} to {high:g}")
        return float(value)

    def flag(self, name: str) -> bool:
        """True or false."""
        value = self.take(name)
        if not isinstance(value, bool):
            self.refuse(name, f"({shown(value)}) is not true or false")
        return value

    def word(self, name: str, words: type[_Word]) -> _Word:
        """One of a few words."""
        value = self.take(name)
        if not isinstance(value, str) or value not in set(words):
            self.refuse(name, f"({shown(value)}) is none of {', '.join(words)}")
        return words(value)

    def moment(self, name: str) -> datetime:
        """A moment with its time zone, from text or from TOML's own."""
        value = self.take(name)
        if isinstance(value, str) and len(value) <= 40:
            try:
                value = datetime.fromisoformat(value)
            except ValueError:
                value = None
        if not isinstance(value, datetime) or value.tzinfo is None:
            self.refuse(name, "is no moment with a time zone such as 2026-03-05T19:30:00+01:00")
        try:
            value.astimezone(UTC)
        except (OverflowError, ValueError):
            self.refuse(name, "lies beyond all calendars")
        if not 1970 < value.year < 3000:
            self.refuse(name, "lies in a year that cannot be")
        return value

    def items(self, name: str, most: int) -> list[Any]:
        """A list of at most so many."""
        value = self.take(name)
        if not isinstance(value, list) or len(value) > most:
            self.refuse(name, f"is no list of at most {most:,}")
        return value

    def table(self, name: str) -> Fields:
        """A table within this one."""
        value = self.take(name)
        if not isinstance(value, dict):
            self.refuse(name, f"({shown(value)}) is no table")
        return Fields(value, f"{self.where}, {name}")

    def tables(self, name: str, most: int) -> list[Fields]:
        """A list of tables."""
        made = []
        for number, value in enumerate(self.items(name, most), start=1):
            if not isinstance(value, dict):
                self.refuse(name, f"number {number} is no table")
            made.append(Fields(value, f"{self.where}, {name} {number}"))
        return made

    def no_more(self) -> None:
        """Refuses a field that nobody asked for."""
        for name in self.values:
            if name not in self.taken:
                self.refuse(name, "is not one of this version's fields; remove it")


def check_format(fields: Fields, word: str, version: int) -> None:
    """Refuses a file that does not say it is ``word`` of ``version``."""
    if fields.values.get("format") != word:
        raise Refused(f"{fields.where}: is no {word} (it does not say so); choose another file")
    found = fields.values.get("version")
    if type(found) is not int or found != version:
        raise Refused(
            f"{fields.where}: is of version {shown(found)}, this Namefirst reads {version}"
            "; update the older of the two"
        )
    fields.taken |= {"format", "version"}


def is_number(value: object) -> bool:
    """Whether it is a finite whole or broken number."""
    return type(value) is int or (type(value) is float and math.isfinite(value))


def numbers(fields: Fields, name: str, bounds: tuple[float, float], most: int) -> Sequence[float]:
    """A list of numbers within bounds."""
    for value in (values := fields.items(name, most)):
        if not is_number(value) or not bounds[0] <= value <= bounds[1]:
            fields.refuse(
                name, f"({shown(value)}) is no number from {bounds[0]:g} to {bounds[1]:g}"
            )
    return [float(value) for value in values]
