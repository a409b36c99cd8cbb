"""The studio's instruments against the physics and the standards that they are made after."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import scipy.signal as ss
import scipy.special
from numpy.random import RandomState

from exercises.demo_loops import assets_folder
from exercises.samples import RATE_HZ, Floats
from exercises.studio import drums
from exercises.studio.__main__ import main
from exercises.studio.amplifier import bass_amplifier, clean, driven
from exercises.studio.desk import loudness_lufs, squeezed, tamed
from exercises.studio.filters import bandpass, high_shelf, highpass, low_shelf, lowpass, peak
from exercises.studio.modes import struck
from exercises.studio.playing import Grid, Player, hits, line, pitch_hz
from exercises.studio.programme import PROGRAMME
from exercises.studio.render import Rendering, furthest_step, rendered, write
from exercises.studio.ring import convolved, filtered, place, shaped, smoothed
from exercises.studio.room import CHAPEL, CLUB, HALL, QUAY, STUDIO, Room, impulse_response
from exercises.studio.strings import String, pluck
from exercises.studio.voice import BASS, SOPRANO, TENOR, Syllable, Voice, sung


def noise(frames: int, seed: int = 3) -> Floats:
    return np.asarray(RandomState(seed).standard_normal(frames))


# The ring: nothing knows where the loop begins.


def test_place_goes_round_as_often_as_it_must() -> None:
    ring = np.zeros(10)
    place(ring, np.arange(1.0, 26.0), -3)
    expected = np.zeros(10)
    np.add.at(expected, (np.arange(25) - 3) % 10, np.arange(1.0, 26.0))
    np.testing.assert_array_equal(ring, expected)


TREATMENTS: dict[str, Callable[[Floats], Floats]] = {
    "filtered": lambda x: filtered(x, peak(200.0, 6.0), highpass(80.0)),
    "smoothed": lambda x: smoothed(x, 0.05),
    "shaped": lambda x: shaped(x, np.tanh),
    "room": lambda x: convolved(x, impulse_response(CLUB)),
    "driven": lambda x: driven(x, 8.0),
    "clean": clean,
    "bass amplifier": bass_amplifier,
    "squeezed": squeezed,
    "tamed": lambda x: tamed(x, 10.0),
}


@pytest.mark.parametrize("name", TREATMENTS)
def test_treatment_of_a_turned_ring_is_the_turned_treatment(name: str) -> None:
    ring = noise(9600) * np.linspace(0.1, 1.0, 9600)
    treat = TREATMENTS[name]
    np.testing.assert_allclose(
        treat(np.roll(ring, 3333)), np.roll(treat(ring), 3333, axis=0), atol=1e-9
    )


SECTIONS = {
    "lowpass": lowpass(900.0, 1.3), "highpass": highpass(120.0), "bandpass": bandpass(1500.0, 2.0),
    "peak": peak(186.0, -6.0, 1.4), "low shelf": low_shelf(200.0, 5.0),
    "high shelf": high_shelf(4000.0, -3.0),
}  # fmt: skip


@pytest.mark.parametrize("name", SECTIONS)
def test_filter_equals_scipy_run_round_the_ring_until_it_settles(name: str) -> None:
    """Reference: scipy.signal.lfilter, third time round."""
    ring, section = noise(4800), SECTIONS[name]
    settled = ss.lfilter(section[:3], section[3:], np.tile(ring, 3))[-4800:]
    np.testing.assert_allclose(filtered(ring, section), settled, atol=1e-6)


@pytest.mark.parametrize(
    ("name", "freq_hz", "gain_db"),
    [("peak", 186.0, -6.0), ("low shelf", 5.0, 5.0), ("high shelf", 23_000.0, -3.0),
     ("bandpass", 1500.0, 0.0), ("highpass", 120.0, -3.01), ("lowpass", 900.0, 2.28)],
)  # fmt: skip
def test_filter_has_the_gain_that_the_cookbook_gives_it(
    name: str, freq_hz: float, gain_db: float
) -> None:
    """Audio EQ Cookbook: gain at f0, shelves' ends, 20 log10 Q of a low-pass at f0."""
    section = SECTIONS[name]
    _, response = ss.freqz(section[:3], section[3:], [freq_hz], fs=RATE_HZ)
    assert 20.0 * np.log10(abs(response[0])) == pytest.approx(gain_db, abs=0.02)


