"""The playhead: switches, seam, fades, volume, and silence instead of noise when it breaks.

Signals are low tones, so that any jump shows as a bend far sharper than their own: the second
difference of a sine of amplitude a at f is at most a (2 pi f / rate)^2.
"""

from __future__ import annotations

import math
import threading
import weakref

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.samples import RATE_HZ, Samples
from tests.captured_sound import largest_bend
from trainer.playhead import (
    FADE_FRAMES,
    FIRST_FADE_FRAMES,
    SWITCH_FRAMES,
    VOLUME_FRAMES,
    Playhead,
)
from trainer.programme import SEAM_FRAMES

BLOCK = 512
FRAMES = 24_000


def tone(freq_hz: float, amplitude: float = 0.5, frames: int = FRAMES) -> Samples:
    """A sine with a whole number of turns in ``frames``, so that it loops without a seam."""
    turns = round(freq_hz * frames / RATE_HZ)
    wave = amplitude * np.sin(2 * np.pi * turns * np.arange(frames) / frames)
    return np.stack([wave, -wave], axis=1).astype(np.float32)


def counting(frames: int = FRAMES, sign: float = 1.0) -> Samples:
    """Frame n holds (n + 1) / 2^16 exactly, so that an output names the frame that it came from."""
    steps = sign * (np.arange(frames) + 1) / 65_536
    return np.stack([steps, steps], axis=1).astype(np.float32)


def frames_of(out: Samples) -> np.ndarray:
    """The frames that an output of ``counting`` came from."""
    return np.rint(np.abs(out[:, 0]) * 65_536).astype(int) - 1


def run(playhead: Playhead, frames: int, block: int = BLOCK) -> Samples:
    """``frames`` frames of output, asked for in blocks of ``block``."""
    out = np.full((frames, 2), np.nan, dtype=np.float32)
    for at in range(0, frames, block):
        playhead.fill(out[at : at + block])
    assert playhead.error is None
    return out


def sounding(sources: dict[str, Samples], volume_db: float = 0.0) -> Playhead:
    """A playhead at full level, its first fade over, at a place that is no round number."""
    playhead = Playhead(volume_db)
    playhead.load(sources)
    playhead.play()
    run(playhead, FIRST_FADE_FRAMES + 100)
    return playhead


def test_silent_until_loaded_and_playing() -> None:
    playhead = Playhead()
    assert not run(playhead, 1000).any()
    playhead.play()
    assert not run(playhead, 1000).any()
    playhead.stop()
    playhead.load({"A": tone(200)})
    assert not run(playhead, 1000).any()
    assert playhead.position_frames == 0


def test_output_is_the_source_itself_at_0_db() -> None:
    sources = {"A": counting()}
    playhead = sounding(sources)
    at = playhead.position_frames
    assert np.array_equal(run(playhead, 2000), sources["A"][at : at + 2000])


@pytest.mark.parametrize("block", [1, 7, 512, 4096])
def test_seam_of_the_whole_loop_has_a_gap_of_0_samples(block: int) -> None:
    playhead = sounding({"A": counting(5000)})
    at = playhead.position_frames
    played = frames_of(run(playhead, 4 * 5000 + 123, block))
    assert np.array_equal(played, (at + np.arange(len(played))) % 5000)


def test_switch_begins_in_the_next_block_and_ends_20_ms_later() -> None:
    sources = {"A": counting(), "B": counting(sign=-1.0)}
    playhead = sounding(sources)
    at = playhead.position_frames
    playhead.choose("B")
    out = run(playhead, 2 * BLOCK)
    expected = sources["A"][at : at + len(out), 0]
    share_of_a = (out[:, 0] / expected + 1) / 2
    assert share_of_a[0] < 1.0
    ramp = 1 - np.minimum(np.arange(1, len(out) + 1) / SWITCH_FRAMES, 1)
    assert share_of_a == pytest.approx(ramp, abs=1e-4)  # equal gain: the shares sum to one


def test_a_and_b_are_0_samples_apart() -> None:
    sources = {"A": counting(), "B": counting(sign=-1.0)}
    playhead = sounding(sources)
    at = playhead.position_frames
    for turn in range(9):
        playhead.choose("BA"[turn % 2])
        out = run(playhead, 2000)
        settled = out[SWITCH_FRAMES:]
        assert (np.sign(settled) == (-1, 1)[turn % 2]).all()
        expected = (at + np.arange(SWITCH_FRAMES, 2000)) % FRAMES
        assert np.array_equal(frames_of(settled), expected)
        at += 2000
    assert playhead.switches == 9


