"""Loops with electric guitars: a driven band whose guitar is damped, then open, and others."""

from __future__ import annotations

from typing import Final

from exercises.studio import drums
from exercises.studio.amplifier import bass_amplifier, driven
from exercises.studio.arrangement import Arrangement
from exercises.studio.bowed import HARMONICA
from exercises.studio.desk import Part, squeezed, tamed
from exercises.studio.filters import highpass
from exercises.studio.keys import organ, piano
from exercises.studio.kit import Piece, drummed
from exercises.studio.phrases import blown, held, plucked, sing, strummed
from exercises.studio.playing import Grid, Player
from exercises.studio.ring import filtered
from exercises.studio.room import CLUB
from exercises.studio.strings import BASS_GUITAR, ELECTRIC, MUTED, String
from exercises.studio.voice import Voice

ROCK_KIT: Final = {
    "kick": Piece(lambda v, h: drums.kick(v, h, 54.0, 0.32, 0.7), 0.0, -1.0),
    "snare": Piece(lambda v, h: drums.snare(v, h, 190.0, 0.9), 0.05, 1.0),
    "hat": Piece(drums.hat, 0.35, -18.0),
    "open hat": Piece(lambda v, h: drums.hat(v, h, 0.7), 0.35, -18.0),
    "ride": Piece(drums.ride, -0.4, -17.0),
    "crash": Piece(drums.crash, -0.3, -12.0),
    "low tom": Piece(lambda v, h: drums.tom(v, h, 82.0), -0.35, -2.0),
    "high tom": Piece(lambda v, h: drums.tom(v, h, 128.0), 0.25, -2.0),
}

BOOGIE: Final = String(1.2, 0.2, 0.18, 1200.0, 0.2, 0.04)


def _ferry_crossing(grid: Grid) -> list[Part]:
    """Two bars of damped strokes on F#, two of open chords; the band lifts with the guitar."""
    kit = drummed(
        Player(grid, 101, 5.0, 2.0),
        ROCK_KIT,
        {
            "kick": "o...x...x.x.x... x...x..xx...x.x. x.....x.x..x.... x.....x.x...x.x.",
            "snare": "....X.......X... ....X.......X..- ....X..-....X... ....X.......Xoxx",
            "hat": "o.o.x.o.x.o.x.o. x.o.x.o.x.o.x.o. ................ ................",
            "open hat": "................ ..............x. ..x.x.x.x.x.x.x. x.x.x.x.x.x.....",
            "crash": "................ ................ X............... ........x.......",
            "low tom": "................ ................ ................ ..............xx",
        },
    )
    guitarist = Player(grid, 102, 5.0)
    strings = grid.ring()
    damped = "F#2+C#3+F#3:.5! F#2+C#3 F#2+C#3 F#2+C#3+F#3! F#2+C#3 F#2+C#3 A2+E3+A3! A2+E3 "
    damped += "F#2+C#3+F#3! F#2+C#3 F#2+C#3 F#2+C#3+F#3! F#2+C#3 E2+B2 E2+B2 E2+B2+E3!"
    strummed(guitarist, strings, damped, MUTED, 0.0)
    ringing = "D3+A3+D4+F#4:2! A2+E3+A3+C#4+E4:1.5! A2+E3+A3+C#4+E4:.5 "
    ringing += "E2+B2+E3+G#3+B3+E4:2! F#2+C#3+F#3+A3+C#4+F#4:1.5! F#2+C#3+F#3+A3:.5"
    strummed(guitarist, strings, ringing, ELECTRIC, 8.0)
    guitar = driven(strings, 22.0, -4.0, 1.0)

    low = grid.ring()
    plucked(
        Player(grid, 103, 5.0, 3.0),
        low,
        "F#1:.5! F#1 F#1 F#1! F#1 F#1 A1! A1 F#1! F#1 F#1 F#1! F#1 E1 E1 E1! "
        "D2:.75! D2:.25 D2:.5 D2 A1:.75! A1:.25 A1:.5 A1 E1:.75! E1:.25 E1:.5 E1 F#1! F#1 A1 C#2",
        BASS_GUITAR,
    )
    bass = tamed(squeezed(bass_amplifier(low, 1.6, 0.35), 4.0), 10.0)

    chords = grid.ring()
    held(Player(grid, 104, 7.0), chords, "F#3+C#4:8 D4+F#4:2 C#4+E4 B3+E4 C#4+F#4", organ)

    lead = grid.ring()
    singer = Player(grid, 105, 8.0, 10.0)
    tenor = Voice("tenor", 0.3, 0.05, bright_db=-3.0)
    sing(singer, lead, "sou teik as ma wo ta", "C#4:.5 C#4 E4:.75! C#4:.25 B3:.5 A3:1", tenor, 3.0)
    sing(singer, lead, "sou wi sei la wei", "F#4:1! E4:.5 E4 C#4:1 E4:1.25", tenor, 8.0)
    sing(singer, lead, "ou va da taid", "B3:.5 E4:1! C#4:.5 F#4:1.75", tenor, 12.5)
    lead = tamed(squeezed(filtered(lead, highpass(110.0)), 3.0), 12.0)
    return [
        Part("drums", tamed(kit, 15.5), -5.0, room_db=-11.0),
        Part("bass", bass, -9.0, room_db=-30.0, mono=True),
        Part("guitar", tamed(guitar, 12.0), -6.0, -0.35, -17.0),
        Part("keys", filtered(chords, highpass(120.0)), -15.0, 0.45, -14.0),
        Part("voice", lead, -6.5, room_db=-13.0, mono=True),
    ]


