"""Acoustic groups: guitars with wooden bodies, an upright bass, a fiddle, hands and shakers."""

from __future__ import annotations

from typing import Final

from exercises.samples import Floats
from exercises.studio import drums
from exercises.studio.arrangement import Arrangement
from exercises.studio.bowed import FIDDLE, TRUMPET
from exercises.studio.desk import Part, squeezed, tamed
from exercises.studio.filters import high_shelf, highpass, lowpass, peak
from exercises.studio.keys import piano
from exercises.studio.kit import Piece, drummed
from exercises.studio.phrases import blown, held, plucked, strummed
from exercises.studio.playing import Grid, Player
from exercises.studio.ring import filtered
from exercises.studio.room import CLUB, STUDIO
from exercises.studio.strings import STEEL, UPRIGHT_BASS


def wooden_guitar(strings: Floats) -> Floats:
    """Strings through a guitar's body: air at 100 Hz, top plate near 200 and 400 Hz.

    Fletcher & Rossing, "The Physics of Musical Instruments", ch. 9.
    """
    return filtered(
        strings, highpass(80.0), peak(102.0, 5.0, 3.0), peak(204.0, 5.0, 2.5),
        peak(410.0, 3.0, 2.0), peak(900.0, -2.0, 1.0), peak(3200.0, 2.0, 1.0),
        high_shelf(7000.0, -4.0),
    )  # fmt: skip


def upright_bass(strings: Floats) -> Floats:
    """Strings through a double bass: air at 60 Hz, plates near 100 and 160 Hz, little above."""
    return filtered(
        strings, highpass(36.0), peak(62.0, 4.0, 2.0), peak(105.0, 4.0, 2.0), peak(700.0, 3.0, 1.0),
        lowpass(4500.0),
    )  # fmt: skip


HAND_KIT: Final = {
    "shaker": Piece(drums.shaker, 0.3, -12.0),
    "low": Piece(lambda v, h: drums.conga(v, h, 88.0), 0.0, 0.0),
    "slap": Piece(lambda v, h: drums.conga(v, h, 240.0, 1.0), 0.1, -4.0),
}
JAZZ_KIT: Final = {
    "kick": Piece(lambda v, h: drums.kick(v, h, 68.0, 0.3, 0.2), 0.0, 2.0),
    "snare": Piece(lambda v, h: drums.snare(v, h, 200.0, 0.6), 0.1, -3.0),
    "brush": Piece(drums.brush, 0.1, -8.0),
    "ride": Piece(drums.ride, -0.35, -10.0),
    "pedal": Piece(lambda v, h: drums.hat(v, h, 0.1), 0.4, -17.0),
}


def _mended_nets(grid: Grid) -> list[Part]:
    """Picked guitar and fiddle tune, then strummed with the box drum stronger."""
    guitarist = Player(grid, 301, 7.0)
    strings = grid.ring()
    for start, chord in ((0.0, "G2 D3 G3 B3 D4"), (4.0, "E2 B2 G3 B3 E4"),
                         (8.0, "C3 E3 G3 C4 E4"), (12.0, "D3 A3 D4 F#4 A3")):  # fmt: skip
        a, b, c, d, e = chord.split()
        picked = f"{a}:.5! {c} {d} {b} {e} {c} {b} {d}"
        plucked(guitarist, strings, picked, STEEL, start)
    for start, chord in ((16.0, "G2+B2+D3+G3+B3+G4"), (20.0, "E2+B2+E3+G3+B3+E4"),
                         (24.0, "C3+E3+G3+C4+E4"), (28.0, "D3+A3+D4+F#4")):  # fmt: skip
        down, up = chord, "+".join(chord.split("+")[-3:])
        strum = f"{down}:1! {down}:.5 {up}:.5 {up}:.5! {up}:.5 {down}:.5 {up}:.5"
        strummed(guitarist, strings, strum, STEEL, start)
    low = grid.ring()
    plucked(
        Player(grid, 302, 8.0, 4.0),
        low,
        "G1:2! D2:1 G1:1 | E1:2! B1:1 E2:1 | C2:2! G1:1 C2:1 | D2:2! A1:1 F#1:1 "
        "G1:1! B1 D2 G1 | E1! G1 B1 E2 | C2! E2 G1 C2 | D2! C2 A1 F#1",
        UPRIGHT_BASS,
    )
    tune = grid.ring()
    blown(
        Player(grid, 303, 10.0, 5.0),
        tune,
        "B4:1.5! A4:.5 G4:1 D4:1 | E4:.5 G4:.5 B4:2 A4:.5 G4:.5 | E5:1.5! D5:.5 C5:1 G4:1 "
        "A4:.5 B4:.5 A4:1 F#4:1 D4:1 | B4:.5! D5 G5 D5 B4 A4 G4 B4 | E5:1! B4:.5 G4 E4:1 G4:1 "
        "C5:.5! E5 D5 C5 G4:1 E4:1 | F#4:.5! A4 D5 A4 G4:.5 F#4:.5 A4:1",
        FIDDLE,
        length=0.98,
    )
    hands = drummed(
        Player(grid, 304, 7.0, swing=0.08, swing_unit=0.25),
        HAND_KIT,
        {
            "shaker": "o-x-o-x-o-x-o-x-" * 8,
            "low": "................" * 4 + "x.....x.x......." * 4,
            "slap": "................" * 4 + "....x......-x..-" * 4,
        },
    )
    return [
        Part("guitar", tamed(wooden_guitar(strings), 14.0), -6.0, -0.3, -16.0),
        Part("bass", tamed(squeezed(upright_bass(low), 3.0), 11.0), -8.0, 0.0, -22.0, True),
        Part("fiddle", filtered(tune, highpass(180.0), peak(600.0, -3.0, 0.7)), -7.0, 0.3, -12.0),
        Part("percussion", tamed(hands, 16.0).sum(axis=1), -14.0, 0.0, -11.0, True),
    ]


