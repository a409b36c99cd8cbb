"""Machines and computers: dance, hip-hop, slow electronics."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.random import RandomState

from exercises.samples import Floats
from exercises.studio import drums
from exercises.studio.arrangement import Arrangement
from exercises.studio.desk import Part, squeezed, tamed
from exercises.studio.filters import highpass, lowpass, peak
from exercises.studio.keys import bell, pad, piano, stab, synth_bass
from exercises.studio.kit import Piece, drummed
from exercises.studio.phrases import held, sing
from exercises.studio.playing import Grid, Player
from exercises.studio.ring import filtered
from exercises.studio.room import PLATE, STUDIO
from exercises.studio.voice import Voice

DANCE_KIT: Final = {
    "kick": Piece(lambda v, h: drums.kick(v, h, 49.0, 0.4, 0.9), 0.0, 2.0),
    "clap": Piece(drums.clap, 0.0, -4.0),
    "hat": Piece(drums.hat, 0.25, -18.0),
    "open hat": Piece(lambda v, h: drums.hat(v, h, 0.45), -0.2, -16.0),
    "shaker": Piece(drums.shaker, -0.4, -18.0),
    "crash": Piece(drums.crash, 0.0, -14.0),
}

HIP_HOP_KIT: Final = {
    "kick": Piece(lambda v, h: drums.kick(v, h, 56.0, 0.3, 0.6), 0.0, 1.0),
    "snare": Piece(lambda v, h: drums.snare(v, h, 215.0, 1.0, 0.16), 0.0, 0.0),
    "hat": Piece(drums.hat, 0.2, -16.0),
    "open hat": Piece(lambda v, h: drums.hat(v, h, 0.4), 0.2, -16.0),
}


def ducked(ring: Floats, grid: Grid, depth: float = 0.7, back_s: float = 0.16) -> Floats:
    """``ring`` pushed down by a kick on every beat, as by a compressor keyed from it."""
    since = (np.arange(grid.frames) / grid.frames * grid.beats % 1.0) * grid.beat_s
    gain = 1.0 - depth * np.exp(-((since / back_s) ** 2))
    return np.asarray(ring * (gain if ring.ndim == 1 else gain[:, None]))


def _night_boat(grid: Grid) -> list[Part]:
    """Four on the floor: four bars held back, four with hats, stabs and everything."""
    kit = drummed(
        Player(grid, 401, 0.5, touch=0.04),
        DANCE_KIT,
        {
            "kick": "X...X...X...X...",
            "clap": "................" * 2 + "....x.......x..." * 6,
            "hat": "x.-.x.-.x.-.x.-." * 4 + "x-o-x-o-x-o-x-o-" * 4,
            "open hat": "................" * 4 + "..x...x...x...x." * 4,
            "shaker": "-ox-" * 32,
            "crash": "................" * 4 + "x..............." + "................" * 3,
        },
    )
    low = grid.ring()
    walk = "-:.5 {0}:.25! {0} -:.5 {0}:.5 -:.25 {0}:.25 {1}:.5 -:.5 {0}:.5"
    roots = ["A1", "A1", "F1", "F1", "C2", "C2", "G1", "G1"]
    lifts = ["C2", "E2", "A1", "C2", "E2", "G2", "B1", "D2"]
    machine = Player(grid, 402, 0.5, touch=0.05)
    for bar, (root, lift) in enumerate(zip(roots, lifts, strict=True)):
        held(machine, low, walk.format(root, lift), _bass, bar * 4.0, 0.9)
    chords = grid.ring()
    voicings = ("A3+C4+E4+G4", "A3+C4+E4+G4", "A3+C4+F4+G4", "A3+C4+E4+F4",
                "G3+C4+E4+B4", "G3+C4+E4+G4", "G3+B3+D4+A4", "G3+B3+D4+F4")  # fmt: skip
    player = Player(grid, 403, 1.5, touch=0.06)
    for bar, chord in enumerate(voicings):
        rhythm = f"-:.75 {chord}:.25! -:.5 {chord}:.5 -:.75 {chord}:.25! -:.5 {chord}:.5"
        if bar >= 4:
            held(player, chords, rhythm, stab, bar * 4.0, 0.8)
        elif bar % 2:
            held(player, chords, f"-:2.75 {chord}:.25! -:.5 {chord}:.5", stab, bar * 4.0, 0.8)
    wash = grid.ring()
    held(Player(grid, 404, 3.0), wash, "A3+C4+E4:8 F3+A3+C4:8 G3+C4+E4:8 G3+B3+D4:8", _pad)
    lead = grid.ring()
    singer = Player(grid, 405, 5.0)
    soprano = Voice("soprano", 0.2, 0.09, 0.03, 8.0)
    sing(singer, lead, "o nait bout", "E5:.5! D5:.5 C5:2", soprano, 6.0)
    sing(singer, lead, "teik mi fa", "E5:.5! D5:.5 C5:.8", soprano, 14.0)
    sing(singer, lead, "sou fa ro wei", "G5:.75! E5:.75 D5:.5 E5:1.5", soprano, 16.0)
    sing(singer, lead, "teik mi sou fa raut", "G5:.5! G5:.25 E5:.75 D5:.5 C5:1.5", soprano, 20.0)
    sing(singer, lead, "shou mi di sta", "B4:.75! D5:.75 E5:.5 D5:1.5", soprano, 24.0)
    return [
        Part("drums", tamed(kit, 13.0), -5.5, room_db=-20.0),
        Part("bass", ducked(low, grid, 0.5), -9.0, room_db=-40.0, mono=True),
        Part("keys", ducked(chords, grid, 0.5), -10.0, 0.25, -9.0),
        Part("pad", ducked(wash, grid), -13.0, -0.3, -10.0),
        Part("voice", tamed(squeezed(filtered(lead, highpass(180.0)), 4.0), 12.0), -7.0,
             room_db=-7.0, mono=True),
    ]  # fmt: skip


def _bass(freq_hz: float, seconds: float, velocity: float, hand: RandomState) -> Floats:
    return synth_bass(freq_hz, seconds, velocity, hand, 1400.0, 0.8)


def _pad(freq_hz: float, seconds: float, velocity: float, hand: RandomState) -> Floats:
    return pad(freq_hz, seconds, velocity, hand, 2200.0)


def _rope_walk(grid: Grid) -> list[Part]:
    """Two bars of beat and piano under a rapper, two with the hook sung and a bell answering."""
    kit = drummed(
        Player(grid, 411, 3.0, 6.0, swing=0.22, swing_unit=0.25),
        HIP_HOP_KIT,
        {
            "kick": "o..x......x..... X..x..x...x....x X..x......x..... X..x..x...xx....",
            "snare": "....X.......X... ....X.......X..- ....X.......X... ....X..-....X-.x",
            "hat": "o.xxx.x.x.xxx.x. x.xxx.x.x.xx-xxx",
            "open hat": "................ ......x.........",
        },
    )
    low = grid.ring()
    held(
        Player(grid, 412, 4.0, 6.0),
        low,
        "D1:1.5! D1:.75 -:.25 F1:1 E1:.5 | Bb1:1.5! Bb1:.75 -:.25 A1:1 A1:.5 "
        "D1:1.5! D1:.75 -:.25 F1:1 E1:.5 | G1:1.5! G1:.75 -:.25 A1:1 C2:.5",
        _sub,
        0.0,
        0.95,
    )
    keyboard = grid.ring()
    held(
        Player(grid, 413, 10.0, 8.0, swing=0.22, swing_unit=0.25),
        keyboard,
        "D3+F3+A3+C4:1.25! A4:.25 C5:.5 A4:.5 F3+A3+C4+E4:1 G4:.5 "
        "Bb2+F3+A3+D4:1.25! F4:.25 A4:.5 F4:.5 A2+E3+G3+C#4:1 E4:.5 "
        "D3+F3+A3+C4:1.25! A4:.25 C5:.5 A4:.5 F3+A3+C4+E4:1 G4:.5 "
        "G2+F3+Bb3+D4:1.25! Bb4:.25 D5:.5 Bb4:.5 A2+E3+G3+C#4:1 A4:.5",
        piano,
    )
    worn = filtered(keyboard, highpass(140.0), lowpass(5200.0), peak(1500.0, 3.0, 0.8))
    bells = grid.ring()
    held(Player(grid, 414, 6.0), bells, "D6:.5! A5 F5:1 C6:.5 A5:1.5 Bb5:.5! A5 G5:1 E5:2", _ting,
         8.0)  # fmt: skip
    lead = grid.ring()
    rapper = Player(grid, 415, 10.0, 12.0)
    tight = Voice("tenor", 0.0, 0.08, 0.04, -1.0, speaking=True)
    sing(
        rapper,
        lead,
        "roup ta roup wi ho lit in da kuil on da kei",
        "E3:.25! D3 E3:.5! D3:.25 F3:.25! D3 E3! D3 E3:.5! D3:.25 C3 E3:.5!",
        tight,
        0.25,
    )
    sing(
        rapper,
        lead,
        "nou ba di slips til da taid tens",
        "E3:.25! F3:.5! E3! D3:.25 C3 E3! D3 C3:.5",
        tight,
        4.25,
    )
    hook = Voice("tenor", 0.3, 0.07, 0.05, -2.0)
    sing(rapper, lead, "wok da lain", "F4:.5! E4:.5 D4:2", hook, 8.0)
    sing(rapper, lead, "hould it tait", "D4:.5! F4:.5 E4:2", hook, 12.0)
    return [
        Part("drums", tamed(kit, 14.0), -5.0, room_db=-20.0),
        Part("bass", low, -8.5, room_db=-50.0, mono=True),
        Part("keys", worn, -9.5, -0.2, -16.0),
        Part("bell", bells, -17.0, 0.4, -10.0),
        Part("voice", tamed(squeezed(filtered(lead, highpass(100.0)), 4.0), 12.5), -5.0,
             room_db=-16.0, mono=True),
    ]  # fmt: skip


def _sub(freq_hz: float, seconds: float, velocity: float, hand: RandomState) -> Floats:
    return synth_bass(freq_hz, seconds, velocity, hand, 350.0, 1.2)


def _ting(freq_hz: float, seconds: float, velocity: float, hand: RandomState) -> Floats:
    return bell(freq_hz / 2.0, 1.8, velocity, hand)


ELECTRONIC_BANDS: Final = (
    Arrangement(
        "night-boat", "Night boat", "dance", Grid(125.0, 8),
        (("held back", 4), ("full", 4)), PLATE, _night_boat,
    ),
    Arrangement(
        "rope-walk", "Rope walk", "hip-hop", Grid(90.0, 4),
        (("rapped", 2), ("hook", 2)), STUDIO, _rope_walk,
    ),
)  # fmt: skip