def _oyster_shuffle(grid: Grid) -> list[Part]:
    """A blues in A: two bars of boogie on the guitar, two where it takes the lead."""
    kit = drummed(
        Player(grid, 111, 6.0, 4.0, swing=0.33),
        ROCK_KIT,
        {
            "kick": "X..xx..x X..xx..x X..xx..x X..xx.xx",
            "snare": "..X...X. ..X...Xo ..X...X. ..X...Xx",
            "ride": "xoxoxoxo xoxoxoxo ........ ........",
            "hat": "........ ........ xoxoxoxo xoxoxo..",
            "crash": "........ ........ x....... ........",
        },
        2,
    )
    strings = grid.ring()
    guitarist = Player(grid, 112, 6.0, 3.0, swing=0.33)
    for beat, root, fifth, sixth, seventh in ((0.0, "A2", "E3", "F#3", "G3"),
                                              (4.0, "D3", "A3", "B3", "C4")):  # fmt: skip
        boogie = f"{root}+{fifth}:.5! {root}+{fifth} {root}+{sixth}! {root}+{sixth} "
        boogie += f"{root}+{seventh}! {root}+{seventh} {root}+{sixth}! {root}+{sixth}"
        strummed(guitarist, strings, boogie, BOOGIE, beat)
    plucked(
        guitarist,
        strings,
        "E4:.5! G4 A4:1! C5:.5 A4 G4 A4 | G4:.5! E4 D4 C4 A3:1! C4:.5 C#4",
        ELECTRIC,
        8.0,
    )
    low = grid.ring()
    plucked(
        Player(grid, 113, 5.0, 3.0, swing=0.33),
        low,
        "A1! C#2 E2 F#2 | D2! F#2 A2 B2 | E2! G#2 B2 G#2 | A1:1! C#2 E2 E1",
        BASS_GUITAR,
    )
    bass = tamed(squeezed(bass_amplifier(low, 1.2, 0.3), 3.0), 11.0)
    keyboard = grid.ring()
    held(Player(grid, 114, 9.0, 3.0, swing=0.33), keyboard,
         "-:.5 C#4+E4+G4:.5! -:.5 C#4+E4+G4 -:.5 C#4+E4+F#4! -:.5 C#4+E4+F#4 "
         "-:.5 C4+F#4+A4:.5! -:.5 C4+F#4+A4 -:.5 B3+F#4+A4! -:.5 B3+F#4+A4 "
         "-:.5 D4+G#4+B4:.5! -:.5 D4+G#4+B4 -:.5 D4+G#4+B4! -:.5 D4+G#4+B4 "
         "C#5+E5:.5! C#5+E5 C#5+E5 C#4+E4+G4 D4+E4+G#4:1! D4+G#4:1", piano)  # fmt: skip
    harp = grid.ring()
    blown(Player(grid, 115, 12.0, 10.0, swing=0.33), harp,
          "-:.5 E5:.5! G5:1.5 E5:.5 C5:.5 A4:.5 | -:.5 A4:.5! C5:1 D5:1.5! -:.5 | -:7 A4:1",
          HARMONICA)  # fmt: skip
    return [
        Part("drums", tamed(kit, 15.5), -5.0, room_db=-12.0),
        Part("bass", bass, -7.5, room_db=-30.0, mono=True),
        Part("guitar", tamed(driven(strings, 9.0, -2.0, 1.0), 12.0), -6.0, -0.2, -15.0),
        Part("piano", tamed(keyboard, 14.0), -11.0, 0.4, -16.0),
        Part("harmonica", filtered(harp, highpass(250.0)), -10.0, 0.15, -12.0, True),
    ]


