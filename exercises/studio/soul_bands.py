"""Slow soul and its kin: electric piano, round bass, a singer, horns."""

from __future__ import annotations

from typing import Final

from numpy.random import RandomState

from exercises.samples import Floats
from exercises.studio import drums
from exercises.studio.amplifier import bass_amplifier, clean
from exercises.studio.arrangement import Arrangement
from exercises.studio.bowed import REED, SAXOPHONE, TROMBONE, TRUMPET
from exercises.studio.desk import Part, squeezed, tamed
from exercises.studio.filters import high_shelf, highpass, low_shelf, lowpass
from exercises.studio.keys import electric_piano, organ
from exercises.studio.kit import Piece, drummed
from exercises.studio.phrases import blown, echoed, held, plucked, sing, strummed
from exercises.studio.playing import Grid, Player
from exercises.studio.ring import filtered
from exercises.studio.room import PLATE, QUAY, STUDIO
from exercises.studio.strings import BASS_GUITAR, ELECTRIC, String
from exercises.studio.voice import Voice

SOUL_KIT: Final = {
    "kick": Piece(lambda v, h: drums.kick(v, h, 58.0, 0.26, 0.4), 0.0, 0.0),
    "snare": Piece(lambda v, h: drums.snare(v, h, 205.0, 0.7, 0.18), 0.05, 0.0),
    "rim": Piece(drums.rim, 0.1, -4.0),
    "hat": Piece(drums.hat, 0.35, -15.0),
    "open hat": Piece(lambda v, h: drums.hat(v, h, 0.5), 0.35, -15.0),
    "ride": Piece(drums.ride, -0.4, -15.0),
}

DUB_KIT: Final = {
    **SOUL_KIT,
    "kick": Piece(lambda v, h: drums.kick(v, h, 50.0, 0.4, 0.3), 0.0, 1.0),
    "high tom": Piece(lambda v, h: drums.tom(v, h, 175.0), 0.3, -6.0),
}
CONGAS: Final = {
    "low": Piece(lambda v, h: drums.conga(v, h, 165.0), -0.4, 0.0),
    "high": Piece(lambda v, h: drums.conga(v, h, 235.0), -0.55, -1.0),
    "slap": Piece(lambda v, h: drums.conga(v, h, 240.0, 1.0), -0.5, -2.0),
    "shaker": Piece(drums.shaker, 0.5, -12.0),
}
FINGERED_BASS: Final = String(3.0, 0.5, 0.18, 420.0, 0.2, 0.04)
CHOKED: Final = String(0.07, 0.04, 0.1, 3000.0, 0.6, 0.02)


def _harbour_lights(grid: Grid) -> list[Part]:
    """Two bars of verse over a rim click; two of chorus with horns and backbeat."""
    kit = drummed(
        Player(grid, 201, 7.0, 8.0, swing=0.12, swing_unit=0.25),
        SOUL_KIT,
        {
            "kick": "x.....x...x..... x.....x..x...... x..x..x...x..... x..x..x..xx.....",
            "rim": "....x.......x... ....x.......x..- ................ ................",
            "snare": "................ ..............oo ....X..-.-..X... ....X..-.-..X-ox",
            "hat": "x-o-x-o-x-o-x-o- x-o-x-o-x-o-x-o. x-o-x-o-x-o-x-o- x-o-x-o-x-o-x...",
            "open hat": "................ ..............x. ................ ............x...",
        },
    )
    low = grid.ring()
    plucked(
        Player(grid, 202, 6.0, 10.0),
        low,
        "D2:1.5! D2:.5 F2:.5 A2:1 C3:.5 | G1:1.5! G1:.5 B1:.5 D2:1 F2:.5 "
        "C2:1.5! C2:.5 E2:.5 G2:.5 A2:.5 B2:.5 | A1:1! A1:.5 C#2:.5 E2:.5 G2:.5 E2:.5 C#2:.5",
        BASS_GUITAR,
    )
    bass = tamed(squeezed(bass_amplifier(low, 0.8, 0.2), 3.0), 10.0)
    tines = grid.ring()
    held(
        Player(grid, 203, 9.0, 6.0),
        tines,
        "F3+A3+C4+E4:1.5! F3+A3+C4+E4:.5 -:.5 F3+A3+C4+E4:1.5 "
        "F3+A3+B3+E4:1.5! F3+A3+B3+E4:.5 -:.5 F3+G3+B3+D4:1.5 "
        "E3+G3+B3+D4:1.5! E3+G3+B3+D4:.5 G4:.25 B4 D5:.5 B4:.5 G4:.5 "
        "E3+G3+C#4+F4:1.5! E3+G3+C#4+F4:.5 G3+Bb3+C#4+F4:1 E3+G3+C#4+E4:1",
        electric_piano,
    )
    lead = grid.ring()
    singer = Player(grid, 204, 12.0, 20.0)
    soprano = Voice("soprano", 0.45, 0.06, 0.07, 8.0)
    sing(singer, lead, "li tal lamps a lon", "A4:.5! A4:.5 C5:.75 A4:.25 G4:1.25", soprano, 0.5)
    sing(singer, lead, "ou va da wo ta lou", "D5:.5! C5:.5 A4:.5 B4:.75 A4:.25 G4:1", soprano, 4.5)
    sing(singer, lead, "send mi houm", "E5:.75! D5:.75 B4:2.25", soprano, 8.0)
    sing(singer, lead, "send mi houm tu nait", "C#5:.5! E5:.5 D5:.25 C#5:.5 A4:1.5", soprano, 12.0)
    lead = tamed(squeezed(filtered(lead, highpass(150.0), high_shelf(6000.0, 3.0)), 3.0), 12.0)
    horns = grid.ring(2)
    for blower, seed, side, text in (
        (
            TRUMPET,
            205,
            0.35,
            "-:.5 B4:.5! D5:1.5 -:1.5 | -:.5 C#5:.5! E5:.5 -:.5 G4:.5 A4:.5 C#5:1",
        ),
        (
            SAXOPHONE,
            206,
            0.5,
            "-:.5 G4:.5! B4:1.5 -:1.5 | -:.5 A4:.5! C#5:.5 -:.5 E4:.5 F4:.5 A4:1",
        ),
        (TROMBONE, 207, 0.7, "-:.5 E3:.5! G3:1.5 -:1.5 | -:.5 E3:.5! A3:.5 -:.5 C#3:.5 D3:.5 E3:1"),
    ):
        chair = grid.ring()
        blown(Player(grid, seed, 9.0, 8.0), chair, text, blower, 8.0)
        horns += chair[:, None] * [(1.0 - side) ** 0.5, side**0.5]
    return [
        Part("drums", tamed(kit, 15.5), -6.0, room_db=-13.0),
        Part("bass", bass, -8.0, room_db=-30.0, mono=True),
        Part("keys", tines, -9.5, -0.25, -14.0),
        Part("voice", lead, -5.0, room_db=-9.0, mono=True),
        Part("horns", horns, -12.0, room_db=-9.0),
    ]


