"""The errors that a person can mend.

    NamefirstError          one line: what is wrong, where, and how to mend it
    +-- BadAudio            a file that cannot become a loop
    +-- BadLoop             a loop folder or its loop.toml that does not hold together
    +-- BadRecipe           a recipe, or a field of one, that makes no question

A front end shows the message as it stands and, on the command line, ends with status 2.
A programmer's mistake is not in this family: that is ValueError or TypeError, with a traceback.
"""

from __future__ import annotations


class NamefirstError(Exception):
    """Something the user can mend; ``str(error)`` is one clear line."""


class BadAudio(NamefirstError):
    """An audio file that is unreadable, silent, too short, or not audio at all."""


class BadLoop(NamefirstError):
    """A loop folder whose description and audio do not hold together."""


class BadRecipe(NamefirstError):
    """A recipe whose field ``field`` cannot make a question."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(f"recipe field '{field}': {message}")
        self.field = field