def _slipway(grid: Grid) -> list[Part]:
    """Fast and hard on E: four bars of damped gallop, four of open chords, two guitars wide."""
    kit = drummed(
        Player(grid, 121, 4.0),
        ROCK_KIT,
        {
            "kick": "X.xxX.xxX.xxX.xx" * 4 + "X...x.x.X...x.x." * 4,
            "snare": "....X.......X..." * 3
            + "....X.....X.X.xx"
            + "....X.......X..." * 3
            + "....X...XoxxXxxx",
            "hat": "x.o.x.o.x.o.x.o." * 4 + "................" * 4,
            "crash": "................" * 4 + "X.......x......." * 4,
            "low tom": "................" * 7 + "........xxxx....",
        },
    )
    gallop = "E2+B2:.5! E2+B2:.25 E2+B2 E2+B2:.5! E2+B2:.25 E2+B2 E2+B2:.5! E2+B2:.25 E2+B2 "
    turns = ("G2+D3:.5! G2+D3:.25 G2+D3", "F#2+C#3:.5! F#2+C#3:.25 F#2+C#3",
             "G2+D3:.5! G2+D3:.25 G2+D3", "A2+E3:.5! Bb2+F3:.5!")  # fmt: skip
    ringing = ("E2+B2+E3+G3+B3+E4:3! E2+B2+E3:1", "C3+G3+C4+E4+G4:3! C3+G3+C4:1",
               "G2+D3+G3+B3+D4:3! G2+D3+G3:1", "D3+A3+D4+F#4:2! D3+A3+D4:1 D3+A3+D4:1")  # fmt: skip
    sides = grid.ring(2)
    for seed, left in ((122, 0.92), (123, 0.08)):
        take = grid.ring()
        guitarist = Player(grid, seed, 6.0)
        for bar in range(4):
            strummed(guitarist, take, gallop + turns[bar], MUTED, 4.0 * bar)
            strummed(guitarist, take, ringing[bar], ELECTRIC, 16.0 + 4.0 * bar)
        sides += driven(take, 26.0, -5.0, 0.0)[:, None] * [left**0.5, (1.0 - left) ** 0.5]
    low = grid.ring()
    bassist = Player(grid, 124, 4.0, 2.0)
    for bar, turn in enumerate(("G1", "F#1", "G1", "A1")):
        plucked(
            bassist, low, "E1:.5! E1 E1! E1 E1! E1 " + f"{turn}:.5! {turn}", BASS_GUITAR, 4.0 * bar
        )
    for bar, root in enumerate(("E1", "C2", "G1", "D2")):
        plucked(bassist, low, f"{root}:.5! " + f"{root} " * 7, BASS_GUITAR, 16.0 + 4.0 * bar)
    bass = tamed(squeezed(bass_amplifier(low, 2.5, 0.45), 4.0), 10.0)
    lead = grid.ring()
    singer = Player(grid, 125, 8.0, 6.0)
    shout = Voice("tenor", 0.15, 0.1, 0.04, -2.0)
    sing(singer, lead, "hei", "E4:2!", shout, 14.0)
    sing(singer, lead, "poul ha daun", "G4:1! G4:.5 E4:2", shout, 16.0)
    sing(singer, lead, "poul ha daun", "G4:1! A4:.5 G4:2", shout, 20.0)
    sing(
        singer,
        lead,
        "let da wo ta hould ha nau",
        "B4:1! A4:.5 G4:.5 A4:.5 G4 E4:1 D4:2",
        shout,
        24.0,
    )
    return [
        Part("drums", tamed(kit, 14.0), -5.5, room_db=-13.0),
        Part("bass", bass, -8.5, room_db=-34.0, mono=True),
        Part("guitar", tamed(sides, 12.0), -4.5, room_db=-20.0),
        Part("voice", tamed(squeezed(filtered(lead, highpass(120.0)), 4.0), 11.0), -8.0,
             room_db=-13.0, mono=True),
    ]  # fmt: skip


ELECTRIC_BANDS: Final = (
    Arrangement(
        "ferry-crossing", "Ferry crossing", "driven guitar band", Grid(96.0, 4),
        (("damped strokes", 2), ("open chords", 2)), CLUB, _ferry_crossing,
    ),
    Arrangement(
        "oyster-shuffle", "Oyster shuffle", "blues", Grid(112.5, 4),
        (("boogie", 2), ("guitar lead", 2)), CLUB, _oyster_shuffle,
    ),
    Arrangement(
        "slipway", "Slipway", "hard rock", Grid(160.0, 8),
        (("damped gallop", 4), ("open chords", 4)), CLUB, _slipway,
    ),
)  # fmt: skip
