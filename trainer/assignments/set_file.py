'''A set as a readable TOML file, and back.

    format = "namefirst set"
    version = 1
    id = "4f0c..."              what is asked, as 16 hex digits (see ``PracticeSet.id``)
    title = "Mud or box"
    teacher = "..."
    note = """..."""
    made = 2026-03-02T09:00:00+01:00

    [terms]
    due = 2026-03-06T18:00:00+01:00
    minutes = 20.0
    tries = 2
    counts = "best"             or "first", "last"
    review = "at once"          or "at the end", "not at all"

    [rule]                      not there for questions in the teacher's own order
    seed = 20260302
    bands = ["250", "500"]
    kinds = ["too much", "too little", "nothing"]
    sizes_db = [6.0, 9.0]       empty in an adaptive set
    help = [0]

    [[loop]]
    name = "ferry-crossing"
    fingerprint = "9c1e..."
    [[loop.file]]               only for the teacher's own loops, in a zip with the set
    name = "loop.toml"
    sha256 = "..."

    [questions]
    count = 20
    adaptive = false
    list = """..."""            JSON, deflated, base64: out of sight, not out of reach

Title, note and terms may be changed by hand. What is asked may not: the id would not fit it.
'''

from __future__ import annotations

import base64
import binascii
import json
import re
import zlib
from typing import Any, Final

from exercises.bands import BANDS
from exercises.errors import BadRecipe
from exercises.kinds import LARGEST_SIZE_DB, Help, Kind
from exercises.recipe import read_recipe
from trainer.assignments import practice_set
from trainer.assignments.practice_set import (
    Counts,
    LoopFile,
    PracticeSet,
    Review,
    Rule,
    SetLoop,
    SetQuestion,
    Terms,
    question_plain,
    rule_plain,
)
from trainer.assignments.strangers import (
    Fields,
    Refused,
    check_format,
    numbers,
    read_json,
    read_toml,
    shown,
)

FORMAT: Final = "namefirst set"
VERSION: Final = 1
LARGEST_FILE_BYTES: Final = 256 * 1024
_LARGEST_LIST_BYTES: Final = 2 * 1024 * 1024
_MOST_FILES: Final = 20
_LINE: Final = 96
_HEX: Final = re.compile(r"[0-9a-f]{64}")
PLAIN_NAME: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,59}")
PLAIN_FILE: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,59}\.(?:flac|toml)")
_HEAD: Final = (
    "# A set of questions for Namefirst: namefirst set take THIS-FILE\n"
    "# Title, note and terms may be changed. The questions are kept out of sight in 'list':\n"
    "# that hides them from the eye, not from someone who is determined to see them.\n\n"
)


def set_text(made: PracticeSet) -> str:
    """The text of a set's file; ``read_set`` takes it back."""
    import tomli_w

    terms: dict[str, Any] = {
        "due": made.terms.due,
        "minutes": made.terms.minutes,
        "tries": made.terms.tries,
        "counts": made.terms.counts.value,
        "review": made.terms.review.value,
    }
    plain: dict[str, Any] = {
        "format": FORMAT,
        "version": VERSION,
        "id": made.id,
        "title": made.title,
        "teacher": made.teacher,
        "note": made.note,
        "made": made.made,
        "terms": {name: value for name, value in terms.items() if value is not None},
    }
    if made.rule is not None:
        plain["rule"] = {"seed": made.seed} | rule_plain(made.rule)
    plain["loop"] = [_loop_plain(loop) for loop in made.loops]
    plain["questions"] = {
        "count": len(made.questions),
        "adaptive": made.adaptive,
        "list": _out_of_sight([question_plain(question) for question in made.questions]),
    }
    return _HEAD + tomli_w.dumps(plain, multiline_strings=True)


def read_set(data: bytes, where: str) -> PracticeSet:
    """The set in the bytes of a file that is called ``where``.

    Raises:
        Refused: it is no set, of another version, or was changed where it may not be.
    """
    fields = read_toml(data, where)
    check_format(fields, FORMAT, VERSION)
    stated = fields.text("id", 16)
    rule_fields = fields.table("rule") if fields.has("rule") else None
    asked = fields.table("questions")
    adaptive = asked.flag("adaptive")
    made = PracticeSet(
        title=fields.name("title", practice_set.LONGEST_TITLE),
        teacher=fields.text("teacher", 60),
        note=fields.text("note", practice_set.LONGEST_NOTE, lines=True),
        made=fields.moment("made"),
        terms=_read_terms(fields.table("terms")),
        seed=0 if rule_fields is None else rule_fields.whole("seed", 0, 2**53),
        rule=None if rule_fields is None else _read_rule(rule_fields),
        adaptive=adaptive,
        loops=tuple(map(_read_loop, fields.tables("loop", practice_set.MOST_LOOPS))),
        questions=_read_questions(asked, adaptive=adaptive),
    )
    fields.no_more()
    _check_loops(fields, made)
    if made.id != stated:
        fields.refuse(
            "id", "does not fit: what is asked was changed, or damaged; ask for the set again"
        )
    return made