def _winch_song(grid: Grid) -> list[Part]:
    """Funk on E: two bars of a scratching groove, two where stabbing keys and congas lift."""
    kit = drummed(
        Player(grid, 211, 4.0, 3.0, swing=0.1, swing_unit=0.25),
        SOUL_KIT,
        {
            "kick": "o..x......x..x.. X..x......xx.... X..x..x...x..x.. X..x..x...xx..x.",
            "snare": "....X..-.-..X..- ....X..-.-..X.-- ....X..-.-..X..- ....X..-.-..Xxox",
            "hat": "o-o-x-o-x-o-x-o- x-o-x-o-x-o-x-.. x-o-x-o-x-o-x-o- x-o-x-o-x-o-x...",
            "open hat": "................ ..............x. ................ ..............x.",
        },
    )
    low = grid.ring()
    plucked(
        Player(grid, 212, 4.0, 4.0),
        low,
        "E1:.5! -:.25 E2:.25! -:.5 D2:.25 E2 -:.5 G1:.25 G#1 B1:.5 D2:.25 B1 "
        "E1:.5! -:.25 E2:.25! -:.5 D2:.25 E2 -:.5 B1:.25 A1 G1:.5 E1:.25 G1 "
        "A1:.5! -:.25 A2:.25! -:.5 G2:.25 A2 -:.5 C2:.25 C#2 E2:.5 G2:.25 E2 "
        "E1:.5! -:.25 E2:.25! -:.5 D2:.25 E2 G2:.5! F#2:.25 E2 D2:.25 B1 A1 G1",
        FINGERED_BASS,
    )
    bass = tamed(squeezed(bass_amplifier(low, 1.2, 0.3), 4.0), 11.0)
    strings = grid.ring()
    guitarist = Player(grid, 213, 4.0, swing=0.1, swing_unit=0.25)
    scratch = "-:.25 {m}:.25 {c}:.25! {m} -:.25 {m} {m} {c}! -:.25 {m} {c}! {m} {m} -:.25 {c} {m}"
    for bar, chord in enumerate(("D4+G#4+C#5", "D4+G#4+C#5", "C#4+G4+B4", "D4+G#4+C#5")):
        struck = scratch.replace("{m}", "-").replace("{c}", chord)
        strummed(guitarist, strings, struck, ELECTRIC, 4.0 * bar)
        choked = scratch.replace("{c}!", "-").replace("{c}", "-").replace("{m}", chord)
        strummed(guitarist, strings, choked, CHOKED, 4.0 * bar)
    tines = grid.ring()
    keys = Player(grid, 214, 5.0, 2.0)
    held(keys, tines, "E3+G#3+D4:.5! -:2.5 G3:.25 G#3 B3:.5 "
         "E3+G#3+D4:.5! -:2.5 D4:.25 B3 G#3:.5", electric_piano, 0.0, 0.8)  # fmt: skip
    held(keys, tines, "C#4+E4+G4:.25! A3 C#4+E4+G4 - - C#4:.25 E4 G4:.5! E4:.25 C#4 A3 -:1 "
         "D4+E4+G#4:.25! E3 D4+E4+G#4 - - B3:.25 D4 E4:.5! D4:.25 B3 G#3 E3 -:.5",
         electric_piano, 8.0, 0.8)  # fmt: skip
    hands = drummed(
        Player(grid, 215, 6.0, swing=0.1, swing_unit=0.25),
        CONGAS,
        {
            "slap": "................ ................ ....x.......x... ....x.......x...",
            "high": "................ ..............xx o.-...xx-.o...xx o.-...xx-.o...xx",
            "low": "................ ................ ...x......x..... ...x......x.....",
            "shaker": "o-x-o-x-o-x-o-x-",
        },
    )
    return [
        Part("drums", tamed(kit, 15.5), -5.0, room_db=-16.0),
        Part("bass", bass, -7.0, room_db=-34.0, mono=True),
        Part("guitar", tamed(clean(strings), 14.0), -11.0, -0.45, -18.0),
        Part("keys", tamed(tines, 13.0), -8.5, 0.35, -18.0),
        Part("congas", hands, -13.0, room_db=-14.0),
    ]


