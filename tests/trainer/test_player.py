"""The sound card's end, in processes of their own: what SDL's disk driver was really given.

The disk driver takes blocks as a device would and writes them to a file, faster than real time
when asked; so the scripts wait for seconds of sound played, not for the clock.
"""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from exercises.samples import RATE_HZ, Samples
from tests.captured_sound import (
    BETWEEN,
    SILENCE,
    WINDOW_FRAMES,
    Heard,
    capture_environment,
    click_excess,
    largest_bend,
    order_heard,
    read_capture,
    stretches,
    who_sounds,
)
from trainer.playhead import FADE_FRAMES, FIRST_FADE_FRAMES, SWITCH_FRAMES, Playhead

ROOT = Path(__file__).parents[2]
FRAMES = 50_001  # no multiple of a block, nor of a window

OPENING = """
import sys, time
import numpy as np
from trainer.playhead import Playhead
from trainer.player import NoAudioDevice, device_names, open_player

def until(seconds):
    last = time.monotonic() + 30
    while playhead.seconds_played < seconds:
        assert time.monotonic() < last and player.trouble() is None, player.trouble()
        time.sleep(0.001)

def load(file):
    held = np.load(file)
    return {name: held[name] for name in held.files}

playhead = Playhead(-6.0)
"""

A_WHOLE_LISTEN = """
playhead.load(load(sys.argv[1]))
player = open_player(playhead)
playhead.play()
for turn in range(6):
    until(1.5 + turn * 0.5)
    playhead.choose("BA"[turn % 2])
until(4.5)
playhead.choose("fix")
until(10.0)
playhead.stop()
time.sleep(0.3)
print(playhead.heard, playhead.switches, player.device_name, device_names())
player.close()
"""


def band_noise(shape: list[tuple[float, float]]) -> Samples:
    """Noise of 60 Hz to 1.5 kHz that loops, its level in dB by frequency (Hz, dB) as in ``shape``.

    Smooth enough for a click to stand out, and alike enough to make telling them apart a test.
    """
    state = np.random.RandomState(7)
    freqs = np.fft.rfftfreq(FRAMES, 1 / RATE_HZ)
    spectrum = state.normal(size=(2, len(freqs))) + 1j * state.normal(size=(2, len(freqs)))
    gain = 10 ** (np.interp(freqs, *np.array(shape).T) / 20)
    spectrum *= gain * ((freqs > 60) & (freqs < 1500))
    wave = np.fft.irfft(spectrum, n=FRAMES).T
    return np.asfortranarray(wave * 75, dtype=np.float32)


@pytest.fixture(scope="module")
def sources() -> dict[str, Samples]:
    """B is A with 3 dB more at 200 Hz; fix is that with 2 dB taken out again."""
    made = {
        "A": band_noise([(20, 0), (20_000, 0)]),
        "B": band_noise([(120, 0), (200, 3), (320, 0)]),
        "fix": band_noise([(120, 0), (200, 1), (320, 0)]),
    }
    assert 0.2 < max(np.abs(samples).max() for samples in made.values()) < 1.0
    return made


def run_child(
    script: str, environment: dict[str, str], *arguments: str
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", OPENING + script, *arguments],
        cwd=ROOT,
        env=environment | {"PYGAME_HIDE_SUPPORT_PROMPT": "1"},
        capture_output=True,
        text=True,
        timeout=90,
    )


@pytest.fixture(scope="module")
def listen(
    sources: dict[str, Samples], tmp_path_factory: pytest.TempPathFactory
) -> tuple[Samples, str]:
    """The capture of a whole listen, from first start to stop, and what the child said."""
    folder = tmp_path_factory.mktemp("capture")
    np.savez(folder / "sources.npz", **sources)  # type: ignore[arg-type]
    file = folder / "captured.raw"
    done = run_child(A_WHOLE_LISTEN, capture_environment(file), str(folder / "sources.npz"))
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return read_capture(file), done.stdout


