"""Fold-down gains against ITU-R BS.775-3, annex 4, table 2, and channel orders against formats."""

from __future__ import annotations

import numpy as np
import pytest

from exercises.fold_down import MOST_CHANNELS, channel_order, fold_down, fold_gains

# ITU-R BS.775-3, annex 4, table 2, 3/2 source, row "Stereo - 2/0 format", as printed (four places).
BS_775 = {
    "L": (1.0000, 0.0000),
    "R": (0.0000, 1.0000),
    "C": (0.7071, 0.7071),
    "Ls": (0.7071, 0.0000),
    "Rs": (0.0000, 0.7071),
}

# RFC 9639 (FLAC), section 9.1.3, table of independent channels.
RFC_9639 = {
    1: ["mono"],
    2: ["left", "right"],
    3: ["left", "right", "center"],
    4: ["front left", "front right", "back left", "back right"],
    5: ["front left", "front right", "front center", "back left", "back right"],
    6: ["front left", "front right", "front center", "LFE", "back left", "back right"],
    7: ["front left", "front right", "front center", "LFE", "back center", "side left",
        "side right"],
    8: ["front left", "front right", "front center", "LFE", "back left", "back right",
        "side left", "side right"],
}  # fmt: skip

# Vorbis I specification, section 4.3.9, output channel order.
VORBIS_I = {
    1: ["mono"],
    2: ["left", "right"],
    3: ["left", "center", "right"],
    4: ["front left", "front right", "rear left", "rear right"],
    5: ["front left", "front center", "front right", "rear left", "rear right"],
    6: ["front left", "front center", "front right", "rear left", "rear right", "LFE"],
    7: ["front left", "front center", "front right", "side left", "side right", "rear center",
        "LFE"],
    8: ["front left", "front center", "front right", "side left", "side right", "rear left",
        "rear right", "LFE"],
}  # fmt: skip

# What each loudspeaker puts into left and right: which sides, and how many times 3 dB down.
_SIDES = {"left": (1, 0), "right": (0, 1), "center": (1, 1)}


def _gains(speaker: str) -> tuple[float, float]:
    if speaker == "LFE":
        return (0.0, 0.0)
    if speaker == "mono":
        return (1.0, 1.0)
    left, right = _SIDES[speaker.split()[-1]]
    behind = speaker.split()[0] in ("back", "rear", "side")
    gain = 0.7071 ** (behind + (left == right))
    return (left * gain, right * gain)


@pytest.mark.parametrize("speaker", BS_775)
def test_gains_of_bs_775(speaker: str) -> None:
    np.testing.assert_allclose(fold_gains((speaker,))[0], BS_775[speaker], atol=5e-5)


@pytest.mark.parametrize("channels", range(1, MOST_CHANNELS + 1))
@pytest.mark.parametrize(
    ("container", "published"), [("WAV", RFC_9639), ("FLAC", RFC_9639), ("OGG", VORBIS_I)]
)
def test_each_channel_goes_where_its_loudspeaker_stands(
    container: str, published: dict[int, list[str]], channels: int
) -> None:
    """One channel at a time at 0.5, heard in left and right."""
    order = channel_order(channels, container)
    for channel, speaker in enumerate(published[channels]):
        samples = np.zeros((10, channels), dtype=np.float32)
        samples[:, channel] = 0.5
        heard = fold_down(samples, order)
        assert heard.shape == (10, 2)
        assert heard.dtype == np.float32
        np.testing.assert_allclose(heard[3], 0.5 * np.array(_gains(speaker)), atol=5e-5)