@pytest.mark.parametrize("gaps", [[4000] * 6, [512] * 12, [1, 300, 64, 900, 5, 512, 7, 1000]])
def test_no_switch_clicks_not_even_within_a_fade(gaps: list[int]) -> None:
    sources = {"A": tone(100), "B": tone(160, 0.3), "fix": tone(100, 0.45)}
    own = max(largest_bend(samples, wrap=True) for samples in sources.values())
    playhead = sounding(sources)
    pieces = [run(playhead, 600)]
    for turn, gap in enumerate(gaps):
        playhead.choose(("B", "fix", "A")[turn % 3])
        pieces.append(run(playhead, gap))
    # A switch turns the slope by the difference of two sources over the fade; each mid-fade turn
    # ends one slope and begins another.
    allowed = own + 2 * (0.5 + 0.5) / SWITCH_FRAMES
    assert largest_bend(np.concatenate(pieces)) <= allowed


def test_a_hard_switch_would_be_seen_by_the_bound() -> None:
    a, b = tone(100), tone(160, 0.3)
    hard = np.concatenate([a[:1320], b[1320:2000]])
    assert largest_bend(hard) > 5 * (largest_bend(a) + 2 / SWITCH_FRAMES)


def test_first_start_fades_in_over_three_quarters_of_a_second_later_ones_over_30_ms() -> None:
    flat = np.full((FRAMES, 2), 0.5, dtype=np.float32)
    playhead = Playhead(0.0)
    playhead.load({"A": flat})
    playhead.play()
    first = run(playhead, FIRST_FADE_FRAMES + 500)[:, 0]
    assert 0.5 <= FIRST_FADE_FRAMES / RATE_HZ <= 1.0
    ramp = np.minimum(np.arange(1, len(first) + 1) / FIRST_FADE_FRAMES, 1) * 0.5
    assert first == pytest.approx(ramp, abs=1e-6)
    playhead.stop()
    down = run(playhead, FADE_FRAMES + 500)[:, 0]
    ramp = 0.5 * (1 - np.minimum(np.arange(1, len(down) + 1) / FADE_FRAMES, 1))
    assert down == pytest.approx(ramp, abs=1e-6)
    playhead.play()
    assert run(playhead, FADE_FRAMES)[-1, 0] == pytest.approx(0.5, abs=1e-6)


def test_a_first_start_cut_short_is_slow_again() -> None:
    playhead = Playhead(0.0)
    playhead.load({"A": np.full((FRAMES, 2), 0.5, dtype=np.float32)})
    playhead.play()
    run(playhead, 2000)
    playhead.stop()
    run(playhead, 4000)
    playhead.play()
    assert run(playhead, FADE_FRAMES).max() < 0.05


def test_stop_keeps_the_place_and_play_goes_on_from_it() -> None:
    playhead = sounding({"A": counting()})
    playhead.stop()
    run(playhead, 5000)
    place = playhead.position_frames
    run(playhead, 5000)
    assert playhead.position_frames == place
    playhead.play()
    out = run(playhead, FADE_FRAMES + 10)
    assert frames_of(out)[-1] == (place + FADE_FRAMES + 9) % FRAMES


def test_a_choice_made_in_silence_leaks_nothing_of_the_other() -> None:
    playhead = sounding({"A": tone(200), "B": np.zeros((FRAMES, 2), dtype=np.float32)})
    playhead.stop()
    run(playhead, 4000)
    playhead.choose("B")
    playhead.play()
    assert not run(playhead, 4000).any()


@pytest.mark.parametrize(("from_db", "to_db"), [(-40.0, -38.0), (-60.0, 0.0), (0.0, -60.0)])
def test_volume_ramps_in_a_straight_line_over_100_ms(from_db: float, to_db: float) -> None:
    def gain(volume_db: float) -> float:
        return 0.0 if volume_db == -60.0 else 10 ** (volume_db / 20)

    playhead = sounding({"A": np.ones((FRAMES, 2), dtype=np.float32)}, from_db)
    playhead.set_volume_db(to_db)
    out = run(playhead, VOLUME_FRAMES + 1000)[:, 0]
    way = np.minimum(np.arange(1, len(out) + 1) / VOLUME_FRAMES, 1)
    expected = gain(from_db) + (gain(to_db) - gain(from_db)) * way
    assert out == pytest.approx(expected, abs=1e-6)


