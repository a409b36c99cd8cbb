"""Loops, and what would make one, in words: the same in the window and in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from exercises.samples import RATE_HZ

if TYPE_CHECKING:
    from exercises.loop_search import Candidate
    from exercises.loops import Loop


def loop_words(loop: Loop) -> str:
    """Length, beat and number of tracks."""
    tracks = "1 track" if len(loop.tracks) == 1 else f"{len(loop.tracks)} tracks"
    return f"{length_words(loop)}, {tracks}"


def length_words(loop: Loop) -> str:
    """Length in seconds, and in bars and beats where it has them."""
    beat = ""
    if loop.tempo_bpm is not None:
        bars = "" if loop.bars is None else f"{loop.bars} bars of {loop.beats_per_bar} beats at "
        beat = f", {bars}{loop.tempo_bpm:.4g} BPM"
    return f"{loop.seconds:.1f} s{beat}"


def candidate_words(candidate: Candidate) -> str:
    """Where it is, how long, and its beat."""
    beat = "no beat"
    if candidate.tempo_bpm is not None:
        bars = "" if candidate.bars is None else f"{candidate.bars} bars at "
        beat = f"{bars}{candidate.tempo_bpm:.1f} BPM"
    at = minutes_words(candidate.start_frame / RATE_HZ)
    start = "The whole file" if candidate.whole else f"From {at}"
    return f"{start}, {candidate.seconds:.1f} s, {beat}"


def reason_words(candidate: Candidate) -> str:
    """Why it stands where it does among the others."""
    if candidate.whole:
        return "it is a loop already."
    reasons = candidate.reasons
    level_db = round(reasons.level_db, 1) + 0.0  # no minus before a nought
    return (
        f"seam {reasons.seam_db:.1f} dB, energy in {reasons.bands} of 10 bands, "
        f"{level_db:+.1f} dB against the loud parts, "
        f"halves {reasons.unevenness_db:.1f} dB apart."
    )


def minutes_words(seconds: float) -> str:
    """``2:05`` for 125 s."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"


def size_words(size_db: float | None) -> str:
    """A smallest size in dB, in quarters; None cannot be heard."""
    return "never" if size_db is None else f"{size_db:.2f}"