def test_shaper_makes_the_harmonics_of_a_cube_and_no_alias() -> None:
    """cos^3 = (3 cos + cos 3)/4; of 9 kHz the third lies at 27 kHz, and would fold to 21 kHz."""
    turn = 2.0 * np.pi * np.arange(4800) / 4800
    cubed = shaped(np.cos(100 * turn), lambda x: x**3)
    np.testing.assert_allclose(
        cubed, 0.75 * np.cos(100 * turn) + 0.25 * np.cos(300 * turn), atol=1e-9
    )
    np.testing.assert_allclose(
        shaped(np.cos(900 * turn), lambda x: x**3), 0.75 * np.cos(900 * turn), atol=1e-9
    )


# Strings, membranes, voices, rooms.


def test_struck_is_the_sum_of_its_modes() -> None:
    t = np.arange(int(0.31 * RATE_HZ)) / RATE_HZ
    expected = sum(
        g * 10.0 ** (-3.0 * t / d) * np.sin(2.0 * np.pi * f * t + 0.3)
        for f, d, g in ((110.0, 0.5, 1.0), (4321.0, 0.1, -0.4))
    )
    heard = struck(
        np.array([110.0, 4321.0, 30_000.0]), np.array([0.5, 0.1, 1.0]), np.array([1.0, -0.4, 1.0]),
        0.31, 0.3,
    )  # fmt: skip
    np.testing.assert_allclose(heard, expected, atol=1e-9)


def test_membrane_has_the_modes_of_an_ideal_circular_one() -> None:
    """Zeros of the Bessel functions J0 to J4 (scipy.special), as ratios to the first."""
    zeros = sorted(zero for order in range(5) for zero in scipy.special.jn_zeros(order, 2))
    np.testing.assert_allclose(drums.MEMBRANE, np.array(zeros[:6]) / zeros[0], atol=1e-3)


def harmonic_levels_db(note: Floats, freq_hz: float, count: int) -> Floats:
    """Levels of the first harmonics, from the part between 0.1 and 0.6 s."""
    part = note[4800:28_800] * np.hanning(24_000)
    spectrum = np.abs(np.fft.rfft(part, 1 << 18))
    bin_hz = RATE_HZ / (1 << 18)
    spans = [
        spectrum[int((k - 0.2) * freq_hz / bin_hz) : int((k + 0.2) * freq_hz / bin_hz)]
        for k in range(1, count + 1)
    ]
    return 20.0 * np.log10([span.max() for span in spans])


PLAIN = String(4.0, 2.0, 0.13, 5000.0, 0.0)


@pytest.mark.parametrize("pitch", ["E1", "E2", "A3", "E4", "B5"])
def test_string_sounds_at_its_pitch(pitch: str) -> None:
    """Within 3 cents, below the 5 cents that listeners notice (common figure, no source)."""
    freq = pitch_hz(pitch)
    note = pluck(freq, 1.2, PLAIN, 0.8, RandomState(1))
    spectrum = np.abs(np.fft.rfft(note[2400:50_400] * np.hanning(48_000), 1 << 20))
    low, high = (int(f * freq / RATE_HZ * (1 << 20)) for f in (0.95, 1.05))
    heard = (low + np.argmax(spectrum[low:high])) * RATE_HZ / (1 << 20)
    assert abs(1200.0 * np.log2(heard / freq)) < 3.0


def test_string_dies_away_in_the_time_given() -> None:
    """The slower of its two planes rules once the faster is gone; T60 from a line through 1-3 s."""
    note = pluck(220.0, 3.5, String(4.0, 0.3, 0.13, 2000.0, 0.0), 0.8, RandomState(1))
    band = ss.sosfiltfilt(ss.butter(2, [200.0, 240.0], "bandpass", fs=RATE_HZ, output="sos"), note)
    level = 20.0 * np.log10(np.abs(ss.hilbert(band)))[RATE_HZ : 3 * RATE_HZ : 480]
    slope = np.polyfit(np.arange(len(level)) / 100.0, level, 1)[0]
    assert -60.0 / slope == pytest.approx(4.0, rel=0.15)