def _read_terms(fields: Fields) -> Terms:
    terms = Terms(
        fields.moment("due") if fields.has("due") else None,
        fields.number("minutes", 0.1, practice_set.MOST_MINUTES) if fields.has("minutes") else None,
        fields.whole("tries", 1, practice_set.MOST_TRIES),
        fields.word("counts", Counts),
        fields.word("review", Review),
    )
    fields.no_more()
    return terms


def _read_rule(fields: Fields) -> Rule:
    names = {band.name: band.index for band in BANDS}
    bands = []
    for name in fields.items("bands", len(BANDS)):
        if not isinstance(name, str) or name not in names:
            fields.refuse("bands", f"{shown(name)} is no band; the bands are {', '.join(names)}")
        bands.append(names[name])
    kinds = []
    for word in fields.items("kinds", len(Kind)):
        if not isinstance(word, str) or word not in set(Kind):
            fields.refuse("kinds", f"{shown(word)} is none of {', '.join(Kind)}")
        kinds.append(Kind(word))
    help_ = []
    for step in fields.items("help", len(Help)):
        if type(step) is not int or step not in set(Help):
            fields.refuse("help", f"{shown(step)} is none of 0, 1 and 2")
        help_.append(Help(step))
    sizes_db = tuple(numbers(fields, "sizes_db", (0.1, LARGEST_SIZE_DB), 50))
    fields.no_more()
    return Rule(tuple(bands), tuple(kinds), sizes_db, tuple(help_))


def _read_loop(fields: Fields) -> SetLoop:
    name, fingerprint = fields.name("name"), fields.text("fingerprint", 64)
    if not _HEX.fullmatch(fingerprint):
        fields.refuse("fingerprint", "is no SHA-256 of 64 hex digits")
    files = []
    for entry in fields.tables("file", _MOST_FILES) if fields.has("file") else ():
        file = LoopFile(entry.text("name", 65), entry.text("sha256", 64))
        if not PLAIN_FILE.fullmatch(file.name):
            entry.refuse("name", "is no plain name of a .flac or .toml file")
        if not _HEX.fullmatch(file.sha256):
            entry.refuse("sha256", "is no SHA-256 of 64 hex digits")
        entry.no_more()
        files.append(file)
    if files and not PLAIN_NAME.fullmatch(name):
        fields.refuse("name", "is no plain name: a-z, 0-9 and hyphens")
    if len({file.name for file in files}) != len(files):
        fields.refuse("file", "names a file twice")
    fields.no_more()
    return SetLoop(name, fingerprint, tuple(files))


def _read_questions(fields: Fields, *, adaptive: bool) -> tuple[SetQuestion, ...]:
    count = fields.whole("count", 1, practice_set.MOST_QUESTIONS)
    packed = fields.text("list", LARGEST_FILE_BYTES, lines=True)
    fields.no_more()
    where = f"{fields.where}, list"
    listed = Fields({"list": _into_sight(packed, where)}, where).tables("list", count)
    if len(listed) != count:
        fields.refuse("count", f"({count}) is not how many there are ({len(listed)})")
    return tuple(_read_question(entry, adaptive=adaptive) for entry in listed)


def _read_question(fields: Fields, *, adaptive: bool) -> SetQuestion:
    try:
        recipe = read_recipe(fields.table("recipe").values)
    except (BadRecipe, TypeError, ValueError) as error:
        raise Refused(f"{fields.where}: {shown(str(error), 120)}") from None
    least_db = fields.number("least_db", 0.1, LARGEST_SIZE_DB) if fields.has("least_db") else 0.0
    fields.no_more()
    if least_db and not adaptive:
        fields.refuse("least_db", "belongs to adaptive sets alone")
    return SetQuestion(recipe, least_db)


def _check_loops(fields: Fields, made: PracticeSet) -> None:
    known = {(loop.name, loop.fingerprint) for loop in made.loops}
    if len({loop.name for loop in made.loops}) != len(made.loops):
        fields.refuse("loop", "is there twice under one name")
    for number, question in enumerate(made.questions, start=1):
        if (question.recipe.loop, question.recipe.fingerprint) not in known:
            fields.refuse("questions", f"number {number} is on a loop that is not in the set")


def _loop_plain(loop: SetLoop) -> dict[str, Any]:
    plain: dict[str, Any] = {"name": loop.name, "fingerprint": loop.fingerprint}
    if loop.files:
        plain["file"] = [{"name": file.name, "sha256": file.sha256} for file in loop.files]
    return plain


def _out_of_sight(listed: list[dict[str, Any]]) -> str:
    data = json.dumps({"list": listed}, separators=(",", ":"), sort_keys=True).encode()
    packed = base64.b64encode(zlib.compress(data, 9)).decode()
    lines = [packed[start : start + _LINE] for start in range(0, len(packed), _LINE)]
    return "\n".join(["", *lines, ""])


def _into_sight(packed: str, where: str) -> Any:
    unpacking = zlib.decompressobj()
    try:
        data = unpacking.decompress(
            base64.b64decode("".join(packed.split()), validate=True), _LARGEST_LIST_BYTES
        )
    except (binascii.Error, zlib.error, ValueError):
        raise Refused(f"{where}: is damaged; ask for the set again") from None
    if not unpacking.eof:
        raise Refused(f"{where}: is cut off or too long; ask for the set again")
    fields = read_json(data, where)
    return fields.take("list")
