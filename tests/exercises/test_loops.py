"""Loop folders: what is read, and a clear line for whatever does not hold together."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile

from exercises.errors import BadLoop
from exercises.loops import Loop, Passage, Track, fingerprint, read_loop
from exercises.samples import RATE_HZ, as_samples
from tests.synthetic_loops import noise, small_band

FRAMES = 4_800

DESCRIPTION = """\
format = 1
title = "Ferry crossing"
style = "driven guitar band"
tempo_bpm = 96.5
beats_per_bar = 3
bars = 4

[[track]]
name = "drums"
file = "drums.flac"

[[track]]
name = "bass"
file = "bass.flac"

[[passage]]
name = "damped"
start_frame = 0
stop_frame = 2400

[[passage]]
name = "open"
start_frame = 2400
stop_frame = 4800
"""


@pytest.fixture
def folder(tmp_path):
    """A sound loop folder, to be damaged."""
    made = tmp_path / "ferry"
    made.mkdir()
    (made / "loop.toml").write_text(DESCRIPTION, encoding="utf-8")
    soundfile.write(made / "drums.flac", noise(FRAMES, 1), RATE_HZ, subtype="PCM_24")
    soundfile.write(made / "bass.flac", noise(FRAMES, 2)[:, 0], RATE_HZ, subtype="PCM_16")
    return made


def test_a_folder_is_read(folder):
    loop = read_loop(folder)
    assert (loop.name, loop.title, loop.style) == ("ferry", "Ferry crossing", "driven guitar band")
    assert (loop.tempo_bpm, loop.beats_per_bar, loop.bars) == (96.5, 3, 4)
    assert [track.name for track in loop.tracks] == ["drums", "bass"]
    assert loop.passages == (Passage("damped", 0, 2400), Passage("open", 2400, 4800))
    assert (loop.frames, loop.seconds) == (FRAMES, 0.1)
    # 24 and 16 bits: half a step of each.
    assert np.abs(loop.track("drums").samples - noise(FRAMES, 1)).max() < 2**-23
    assert np.abs(loop.track("bass").samples[:, 1] - noise(FRAMES, 2)[:, 0]).max() < 2**-15
    for track in loop.tracks:
        assert track.samples.dtype == np.float32
        assert track.samples.shape == (FRAMES, 2)


def test_without_passages_the_loop_is_one(folder):
    described = DESCRIPTION[: DESCRIPTION.index("[[passage]]")]
    (folder / "loop.toml").write_text(described, encoding="utf-8")
    assert read_loop(folder).passages == (Passage("the loop", 0, FRAMES),)


def test_tempo_and_bars_may_be_unknown(folder):
    described = DESCRIPTION.replace("tempo_bpm = 96.5\n", "").replace("bars = 4\n", "")
    (folder / "loop.toml").write_text(described, encoding="utf-8")
    loop = read_loop(folder)
    assert (loop.tempo_bpm, loop.bars) == (None, None)


DAMAGED = [
    ("format = 1", "format = 2", r"format 2, this version reads 1"),
    ("format = 1", "", r"format None"),
    ("format = 1", "format = ", r"loop\.toml: cannot be read"),
    ('title = "Ferry crossing"', "", r"needs a title and at least one \[\[track\]\]"),
    ('name = "bass"', "", r"each \[\[track\]\] needs a name and a plain file name"),
    ('file = "bass.flac"', 'file = "../bass.flac"', r"plain file name"),
    ('file = "bass.flac"', 'file = "missing.flac"', r"missing\.flac: cannot be read"),
    ('file = "bass.flac"', 'file = ".."', r"cannot be read"),
    ('file = "bass.flac"', 'file = "loop.toml"', r"loop\.toml: cannot be read"),
    ('name = "bass"', 'name = "drums"', r"two tracks share a name"),
    ('name = "open"\n', "", r"an entry is missing or of the wrong type \(KeyError\('name'\)\)"),
    ("stop_frame = 4800", "", r"KeyError\('stop_frame'\)"),
    ("stop_frame = 4800", 'stop_frame = "end"', r"an entry is missing or of the wrong type"),
    ("stop_frame = 4800", "stop_frame = 4700", r"passages end at frame 4700, the audio at 4800"),
    ("start_frame = 2400", "start_frame = 2300", r"passage 'open' leaves a gap or overlaps"),
    ("stop_frame = 2400", "stop_frame = 0", r"passage 'damped' leaves a gap or overlaps"),
    ("tempo_bpm = 96.5", 'tempo_bpm = "slow"', r"an entry is missing or of the wrong type"),
    ("beats_per_bar = 3", "beats_per_bar = inf", r"an entry is missing or of the wrong type"),
    ("bars = 4", "bars = [4]", r"an entry is missing or of the wrong type"),
]


@pytest.mark.parametrize(
    ("good", "bad", "message"), DAMAGED, ids=[bad or f"no {good}" for good, bad, _ in DAMAGED]
)
def test_a_damaged_description_is_refused_in_one_line(folder, good, bad, message):
    assert good in DESCRIPTION
    (folder / "loop.toml").write_text(DESCRIPTION.replace(good, bad, 1), encoding="utf-8")
    with pytest.raises(BadLoop, match=message) as refused:
        read_loop(folder)
    assert "\n" not in str(refused.value)
    assert str(folder) in str(refused.value)


def test_a_track_that_is_a_table_of_nothing_is_refused(folder):
    (folder / "loop.toml").write_text('format = 1\ntitle = "x"\ntrack = "drums"\n')
    with pytest.raises(BadLoop, match="an entry is missing or of the wrong type"):
        read_loop(folder)


def test_a_folder_without_description_is_refused(tmp_path):
    with pytest.raises(BadLoop, match=r"no loop\.toml; a loop folder needs one"):
        read_loop(tmp_path)


def test_a_description_that_is_not_text_is_refused(folder):
    (folder / "loop.toml").write_bytes(b"\xff\xfe\x00format")
    with pytest.raises(BadLoop, match="cannot be read"):
        read_loop(folder)


@pytest.mark.parametrize(
    ("samples", "rate_hz", "subtype", "message"),
    [
        (noise(FRAMES - 1, 3), RATE_HZ, "PCM_16", "its tracks differ in length"),
        (noise(FRAMES, 3), 44_100, "PCM_16", "a track is mono or stereo at 48000 Hz"),
        (np.zeros((FRAMES, 3)), RATE_HZ, "PCM_16", "a track is mono or stereo at 48000 Hz"),
        (np.zeros((0, 2)), RATE_HZ, "PCM_16", "a track is mono or stereo at 48000 Hz"),
        (np.full((FRAMES, 2), np.nan), RATE_HZ, "FLOAT", "samples that are not numbers"),
        (np.full((FRAMES, 2), np.inf), RATE_HZ, "FLOAT", "samples that are not numbers"),
    ],
    ids=["length", "rate", "channels", "no frames", "NaN", "infinite"],
)
def test_audio_that_does_not_fit_is_refused(folder, samples, rate_hz, subtype, message):
    (folder / "bass.flac").unlink()
    (folder / "bass.wav").touch()
    soundfile.write(folder / "bass.wav", samples, rate_hz, subtype=subtype)
    described = DESCRIPTION.replace("bass.flac", "bass.wav")
    (folder / "loop.toml").write_text(described, encoding="utf-8")
    with pytest.raises(BadLoop, match=message):
        read_loop(folder)


def test_the_mix_is_the_sum_of_the_tracks():
    loop = small_band(0.5)
    expected = sum(track.samples.astype(np.float64) for track in loop.tracks)
    mix = loop.mix()
    assert np.abs(mix - expected).max() < 1e-7
    mix[:] = 0.0
    assert np.abs(loop.mix()).max() > 0.1, "a fresh array each time"


def test_an_unknown_track_is_named_with_those_there_are():
    with pytest.raises(BadLoop, match="has no track 'horns'; it has drums, bass, keys"):
        small_band(0.1).track("horns")


def _print_of(samples, name="bass"):
    return fingerprint((Track(name, as_samples(samples)),))


def test_a_fingerprint_tells_sounds_and_names_apart():
    sound = noise(FRAMES, 5)
    louder = sound.copy()
    louder[100, 1] += 2.0**-15
    prints = {
        _print_of(sound),
        _print_of(louder),
        _print_of(sound[::-1]),
        _print_of(sound[:, ::-1]),
        _print_of(sound[:-1]),
        _print_of(sound, "drums"),
    }
    assert len(prints) == 6
    assert all(len(one) == 64 for one in prints)


def test_a_fingerprint_survives_another_depth_and_layout():
    """16-bit steps: as a 16-bit and as a 24-bit FLAC, in either memory order."""
    steps = np.rint(noise(FRAMES, 6) * 32768.0) / 32768.0
    assert _print_of(steps) == _print_of(steps + 2.0**-20)
    assert _print_of(np.asfortranarray(steps)) == _print_of(np.ascontiguousarray(steps))


def test_a_fingerprint_stays_what_it_was():
    """Regression snapshot: recipes keep fingerprints, so what one is made of must not change."""
    ramp = np.arange(-8, 8, dtype=np.float64).reshape(8, 2) / 16.0
    assert _print_of(ramp, "ramp") == (
        "2a1fa5e38da1adb1c6e444be99ac1b803ba93d83fef85d90ea5a76772b1d2b2d"
    )


def test_a_loop_says_how_long_it_is():
    loop = Loop("x", "X", "", (Track("t", noise(24_000, 1)),), (), "print")
    assert (loop.frames, loop.seconds) == (24_000, 0.5)
