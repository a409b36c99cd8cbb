"""Phrases: a written line or chord sequence, played by one kind of instrument onto a ring."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.random import RandomState

from exercises.samples import RATE_HZ, Floats
from exercises.studio.bowed import Blower, blow, section
from exercises.studio.filters import highpass, lowpass
from exercises.studio.playing import Grid, Player, line
from exercises.studio.ring import filtered
from exercises.studio.strings import String, pluck, strum
from exercises.studio.voice import Syllable, Voice, sung

# (freq_hz, seconds, velocity, hand) -> one note, (frames,).
Instrument = Callable[[float, float, float, RandomState], Floats]

# Room before a phrase for its first consonant, in seconds.
_LEAD_S: Final = 0.2


def strummed(player: Player, ring: Floats, text: str, string: String, start_beat: float) -> None:
    """Play the chords of ``text`` on ``ring``; every other quick stroke goes up."""
    for index, note in enumerate(line(text, start_beat)):
        upward = index % 2 == 1 and note.beats <= 0.5
        order = note.freqs_hz[::-1] if upward else note.freqs_hz
        held = note.beats * player.grid.beat_s * 0.97
        velocity = player.feel(note.velocity * (0.9 if upward else 1.0))
        player.put(ring, note.beat, strum(order, held, string, velocity, player.hand))


def plucked(
    player: Player, ring: Floats, text: str, string: String, start_beat: float = 0.0
) -> None:
    """Play the notes of ``text`` on ``ring``, one string each."""
    for note in line(text, start_beat):
        for freq in note.freqs_hz:
            held = note.beats * player.grid.beat_s * 0.94
            sound = pluck(freq, held, string, player.feel(note.velocity), player.hand)
            player.put(ring, note.beat, sound)


def sing(
    player: Player,
    ring: Floats,
    words: str,
    tune: str,
    voice: Voice,
    start_beat: float = 0.0,
    cents: float = 0.0,
) -> None:
    """Sing ``words`` to ``tune``, one syllable a note, in one breath, ``cents`` off pitch."""
    notes = list(line(tune, start_beat))
    beat_s = player.grid.beat_s
    phrase = [
        Syllable(
            sound,
            _LEAD_S + (note.beat - notes[0].beat) * beat_s + 0.012 * player.hand.uniform(-1, 1),
            note.beats * beat_s * 0.96,
            note.freqs_hz[0] * 2.0 ** (cents / 1200.0),
            player.feel(note.velocity),
        )
        for sound, note in zip(words.split(), notes, strict=True)
    ]
    player.put(ring, notes[0].beat - _LEAD_S / beat_s, sung(phrase, voice, player.hand))


def chorus(
    grid: Grid,
    seed: int,
    ring: Floats,
    words: str,
    tune: str,
    voice: Voice,
    singers: int = 3,
    start_beat: float = 0.0,
    middle: float = 0.5,
) -> None:
    """Several singers on one tune, a stereo ring; ``middle`` is where they stand, 0 to 1."""
    for seat in range(singers):
        singer = Player(grid, seed + seat, 22.0)
        alone = grid.ring()
        cents = 7.0 * singer.hand.standard_normal()
        sing(singer, alone, words, tune, voice, start_beat, cents)
        side = float(np.clip(middle + 0.5 * (seat + 0.5) / singers - 0.25, 0.0, 1.0))
        ring += alone[:, None] * np.sqrt([1.0 - side, side])


def speak(
    player: Player, ring: Floats, words: str, voice: Voice, pitch_hz: float, start_beat: float
) -> None:
    """Say ``words``: syllables as they sound, ``'`` before a stressed one, ``,`` for a pause.

    Pitch falls through each phrase and rises on stresses, about as in a read sentence (common
    practice in speech synthesis, no source).
    """
    phrase, now_s = [], _LEAD_S
    for part in words.split(","):
        syllables = part.split()
        for index, word in enumerate(syllables):
            stressed = word.startswith("'")
            share = index / max(1, len(syllables) - 1)
            final = index == len(syllables) - 1
            seconds = (0.23 if stressed else 0.16) * player.hand.uniform(0.88, 1.12)
            seconds *= 1.5 if final else 1.0
            pitch = pitch_hz * (1.16 - 0.30 * share) * (1.17 if stressed else 1.0)
            level = player.feel(0.9 if stressed else 0.6) * (1.0 - 0.25 * share)
            phrase.append(Syllable(word.lstrip("'"), now_s, seconds, pitch, level))
            now_s += seconds
        now_s += 0.28 * player.hand.uniform(0.85, 1.3)
    player.put(ring, start_beat - _LEAD_S / player.grid.beat_s, sung(phrase, voice, player.hand))


def held(
    player: Player,
    ring: Floats,
    text: str,
    instrument: Instrument,
    start_beat: float = 0.0,
    length: float = 0.97,
) -> None:
    """Play ``text`` on ``instrument``, each note held for ``length`` of what is written."""
    for note in line(text, start_beat):
        for freq in note.freqs_hz:
            seconds = note.beats * player.grid.beat_s * length
            sound = instrument(freq, seconds, player.feel(note.velocity), player.hand)
            player.put(ring, note.beat, sound)


def blown(
    player: Player,
    ring: Floats,
    text: str,
    blower: Blower,
    start_beat: float = 0.0,
    length: float = 0.95,
    swell: Callable[[Floats], Floats] | None = None,
) -> None:
    """Play ``text`` on a bowed or blown instrument, one player a note."""
    for note in line(text, start_beat):
        for freq in note.freqs_hz:
            seconds = note.beats * player.grid.beat_s * length
            sound = blow(freq, seconds, blower, player.feel(note.velocity), player.hand, swell)
            player.put(ring, note.beat, sound)


def seated(
    player: Player,
    ring: Floats,
    text: str,
    blower: Blower,
    start_beat: float = 0.0,
    players: int = 4,
    length: float = 0.98,
    swell: Callable[[Floats], Floats] | None = None,
) -> None:
    """Play ``text`` with a section of several players a note, on a stereo ring."""
    for note in line(text, start_beat):
        for freq in note.freqs_hz:
            seconds = note.beats * player.grid.beat_s * length
            velocity = player.feel(note.velocity)
            sound = section(freq, seconds, blower, velocity, player.hand, players, swell)
            player.put(ring, note.beat, sound)


def echoed(ring: Floats, grid: Grid, beats: float, gain: float) -> Floats:
    """``ring`` with six echoes, ``beats`` apart, each ``gain`` of the one before and darker."""
    gap = round(beats * grid.beat_s * RATE_HZ)
    out, echo = ring.copy(), ring
    for _ in range(6):
        echo = gain * filtered(np.roll(echo, gap, axis=0), lowpass(3200.0), highpass(180.0))
        out += echo
    return out
