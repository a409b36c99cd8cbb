"""Where a file leads that is dropped on the window: to a claim, a new loop, or a set."""

from __future__ import annotations

from pathlib import Path

from trainer.window.desk import Desk
from trainer.window.frame import Screen


def page_of_dropped(path: Path, page: Screen, desk: Desk) -> Screen:
    """The page to show for ``path``, dropped while ``page`` was shown.

    Raises:
        NamefirstError: it is neither sound nor a set that can be read.
    """
    from trainer.window.claim_form_page import ClaimFormPage
    from trainer.window.loop_add_page import LoopAddPage
    from trainer.window.loop_choices_page import LoopChoicesPage
    from trainer.window.loop_search_page import LoopSearchPage
    from trainer.window.set_page import open_set_page

    if isinstance(page, ClaimFormPage) and _holds_sound(path):
        page.open(path)
        return page
    if isinstance(page, LoopAddPage | LoopSearchPage | LoopChoicesPage):
        return page.open(path)
    if _holds_sound(path):
        return LoopSearchPage(desk, path)
    return open_set_page(desk, path)


def _holds_sound(path: Path) -> bool:
    """Whether it could, by its name: a folder, or an audio file."""
    from exercises.own_loop import AUDIO_SUFFIXES

    return path.is_dir() or path.suffix.lower() in AUDIO_SUFFIXES