def test_volume_is_capped_at_0_db_and_minus_60_is_silence() -> None:
    playhead = sounding({"A": np.ones((FRAMES, 2), dtype=np.float32)}, 40.0)
    playhead.set_volume_db(20.0)
    assert playhead.volume_db == 0.0
    assert run(playhead, 10_000).max() == 1.0
    playhead.set_volume_db(-99.0)
    run(playhead, VOLUME_FRAMES)
    assert not run(playhead, 1000).any()
    with pytest.raises(ValueError, match="not a number"):
        playhead.set_volume_db(math.nan)


def test_new_sources_fade_in_after_the_old_have_faded_out() -> None:
    old, new = tone(100), tone(130, 0.4, 30_000)
    playhead = sounding({"A": old})
    at = playhead.position_frames
    playhead.load({"A": new, "B": new}, at_frame=77)
    out = run(playhead, 2 * FADE_FRAMES + 2000)
    down = old[at : at + FADE_FRAMES, 0] * (1 - np.arange(1, FADE_FRAMES + 1) / FADE_FRAMES)
    assert out[:FADE_FRAMES, 0] == pytest.approx(down, abs=1e-6)
    assert out[2 * FADE_FRAMES :, 0] == pytest.approx(
        new[77 + FADE_FRAMES : 77 + FADE_FRAMES + 2000, 0], abs=1e-6
    )
    assert largest_bend(out) < largest_bend(new) + 1 / FADE_FRAMES


def test_a_choice_right_after_a_load_holds_for_the_new_sources() -> None:
    playhead = sounding({"A": counting(), "B": counting()})
    playhead.load({"A": counting(), "B": counting(sign=-1.0)})
    playhead.choose("B")
    out = run(playhead, 4000)
    assert (out[:FADE_FRAMES] >= 0).all()
    assert (out[FADE_FRAMES:] < 0).all()


def test_a_passage_repeats_and_its_ends_are_faded_into_one_another() -> None:
    low = tone(100)
    playhead = sounding({"A": low, "B": low})
    playhead.loop_region(3000, 11_111)
    run(playhead, 4 * FADE_FRAMES)
    assert 3000 <= playhead.position_frames < 11_111
    out = run(playhead, 3 * 8111)
    assert largest_bend(out) < largest_bend(low) + 2 / SEAM_FRAMES
    at = playhead.position_frames
    assert np.array_equal(run(playhead, 11_111 - SEAM_FRAMES - at), low[at : 11_111 - SEAM_FRAMES])
    across = run(playhead, SEAM_FRAMES + 500)
    assert np.array_equal(across[SEAM_FRAMES:], low[3000:3500])
    playhead.loop_region(None)
    run(playhead, 2 * FADE_FRAMES)
    place = playhead.position_frames
    assert np.array_equal(run(playhead, 30), low[place : place + 30])


def test_a_passage_asked_for_right_after_a_load_or_another_holds() -> None:
    playhead = sounding({"A": counting()})
    playhead.load({"A": counting()})
    playhead.loop_region(1000, 9000)
    playhead.loop_region(12_000, 20_000)
    run(playhead, FADE_FRAMES)
    assert set(frames_of(run(playhead, 20_000))[FADE_FRAMES:]) <= set(range(11_000, 20_000))


def test_a_choice_while_the_playhead_moves_to_a_passage_holds() -> None:
    playhead = sounding({"A": counting(), "B": counting(sign=-1.0)})
    playhead.loop_region(12_000, 20_000)
    run(playhead, 100)
    playhead.choose("B")
    run(playhead, 2 * FADE_FRAMES)
    assert (run(playhead, 9000) < 0).all()


def test_a_replaced_source_fades_over_20_ms_at_the_same_place() -> None:
    old, new = counting(), counting(sign=-1.0)
    playhead = sounding({"A": old, "B": old})
    at = playhead.position_frames
    playhead.replace("A", new)
    out = run(playhead, 2000)
    share_of_old = (out[:, 0] / old[at : at + 2000, 0] + 1) / 2
    ramp = 1 - np.minimum(np.arange(1, 2001) / SWITCH_FRAMES, 1)
    assert share_of_old == pytest.approx(ramp, abs=1e-4)
    assert playhead.current == "A"
    assert playhead.switches == 0
    playhead.choose("B")
    run(playhead, SWITCH_FRAMES)
    assert (run(playhead, 1000) > 0).all()


