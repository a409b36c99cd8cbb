"""Slow soul and its kin: electric piano, round bass, a singer, horns."""

from __future__ import annotations

from typing import Final

from exercises.studio import drums
from exercises.studio.amplifier import bass_amplifier
from exercises.studio.arrangement import Arrangement
from exercises.studio.bowed import SAXOPHONE, TROMBONE, TRUMPET
from exercises.studio.desk import Part, squeezed, tamed
from exercises.studio.filters import high_shelf, highpass
from exercises.studio.keys import electric_piano
from exercises.studio.kit import Piece, drummed
from exercises.studio.phrases import blown, held, plucked, sing
from exercises.studio.playing import Grid, Player
from exercises.studio.ring import filtered
from exercises.studio.room import PLATE
from exercises.studio.strings import BASS_GUITAR
from exercises.studio.voice import Voice

SOUL_KIT: Final = {
    "kick": Piece(lambda v, h: drums.kick(v, h, 58.0, 0.26, 0.4), 0.0, 0.0),
    "snare": Piece(lambda v, h: drums.snare(v, h, 205.0, 0.7, 0.18), 0.05, 0.0),
    "rim": Piece(drums.rim, 0.1, -4.0),
    "hat": Piece(drums.hat, 0.35, -15.0),
    "open hat": Piece(lambda v, h: drums.hat(v, h, 0.5), 0.35, -15.0),
    "ride": Piece(drums.ride, -0.4, -15.0),
}


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
    for blower, seed, text in (
        (TRUMPET, 205, "-:.5 B4:.5! D5:1.5 -:1.5 | -:.5 C#5:.5! E5:.5 -:.5 G4:.5 A4:.5 C#5:1"),
        (SAXOPHONE, 206, "-:.5 G4:.5! B4:1.5 -:1.5 | -:.5 A4:.5! C#5:.5 -:.5 E4:.5 F4:.5 A4:1"),
        (TROMBONE, 207, "-:.5 E3:.5! G3:1.5 -:1.5 | -:.5 E3:.5! A3:.5 -:.5 C#3:.5 D3:.5 E3:1"),
    ):
        chair = grid.ring()
        blown(Player(grid, seed, 9.0, 8.0), chair, text, blower, 8.0)
        side = {205: 0.35, 206: 0.5, 207: 0.7}[seed]
        horns += chair[:, None] * [(1.0 - side) ** 0.5, side**0.5]
    return [
        Part("drums", tamed(kit, 15.5), -6.0, room_db=-13.0),
        Part("bass", bass, -8.0, room_db=-30.0, mono=True),
        Part("keys", tines, -9.5, -0.25, -14.0),
        Part("voice", lead, -5.0, room_db=-9.0, mono=True),
        Part("horns", horns, -12.0, room_db=-9.0),
    ]


SOUL_BANDS: Final = (
    Arrangement(
        "harbour-lights", "Harbour lights", "slow soul", Grid(72.0, 4),
        (("verse", 2), ("chorus with horns", 2)), PLATE, _harbour_lights,
    ),
)  # fmt: skip