def _last_bus(grid: Grid) -> list[Part]:
    """A jazz quartet: four bars of theme on brushes, four of piano with sticks on the ride."""
    kit = drummed(
        Player(grid, 311, 6.0, 3.0, swing=0.3),
        JAZZ_KIT,
        {
            "kick": "-...-...-...-..." + "-.......-..-....",
            "brush": "o.x.o.x.o.x.o.xo" * 2 + "................" * 2,
            "snare": "................" * 2 + "...-..o......-.o..-...-....o..xo",
            "ride": "................" * 2 + "x.xox.xox.xox.xo" * 2,
            "pedal": "..x...x...x...x." * 4,
        },
        2,
    )
    low = grid.ring()
    plucked(
        Player(grid, 312, 7.0, -4.0),
        low,
        "D2! F2 A2 C3 | G2! F2 D2 B1 | C2! E2 G2 B2 | A2! G2 E2 C#2 "
        "D2! E2 F2 F#2 | G2! D2 B1 G1 | C2! D2 E2 G2 | A2! E2 C#2 E2",
        UPRIGHT_BASS,
    )
    keyboard = grid.ring()
    comping = Player(grid, 313, 9.0, 4.0, swing=0.3)
    held(
        comping,
        keyboard,
        "F3+A3+C4+E4:1.5! F3+A3+C4+E4:.5 -:2 | -:.5 F3+A3+B3+E4:1! -:1 F3+A3+B3+E4:.5 -:1 "
        "E3+G3+B3+D4:1.5! E3+G3+B3+D4:.5 -:2 | -:.5 G3+C#4+F4:1! -:1 G3+Bb3+C#4+E4:1.5",
        piano,
    )
    held(
        comping,
        keyboard,
        "A4:.5! C5 D5 F5 E5:.5 C5 A4 G4 | F4:.5! A4 B4 D5 -:.5 F5 E5 D5 "
        "B4:1! G4:.5 E4 -:.5 D5 E5 G5 | F5:.5! E5 C#5 Bb4 A4:.5 G4 E4:1",
        piano,
        16.0,
    )
    held(comping, keyboard, "F3+C4:3! -:1 F3+B3:3! -:1 E3+B3:3! -:1 G3+C#4:2.5! -:1.5", piano, 16.0)
    tune = grid.ring()
    blown(
        Player(grid, 314, 12.0, 12.0, swing=0.3),
        tune,
        "A4:1.5! C5:.5 D5:1 E5:1 | D5:.5! B4:.5 G4:2.5 -:.5 | E5:1.5! D5:.5 B4:1 G4:1 | A4:3! -:1",
        TRUMPET,
    )
    return [
        Part("drums", tamed(kit, 16.5), -10.0, room_db=-12.0),
        Part("bass", tamed(squeezed(upright_bass(low), 3.0), 12.0), -7.0, 0.0, -22.0, True),
        Part("piano", tamed(filtered(keyboard, highpass(60.0)), 15.0), -5.0, -0.25, -13.0),
        Part("trumpet", tune, -8.0, 0.25, -10.0),
    ]


ACOUSTIC_BANDS: Final = (
    Arrangement(
        "mended-nets", "Mended nets", "acoustic trio", Grid(120.0, 8),
        (("picked", 4), ("strummed", 4)), STUDIO, _mended_nets,
    ),
    Arrangement(
        "last-bus", "Last bus", "jazz", Grid(150.0, 8),
        (("theme on brushes", 4), ("piano and ride", 4)), CLUB, _last_bus,
    ),
)  # fmt: skip
