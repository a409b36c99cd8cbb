"""Adding a loop of one's own begins here: where its file or folder lies.

The search of it follows (``loop_search_page``).
"""

from __future__ import annotations

from pathlib import Path

from trainer.window.file_page import FilePage
from trainer.window.frame import Screen
from trainer.window.loop_search_page import LoopSearchPage


class LoopAddPage(FilePage):
    """Asks for a mix, or for a folder of its tracks."""

    head = "Loops  \N{MIDDLE DOT}  add your own"
    what = "a file or a folder"
    about = (
        "A mix, or a folder with one file a track: WAV, AIFF, FLAC, OGG or MP3. A long file is "
        "searched for the passages that would make good loops; nothing in it is changed."
    )
    goes = "Search it"

    @property
    def title(self) -> str:
        return "add a loop"

    def open(self, path: Path) -> Screen:
        """Leads on to the search of ``path``."""
        return LoopSearchPage(self._desk, path, self._typed)

    def back(self) -> Screen:
        """The loops."""
        from trainer.window.loops_page import LoopsPage

        return LoopsPage(self._desk)
