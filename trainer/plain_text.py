"""Talking in plain lines: for a terminal, a screen reader, a pipe or a script.

Linear text without colour, boxes or moving the cursor. A prompt says what can be typed; where
input is not typed by hand, each prompt is a line of its own, so that what is kept can be read.
"""

from __future__ import annotations

from typing import Final, TextIO

_LONGEST_LINE: Final = 1000


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
            self._shown.write(line.replace("\N{MINUS SIGN}", "-") + "\n")
        self._shown.flush()

    def ask(self, prompt: str) -> str | None:
        """The next line of input, without its end; None when there is no more."""
        self._shown.write(f"{prompt}: " if self.by_hand else f"{prompt}:\n")
        self._shown.flush()
        try:
            line = self._typed.readline(_LONGEST_LINE) if self._typed is not None else ""
        except OSError:  # the terminal was closed
            line = ""
        if not line and self.by_hand:
            self.say("")
        return line.rstrip("\r\n") if line else None