@pytest.fixture(scope="module")
def windows(listen: tuple[Samples, str], sources: dict[str, Samples]) -> list[Heard]:
    """What sounded in each window of the listen's capture."""
    return who_sounds(listen[0], sources)


def test_the_sources_sound_in_the_order_chosen(
    listen: tuple[Samples, str], sources: dict[str, Samples]
) -> None:
    assert order_heard(listen[0], sources) == ["A", "B", "A", "B", "A", "B", "A", "fix"]


def test_each_source_sounds_for_as_long_as_it_was_chosen(
    listen: tuple[Samples, str], windows: list[Heard], sources: dict[str, Samples]
) -> None:
    counted = dict.fromkeys(sources, 0.0)
    for one in windows:
        if one.name in counted:
            counted[one.name] += one.seconds
    told = ast.literal_eval(listen[1].split("}")[0] + "}")
    for name, seconds in counted.items():
        # Each switch hides up to the fade and a window at either end.
        assert told[name] == pytest.approx(seconds, abs=7 * (0.02 + 2 * WINDOW_FRAMES / RATE_HZ))
    assert sum(told.values()) == pytest.approx(10.03, abs=0.1)
    assert "} 7 the system's sound output ('" in listen[1]


def test_no_window_plays_anything_but_a_source_except_across_a_switch(
    windows: list[Heard],
) -> None:
    between = [one for one in windows if one.name == BETWEEN]
    # 7 fades of 20 ms touch at most two windows of 21 ms each; the kinks at the two ends of the
    # first fade and at the stop one or two each.
    assert len(between) <= 7 * 2 + 4


def test_time_runs_on_through_every_switch_and_every_seam(windows: list[Heard]) -> None:
    """A, B and fix 0 samples apart, and 0 samples lost where the loop begins again."""
    heard = [one for one in windows if one.place >= 0]
    assert heard[-1].stop - heard[0].start > 9 * FRAMES
    offsets = {(one.place - one.start) % FRAMES for one in heard}
    assert len(offsets) == 1


def test_nothing_clicks(listen: tuple[Samples, str], sources: dict[str, Samples]) -> None:
    # A fade of 20 ms adds at most twice its slope times the largest sample to a bend.
    own = max(largest_bend(samples, wrap=True) for samples in sources.values())
    peak = max(float(np.abs(samples).max()) for samples in sources.values())
    assert click_excess(listen[0], sources, 10 ** (-6 / 20)) <= 1 + 2 * peak / SWITCH_FRAMES / own


def test_the_sound_fades_in_at_the_start_and_out_at_the_stop(
    listen: tuple[Samples, str], sources: dict[str, Samples]
) -> None:
    captured = listen[0]
    begun = int(np.argmax(captured.any(axis=1)))
    ended = len(captured) - int(np.argmax(captured[::-1].any(axis=1)))
    assert ended < len(captured)
    gain = 10 ** (-6 / 20)
    up = np.arange(1, FIRST_FADE_FRAMES + 1)[:, np.newaxis] / FIRST_FADE_FRAMES
    first = np.resize(sources["A"], (FIRST_FADE_FRAMES, 2)) * up * gain
    assert captured[begun : begun + FIRST_FADE_FRAMES] == pytest.approx(first, abs=1e-6)
    down = 1 - np.arange(1, FADE_FRAMES + 1)[:, np.newaxis] / FADE_FRAMES
    stop = ended + 1 - FADE_FRAMES  # the fade's last frame is silent already
    last = sources["fix"][(stop - begun + np.arange(FADE_FRAMES)) % FRAMES] * down * gain
    assert captured[stop : stop + FADE_FRAMES] == pytest.approx(last, abs=1e-6)
    assert 0.5 <= FIRST_FADE_FRAMES / RATE_HZ <= 1.0


def test_nothing_is_louder_than_its_source_at_the_volume(
    listen: tuple[Samples, str], sources: dict[str, Samples]
) -> None:
    peak = max(np.abs(samples).max() for samples in sources.values())
    assert np.abs(listen[0]).max() <= peak * 10 ** (-6 / 20) * (1 + 1e-6)


