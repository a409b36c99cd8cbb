"""Loops with electric guitars: a driven band whose guitar is damped, then open, and others."""

from __future__ import annotations

from typing import Final

from exercises.studio import drums
from exercises.studio.amplifier import bass_amplifier, driven
from exercises.studio.arrangement import Arrangement
from exercises.studio.desk import Part, squeezed, tamed
from exercises.studio.filters import highpass
from exercises.studio.keys import organ
from exercises.studio.kit import Piece, drummed
from exercises.studio.phrases import held, plucked, sing, strummed
from exercises.studio.playing import Grid, Player
from exercises.studio.ring import filtered
from exercises.studio.room import CLUB
from exercises.studio.strings import BASS_GUITAR, ELECTRIC, MUTED
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


def _ferry_crossing(grid: Grid) -> list[Part]:
    """Two bars of damped strokes on F#, two of open chords; the band lifts with the guitar."""
    kit = drummed(
        Player(grid, 101, 5.0, 2.0),
        ROCK_KIT,
        {
            "kick": "x...x...x.x.x... x...x..xx...x.x. x.....x.x..x.... x.....x.x...x.x.",
            "snare": "....X.......X... ....X.......X..- ....X..-....X... ....X.......Xoxx",
            "hat": "x.o.x.o.x.o.x.o. x.o.x.o.x.o.x.o. ................ ................",
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
    sing(singer, lead, "sou wi sei la wei", "F#4:1! E4:.5 E4 C#4:1 E4:2", tenor, 8.0)
    sing(singer, lead, "ou va da taid", "B3:.5 E4:1! C#4:.5 F#4:1.75", tenor, 12.5)
    lead = tamed(squeezed(filtered(lead, highpass(110.0)), 3.0), 12.0)
    return [
        Part("drums", tamed(kit, 15.5), -5.0, room_db=-11.0),
        Part("bass", bass, -9.0, room_db=-30.0, mono=True),
        Part("guitar", guitar, -6.0, -0.35, -17.0),
        Part("keys", filtered(chords, highpass(120.0)), -15.0, 0.45, -14.0),
        Part("voice", lead, -6.5, room_db=-13.0, mono=True),
    ]


ELECTRIC_BANDS: Final = (
    Arrangement(
        "ferry-crossing", "Ferry crossing", "driven guitar band", Grid(96.0, 4),
        (("damped strokes", 2), ("open chords", 2)), CLUB, _ferry_crossing,
    ),
)  # fmt: skip
