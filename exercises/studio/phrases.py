"""Phrases: a written line or chord sequence, played by one kind of instrument onto a ring."""

from __future__ import annotations

from collections.abc import Callable

from numpy.random import RandomState

from exercises.samples import Floats
from exercises.studio.bowed import Blower, blow, section
from exercises.studio.playing import Player, line
from exercises.studio.strings import String, pluck, strum
from exercises.studio.voice import Syllable, Voice, sung

# (freq_hz, seconds, velocity, hand) -> one note, (frames,).
Instrument = Callable[[float, float, float, RandomState], Floats]


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
    player: Player, ring: Floats, words: str, tune: str, voice: Voice, start_beat: float = 0.0
) -> None:
    """Sing ``words`` to ``tune``, one syllable a note, in one breath."""
    notes = list(line(tune, start_beat))
    beat_s = player.grid.beat_s
    phrase = [
        Syllable(
            sound, 0.2 + (note.beat - notes[0].beat) * beat_s + 0.012 * player.hand.uniform(-1, 1),
            note.beats * beat_s * 0.96, note.freqs_hz[0], player.feel(note.velocity),
        )
        for sound, note in zip(words.split(), notes, strict=True)
    ]  # fmt: skip
    player.put(ring, notes[0].beat - 0.2 / beat_s, sung(phrase, voice, player.hand))


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
