"""Where the learner's data lives: one folder for the record, and the own loops in it.

The platform's folder for a user's data (platformdirs), or NAMEFIRST_HOME where it is set. Nothing
is made here; whoever writes makes what it needs.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from platformdirs import user_data_path, user_documents_path

HOME_VARIABLE: Final = "NAMEFIRST_HOME"


def home_folder() -> Path:
    """The folder of everything that is kept; an absolute path, which need not exist yet."""
    chosen = os.environ.get(HOME_VARIABLE, "")
    if chosen:
        return Path(os.path.expanduser(chosen)).absolute()
    return user_data_path("Namefirst", appauthor=False)


def record_folder() -> Path:
    """The folder of the record."""
    return home_folder()


def loops_folder() -> Path:
    """The folder of the learner's own loops."""
    return home_folder() / "loops"


def tables_folder() -> Path:
    """The folder of what was worked out about loops; it can be thrown away."""
    return home_folder() / "askable"


def sets_folder() -> Path:
    """The folder of the sets that are being taken, or were."""
    return home_folder() / "sets"


def results_folder() -> Path:
    """Where the window puts sets that were made, and results of sets without a file: where the
    user looks for documents, or with everything else where NAMEFIRST_HOME is set."""
    if os.environ.get(HOME_VARIABLE, ""):
        return home_folder() / "documents"
    return user_documents_path()