def test_pick_position_weighs_harmonics_as_an_ideal_string_does() -> None:
    """Harmonic n of a string picked at a share p of its length goes with |sin(n pi p)|.

    N. Fletcher & T. Rossing, "The Physics of Musical Instruments", sec. 2.7.
    """
    freq, seed = 82.4069, 7
    spread = 1.0 + 0.15 * RandomState(seed).uniform(-1.0, 1.0)
    places = (0.1, 0.23)
    levels = [
        harmonic_levels_db(
            pluck(freq, 1.0, String(6.0, 6.0, at, 5000.0, 0.0), 0.8, RandomState(seed)), freq, 12
        )
        for at in places
    ]
    numbers = np.arange(1, 13)
    ideal = [20.0 * np.log10(np.abs(np.sin(np.pi * numbers * at * spread))) for at in places]
    heard, expected = levels[0] - levels[1], ideal[0] - ideal[1]
    clear = np.minimum(*ideal) > -10.0
    assert clear.sum() >= 6
    offset = np.median((heard - expected)[clear])
    assert np.abs(heard - expected - offset)[clear].max() < 1.5


@pytest.mark.parametrize(
    ("table", "voice", "pitch"),
    [(TENOR, "tenor", 110.0), (BASS, "bass", 82.4), (SOPRANO, "soprano", 220.0)],
)
@pytest.mark.parametrize("vowel", "aeiou")
def test_vowel_has_its_first_formant(
    table: dict[str, tuple[tuple[float, ...], ...]], voice: str, pitch: float, vowel: str
) -> None:
    """The strongest harmonic lies within one harmonic of the first formant."""
    note = sung([Syllable(vowel, 0.0, 1.0, pitch)], Voice(voice, 0.0, 0.0), RandomState(4))
    levels = harmonic_levels_db(note, pitch, 8)
    strongest = (1 + int(np.argmax(levels))) * pitch
    assert abs(strongest - max(table[vowel][0][0], pitch)) <= pitch


def test_sibilant_lies_between_5_and_10_khz() -> None:
    """An /s/ is strong from 5 to 10 kHz: the trade's region of sibilance (from memory)."""
    word = [Syllable("sa", 0.3, 0.4, 110.0)]
    said = sung(word, Voice(consonants=1.0, breath=0.0), RandomState(5))
    hiss = said[int(0.22 * RATE_HZ) : int(0.29 * RATE_HZ)]
    freqs, power = ss.welch(hiss, RATE_HZ, nperseg=1024)
    assert power[(freqs > 5000.0) & (freqs < 10_000.0)].sum() > 0.6 * power.sum()


@pytest.mark.parametrize("room", [CLUB, HALL, CHAPEL, STUDIO, QUAY])
def test_room_has_its_reverberation_time(room: Room) -> None:
    """Backward integration (M. Schroeder, JASA 37, 1965), octave at 1 kHz, -5 to -25 dB."""
    left = impulse_response(room)[:, 0]
    band = ss.sosfilt(ss.butter(3, [707.0, 1414.0], "bandpass", fs=RATE_HZ, output="sos"), left)
    decay = 10.0 * np.log10(np.cumsum(band[::-1] ** 2)[::-1] / (band**2).sum() + 1e-12)
    span = np.flatnonzero((decay < -5.0) & (decay > -25.0))
    slope = np.polyfit(span / RATE_HZ, decay[span], 1)[0]
    assert -60.0 / slope == pytest.approx(room.decay_s, rel=0.25)


def test_amplifier_squeezes_a_plucked_chord() -> None:
    """Overdrive compresses (common practice, no source): crest factor falls by 3 dB or more."""
    ring = np.zeros(2 * RATE_HZ)
    for freq in (82.4, 123.5, 164.8):
        place(ring, pluck(freq, 1.5, PLAIN, 0.8, RandomState(2)), 0)

    def crest_db(x: Floats) -> float:
        return float(20.0 * np.log10(np.abs(x).max() / np.sqrt((x**2).mean())))

    assert crest_db(driven(ring, 20.0)) < crest_db(ring) - 3.0


