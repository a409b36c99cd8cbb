"""The programme: every loop of the ferry festival, by the name of its folder.

Once a year the ferry town of Marrenport ties its boats up for a night, and bands that exist
nowhere else play on the quay. Each loop is a few bars of one of them.
"""

from __future__ import annotations

from typing import Final

from exercises.studio.acoustic_bands import ACOUSTIC_BANDS
from exercises.studio.arrangement import Arrangement
from exercises.studio.concert_bands import CONCERT_BANDS
from exercises.studio.electric_bands import ELECTRIC_BANDS
from exercises.studio.electronic_bands import ELECTRONIC_BANDS
from exercises.studio.soul_bands import SOUL_BANDS
from exercises.studio.voices_and_stories import VOICES_AND_STORIES

PROGRAMME: Final[dict[str, Arrangement]] = {
    arrangement.name: arrangement
    for arrangement in (
        *ELECTRIC_BANDS,
        *SOUL_BANDS,
        *ACOUSTIC_BANDS,
        *ELECTRONIC_BANDS,
        *VOICES_AND_STORIES,
        *CONCERT_BANDS,
    )
}
