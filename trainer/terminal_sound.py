"""The sound behind a plain text front end: playback goes on while a line is being typed."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from trainer.playhead import Playhead
from trainer.volume import louder_db, rests_due, softer_db, start_volume_db
from trainer.words import REST

if TYPE_CHECKING:
    from trainer.player import Player, SilentPlayer

_FADE_OUT_S: Final = 0.06
_WAIT_STEP_S: Final = 0.02
_LATEST: Final = 4.0
"""How many times as long as asked a wait may take on a computer that is too busy to play."""


class TerminalSound:
    """One playhead and the output it sounds through, opened when it is first needed.

    ``last_used_db`` is the learner's last volume, None on a first start; ``silent`` plays to no
    output.
    """

    def __init__(self, last_used_db: float | None, *, silent: bool) -> None:
        self.playhead = Playhead(start_volume_db(last_used_db))
        self._silent = silent
        self._player: Player | SilentPlayer | None = None
        self._rests_told = 0

    def open(self) -> None:
        """Opens the output, if it is not open.

        Raises:
            NoAudioDevice: it cannot be opened.
        """
        if self._player is None:
            from trainer.player import SilentPlayer, open_player

            self._player = (SilentPlayer if self._silent else open_player)(self.playhead)

    def hear(self, name: str) -> None:
        """Sounds ``name``; starts if it was stopped.

        Raises:
            NoAudioDevice: the output was lost and does not come back.
        """
        self.playhead.choose(name)
        self.open()
        self.playhead.play()

    def play_or_stop(self) -> bool:
        """Starts or stops; whether it plays now.

        Raises:
            NoAudioDevice: the output was lost and does not come back.
        """
        if self.playhead.playing:
            self.playhead.stop()
        else:
            self.hear(self.playhead.current)
        return self.playhead.playing

    def step_volume(self, steps: int) -> float:
        """So many steps louder, or softer where negative; the new volume in dB."""
        volume_db = self.playhead.volume_db
        for _ in range(abs(steps)):
            volume_db = (louder_db if steps > 0 else softer_db)(volume_db)
        self.playhead.set_volume_db(volume_db)
        return volume_db

    def wait(self, seconds: float) -> None:
        """Lets the sound go on for ``seconds``; on a late computer, until so much has sounded."""
        begun_s, sounded_s = time.monotonic(), self.playhead.seconds_played
        while (passed_s := time.monotonic() - begun_s) < seconds or (
            self.playhead.playing
            and self.playhead.seconds_played - sounded_s < seconds
            and passed_s < _LATEST * seconds
        ):
            if self._player is not None:
                self._player.keep_up()
            time.sleep(
                _WAIT_STEP_S if passed_s >= seconds else min(_WAIT_STEP_S, seconds - passed_s)
            )

    def notices(self) -> Iterator[str]:
        """What there is to say of the sound: an output that is gone, a rest that is due."""
        if self._player is not None:
            self._player.keep_up()
            trouble = self._player.trouble()
            if trouble is not None and self.playhead.playing:
                self.playhead.stop()
                self._player.close()
                self._player = None
                yield trouble
        due = rests_due(self.playhead.seconds_played)
        if due > self._rests_told:
            self._rests_told = due
            yield REST

    def close(self) -> None:
        """Fades out and gives the output back."""
        if self.playhead.playing:
            self.playhead.stop()
            self.wait(_FADE_OUT_S)
        if self._player is not None:
            self._player.close()
            self._player = None