def test_of_replacements_within_a_switch_the_last_is_heard_and_no_other() -> None:
    flat = [np.full((FRAMES, 2), level, dtype=np.float32) for level in (0.1, 0.2, 0.9, 0.4)]
    playhead = sounding({"A": flat[0]})
    playhead.replace("A", flat[1])
    run(playhead, 100)
    playhead.replace("A", flat[2])
    playhead.replace("A", flat[3])
    out = run(playhead, 3 * SWITCH_FRAMES, 64)
    assert out.max() == pytest.approx(0.4)
    assert out[-1, 0] == pytest.approx(0.4)


@pytest.mark.parametrize("when", ["not chosen", "stopped", "about to load", "loaded, not begun"])
def test_a_source_that_does_not_sound_is_replaced_unheard(when: str) -> None:
    sources = {"A": counting(), "B": counting()}
    playhead = sounding(sources)
    name = "A"
    if when == "not chosen":
        playhead.replace("B", counting(sign=-1.0))
        assert (run(playhead, 2000) > 0).all()
        name = "B"
    elif when == "stopped":
        playhead.stop()
        run(playhead, 2 * FADE_FRAMES)
        playhead.replace("A", counting(sign=-1.0))
    elif when == "about to load":
        playhead.replace("A", counting(sign=-1.0))
        playhead.load(sources)
    else:
        playhead.load(sources)
        playhead.replace("A", counting(sign=-1.0))
        assert (run(playhead, FADE_FRAMES) >= 0).all()
    playhead.choose(name)
    playhead.play()
    run(playhead, 2 * FADE_FRAMES)
    wanted = 1 if when == "about to load" else -1
    assert (np.sign(run(playhead, 2000)) == wanted).all()


@pytest.mark.parametrize("stopped", [True, False], ids=["stopped", "no output yet"])
def test_what_was_replaced_unheard_is_let_go(stopped: bool) -> None:
    """A move dragged while nothing sounds replaces a loop of megabytes a hundred times."""
    playhead = Playhead(0.0)
    playhead.load({"A": tone(100), "B": tone(160)})
    kept = []
    for _ in range(50):
        if stopped:
            run(playhead, BLOCK)
        playhead.replace("A", newest := tone(200))
        kept.append(weakref.ref(newest))
    del newest
    assert sum(each() is not None for each in kept) <= 2
    playhead.play()
    run(playhead, FIRST_FADE_FRAMES + BLOCK)
    at = playhead.position_frames
    assert run(playhead, 1000) == pytest.approx(tone(200)[at : at + 1000], abs=1e-6)


def test_what_cannot_be_played_is_no_replacement() -> None:
    playhead = sounding({"A": tone(100)})
    with pytest.raises(ValueError, match=r"no source 'C' to replace; loaded: A"):
        playhead.replace("C", tone(100))
    with pytest.raises(ValueError, match="must have 24000 frames, not 30000"):
        playhead.replace("A", tone(100, frames=30_000))
    with pytest.raises(ValueError, match="beyond full scale"):
        playhead.replace("A", 3.0 * tone(100))


def test_heard_counts_the_seconds_of_each_source() -> None:
    playhead = Playhead(0.0)
    playhead.load({"A": tone(100), "B": tone(160)})
    playhead.play()
    run(playhead, 96_000)
    playhead.choose("B")
    playhead.choose("B")
    run(playhead, 48_000)
    playhead.stop()
    run(playhead, 48_000)
    assert playhead.heard == pytest.approx({"A": 2.0, "B": 1.03})
    assert playhead.seconds_played == pytest.approx(3.03)
    assert playhead.switches == 1
    playhead.load({"A": tone(100)})
    assert playhead.heard == {"A": 0.0}
    assert playhead.switches == 0


BAD_SOURCES = {
    "no sources": {},
    r"\(frames, 2\) float32": {"A": np.zeros((100, 1), dtype=np.float32)},
    "float32": {"A": np.zeros((100, 2))},
    "one length": {
        "A": np.zeros((9, 2), dtype=np.float32),
        "B": np.zeros((8, 2), dtype=np.float32),
    },
    "not finite": {"A": np.full((9, 2), np.nan, dtype=np.float32)},
    "beyond full scale": {"A": np.full((9, 2), 1.01, dtype=np.float32)},
}