def _fog_signal(grid: Grid) -> list[Part]:
    """Dub: one-drop with skanking guitar, then the guitar thrown into the room under a melodica."""
    kit = drummed(
        Player(grid, 221, 6.0, 5.0, swing=0.2, swing_unit=0.25),
        DUB_KIT,
        {
            "kick": "........X....... ........X....... ........X.....o. ........X..x....",
            "rim": "........x....-.. ....-...x....... ........x...-... ..-.-.x.x....-..",
            "hat": "..x-..x-..x-..x- ..x-..x-..x-..x.",
            "open hat": "................ ..............x.",
            "high tom": "................ ................ ................ ............xoo.",
        },
    )
    low = grid.ring()
    plucked(
        Player(grid, 222, 6.0, 10.0),
        low,
        "A1:.75! C2:.25 E2:.5 -:.5 A1:.5 G1:.5 A1:1 | -:.5 A1:.5! C2:.5 D2:.5 E2:1 G1:1 "
        "D2:.75! F2:.25 A2:.5 -:.5 D2:.5 C2:.5 D2:1 | E2:.5! D2:.5 C2:.5 B1:.5 A1:1 G1:1",
        BASS_GUITAR,
    )
    bass = tamed(squeezed(filtered(low, low_shelf(120.0, 6.0), lowpass(900.0)), 3.0), 10.0)
    strings = grid.ring()
    guitarist = Player(grid, 223, 5.0, 2.0)
    for bar, chord in enumerate(("A3+C4+E4+A4", "A3+C4+E4+G4", "A3+D4+F4+A4", "B3+E4+G4+B4")):
        strokes = 4 if bar < 2 else 1
        strummed(guitarist, strings, f"-:.5 {chord}:.25! -:.25 " * strokes, ELECTRIC, 4.0 * bar)
    thrown = echoed(clean(strings), grid, 0.75, 0.55)
    chords = grid.ring()
    bubble = Player(grid, 224, 6.0, 4.0)
    for bar, chord in enumerate(("A3+C4+E4", "A3+C4+E4", "A3+D4+F4", "G3+B3+E4")):
        held(bubble, chords, f"-:.5 {chord}:.25 {chord}:.25 " * 4, _stopped_organ, 4.0 * bar, 0.8)
    reed = grid.ring()
    blown(
        Player(grid, 225, 10.0, 12.0),
        reed,
        "A4:1! C5:.5 D5:1 C5:.5 A4:1 | -:.5 G4:.5 B4:.5 E5:.5 D5:.5 B4:.5 A4:1",
        REED,
        8.0,
    )
    return [
        Part("drums", tamed(kit, 16.0), -6.0, room_db=-10.0),
        Part("bass", bass, -6.5, room_db=-40.0, mono=True),
        Part("guitar", thrown, -11.0, -0.3, -10.0),
        Part("organ", chords, -13.5, 0.35, -18.0),
        Part("melodica", filtered(echoed(reed, grid, 0.75, 0.4), highpass(250.0)), -8.5, 0.0,
             -9.0, True),
    ]  # fmt: skip


def _stopped_organ(freq_hz: float, seconds: float, velocity: float, hand: RandomState) -> Floats:
    return organ(freq_hz, seconds, velocity, hand, "808006000")


SOUL_BANDS: Final = (
    Arrangement(
        "harbour-lights", "Harbour lights", "slow soul", Grid(72.0, 4),
        (("verse", 2), ("chorus with horns", 2)), PLATE, _harbour_lights,
    ),
    Arrangement(
        "winch-song", "Winch song", "funk", Grid(100.0, 4),
        (("scratched", 2), ("lifted", 2)), STUDIO, _winch_song,
    ),
    Arrangement(
        "fog-signal", "Fog signal", "dub", Grid(75.0, 4),
        (("skank", 2), ("echoes and melodica", 2)), QUAY, _fog_signal,
    ),
)  # fmt: skip
