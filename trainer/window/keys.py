"""The glossary of keys: every key means one thing, on whichever page it stands.

The line along the bottom of a page and its ``?`` page take their words from here by ``key_words``.
A letter belongs to one thing in all of the window: the rooms of Today, what can be listened to, and
a few acts. Keys without a letter on them (arrows, Enter, figures) move, choose and go on; what they
move or choose is the page's to say. One exception is the trade's own: in a blind test X is the
unknown, and nothing can be exaggerated there.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

KeyWords = tuple[str, str]
"""A key cap, and what it does."""

ALONG: Final = "\N{LEFTWARDS ARROW} \N{RIGHTWARDS ARROW}"
UP_DOWN: Final = "\N{UPWARDS ARROW} \N{DOWNWARDS ARROW}"
FINE: Final = f"Shift {ALONG}"

ROOMS: Final = {
    "T": "study",
    "M": "fix rounds",
    "P": "progress",
    "O": "loops",
    "S": "sets",
    "C": "claim",
    "K": "chain check",
    "V": "safe level",
}
"""What can be gone to from Today."""

LISTENING: Final = {
    "A": ("hear A",),
    "B": ("hear B",),
    "F": ("B with the fix", "B with your answer undone", "B with your moves"),
    "X": ("exaggerated",),
    "R": ("region alone",),
    "L": ("track alone, or in the mix",),
    "W": ("one passage only",),
}
"""What can be listened to, as far as there is such a thing on the page."""

ACTS: Final = {
    "D": ("drag a mark",),
    "E": ("another sort of move",),
    "G": ("skip it",),
    "I": ("a set from a file",),
    "N": ("new", "new loop", "new set", "another loop", "new move"),
    "U": ("use it as it is known",),
}

UNKNOWN: Final = ("hear X, one of the two",)
"""What X is in a blind test, and nowhere else."""

PLAIN: Final = {
    "Space": ("play, stop", "hear it again", "choose"),
    "Tab": ("A or B", "the next to hear", "the next row"),
    "- +": ("volume",),
    "?": ("all keys",),
    "F1": ("all keys",),
    "Ctrl V": ("paste",),
    "Ctrl S": ("save the report",),
}

OWN_WORDS: Final = (
    "Enter",
    "Shift Enter",
    "Esc",
    "Backspace",
    "Delete",
    "Home End",
    f"Page {UP_DOWN}",
    f"Shift {UP_DOWN}",
    ALONG,
    UP_DOWN,
    FINE,
)
"""Keys whose words are the page's own: they move, choose, go on and go back."""

_FIGURES: Final = re.compile(
    "[0-9](-[0-9])?( [.] k)?( [\N{LEFTWARDS ARROW}\N{RIGHTWARDS ARROW}]){0,2}"
)
"""Figures, typed or to choose by; 3.2k is typed with a k."""

GLOSSARY: Final[dict[str, tuple[str, ...]]] = {
    **{cap: (name,) for cap, name in ROOMS.items()},
    **LISTENING,
    **ACTS,
    **PLAIN,
}


def key_words(cap: str, words: str = "") -> KeyWords:
    """The cap with its words, by the glossary: the first of them, or those that are given.

    A page may go on after a colon: "study: 250 Hz against 500 Hz".

    Raises:
        LookupError: the glossary knows no such key, or not by these words.
    """
    if cap in OWN_WORDS or _FIGURES.fullmatch(cap):
        if not words:
            raise LookupError(f"the page says what {cap} does")
        return cap, words
    meanings = GLOSSARY[cap]
    known = words.partition(":")[0] in meanings or (cap == "X" and words in UNKNOWN)
    if words and not known:
        raise LookupError(f"{cap} does not mean '{words}'")
    return cap, words or meanings[0]


HELP: Final = key_words("?")
VOLUME: Final = key_words("- +")


def beside(keys: Sequence[KeyWords], *more: KeyWords) -> tuple[KeyWords, ...]:
    """All keys of a page: those along the bottom, and the ones that have no room there."""
    return (*keys, *more)
