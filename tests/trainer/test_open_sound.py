"""What sounds in an open round, played block by block from its playhead: at once, and fairly."""

from __future__ import annotations

import time
from collections.abc import Iterator

import numpy as np
import pytest

from exercises.demo_loops import demo_loop
from exercises.fixing import over_limit_db
from exercises.kinds import Kind
from exercises.loudness import loudness_lufs
from exercises.moves import Compressor, EqPoint, Expander, Fix, HighShelf, Ride
from exercises.question import make_question
from exercises.recipe import Recipe
from exercises.samples import Samples
from exercises.true_peak import true_peak
from trainer.open_round import OpenRound
from trainer.open_sound import PIECE_FRAMES, YOURS, OpenSound
from trainer.playhead import FIRST_FADE_FRAMES, SWITCH_FRAMES, Playhead

BLOCK = 512
LOOP = demo_loop("ferry-crossing")


@pytest.fixture(params=[None, "guitar"])
def track(request: pytest.FixtureRequest) -> str | None:
    return request.param  # type: ignore[no-any-return]


def a_round(track: str | None = None) -> OpenRound:
    recipe = Recipe(1, LOOP.name, LOOP.fingerprint, Kind.TOO_MUCH, 6.0, 300.0, 1.0, track)
    return OpenRound(make_question(recipe, LOOP), LOOP, 1)


@pytest.fixture
def playing() -> Iterator[tuple[OpenRound, Playhead, OpenSound]]:
    """A round whose moves are being heard, past the first fade, at full volume."""
    round_ = a_round()
    playhead = Playhead(0.0)
    sound = OpenSound(round_, playhead)
    playhead.load(sound.sounds())
    playhead.choose(YOURS)
    playhead.play()
    play(playhead, FIRST_FADE_FRAMES // BLOCK + 2)
    yield round_, playhead, sound
    sound.close()


def play(playhead: Playhead, blocks: int) -> Samples:
    out = np.zeros((blocks * BLOCK, 2), dtype=np.float32)
    for start in range(0, len(out), BLOCK):
        playhead.fill(out[start : start + BLOCK])
    assert playhead.error is None
    return out


def settle(sound: OpenSound) -> None:
    begun = time.monotonic()
    while not sound.whole and time.monotonic() - begun < 60.0:
        sound.keep_up()
        time.sleep(0.002)
    assert sound.whole


def moves_on(track: str | None) -> list[Fix]:
    return [
        (EqPoint(300.0, -6.0, 1.0, track),),
        (EqPoint(80.0, 9.0, 3.0, track), HighShelf(5_000.0, -6.0, track)),
        (Ride(-4.0, LOOP.passages[0], track), EqPoint(300.0, -6.0, 1.0, track)),
        (Compressor(6.0, track=track),),
        (EqPoint(200.0, -9.0, 1.0, track), Expander(6.0, track=track)),
    ]


@pytest.mark.parametrize("which", range(5))
def test_a_piece_is_nearly_what_the_whole_will_be(track: str | None, which: int) -> None:
    """Within half a dB in level and but for a twentieth (-26 dB) in shape."""
    round_, fix = a_round(track), moves_on(track)[which]
    start = LOOP.frames - 10_000  # across the seam
    piece = round_.piece_of(fix, start, PIECE_FRAMES)
    places = (start + np.arange(PIECE_FRAMES)) % LOOP.frames
    whole = round_.sound_of(fix)[places]
    gain = float(np.vdot(piece, whole) / np.vdot(piece, piece))
    assert abs(20.0 * np.log10(gain)) < 0.5
    assert np.linalg.norm(whole - gain * piece) < 0.05 * np.linalg.norm(whole)


def test_a_change_sounds_from_the_next_block_on(
    playing: tuple[OpenRound, Playhead, OpenSound],
) -> None:
    """Nothing is rendered in between: what was there before is gone 20 ms into the next block."""
    round_, playhead, sound = playing
    round_.add(EqPoint(300.0, -18.0, 0.5))
    at = playhead.position_frames
    sound.moved()
    heard = play(playhead, 8)[SWITCH_FRAMES:]
    places = at + SWITCH_FRAMES + np.arange(len(heard))
    wanted, before = round_.sound_of(round_.moves)[places], round_.sound_of(())[places]
    assert np.linalg.norm(heard - wanted) < 0.05 * np.linalg.norm(wanted)
    assert np.linalg.norm(heard - before) > 0.3 * np.linalg.norm(wanted)


@pytest.mark.parametrize("late", [False, True], ids=["in time", "the whole is late"])
def test_turning_makes_no_step_in_the_sound(
    playing: tuple[OpenRound, Playhead, OpenSound], *, late: bool
) -> None:
    """No jump from sample to sample that neither state has by itself."""
    round_, playhead, sound = playing
    heard = []
    place = round_.add(EqPoint(300.0, -1.0, 1.0))
    for step in range(6):
        round_.change(place, EqPoint(300.0, -1.0 - step, 1.0))
        sound.moved()
        heard.append(play(playhead, 3))
    if not late:
        settle(sound)
    heard.append(play(playhead, 2 * PIECE_FRAMES // BLOCK))
    jumps = np.abs(np.diff(np.concatenate(heard), axis=0)).max()
    states = (round_.sound_of(()), round_.sound_of(round_.moves))
    assert jumps < 1.1 * max(np.abs(np.diff(state, axis=0)).max() for state in states)


def test_taking_a_change_back_leaves_nothing_of_it(
    playing: tuple[OpenRound, Playhead, OpenSound],
) -> None:
    round_, _, sound = playing
    round_.add(EqPoint(300.0, -18.0, 0.5))
    sound.moved()
    round_.take_out(0)
    sound.moved()
    settle(sound)
    assert np.abs(sound.sounds()[YOURS] - round_.sound_of(())).max() < 1e-6


def test_bypass_is_no_louder_when_the_moves_meet_the_peak_limit() -> None:
    """A, B and B with the moves are turned down alike, and stay so when the moves are out again."""
    loop = demo_loop("winch-song")
    recipe = Recipe(
        1, loop.name, loop.fingerprint, Kind.TOO_MUCH, 6.0, 300.0, 1.0, "bass", alone=True
    )
    round_, playhead = OpenRound(make_question(recipe, loop), loop, 1), Playhead(0.0)
    sound = OpenSound(round_, playhead)
    playhead.load(sound.sounds())
    for move in (Expander(18.0, track="bass"), HighShelf(3_000.0, 18.0, "bass")):
        round_.add(move)
        sound.moved()
    sound.finish()
    sounds = sound.sounds()
    over_db = over_limit_db(round_.sound_of(round_.moves))
    assert over_db > 1.0  # else there is nothing to see here
    assert sound.down_db >= over_db
    # EBU R 128's maximum of -1 dBTP.
    assert max(true_peak(each) for each in sounds.values()) <= 10.0 ** (-1.0 / 20.0) * 1.0001
    lufs = [loudness_lufs(each) for each in sounds.values()]
    assert max(lufs) - min(lufs) < 0.05
    play(playhead, 1)
    for name, each in sounds.items():
        assert np.array_equal(playhead._programme.sources[name], each)
    round_.take_out(0)
    sound.moved()
    sound.finish()
    assert sound.down_db >= over_db
    sound.close()
