"""Bands that march and orchestras that sit: brass on the quay, a waltz in the bandstand."""

from __future__ import annotations

from typing import Final

import numpy as np

from exercises.samples import Floats
from exercises.studio import drums
from exercises.studio.arrangement import Arrangement
from exercises.studio.bowed import (
    CLARINET,
    FLUTE,
    HORN,
    LOW_SECTION,
    SECTION,
    TROMBONE,
    TRUMPET,
    TUBA,
    Blower,
)
from exercises.studio.desk import Part, tamed
from exercises.studio.filters import high_shelf, highpass
from exercises.studio.kit import Piece, drummed
from exercises.studio.phrases import blown, seated
from exercises.studio.playing import Grid, Player
from exercises.studio.ring import filtered
from exercises.studio.room import HALL, QUAY

MARCHING_KIT: Final = {
    "bass drum": Piece(lambda v, h: drums.kick(v, h, 62.0, 0.5, 0.25), -0.1, 2.0),
    "snare": Piece(lambda v, h: drums.snare(v, h, 260.0, 1.0, 0.2), 0.15, 0.0),
    "cymbals": Piece(drums.crash, 0.2, -9.0),
}
TIMPANI: Final = {
    "A": Piece(lambda v, h: drums.timpani(v, h, 110.0), 0.15),
    "D": Piece(lambda v, h: drums.timpani(v, h, 146.8), -0.15),
}


def _desk(grid: Grid, seed: int, text: str, blower: Blower, pan: float) -> Floats:
    """One player's line, panned, on a stereo ring."""
    alone = grid.ring()
    blown(Player(grid, seed, 10.0, 2.0), alone, text, blower, length=0.9)
    side = 0.5 + 0.5 * pan
    return np.asarray(alone[:, None] * np.sqrt([1.0 - side, side]))


def _gull_parade(grid: Grid) -> list[Part]:
    """A march in B flat: two bars of low brass and drums, two of the full band."""
    kit = drummed(
        Player(grid, 601, 8.0),
        MARCHING_KIT,
        {
            "bass drum": "X.......x....... X.......x....... X.......x....... X...x...X...x...",
            "snare": "x.-ox.-ox.-ox-oo x.-ox.-oxooxX... X.-ox.-ox.-ox-oo X.-ox.-oX-oxXoxo",
            "cymbals": "................ ............x... X............... ........x.......",
        },
    )
    tuba = grid.ring()
    blown(
        Player(grid, 602, 10.0),
        tuba,
        "Bb1! F2 Bb1 F2 | C2! F2 A1:.5 C2 F1:1 | Bb1! D2 G1 D2 | Eb2:1! F2:1 Bb1:.5! F1 Bb1:1",
        TUBA,
        length=0.8,
    )
    low = _desk(
        grid,
        603,
        "D3:.5! -:.5 D3:.5 -:.5 F3:.5! G3:.5 F3:1 | Eb3:.5! -:.5 Eb3:.5 -:.5 "
        "F3:.5 Eb3:.5 C3:1 | D3:1.5! F3:.5 G3:1! D3:1 | Eb3:1! F3:1 D3:2",
        TROMBONE,
        -0.4,
    )
    low += _desk(
        grid,
        604,
        "Bb2:.5! -:.5 Bb2:.5 -:.5 D3:.5! Eb3:.5 D3:1 | A2:.5! -:.5 A2:.5 -:.5 "
        "C3:.5 C3:.5 A2:1 | Bb2:1.5! D3:.5 Bb2:1! Bb2:1 | G2:1! A2:1 Bb2:2",
        TROMBONE,
        -0.6,
    )
    low += _desk(
        grid,
        605,
        "-:.5 F3:.5 -:.5 F3:.5 -:.5 F3:.5 -:.5 F3:.5 " * 2
        + "-:.5 F3:.5 -:.5 F3 -:.5 G3 -:.5 G3 | -:.5 G3 -:.5 A3 -:.5 F3:.5 F3:1",
        HORN,
        -0.2,
    )
    rest = "-:8 "
    high = _desk(
        grid,
        606,
        rest + "F5:1.5! D5:.25 F5:.25 Bb5:1! G5:1 | G5:.5! F5 Eb5 C5 D5:1! Bb4:1",
        TRUMPET,
        0.3,
    )
    high += _desk(
        grid,
        607,
        rest + "D5:1.5! Bb4:.25 D5:.25 D5:1! D5:1 | Bb4:.5! A4 A4 A4 Bb4:1! F4:1",
        TRUMPET,
        0.5,
    )
    high += _desk(
        grid,
        608,
        "-:2 F4:.5! G4 F4:1 -:2 F4:.5 Eb4 C4:1 F4:1.5! F4:.5 G4:1! Bb4:1 Eb4:1! C4:1 D4:2",
        TRUMPET,
        0.65,
    )
    reeds = _desk(
        grid,
        609,
        rest + "Bb5:.25! C6 D6 C6 Bb5 A5 Bb5 F5 G5! A5 Bb5 A5 G5 F5 G5 D5 "
        "Eb5! F5 G5 F5 Eb5 D5 C5 A5 Bb5:.5! F5 Bb5:1",
        CLARINET,
        0.1,
    )
    return [
        Part("drums", tamed(kit, 16.0), -6.0, room_db=-9.0),
        Part("tuba", tuba, -8.5, 0.0, -14.0, True),
        Part("low brass", filtered(low, high_shelf(2500.0, 2.0)), -7.0, room_db=-12.0),
        Part("trumpets", high, -7.0, room_db=-12.0),
        Part("clarinet", reeds.sum(axis=1), -13.0, 0.1, -12.0, True),
    ]


