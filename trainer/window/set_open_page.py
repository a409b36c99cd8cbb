"""A set that somebody has sent is opened here: where its file lies."""

from __future__ import annotations

from pathlib import Path

from trainer.window.file_page import FilePage
from trainer.window.frame import Screen


class SetOpenPage(FilePage):
    """Asks for the file of a set."""

    head = "Sets  \N{MIDDLE DOT}  from a file"
    what = "a set's file"
    about = (
        "What a teacher has sent you; it is kept in the list of sets from then on. Its result is "
        "written beside it."
    )
    goes = "Open it"

    @property
    def title(self) -> str:
        return "open a set"

    def open(self, path: Path) -> Screen:
        """The set in the file at ``path``.

        Raises:
            NamefirstError: it is no set, or does not hold together.
        """
        from trainer.window.set_page import open_set_page

        return open_set_page(self._desk, path)

    def back(self) -> Screen:
        """The list of sets."""
        from trainer.window.sets_page import SetsPage

        return SetsPage(self._desk)
