"""Names of tracks and passages in a typed line: in any place, shortened to what is clear. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

_LONGEST_NAME: Final = 6


class NotUnderstood(Exception):
    """A line that means nothing here; ``str(error)`` says what would."""


@dataclass(frozen=True, slots=True)
class Places:
    """What may be named: tracks and passages, none where they are not asked."""

    tracks: tuple[str, ...] = ()
    passages: tuple[str, ...] = ()


NOWHERE: Final = Places()


@dataclass(frozen=True, slots=True)
class Split:
    """A line taken apart: the place it names, and the ``rest`` of its words."""

    track: str | None
    passage: str | None
    rest: str


def split_place(words: str, places: Places, is_kind: Callable[[str], bool]) -> Split:
    """Takes track and passage out of ``words``.

    "on" goes before a track and "in" before a passage where one word could be either. What
    ``is_kind`` is left to be the kind, the first time.

    Raises:
        NotUnderstood: a name could be several.
    """
    parts = [part for each in words.lower().split() if (part := each.rstrip(",;"))]
    parts = [part for part in parts if part != "the"]
    track = passage = None
    rest: list[str] = []
    kind_seen = False
    while parts:
        count = next((n for n in (2, 1) if is_kind(" ".join(parts[:n]))), 0)
        if count and not kind_seen:
            kind_seen = True
            rest += parts[:count]
            del parts[:count]
            continue
        tracks = places.tracks if track is None else ()
        passages = places.passages if passage is None else ()
        skip = 1 if len(parts) > 1 and parts[0] in ("on", "in") else 0
        if skip:
            tracks, passages = (tracks, ()) if parts[0] == "on" else ((), passages)
        found, count = _longest(parts[skip:], tracks, passages)
        if found is None or parts[0] == "at":
            rest.append(parts.pop(0))
            continue
        if found in tracks:
            track = found
        else:
            passage = found
        del parts[: skip + count]
    return Split(track, passage, " ".join(rest))


def named_track(words: str, places: Places) -> str:
    """The track that ``words`` name. Raises NotUnderstood where none, or several, are."""
    parts = words.lower().split()
    found, count = _longest(parts, places.tracks, ())
    if found is None or count != len(parts):
        raise NotUnderstood(f"'{shown(words.strip())}' is none of {', '.join(places.tracks)}")
    return found


def shown(text: str) -> str:
    """What was typed, fit to be said back on one line."""
    plain = "".join(character if character.isprintable() else "?" for character in text)
    return plain if len(plain) <= 40 else plain[:40] + "..."


def _longest(
    parts: Sequence[str], tracks: Sequence[str], passages: Sequence[str]
) -> tuple[str | None, int]:
    """The name that the most words at the front of ``parts`` stand for, and how many they are."""
    for count in range(min(_LONGEST_NAME, len(parts)), 0, -1):
        typed = " ".join(parts[:count])
        fits = [
            (name, where)
            for where, names in (("on", tracks), ("in", passages))
            for name in names
            if _stands_for(typed, name)
        ]
        whole = [(name, where) for name, where in fits if name.lower() == typed]
        fits = whole or fits
        if len(fits) > 1:
            could = " or ".join(f"{where} {name}" for name, where in fits)
            raise NotUnderstood(f"'{shown(typed)}' could be {could}: say more of it")
        if fits:
            return fits[0][0], count
    return None, 0


def _stands_for(typed: str, name: str) -> bool:
    """Whether ``typed`` is the name, or the beginning of it or of a word in it."""
    words = name.lower().split()
    return any(" ".join(words[start:]).startswith(typed) for start in range(len(words)))