# The desk and the players.


def test_loudness_agrees_with_pyloudnorm_on_steady_noise() -> None:
    """pyloudnorm 0.2 with its De Man filters; steady, so that gating does nothing."""
    sides = 0.1 * np.column_stack([noise(10 * RATE_HZ, 1), noise(10 * RATE_HZ, 2)])
    meter = pyloudnorm.Meter(RATE_HZ, filter_class="DeMan")
    assert loudness_lufs(sides) == pytest.approx(meter.integrated_loudness(sides), abs=0.05)


@pytest.mark.parametrize(
    ("name", "freq_hz"),
    [("A4", 440.0), ("C4", 261.626), ("E2", 82.407), ("Bb3", 233.082), ("F#2", 92.499),
     ("C8", 4186.009), ("A0", 27.5)],
)  # fmt: skip
def test_pitch_is_equal_temperament_on_a_440(name: str, freq_hz: float) -> None:
    """ISO 16 (A4 = 440 Hz); the usual table of piano keys."""
    assert pitch_hz(name) == pytest.approx(freq_hz, abs=0.001)


def test_pattern_and_line_are_read_as_written() -> None:
    assert hits("X.o. | ..-x", 4) == [(0.0, 1.0), (0.5, 0.55), (1.5, 0.3), (1.75, 0.78)]
    notes = list(line("A4:.5! -:1 C4+E4:2 G4", 4.0))
    assert [(n.beat, n.beats, len(n.freqs_hz)) for n in notes] == [
        (4.0, 0.5, 1), (5.5, 2.0, 2), (7.5, 2.0, 1),
    ]  # fmt: skip
    assert notes[0].velocity > notes[1].velocity


def test_swing_of_a_third_puts_the_offbeat_on_the_last_triplet() -> None:
    player = Player(Grid(60.0, 1), 1, stray_ms=0.0, swing=1.0 / 3.0)
    frames = [player.frame(beat) for beat in (0.0, 0.5, 1.0, 1.5)]
    np.testing.assert_allclose(np.array(frames) / RATE_HZ, [0.0, 2 / 3, 1.0, 5 / 3], atol=1e-4)


def test_a_player_strays_as_far_as_said() -> None:
    player = Player(Grid(60.0, 1), 1, stray_ms=6.0)
    late_ms = np.array([player.frame(0.0) for _ in range(500)]) / RATE_HZ * 1000.0
    assert late_ms.std() == pytest.approx(6.0, rel=0.15)
    assert np.abs(late_ms).max() <= 12.1


# Rendering: what is in assets is what the studio makes.


@pytest.mark.parametrize("name", ["rope-walk", "ferry-crossing"])
def test_a_loop_renders_again_to_within_one_step(name: str) -> None:
    """Floating point may round otherwise on another machine; nothing here feeds back on it."""
    assert furthest_step(rendered(PROGRAMME[name]), assets_folder() / "loops" / name) <= 1


def test_a_changed_track_is_noticed(tmp_path: Path) -> None:
    steps = RandomState(1).randint(-9000, 9000, (4800, 2)).astype(np.int16)
    kept = Rendering("format = 1\n", (("low voices", steps), ("drums", steps[:, 0].copy())))
    write(kept, tmp_path / "loop")
    assert furthest_step(kept, tmp_path / "loop") == 0
    kept.tracks[1][1][100] += 3
    assert furthest_step(kept, tmp_path / "loop") == 3
    with pytest.raises(ValueError, match=r"loop\.toml differs"):
        furthest_step(Rendering("format = 2\n", kept.tracks), tmp_path / "loop")
    with pytest.raises(ValueError, match=r"low voices is \(4800, 2\), rendered \(4800,\)"):
        furthest_step(Rendering("format = 1\n", (("low voices", steps[:, 0]),)), tmp_path / "loop")


def test_an_unknown_loop_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["sea-shanty"])
    assert "no loop sea-shanty; there are" in capsys.readouterr().err
