"""One playhead under several sounds of equal length: A, B and whatever else is compared.

The audio thread calls ``fill``; every other method belongs to the thread that runs the screen.
Orders go over in a queue and are taken up at the start of the next block, so no lock is held and
no order is half seen. Switching sources, or putting another sound in a source's place, moves the
shares of an equal-gain (linear) mix over 20 ms; anything that moves the playhead itself (new
sources, another region) waits until the sound has been faded out, then fades it in again. So the
sound is continuous whatever is asked, and as loud as its loudest source at most. Arrays are
(frames, 2) float32 at 48 kHz.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from exercises.samples import RATE_HZ, Floats, Samples, db_to_gain
from trainer.programme import (
    NOTHING,
    Programme,
    Region,
    checked,
    programme_of,
    read_round,
    region_of,
)
from trainer.volume import FIRST_START_DB, SOFTEST_DB, within_limits_db

SWITCH_FRAMES: Final = RATE_HZ * 20 // 1000
FADE_FRAMES: Final = RATE_HZ * 30 // 1000
FIRST_FADE_FRAMES: Final = RATE_HZ * 750 // 1000
VOLUME_FRAMES: Final = RATE_HZ * 100 // 1000


@dataclass(slots=True, eq=False)
class _Cue:
    """Where the sound goes on once it has been faded out; ``at_frame`` None keeps the place."""

    programme: Programme
    region: Region
    at_frame: int | None
    name: str


@dataclass(slots=True, eq=False)
class _Share:
    """A sound's part in the mix during a switch: from ``low`` to ``high``."""

    samples: Samples
    low: float
    high: float


