"""What sounds in an open round: B, A, and B with the moves, each change of which is heard at once.

After a change the part round the playhead is put in the place of what sounded there; the whole
follows once no more changes come, in the background. A part ends in a fade into what was there
before it, so that nothing clicks even where the whole is late.

All three are as loud as one another. Where moves drive a peak over the limit, all are turned down
alike and stay so for the round: going to and fro between them is never a change of level.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Final

import numpy as np

from exercises.fixing import over_limit_db
from exercises.moves import Fix
from exercises.samples import RATE_HZ, Samples, as_samples, db_to_gain
from trainer.backstage import Backstage
from trainer.playhead import Playhead

if TYPE_CHECKING:
    from trainer.open_round import OpenRound

YOURS: Final = "yours"
PIECE_FRAMES: Final = round(0.75 * RATE_HZ)
_FADE_FRAMES: Final = round(0.02 * RATE_HZ)
_STILL_S: Final = 0.08


class OpenSound:
    """Keeps what ``playhead`` sounds in step with the moves of ``round_``.

    ``sounds`` are to be loaded into it first.
    """

    def __init__(self, round_: OpenRound, playhead: Playhead) -> None:
        self._round = round_
        self._playhead = playhead
        self._down_db = 0.0
        self._plain = {"B": round_.sound_of(()), "A": round_.question.a}
        self._yours = self._plain["B"]
        self._sounded: Fix = ()  # what is heard round the playhead
        self._rendered: Fix | None = ()  # what is heard all round; None while it is a patchwork
        self._changed_s = 0.0
        self._heard_before_s = 0.0
        self._rendering: Backstage[tuple[Fix, Samples, float]] = Backstage()
        self._turn_down(max(over_limit_db(each) for each in self._plain.values()))

    def sounds(self) -> dict[str, Samples]:
        """ "B", "A" and ``YOURS``, as they stand now."""
        return {name: self._turned(sound) for name, sound in self._all().items()}

    @property
    def down_db(self) -> float:
        """How far all are turned down for the sake of the moves' peaks."""
        return self._down_db

    @property
    def heard_s(self) -> float:
        """Seconds that B with the moves has sounded since the last change of them."""
        return self._playhead.heard.get(YOURS, 0.0) - self._heard_before_s

    @property
    def whole(self) -> bool:
        """Whether the round's moves are what is heard all round."""
        return self._rendered == self._round.moves

    def moved(self) -> None:
        """The moves are other ones: lets them be heard from the next block on."""
        moves, frames = self._round.moves, len(self._yours)
        if moves == self._sounded:
            return
        self._sounded, self._rendered, self._changed_s = moves, None, time.monotonic()
        self._heard_before_s = self._playhead.heard.get(YOURS, 0.0)
        start, count = self._playhead.position_frames, min(PIECE_FRAMES, frames // 2)
        piece = self._round.piece_of(moves, start, count)
        places = (start + np.arange(count)) % frames
        yours = self._yours.copy(order="F")
        fade = np.minimum(1.0, np.arange(count, 0, -1) / _FADE_FRAMES).astype(np.float32)[:, None]
        yours[places] = yours[places] * (1.0 - fade) + piece * fade
        self._hear(yours, over_limit_db(piece))

    def keep_up(self) -> None:
        """Called often: has the whole made, and takes it when it is."""
        if self._rendering.ready:
            moves, sound, over_db = self._rendering.take()
            if moves == self._round.moves:
                self._rendered = self._sounded = moves
                self._hear(sound, over_db)
        still = time.monotonic() - self._changed_s >= _STILL_S
        if not self._rendering.begun and not self.whole and still:
            self._begin()

    def finish(self) -> None:
        """Waits until the moves are heard all round."""
        while not self.whole:
            if not self._rendering.begun:
                self._begin()
            moves, sound, over_db = self._rendering.take()
            self._rendered = self._sounded = moves
            self._hear(sound, over_db)

    def close(self) -> None:
        """Lets go of the worker."""
        self._rendering.close()

    def _begin(self) -> None:
        moves = self._round.moves

        def make() -> tuple[Fix, Samples, float]:
            sound = self._round.sound_of(moves)
            return moves, sound, over_limit_db(sound)

        self._rendering.begin(make)

    def _hear(self, yours: Samples, over_db: float) -> None:
        self._yours = yours
        if over_db > self._down_db:
            self._turn_down(over_db)
            for name, sound in self._plain.items():
                self._playhead.replace(name, self._turned(sound))
        self._playhead.replace(YOURS, self._turned(yours))

    def _turn_down(self, down_db: float) -> None:
        self._down_db = max(self._down_db, down_db)

    def _all(self) -> dict[str, Samples]:
        return {**self._plain, YOURS: self._yours}

    def _turned(self, sound: Samples) -> Samples:
        if self._down_db == 0.0:
            return sound
        return as_samples(sound * np.float32(db_to_gain(-self._down_db)))
