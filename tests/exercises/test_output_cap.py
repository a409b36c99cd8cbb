"""No recipe makes a sound that passes -1 dBTP or is louder than the learner's own level.

The cap is EBU R 128's maximum true peak, measured as ITU-R BS.1770-5 annex 2 asks; it is held
against pyebur128 here, so that our own meter cannot be wrong together with our own limit. Ten
thousand recipes are gone through by ``python -m tests.bench output_cap``.
"""

from __future__ import annotations

import numpy as np
import pytest

from exercises.samples import gain_to_db
from tests.meters import ebur128_dbtp
from tests.output_cap import CAP_DBTP, recipe_of_seed, sounds_of, worst_of
from trainer.playhead import Playhead
from trainer.volume import LOUDEST_DB

CHUNK = 200


@pytest.mark.parametrize("first", range(0, 600, CHUNK))
def test_no_recipe_passes_the_cap_or_the_level(first: int) -> None:
    over_db, louder_lu, measured = worst_of(range(first, first + CHUNK))
    assert measured >= 3 * CHUNK
    # float32 samples: a rounding of 1e-7 is 1e-6 dB.
    assert over_db < 1e-4
    assert louder_lu < 1e-3


@pytest.mark.parametrize("seed", [22, 45, 489, 3, 8])
def test_the_cap_holds_by_another_meter(seed: int) -> None:
    for name, samples in sounds_of(*recipe_of_seed(seed)):
        dbtp = ebur128_dbtp(np.tile(samples, (4, 1)))
        # The two oversample by filters of their own, which differ by up to 0.1 dB near the top.
        assert dbtp < CAP_DBTP + 0.15, name


@pytest.mark.parametrize("seed", [22, 489])
def test_what_the_player_gives_out_is_under_the_cap_at_the_loudest(seed: int) -> None:
    sounds = dict(sounds_of(*recipe_of_seed(seed)))
    playhead = Playhead(LOUDEST_DB)
    playhead.load(sounds)
    playhead.play()
    highest = 0.0
    block = np.zeros((512, 2), dtype=np.float32)
    for number in range(300):
        if number % 7 == 0:  # switching all the while: fades must not add up
            playhead.choose(list(sounds)[number // 7 % len(sounds)])
        playhead.fill(block)
        highest = max(highest, float(np.abs(block).max()))
    assert highest > 0.0
    assert gain_to_db(highest) <= CAP_DBTP + 1e-4
