"""What stands under the help of each command: how it is typed, with what comes of it."""

from __future__ import annotations

from typing import Final

EXAMPLES: Final[dict[str, tuple[str, ...]]] = {
    "drill": (
        "namefirst drill --minutes 5 --bands 125,250,500",
        'namefirst drill --terminal --kinds "squashed,lifted"',
        "namefirst drill --loop mix.wav",
    ),
    "progress": ("namefirst progress", "namefirst progress --csv > progress.csv"),
    "study": ("namefirst study 250", "namefirst study too little 4k --terminal"),
    "export": ("namefirst export record.jsonl",),
    "import": ("namefirst import record.jsonl --learner Ada",),
    "moves": ("namefirst moves --before v1.wav --after v2.wav --picture moves.svg",),
    "loops add": (
        "namefirst loops add mix.wav --title 'Night train'",
        "namefirst loops add stems/ --bpm 87 --choose 1",
    ),
    "loops list": ("namefirst loops list",),
    "loops show": (
        "namefirst loops show ferry-crossing",
        'namefirst loops show "Ferry crossing"',
    ),
    "loops remove": ("namefirst loops remove night-train",),
    "set new": (
        "namefirst set new week1.toml --title 'Low mids' --bands 125,250,500 --due 2030-03-06",
    ),
    "set show": ("namefirst set show week1.toml",),
    "set take": ("namefirst set take week1.toml",),
    "set result": ("namefirst set result week1.toml",),
    "class": ("namefirst class results/ --out class.html --csv grades.csv",),
    "level": ("namefirst level", "namefirst level --terminal"),
    "claim": (
        "namefirst claim mix.wav --at 200 --cut 6 --from 0:30 --to 0:38",
        "namefirst claim stems/ --track guitar --at 3.2k --boost 4 --report claim.html",
    ),
    "chain": (
        "namefirst chain --output headphones",
        "namefirst chain --use loudspeakers",
    ),
}


def examples_of(command: str) -> str:
    """The examples of one command ("loops add"), a line each; empty where there are none."""
    lines = EXAMPLES.get(command, ())
    return "\n".join(("as in:", *(f"  {line}" for line in lines))) if lines else ""
