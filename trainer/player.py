"""The only door to the sound card: SDL audio, through pygame.

SDL calls back on its own thread for each block of 512 frames (10.7 ms); the playhead fills it.
The device is opened by pygame's mixer and filled in its post-mix hook, and not by
``pygame._sdl2.audio.AudioDevice``, for two reasons found with pygame 2.6.1: AudioDevice waits for
the audio thread in ``close`` and ``pause`` without letting go of Python's lock, so it can hang for
ever; and it asks for a device by name, so the system's own choice of output cannot be had.
SDL converts by itself for a device of another rate or format: what is asked for is what we fill.

pygame is slow to import, so import this module late.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, Final

import numpy as np
import pygame
import pygame.mixer
from pygame._sdl2.audio import get_audio_device_names
from pygame._sdl2.mixer import set_post_mix  # type: ignore[import-not-found]

from exercises.errors import NamefirstError
from exercises.samples import RATE_HZ
from trainer.playhead import Playhead
from trainer.quiet_libraries import quiet_libraries

BLOCK_FRAMES: Final = 512
STALLED_S: Final = 2.0
GOT: Final = (RATE_HZ, -32, 2)  # how pygame's mixer reports 48 kHz, 32-bit float, stereo


class NoAudioDevice(NamefirstError):
    """No sound can be played; the message says why and how to go on without."""


class Player:
    """An open output that sounds ``playhead`` until ``close``; made by ``open_player``."""

    def __init__(self, playhead: Playhead, device_name: str) -> None:
        self.device_name = device_name
        self._playhead = playhead
        self._last_block_s = time.monotonic()
        self._gone = False
        self._error: Exception | None = None

    def notice(self, event: pygame.event.Event) -> None:
        """Take note of a window event, should it tell that the output has been unplugged."""
        # SDL names an output that was open by its number, one that was not by 0.
        if event.type == pygame.AUDIODEVICEREMOVED and not event.iscapture and event.which:
            self._gone = True

    def keep_up(self) -> None:
        """Nothing to do: the sound card keeps the time. (The silent twin needs it.)"""

    def trouble(self) -> str | None:
        """One line when sound is not being played as it should be, else None. Cheap: ask often."""
        error = self._playhead.error or self._error
        if error is not None:
            return f"sound has stopped by a fault of this program ({error!r}); start it again"
        if self._gone:
            return f"{self.device_name} is gone; plug it in, then start the sound again"
        if time.monotonic() - self._last_block_s > STALLED_S:
            return f"{self.device_name} no longer takes sound; see the system's sound settings"
        return None

    def close(self) -> None:
        """Stop the playhead, wait for its fade (0.3 s at most), and give the output back."""
        self._playhead.stop()
        last_s = time.monotonic() + 0.3
        while self._playhead.sounding and time.monotonic() < last_s:
            time.sleep(0.003)
        pygame.mixer.quit()
        set_post_mix(None)

    def _block(self, _device: Any, memory: memoryview) -> None:
        """SDL's audio thread: fill one block; whatever happens, raise nothing."""
        try:
            self._last_block_s = time.monotonic()
            self._playhead.fill(np.frombuffer(memory, dtype=np.float32).reshape(-1, 2))
        except Exception as error:
            self._error = error


def open_player(playhead: Playhead, device_name: str | None = None) -> Player:
    """Open the system's chosen output, or the one called ``device_name``, and start the blocks.

    What the playhead holds sounds at once if it is playing. One output at a time.

    Raises:
        NoAudioDevice: there is none, or it cannot be opened as 48 kHz float32 stereo.
    """
    pygame.mixer.quit()  # pygame.init() may have opened it in a format of its own
    try:
        with quiet_libraries():
            pygame.mixer.init(RATE_HZ, 32, 2, BLOCK_FRAMES, device_name, allowedchanges=0)
    except pygame.error as error:
        raise NoAudioDevice(_no_device(device_name, str(error))) from None
    if pygame.mixer.get_init() != GOT:
        got = pygame.mixer.get_init()
        pygame.mixer.quit()
        raise NoAudioDevice(_no_device(device_name, f"it opened as {got}, not as asked"))
    player = Player(playhead, device_name or "the system's sound output")
    # An old hook takes the new one down with it when it is freed, so free it first.
    set_post_mix(None)
    set_post_mix(player._block)
    return player


def device_names() -> tuple[str, ...]:
    """The outputs that ``open_player`` can be asked for; empty when there are none.

    Only while a player is open does the sound system tell; before that, empty.
    """
    try:
        return tuple(get_audio_device_names(False))
    except RuntimeError:  # pygame._sdl2 raises an error of its own, not pygame.error
        return ()


class SilentPlayer:
    """A player without a device: the playhead moves, nothing sounds.

    Time is passed by ``keep_up``, which follows ``clock`` (seconds), or by ``advance``.
    """

    device_name = "no sound output"

    def __init__(
        self, playhead: Playhead, clock: Callable[[], float] | None = time.monotonic
    ) -> None:
        self._playhead = playhead
        self._clock = clock
        self._block = np.zeros((BLOCK_FRAMES, 2), dtype=np.float32)
        self._begun_s = clock() if clock else 0.0
        self._passed_frames = 0

    def advance(self, frames: int) -> None:
        """Let ``frames`` frames pass, in blocks of 512 as a device would ask for them."""
        while frames > 0:
            count = min(BLOCK_FRAMES, frames)
            self._playhead.fill(self._block[:count])
            frames -= count

    def notice(self, event: object) -> None:
        """Nothing to unplug."""

    def keep_up(self) -> None:
        """Advance to where the clock is; after a long sleep, by one second at most."""
        if self._clock is None:
            return
        due = int((self._clock() - self._begun_s) * RATE_HZ) - self._passed_frames
        self._passed_frames += due
        self.advance(min(due, RATE_HZ))

    def trouble(self) -> str | None:
        """One line when the playhead has failed, else None."""
        error = self._playhead.error
        return f"the player has stopped by a fault of this program ({error!r})" if error else None

    def close(self) -> None:
        """Nothing to give back."""


def _no_device(device_name: str | None, reason: str) -> str:
    what = f"the sound output '{device_name}'" if device_name else "a sound output"
    return (
        f"cannot open {what} ({reason}); check the system's sound settings; a drill can be "
        "rehearsed without sound, unscored: namefirst drill --silent"
    )
