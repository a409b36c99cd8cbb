"""Talking in plain lines: for a terminal, a screen reader, a pipe or a script.

Linear text without colour, boxes or moving the cursor. A prompt says what can be typed; where
input is not typed by hand, each prompt is a line of its own, so that what is kept can be read.
At a terminal what is longer than its width goes on in a new line between two words; in a pipe or a
file a line stays whole.
"""

from __future__ import annotations

import os
import re
import textwrap
from typing import Final, TextIO

_LONGEST_LINE: Final = 1000
_NARROWEST: Final = 20
"""A terminal that says less than this does not know its width (0 is usual then)."""
_BEFORE_UNIT: Final = re.compile(r"(?<=\d) (?=(?:%|dB|dBTP|LUFS|LU|k?Hz|s|min|BPM|octaves?)(?!\w))")
_UNBROKEN: Final = "\N{NO-BREAK SPACE}"


class PlainText:
    """Lines out to ``shown``, lines in from ``typed`` (None: there is no input at all)."""

    def __init__(self, typed: TextIO | None, shown: TextIO) -> None:
        self._typed = typed
        self._shown = shown
        self.by_hand = typed is not None and typed.isatty()

    def say(self, *lines: str) -> None:
        """Writes ``lines``, each on its own."""
        for line in lines:
            # A screen reader knows the hyphen; some pass over the minus sign.
            self._shown.write(self._wrapped(line.replace("\N{MINUS SIGN}", "-")) + "\n")
        self._shown.flush()

    def ask(self, prompt: str) -> str | None:
        """The next line of input, without its end; None when there is no more."""
        self._shown.write(f"{self._wrapped(prompt)}: " if self.by_hand else f"{prompt}:\n")
        self._shown.flush()
        try:
            line = self._typed.readline(_LONGEST_LINE) if self._typed is not None else ""
        except OSError:  # the terminal was closed
            line = ""
        if not line and self.by_hand:
            self.say("")
        return line.rstrip("\r\n") if line else None

    def _wrapped(self, line: str) -> str:
        """``line`` as it fits the terminal, if one shows it: broken neither within a word nor
        between a figure and its unit. What follows an indented line is indented further."""
        if not self._shown.isatty():
            return line
        try:
            columns = os.get_terminal_size(self._shown.fileno()).columns
        except OSError:  # it calls itself one, and has no size
            return line
        if columns < _NARROWEST or len(line) < columns:
            return line
        indent = line[: len(line) - len(line.lstrip(" "))]
        broken = textwrap.fill(
            _BEFORE_UNIT.sub(_UNBROKEN, line),
            columns - 2,  # the colon of a prompt, and a column: some terminals wrap at their last
            subsequent_indent=f"{indent}  " if indent else "",
            break_long_words=False,
            break_on_hyphens=False,
        )
        return broken.replace(_UNBROKEN, " ")
