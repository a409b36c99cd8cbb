"""What sounds in the window: a question's plates, the volume, and the device."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pygame

from exercises.samples import Samples
from trainer.plates import Plates
from trainer.playhead import Playhead
from trainer.volume import SOFTEST_DB, louder_db, rests_due, softer_db
from trainer.window.canvas import Box, Canvas
from trainer.window.look import (
    BODY,
    HAIRLINE,
    INK,
    MARGIN,
    SHADE,
    SMALL,
    SOFT_INK,
    VOLUME_FOOT,
    Face,
)
from trainer.words import REST, volume_words

if TYPE_CHECKING:
    from trainer.player import Player, SilentPlayer


class Sound:
    """The playhead with what a learner can do to it; ``say`` is told what they must know."""

    def __init__(self, volume_db: float, say: Callable[[str], None], *, silent: bool) -> None:
        self.playhead = Playhead(volume_db)
        self._plates = Plates(self.playhead, {})
        self._say = say
        self._silent = silent
        self._player: Player | SilentPlayer | None = None
        self._rests_told = 0

    def take(self, sources: dict[str, Samples]) -> None:
        """Takes a new question's sounds; the first is chosen, and sounds if sound was playing."""
        self._plates = Plates(self.playhead, sources)

    def add(self, sources: dict[str, Samples]) -> None:
        """Adds sounds to the ones that are there, at the same place in time."""
        self._plates.add(sources)

    def replace(self, letter: str, samples: Samples) -> None:
        """Puts another sound in a letter's place, at the same place in time."""
        self._plates.replace(letter, samples)

    @property
    def letter(self) -> str:
        """The letter of what is chosen."""
        return self._plates.letter

    @property
    def soloed(self) -> str | None:
        """The track that is heard alone, if one is."""
        return self._plates.soloed

    def has(self, letter: str) -> bool:
        """Whether there is such a sound."""
        return self._plates.has(letter)

    def choose(self, letter: str) -> None:
        """Sounds one of the plates; a stopped sound starts."""
        self.playhead.choose(self._plates.named(letter))
        self._play()

    def next_of(self, letters: tuple[str, ...]) -> None:
        """Goes on to the next of ``letters``."""
        self.choose(letters[(letters.index(self.letter) + 1) % len(letters)])

    def solo(self, track: str | None, alone: Callable[[str], tuple[Samples, Samples]]) -> None:
        """Hears ``track`` by itself (None: everything again); ``alone`` gives its A and B."""
        self._plates.solo(track, alone)
        self._play()

    def heard_s(self, letter: str) -> float:
        """Seconds that a letter was heard of this question, tracks alone included."""
        return self._plates.heard_s(letter)

    @property
    def alone_s(self) -> float:
        """Seconds that tracks were heard alone."""
        return self._plates.alone_s

    @property
    def switches(self) -> int:
        """How often something else was chosen."""
        return self._plates.switches

    def play_or_stop(self) -> None:
        """Starts or stops the sound."""
        if self.playhead.playing:
            self.playhead.stop()
        elif self.playhead.frames:
            self._play()

    def change_volume(self, *, up: bool) -> None:
        """One step louder or softer."""
        step = louder_db if up else softer_db
        self.playhead.set_volume_db(step(self.playhead.volume_db))

    def keep_up(self) -> None:
        """Called often: lets a silent player move on, and says what there is to say."""
        if self._player is not None:
            self._player.keep_up()
            trouble = self._player.trouble()
            if trouble is not None and self.playhead.playing:
                self.playhead.stop()
                self._player.close()
                self._player = None
                self._say(trouble)
        due = rests_due(self.playhead.seconds_played)
        if due > self._rests_told:
            self._rests_told = due
            self._say(REST)

    def take_notice(self, event: pygame.event.Event) -> None:
        """Hands a window event to the player (an output may have been unplugged)."""
        if self._player is not None:
            self._player.notice(event)

    def close(self) -> None:
        """Fades out and gives the output back."""
        if self._player is not None:
            self._player.close()
            self._player = None

    def draw_volume(self, canvas: Canvas, baseline: float | None = None) -> None:
        """The volume as a short scale at the right, to be clicked on either side."""
        baseline = canvas.height - VOLUME_FOOT if baseline is None else baseline
        right = canvas.width - MARGIN
        track = Box(right - 250, baseline - 10, 150, 8)
        share = 1.0 - self.playhead.volume_db / SOFTEST_DB
        canvas.text(track.x - 34, baseline, "volume", colour=SOFT_INK, side="right")
        for sign, x, up in (("\N{MINUS SIGN}", track.x - 16, False), ("+", track.right + 16, True)):
            canvas.text(x, baseline + 1, sign, size=BODY, side="centre", face=Face.SANS_SEMIBOLD)
            canvas.hot(
                Box(x - 15, baseline - 20, 30, 30),
                lambda up=up: self.change_volume(up=up),  # type: ignore[misc]
            )
        canvas.box(track, fill=SHADE, edge=HAIRLINE, radius=3)
        if share > 0:
            canvas.box(Box(track.x, track.y, track.width * share, track.height), fill=INK, radius=3)
        words = volume_words(self.playhead.volume_db)
        canvas.text(right, baseline, words, size=SMALL, side="right")

    def _play(self) -> None:
        if self._player is None:
            self._player = self._open_player()
        if self._player is not None:
            self.playhead.play()

    def _open_player(self) -> Player | SilentPlayer | None:
        """The output; None where there is none, which is said: nothing is played unheard."""
        from trainer.player import NoAudioDevice, SilentPlayer, open_player

        if self._silent:
            return SilentPlayer(self.playhead)
        try:
            return open_player(self.playhead)
        except NoAudioDevice as error:
            self._say(str(error))
            return None