def _bandstand_waltz(grid: Grid) -> list[Part]:
    """A waltz in D: four bars of strings alone, four with flute, horn and kettledrums."""
    violins = grid.ring(2)
    seated(Player(grid, 611, 14.0), violins,
           "F#5:2! E5:1 | D5:1.5! C#5:.5 B4:1 | A4:1! B4 C#5 | E5:3 "
           "F#5:1! A5 F#5 | G5:1.5! F#5:.5 E5:1 | D5:1! C#5 E5 | D5:3",
           SECTION, 0.0, 4)  # fmt: skip
    seated(Player(grid, 612, 14.0), violins,
           "- F#4+A4:1 F#4+A4 | - F#4+B4 F#4+B4 | - E4+G4 E4+G4 | - G4+C#5 G4+C#5 "
           "- F#4+A4 F#4+A4 | - G4+B4 G4+B4 | - G4+C#5 G4+C#5 | F#4+A4:3",
           SECTION, 0.0, 3, 0.5)  # fmt: skip
    lows = grid.ring(2)
    seated(Player(grid, 613, 14.0), lows, "D3 -:2 B2:1 -:2 A2:1 -:2 A2:1 G2 E2 "
           "D2+D3:1! -:2 G2+G3:1! -:2 A1+A2:1! -:2 D2+D3:2! A2:1", LOW_SECTION, 0.0, 3)  # fmt: skip
    flute = grid.ring()
    blown(Player(grid, 614, 12.0), flute,
          "A5:.5! D6 F#6 D6 A5 F#5 | B5:.5! E6 G6:1 E6:1 | C#6:.5! E6 G6 E6 C#6 A5 | D6:3!", FLUTE,
          12.0)  # fmt: skip
    horn = grid.ring()
    blown(Player(grid, 615, 12.0), horn, "F#4:3! | G4:2! B4:1 | A4:2! G4:1 | F#4:3", HORN, 12.0)
    skins = drummed(
        Player(grid, 616, 8.0),
        TIMPANI,
        {
            "A": "...... ...... ...... ..oooo ...... ...... X.oxox ......",
            "D": "...... ...... ...... ...... X..... x..... ...... X...X.",
        },
        2,
    )
    return [
        Part("violins", filtered(violins, highpass(170.0), high_shelf(6000.0, 3.0)), -4.5,
             room_db=-9.0),
        Part("low strings", lows, -6.0, room_db=-11.0),
        Part("flute", flute, -11.0, -0.15, -9.0, True),
        Part("horn", horn, -10.0, 0.3, -8.0, True),
        Part("timpani", skins, -9.5, room_db=-9.0),
    ]  # fmt: skip


CONCERT_BANDS: Final = (
    Arrangement(
        "gull-parade", "Gull parade", "marching band", Grid(112.5, 4),
        (("low brass", 2), ("full band", 2)), QUAY, _gull_parade,
    ),
    Arrangement(
        "bandstand-waltz", "Bandstand waltz", "orchestra", Grid(128.0, 8, 3),
        (("strings alone", 4), ("full orchestra", 4)), HALL, _bandstand_waltz,
    ),
)  # fmt: skip
