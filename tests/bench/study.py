"""Study: how soon a moved mark is heard, and how soon a guided minute begins.

A mark is heard after what it takes to make it, to check it, and one block and fade; a minute
begins when its loops are chosen and the sounds of its first step are made.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from exercises.bands import BANDS
from exercises.kinds import Kind
from trainer.loop_shelf import LoopShelf
from trainer.playhead import Playhead
from trainer.study_sounds import Mark, StudyMaker
from trainer.subject import Subject

SOON_MS = 150.0
"""Up to about this a sound still seems to follow the hand (our judgement)."""
WAIT_MS = 3000.0
MUD, RUMBLE = Subject(Kind.TOO_MUCH, 3), Subject(Kind.TOO_MUCH, 0)


def rows() -> Iterator[tuple[str, float, float, float | None]]:
    """(what, ours, reference, highest ratio promised) for each measurement."""
    with TemporaryDirectory() as folder:
        shelf = LoopShelf(Path(folder))
        maker = StudyMaker(shelf)
        pencil = maker.pencil(0)
        playhead = Playhead()
        playhead.load({"B": pencil.a})
        marks = iter([Mark(Kind.TOO_MUCH, band.mid_hz, 6.0) for band in BANDS])
        made = [_ms(lambda: pencil.b(next(marks))) for _ in BANDS]
        yield "a mark made, median ms : what still follows the hand", median(made), SOON_MS, 1.0
        yield "a mark made, worst of ten ms : the same", max(made), SOON_MS, 2.0
        put = [_ms(lambda: playhead.replace("B", pencil.a)) for _ in range(20)]
        yield "a sound put in another's place, median ms : a frame", median(put), 1000.0 / 60, 1.0
        for name, subject in (("250 Hz", MUD), ("31.5 Hz", RUMBLE)):
            cold = StudyMaker(LoopShelf(Path(folder)))
            begun = _ms(lambda cold=cold, subject=subject: _begin(cold, subject))  # type: ignore[misc]
            yield f"a minute on {name} begins, ms : a patient wait", begun, WAIT_MS, 1.0


def _begin(maker: StudyMaker, subject: Subject) -> None:
    maker.sounds_of(maker.steps_of(subject, None)[0])


def _ms(do: Callable[[], object]) -> float:
    begun_s = time.perf_counter()
    do()
    return 1000.0 * (time.perf_counter() - begun_s)
