"""Fix rounds behind the curtain: made while the learner is busy, one at a time, and kept.

What a front end needs beside the rules: is one due before the next question, make it, keep it.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from exercises.kinds import TONE
from trainer.backstage import Backstage
from trainer.kept_chains import bands_left_out, within_reach
from trainer.limits import Limits
from trainer.loop_shelf import LoopShelf
from trainer.pace import FixTime
from trainer.record import Record

if TYPE_CHECKING:
    from trainer.drill import Drill
    from trainer.fix_plan import FixRound
    from trainer.fix_round import FixResult, Sort


@dataclass(frozen=True, slots=True)
class FixPlace:
    """Before which question of which drill a fix round stands."""

    drill_id: int
    number: int
    drill: Drill = field(compare=False, repr=False)


class FixMaker:
    """Makes rounds on loops of the shelf, within ``limits``; loads what is slow when asked.

    Like a drill it leaves out the bands that the output in use does not bring to the ear.
    """

    def __init__(self, record: Record, shelf: LoopShelf, limits: Limits) -> None:
        self._record = record
        self._shelf = shelf
        self._limits = limits
        self._backstage: Backstage[FixRound] = Backstage()
        self._closed = False

    def due(self, drill: Drill) -> FixPlace | None:
        """Where a round stands now, if one is due before the drill's next question."""
        from trainer.fix_plan import fix_round_is_due
        from trainer.kept_fixes import fix_was_taken

        number, drill_id = drill.number, drill.id
        if drill_id is None or not fix_round_is_due(drill.seed, number, self._limits.fixes_in_ten):
            return None
        taken = fix_was_taken(self._record, drill_id, number)
        return None if taken else FixPlace(drill_id, number, drill)

    def begin(self, sort: Sort | None = None) -> None:
        """Starts making one in the background, unless one is being made; ``sort`` None: in turn."""
        if self._backstage.begun:
            return
        # Read here: the record's rows belong to the front end's thread.
        from trainer.kept_fixes import count_fixes

        before = count_fixes(self._record)
        missing = bands_left_out(self._record, self._limits)
        loops = self._limits.loops
        names = self._shelf.names() if loops is None else loops
        seed = secrets.randbelow(2**31)

        def make() -> FixRound:
            from trainer.fix_plan import make_fix_round, sort_due

            bands = within_reach(self._limits, missing).bands_left
            wanted = sort or sort_due(before)
            # As in a drill: with bands and no kinds, tone alone.
            only_tone = self._limits.kinds is None and self._limits.bands is not None
            kinds = tuple(TONE) if only_tone else self._limits.kinds
            return make_fix_round(
                self._shelf, names, wanted, seed, lambda: self._closed, bands, kinds
            )

        self._backstage.begin(make)

    @property
    def ready(self) -> bool:
        """Whether a round is made (or has failed)."""
        return self._backstage.ready

    def take(self) -> FixRound:
        """The round; waits for it where it must. Raises NamefirstError: none can be made."""
        return self._backstage.take()

    def keep(
        self, result: FixResult, seconds: float, now: datetime, place: FixPlace | None
    ) -> None:
        """Writes a round to disk; ``seconds`` is how long the learner was at it."""
        from trainer.kept_fixes import keep_fix, new_kept_fix

        where = None if place is None else (place.drill_id, place.number)
        keep_fix(self._record, new_kept_fix(result, now, seconds, where))
        if place is not None:
            place.drill.count_fix(FixTime(now, seconds))

    def close(self) -> None:
        """Lets go of the worker, which gives up soon."""
        self._closed = True
        self._backstage.close()
