"""Voices to the fore: a choir with an organ, and a speaker over a small group."""

from __future__ import annotations

from typing import Final

from numpy.random import RandomState

from exercises.samples import Floats
from exercises.studio.acoustic_bands import upright_bass, wooden_guitar
from exercises.studio.arrangement import Arrangement
from exercises.studio.bowed import CELLO, SECTION
from exercises.studio.desk import Part, squeezed, tamed
from exercises.studio.filters import high_shelf, highpass, peak
from exercises.studio.keys import bell, pipes
from exercises.studio.phrases import blown, chorus, held, plucked, seated, speak
from exercises.studio.playing import Grid, Player
from exercises.studio.ring import filtered
from exercises.studio.room import CHAPEL, STUDIO
from exercises.studio.strings import NYLON, UPRIGHT_BASS
from exercises.studio.voice import Voice

HIGH: Final = Voice("soprano", 0.3, 0.08, 0.08, 6.0, consonants=0.25)
MIDDLE: Final = Voice("tenor", 0.25, 0.06, 0.08, -4.0, consonants=0.15)
LOW: Final = Voice("bass", 0.2, 0.06, 0.08, -2.0, consonants=0.15)


def _lifeboat_choir(grid: Grid) -> list[Part]:
    """Four parts: two bars sung softly on one vowel, two with words, organ pedal and bell."""
    high, low = grid.ring(2), grid.ring(2)
    chorus(grid, 501, high, "mu u u u", "A4:2 B4:2 C#5:2 B4:1.9", HIGH, 3, 0.0, 0.35)
    chorus(grid, 511, high, "mu u u u", "E4:2 G#4:2 E4:2 E4:1.9", HIGH, 2, 0.0, 0.65)
    chorus(grid, 521, low, "mu u u u", "C#4:2 D4:2 A3:2 G#3:1.9", MIDDLE, 2, 0.0, 0.35)
    chorus(grid, 531, low, "mu u u u", "A2:2 B2:2 F#2:2 E2:1.9", LOW, 2, 0.0, 0.65)
    words = "lai ton a sta ri si e"
    chorus(
        grid, 541, high, words, "E5:1.5! D5:.5 C#5:1 B4:1 D5:1! C#5:1 A4:1.9", HIGH, 3, 8.0, 0.35
    )
    chorus(
        grid, 551, high, words, "A4:1.5! A4:.5 E4:1 G#4:1 A4:1! G#4:1 E4:1.9", HIGH, 2, 8.0, 0.65
    )
    chorus(
        grid, 561, low, words, "C#4:1.5! D4:.5 A3:1 E4:1 F#4:1! E4:1 C#4:1.9", MIDDLE, 2, 8.0, 0.35
    )
    chorus(grid, 571, low, words, "A2:1.5! F#2:.5 A2:1 E2:1 D2:1! E2:1 A2:1.9", LOW, 2, 8.0, 0.65)
    ranks = grid.ring()
    organist = Player(grid, 581, 10.0)
    held(organist, ranks, "A2+E3+A3:2 B2+E3+G#3:2 F#2+C#3+A3:2 E2+B2+G#3:2", pipes)
    held(
        organist,
        ranks,
        "A1+A2+E3:2! F#2+C#3+A3:1 E2+B2+G#3:1 D2+A2+F#3:1! E2+B2+G#3:1 A1+A2+E3:2",
        pipes,
        8.0,
    )
    tower = grid.ring()
    held(Player(grid, 582, 15.0), tower, "-:7 E5:1 A4:4! -:2 A4:2", _tower_bell)
    return [
        Part("high voices", high, -4.5, room_db=-7.0),
        Part("low voices", low, -5.0, room_db=-8.0),
        Part("organ", ranks, -8.0, 0.0, -8.0, True),
        Part("bell", filtered(tower, high_shelf(4000.0, 4.0)), -14.0, 0.3, -6.0, True),
    ]


def _tower_bell(freq_hz: float, seconds: float, velocity: float, hand: RandomState) -> Floats:
    return bell(freq_hz, 4.0, velocity, hand)


def _tide_table(grid: Grid) -> list[Part]:
    """Somebody reads the tides: over picked guitar alone, then with bowed strings and bass."""
    strings = grid.ring()
    guitarist = Player(grid, 591, 9.0)
    for bar, chord in enumerate(("A2 E3 A3 C4 E4", "F2 C3 A3 C4 F4", "C3 G3 C4 E4 G4",
                                 "E2 B2 G#3 B3 E4")):  # fmt: skip
        a, b, c, d, e = chord.split()
        plucked(guitarist, strings, f"{a}:.5! {b} {c} {d} {e} {d} {c} {b}", NYLON, 4.0 * bar)
    low = grid.ring()
    plucked(Player(grid, 592, 8.0), low, "C2:2! G1:1 C2:1 | E2:2! B1:1 E1:1", UPRIGHT_BASS, 8.0)
    bowed = grid.ring(2)
    seated(Player(grid, 593, 15.0), bowed, "E4+G4+C5:4 E4+G#4+B4:4", SECTION, 8.0, 3)
    cello = grid.ring()
    blown(Player(grid, 594, 12.0), cello, "C3:1.5! D3:.5 E3:1 G3:1 | G#3:2! E3:2", CELLO, 8.0)
    lead = grid.ring()
    reader = Voice("tenor", 0.0, 0.07, 0.05, -2.0, speaking=True, consonants=0.33)
    teller = Player(grid, 595, 0.0)
    said = "'hai 'wo ta at 'ten past 'fo, 'wind 'saus 'west an 'fo ling, 'fog 'lei ta"
    speak(teller, lead, said, reader, 118.0, 0.5)
    said = "da 'last 'bout 'lifs da 'ki at 'siks, teik a 'kout, an 'hould da 'reil"
    speak(teller, lead, said, reader, 118.0, 8.4)
    voice = tamed(squeezed(filtered(lead, highpass(85.0), peak(2700.0, -3.0)), 3.0), 13.0)
    bowed += 0.8 * cello[:, None] * [0.6, 0.8]
    return [
        Part("voice", voice, -3.0, room_db=-22.0, mono=True),
        Part("guitar", tamed(wooden_guitar(strings), 14.0), -8.0, -0.25, -16.0),
        Part("strings", bowed, -10.0, room_db=-9.0),
        Part("bass", tamed(upright_bass(low), 12.0), -12.0, 0.0, -24.0, True),
    ]


VOICES_AND_STORIES: Final = (
    Arrangement(
        "lifeboat-choir", "Lifeboat choir", "choir and organ", Grid(80.0, 4),
        (("hummed", 2), ("sung", 2)), CHAPEL, _lifeboat_choir,
    ),
    Arrangement(
        "tide-table", "Tide table", "spoken voice over music", Grid(80.0, 4),
        (("guitar alone", 2), ("strings enter", 2)), STUDIO, _tide_table,
    ),
)  # fmt: skip