def test_a_player_opens_again_after_it_was_closed_and_ends_unclosed(
    sources: dict[str, Samples], tmp_path: Path
) -> None:
    np.savez(tmp_path / "sources.npz", A=sources["A"])
    script = """
import pygame
pygame.init()  # opens the mixer in a format of its own
playhead.load(load(sys.argv[1]))
for turn in range(4):
    player = open_player(playhead)
    playhead.play()
    until(playhead.seconds_played + 0.3)
    player.close()
player = open_player(playhead)
playhead.play()
until(playhead.seconds_played + 0.3)
print("played", playhead.seconds_played > 1.5)
"""
    environment = os.environ | {"SDL_AUDIODRIVER": "dummy", "SDL_VIDEODRIVER": "dummy"}
    done = run_child(script, environment, str(tmp_path / "sources.npz"))
    assert (done.returncode, done.stdout, done.stderr) == (0, "played True\n", "")


def test_closing_in_full_sound_ends_in_a_fade(sources: dict[str, Samples], tmp_path: Path) -> None:
    np.savez(tmp_path / "sources.npz", A=sources["A"])
    script = """
playhead.load(load(sys.argv[1]))
player = open_player(playhead)
playhead.play()
until(1.0)
player.close()
"""
    file = tmp_path / "captured.raw"
    done = run_child(script, capture_environment(file), str(tmp_path / "sources.npz"))
    assert (done.returncode, done.stderr) == (0, "")
    captured = read_capture(file)
    begun = int(np.argmax(captured.any(axis=1)))
    ended = len(captured) - int(np.argmax(captured[::-1].any(axis=1)))
    stop = ended + 1 - FADE_FRAMES
    down = 1 - np.arange(1, FADE_FRAMES + 1)[:, np.newaxis] / FADE_FRAMES
    last = sources["A"][(stop - begun + np.arange(FADE_FRAMES)) % FRAMES] * 10 ** (-6 / 20)
    assert captured[stop : stop + FADE_FRAMES] == pytest.approx(last * down, abs=1e-6)


def test_closing_never_hangs_while_python_is_busy(tmp_path: Path) -> None:
    """The reason for the mixer's hook: closing an ``AudioDevice`` here waits for ever."""
    script = """
sys.setswitchinterval(1e-4)
noise = np.random.RandomState(0).uniform(-0.1, 0.1, (48000, 2)).astype(np.float32)
playhead.load({"A": noise})
for turn in range(30):
    player = open_player(playhead)
    playhead.play()
    last = time.monotonic() + 0.02 + turn * 0.001
    while time.monotonic() < last:
        sum(range(1000))
    player.close()
print("closed")
"""
    done = run_child(script, capture_environment(tmp_path / "raw", delay_ms=0))
    assert (done.returncode, done.stdout) == (0, "closed\n"), done.stderr


def test_no_sound_system_is_one_clear_line() -> None:
    script = """
try:
    open_player(playhead)
except NoAudioDevice as error:
    print(error)
print(device_names())
"""
    done = run_child(script, os.environ | {"SDL_AUDIODRIVER": "nonsense"})
    line, names = done.stdout.splitlines()
    assert line.startswith("cannot open a sound output (")
    assert "nonsense" in line
    assert line.endswith("rehearsed without sound, unscored: namefirst drill --silent")
    assert (names, done.stderr, done.returncode) == ("()", "", 0)


def test_an_output_that_is_not_there_is_named() -> None:
    script = """
try:
    open_player(playhead, "Nowhere")
except NoAudioDevice as error:
    print(error)
"""
    done = run_child(script, os.environ | {"SDL_AUDIODRIVER": "dummy"})
    assert done.stdout.startswith("cannot open the sound output 'Nowhere' (")
    assert (len(done.stdout.splitlines()), done.stderr) == (1, "")