class Playhead:
    """Mixes named sources of equal length under one position; silent until ``load`` and ``play``.

    ``volume_db`` is the starting volume (dB, held to -60, which is silence, to 0).
    """

    def __init__(self, volume_db: float = FIRST_START_DB) -> None:
        self._orders: deque[Callable[[], None]] = deque()
        # What was last asked for: the screen's side.
        self._asked_programme = NOTHING
        self._asked_name = ""
        self._asked_playing = False
        self._asked_volume_db = within_limits_db(volume_db)
        # What is sounding: the audio thread's side.
        self._programme = self._asked_programme
        self._region: Region = (0, 0)
        self._asked_region: Region | None = None
        self._position = 0
        self._cue: _Cue | None = None
        self._name = ""
        self._mixed: list[_Share] = []
        self._replacements: dict[str, Samples] = {}  # asked for while a switch was under way
        self._switched_frames = SWITCH_FRAMES
        self._wanted = False
        self._started_once = False
        self._level = 0.0  # of the fade in and out, 0 to 1
        self._gain = self._gain_goal = self._gain_from = _gain_of(self._asked_volume_db)
        self._gain_frames = VOLUME_FRAMES
        self._sounded_frames = 0
        self._scratch = np.zeros((512, 2), dtype=np.float32)
        self._error: Exception | None = None

    # ---- asked by the screen -----------------------------------------------------------------

    def load(
        self, sources: Mapping[str, Samples], region: Region | None = None, at_frame: int = 0
    ) -> None:
        """Make ``sources`` (name -> (frames, 2) float32, equal lengths) what plays; first is heard.

        While something sounds, it is faded out and the new sources fade in at ``at_frame``.
        The arrays are not copied: leave them alone. ``heard`` and ``switches`` begin at nought.

        Raises:
            ValueError: no sources, unequal lengths, wrong shape or type, samples beyond full scale
                or not finite, or a region or frame outside them.
        """
        programme = programme_of(sources)
        repeated = region_of(programme, region)
        if not 0 <= at_frame < programme.frames:
            raise ValueError(f"frame {at_frame} is outside sources of {programme.frames} frames")
        name = next(iter(sources))
        self._asked_programme, self._asked_name = programme, name
        self._asked_region = region
        self._orders.append(lambda: self._take_cue(_Cue(programme, repeated, at_frame, name)))

    def choose(self, name: str) -> None:
        """Hear ``name`` from the next block on, without a jump in time.

        Raises:
            ValueError: no such source is loaded.
        """
        programme = self._asked_programme
        if name not in programme.sources:
            known = ", ".join(programme.sources) or "nothing"
            raise ValueError(f"no source '{name}' to hear; loaded: {known}")
        if name != self._asked_name:
            programme.switches += 1
            self._asked_name = name
            self._orders.append(lambda: self._take_choice(name))

    def replace(self, name: str, samples: Samples) -> None:
        """Put ``samples`` in the place of ``name``, at the same place in time.

        If it sounds, the old cross-fades into the new over 20 ms; while another switch is under
        way that waits for its end, and of several the last counts. The array is not copied.

        Raises:
            ValueError: no such source is loaded, or ``samples`` are not as ``load`` asks for.
        """
        programme = self._asked_programme
        if name not in programme.sources:
            known = ", ".join(programme.sources) or "nothing"
            raise ValueError(f"no source '{name}' to replace; loaded: {known}")
        if len(checked(name, samples)) != programme.frames:
            raise ValueError(
                f"source '{name}' must have {programme.frames} frames, not {len(samples)}"
            )
        # Orders wait as long as no output is open: the sound itself must not wait in each of them.
        programme.asked[name] = samples
        self._orders.append(lambda: self._take_replacement(programme, name))

    def play(self) -> None:
        """Fade in: over 0.75 s the first time, 30 ms after that."""
        self._set_playing(True)

    def stop(self) -> None:
        """Fade out over 30 ms and stay where the sound ended."""
        self._set_playing(False)

    def set_volume_db(self, volume_db: float) -> None:
        """Ramp to ``volume_db`` over 100 ms; held to 0 dB at most, and -60 dB is silence."""
        self._asked_volume_db = within_limits_db(volume_db)
        goal = _gain_of(self._asked_volume_db)
        self._orders.append(lambda: self._take_gain(goal))

    def loop_region(self, start_frame: int | None, stop_frame: int | None = None) -> None:
        """Repeat frames ``start_frame`` up to ``stop_frame``; ``loop_region(None)`` repeats all.

        The ends of a region are cross-faded over 10 ms, those of the whole loop fit by themselves.

        Raises:
            ValueError: the region is outside the sources or shorter than 0.1 s.
        """
        programme = self._asked_programme
        asked = None
        if start_frame is not None:
            asked = (start_frame, programme.frames if stop_frame is None else stop_frame)
        region = region_of(programme, asked)
        self._asked_region = asked
        self._orders.append(lambda: self._take_region(programme, region))

    @property
    def region(self) -> Region | None:
        """The frames that are to be repeated, as asked for last; None for all."""
        return self._asked_region

    @property
    def playing(self) -> bool:
        """Whether sound was asked for last."""
        return self._asked_playing

    @property
    def sounding(self) -> bool:
        """Whether the next block follows on one that was not faded out to silence."""
        return self._level > 0.0

    @property
    def current(self) -> str:
        """The source asked for last; empty before the first ``load``."""
        return self._asked_name

    @property
    def volume_db(self) -> float:
        """The volume asked for last, dB."""
        return self._asked_volume_db

    @property
    def muted(self) -> bool:
        """Whether the volume is turned down to silence."""
        return self._asked_volume_db <= SOFTEST_DB

    @property
    def frames(self) -> int:
        """Length of what was loaded last, in frames."""
        return self._asked_programme.frames

    @property
    def position_frames(self) -> int:
        """The frame of the loop that the next block begins with.

        The ear is behind it by what the output holds back: a block of 10.7 ms or two, tenths of a
        second over Bluetooth. For drawing, and for going on at the same place; nothing else.
        """
        return self._position

    @property
    def heard(self) -> dict[str, float]:
        """Seconds that each source of the last ``load`` has sounded."""
        counted = self._asked_programme.heard_frames
        return {name: frames / RATE_HZ for name, frames in counted.items()}

    @property
    def switches(self) -> int:
        """How often another source was chosen since the last ``load``."""
        return self._asked_programme.switches

    @property
    def seconds_played(self) -> float:
        """Seconds of sound since this playhead was made."""
        return self._sounded_frames / RATE_HZ

    @property
    def error(self) -> Exception | None:
        """What made ``fill`` fall silent, if anything did; it stays silent from then on."""
        return self._error

    def _set_playing(self, playing: bool) -> None:
        self._asked_playing = playing

        def take() -> None:
            self._wanted = playing

        self._orders.append(take)

    # ---- the audio thread --------------------------------------------------------------------

    def fill(self, out: Samples) -> None:
        """Write the next ``len(out)`` frames into ``out`` (n, 2) float32. Never raises."""
        try:
            if self._error is None:
                while self._orders:
                    self._orders.popleft()()
                self._fill(out)
            else:
                out[:] = 0.0
        except Exception as error:  # a broken program must not become a noise, nor end the thread
            self._error = error
            out[:] = 0.0

    def _take_cue(self, cue: _Cue) -> None:
        self._cue = cue

    def _take_choice(self, name: str) -> None:
        if self._cue is not None and self._cue.programme is not self._programme:
            self._cue.name = name
            return
        self._name = name
        self._switch_to(self._programme.sources[name])

    def _take_replacement(self, programme: Programme, name: str) -> None:
        samples = programme.asked.pop(name, None)
        if samples is None:  # a newer one came with an order before this
            return
        if programme is not self._programme:  # not heard yet, or no more
            programme.sources[name] = samples
        else:
            self._replacements[name] = samples

    def _put_replacements(self) -> None:
        """Puts what waits in its place; the one that sounds is switched to."""
        self._programme.sources.update(self._replacements)
        if self._name in self._replacements:
            self._switch_to(self._programme.sources[self._name])
        self._replacements.clear()

    def _switch_to(self, samples: Samples) -> None:
        way = self._switched_frames / SWITCH_FRAMES
        for share in self._mixed:
            share.low += (share.high - share.low) * way
            share.high = float(share.samples is samples)
        if not any(share.samples is samples for share in self._mixed):
            self._mixed.append(_Share(samples, 0.0, 1.0))
        self._switched_frames = 0

    def _take_region(self, programme: Programme, region: Region) -> None:
        if self._cue is not None and self._cue.programme is programme:
            self._cue.region = region
        else:
            self._cue = _Cue(programme, region, None, self._name)

    def _take_gain(self, goal: float) -> None:
        self._gain_from, self._gain_goal, self._gain_frames = self._gain, goal, 0

    def _apply_cue(self, cue: _Cue) -> None:
        if cue.programme is not self._programme:
            self._put_replacements()
            self._programme, self._name = cue.programme, cue.name
        self._region = cue.region
        place = self._position if cue.at_frame is None else cue.at_frame
        start, stop = cue.region
        self._position = place if start <= place < stop else start
        self._cue = None

    def _fill(self, out: Samples) -> None:
        done = 0
        while done < len(out):
            if self._level == 0.0:  # unheard: moves are free
                if self._cue is not None:
                    self._apply_cue(self._cue)
                self._gain = self._gain_from = self._gain_goal
                self._put_replacements()
                if self._programme.frames:
                    self._settle()
                if not (self._wanted and self._programme.frames):
                    out[done:] = 0.0
                    return
            elif self._replacements and self._switched_frames == SWITCH_FRAMES:
                self._put_replacements()
            rest = out[done:]
            levels = self._next_levels(len(rest))
            self._render(rest[: len(levels)], levels)
            done += len(levels)

    def _next_levels(self, most: int) -> Floats:
        """The fade's level for the frames up to its end, ``most`` at most; (n,) float64."""
        goal = 1.0 if self._wanted and self._cue is None else 0.0
        if self._level == goal:
            return np.full(most, goal)
        slow = goal == 1.0 and not self._started_once
        step = 1.0 / (FIRST_FADE_FRAMES if slow else FADE_FRAMES)
        left = math.ceil(abs(goal - self._level) / step - 1e-6)
        count = min(most, max(1, left))
        way = step if goal > self._level else -step
        levels: Floats = np.clip(self._level + way * np.arange(1, count + 1), 0.0, 1.0)
        if count >= left:
            levels[-1] = goal
            self._started_once = self._started_once or goal == 1.0
        self._level = float(levels[-1])
        return levels

    def _render(self, out: Samples, levels: Floats) -> None:
        frames = len(out)
        if len(self._mixed) == 1:
            read_round(self._mixed[0].samples, self._region, self._position, out)
        else:
            if len(self._scratch) < frames:
                self._scratch = np.zeros((frames, 2), dtype=np.float32)
            part = self._scratch[:frames]
            first = self._switched_frames + 1
            way = np.minimum(np.arange(first, first + frames) / SWITCH_FRAMES, 1.0)
            out[:] = 0.0
            for share in self._mixed:  # the shares sum to one
                read_round(share.samples, self._region, self._position, part)
                part *= (share.low + (share.high - share.low) * way)[:, np.newaxis]
                out += part
        out *= (levels * self._next_gains(frames))[:, np.newaxis]
        self._switched_frames = min(SWITCH_FRAMES, self._switched_frames + frames)
        if self._switched_frames == SWITCH_FRAMES:
            self._settle()
        start, stop = self._region
        self._position = start + (self._position - start + frames) % (stop - start)
        if self._gain > 0.0:  # in silence nothing was heard
            self._programme.heard_frames[self._name] += frames
        self._sounded_frames += frames

    def _settle(self) -> None:
        """The chosen source alone makes the sound."""
        self._mixed = [_Share(self._programme.sources[self._name], 1.0, 1.0)]

    def _next_gains(self, frames: int) -> Floats:
        first = self._gain_frames + 1
        way = np.minimum(np.arange(first, first + frames) / VOLUME_FRAMES, 1.0)
        gains: Floats = self._gain_from + (self._gain_goal - self._gain_from) * way
        self._gain_frames = min(VOLUME_FRAMES, self._gain_frames + frames)
        self._gain = float(gains[-1])
        return gains


def _gain_of(volume_db: float) -> float:
    return 0.0 if volume_db <= SOFTEST_DB else db_to_gain(volume_db)
