"""Setting a safe level, in words: what to do, and the cautions with their sources.

NIOSH Publication 98-126, "Criteria for a Recommended Standard: Occupational Noise Exposure" (1998);
Recommendation ITU-T H.870 (WHO-ITU), "Guidelines for safe listening devices/systems". Figures for
orientation alone: a program cannot know how loud it is at the ear.
"""

from __future__ import annotations

from typing import Final

HOW_TO: Final = (
    "The noise is as loud as the music of the drill will be. It starts silent: turn it up by hand "
    "until it is as loud as someone who talks to you across a table, and no further."
)
CAUTIONS: Final = (
    "No program can know how loud it is at your ear, so this one never tells a level or a dose.",
    "For orientation: NIOSH (98-126) recommends at most 85 dBA for 8 hours a day, and half the "
    "time for every 3 dB more; WHO-ITU H.870 counts 80 dBA for 40 hours a week as the limit for "
    "personal players.",
    "Local rules and the advice of hearing professionals come first. If your ears ring or sounds "
    "are dull afterwards, stop, and see one.",
)
KEPT: Final = (
    "Kept. Each later start is 12 dB under where you last set it; nothing here is ever louder "
    "than you set it by more than the problem in question."
)
SILENT_STILL: Final = "It is still silent: turn it up with + first, or leave."