def test_trouble_is_told_and_ends_nothing() -> None:
    script = """
import pygame
import trainer.player as module
playhead.load({"A": np.zeros((48000, 2), dtype=np.float32)})
player = open_player(playhead)
playhead.play()
until(0.1)
Event = pygame.event.Event
player.notice(Event(pygame.AUDIODEVICEREMOVED, which=2, iscapture=1))
player.notice(Event(pygame.AUDIODEVICEREMOVED, which=0, iscapture=0))
player.notice(Event(pygame.KEYDOWN, key=1))
print(player.trouble())
player.notice(Event(pygame.AUDIODEVICEREMOVED, which=2, iscapture=0))
print(player.trouble())
player.close()
player = open_player(playhead)
player.close()
module.STALLED_S = 0.05
time.sleep(0.1)
print(player.trouble())
module.STALLED_S = 2.0
player = open_player(playhead)
playhead.play()
playhead._programme.sources.clear()
time.sleep(0.2)
print(player.trouble())
player.close()
"""
    done = run_child(script, os.environ | {"SDL_AUDIODRIVER": "dummy"})
    assert (done.returncode, done.stderr) == (0, "")
    fine, gone, stalled, broken = done.stdout.splitlines()
    assert fine == "None"
    assert gone.startswith("the system's sound output is gone")
    assert stalled.startswith("the system's sound output no longer takes sound")
    assert broken.startswith("sound has stopped by a fault of this program")


# ---- the silent twin, in this process: importing pygame opens nothing ----------------------------


def test_the_silent_player_moves_the_playhead_by_frames() -> None:
    from trainer.player import SilentPlayer

    playhead = Playhead()
    playhead.load({"A": np.zeros((RATE_HZ, 2), dtype=np.float32)})
    playhead.play()
    player = SilentPlayer(playhead, clock=None)
    player.advance(1000)
    player.keep_up()
    assert playhead.position_frames == 1000
    assert player.trouble() is None
    player.close()


def test_the_silent_player_keeps_up_with_a_clock() -> None:
    from trainer.player import SilentPlayer

    now_s = [5.0]
    playhead = Playhead()
    playhead.load({"A": np.zeros((10 * RATE_HZ, 2), dtype=np.float32)})
    playhead.play()
    player = SilentPlayer(playhead, clock=lambda: now_s[0])
    player.keep_up()
    assert playhead.position_frames == 0
    now_s[0] = 5.5
    player.keep_up()
    assert playhead.position_frames == 24_000
    now_s[0] = 1000.0  # the machine slept
    player.keep_up()
    assert playhead.position_frames == 24_000 + RATE_HZ
    now_s[0] = 1000.25
    player.keep_up()
    assert playhead.position_frames == 24_000 + RATE_HZ + 12_000


# ---- the measuring tools, shown to fail where they should ----------------------------------------


def test_the_ear_tells_a_skip_of_one_frame_and_a_hard_switch(sources: dict[str, Samples]) -> None:
    a, b = sources["A"], sources["B"]
    skipped = np.concatenate([a[:20_480], a[20_481:40_000]])
    found = stretches(who_sounds(skipped, sources), FRAMES)
    assert [one.name for one in found] == ["A", "A"]
    assert found[1].place - found[1].start == 1
    at = int(np.argmax(np.abs(a - b).max(axis=1)))
    hard = np.concatenate([a[:at], b[at:]])
    assert click_excess(hard, sources, 1.0) > 2.0
    assert click_excess(a, sources, 1.0) <= 1.0


def test_the_ear_knows_silence_gain_and_strangers(sources: dict[str, Samples]) -> None:
    window = WINDOW_FRAMES
    quiet = 0.01 * sources["B"][500 : 500 + window]
    stranger = sources["A"][: 2 * window : 2]
    made = np.concatenate([np.zeros((window, 2), dtype=np.float32), quiet, stranger])
    silence, heard, unknown = who_sounds(made, sources)
    assert (silence.name, unknown.name) == (SILENCE, BETWEEN)
    assert isinstance(heard, Heard)
    assert (heard.name, heard.place) == ("B", 500)
    assert heard.gain_db == pytest.approx(-40.0, abs=0.01)