@pytest.mark.parametrize("says", BAD_SOURCES)
def test_sources_that_cannot_be_played_are_refused(says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Playhead().load(BAD_SOURCES[says])  # type: ignore[arg-type]


@pytest.mark.parametrize("region", [(-1, 9000), (0, FRAMES + 1), (9000, 9000), (100, 200)])
def test_regions_outside_the_sources_are_refused(region: tuple[int, int]) -> None:
    playhead = Playhead()
    playhead.load({"A": tone(100)})
    with pytest.raises(ValueError, match="region"):
        playhead.loop_region(*region)
    with pytest.raises(ValueError, match="region"):
        playhead.load({"A": tone(100)}, region)


def test_an_unknown_source_is_refused_and_changes_nothing() -> None:
    playhead = sounding({"A": tone(100)})
    with pytest.raises(ValueError, match=r"no source 'C'.*loaded: A"):
        playhead.choose("C")
    assert playhead.current == "A"


def test_a_fault_in_the_audio_thread_becomes_silence_and_is_remembered() -> None:
    playhead = sounding({"A": tone(100)})
    wrong = np.ones((BLOCK, 3), dtype=np.float32)
    playhead.fill(wrong)
    assert isinstance(playhead.error, ValueError)
    assert not wrong.any()
    out = np.ones((BLOCK, 2), dtype=np.float32)
    playhead.fill(out)
    assert not out.any()


def test_orders_from_another_thread_while_the_audio_thread_fills() -> None:
    sources = {"A": tone(100), "B": tone(160, 0.3)}
    playhead = sounding(sources)
    pieces: list[Samples] = []

    def audio_thread() -> None:
        pieces.extend(run(playhead, BLOCK) for _ in range(400))

    thread = threading.Thread(target=audio_thread)
    thread.start()
    turn = 0
    while thread.is_alive():
        playhead.choose("BA"[turn % 2])
        playhead.set_volume_db(-float(turn % 30))
        turn += 1
        thread.join(0.0005)
    out = np.concatenate(pieces)
    assert turn > 10
    own = max(largest_bend(samples, wrap=True) for samples in sources.values())
    assert largest_bend(out) <= own + 4 / SWITCH_FRAMES


ORDERS = st.lists(
    st.tuples(
        st.sampled_from(
            [
                "choose A",
                "choose B",
                "choose fix",
                "replace A",
                "replace fix",
                "play",
                "stop",
                "volume",
                "region",
                "all",
                "load",
            ]
        ),
        st.floats(0.0, 1.0),
        st.integers(1, 3000),
    ),
    min_size=1,
    max_size=25,
)


@settings(max_examples=60, deadline=None)
@given(ORDERS, st.integers(1, 1024))
def test_whatever_is_asked_the_sound_stays_whole(
    orders: list[tuple[str, float, int]], block: int
) -> None:
    """Finite, never above the loudest source, and no step beyond the slopes that are allowed."""
    sources = {"A": tone(100), "B": tone(160, 0.3), "fix": tone(250, 0.2)}
    playhead = sounding(sources)
    pieces = [run(playhead, 600)]
    for what, amount, frames in orders:
        if what.startswith("choose "):
            playhead.choose(what.removeprefix("choose "))
        elif what.startswith("replace "):
            playhead.replace(what.removeprefix("replace "), tone(100 + 150 * amount, 0.4))
        elif what == "play":
            playhead.play()
        elif what == "stop":
            playhead.stop()
        elif what == "volume":
            playhead.set_volume_db(-70.0 * amount)
        elif what == "region":
            start = int(amount * (FRAMES - 5000))
            playhead.loop_region(start, start + 4800 + frames % 200)
        elif what == "all":
            playhead.loop_region(None)
        else:
            playhead.load(sources, at_frame=int(amount * (FRAMES - 1)))
        pieces.append(run(playhead, frames, block))
    out = np.concatenate(pieces)
    peak = 0.5
    assert np.isfinite(out).all()
    assert np.abs(out).max() <= peak * (1 + 1e-6)
    steepest = (*sources.values(), tone(250, 0.4))
    own = max(float(np.abs(np.diff(s, axis=0)).max()) for s in steepest)
    slopes = 2 * peak / SWITCH_FRAMES + peak / FADE_FRAMES + peak / VOLUME_FRAMES
    seam = 2 * peak / SEAM_FRAMES
    assert np.abs(np.diff(out, axis=0)).max() <= own + slopes + seam
