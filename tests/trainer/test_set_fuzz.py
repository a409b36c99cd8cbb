"""Ten thousand mutated sets and results: each is read or refused in one line, never anything else.

Bytes are changed at random, and, since a checksum or an id would catch most of that at the door,
values inside are changed too and signed again. The mutations are drawn from a printed seed.
"""

from __future__ import annotations

import base64
import copy
import json
import random
import re
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from exercises.errors import NamefirstError
from tests.simulated_class import class_set, taken
from trainer.assignments.result import checksum, read_result, result_text
from trainer.assignments.set_archive import read_set_file
from trainer.assignments.set_file import read_set, set_text

SET = set_text(class_set(5)).encode()
RESULT = result_text(taken(class_set(5), "Ada", 0.6)).encode()
TOKENS = (
    b"nan", b"-inf", b"1e999", b"null", b"true", b"[[[[", b"{", b'"', b"'''", b'"""', b"\\u0000",
    b"\\", b"\n", b"\x00", b"\xff", b"9" * 400, b"-1", b"0x", b"../../", b"<script>", b"=", b".",
    b",",
)  # fmt: skip
VALUES = (
    None, True, False, -1, 0, 1, 2**31, 10**400, 1e308, -0.5, "", "x", "x" * 5000, "\x1b[2J", "nan",
    "2026-13-40", "2026-03-05T19:30:00", [], [[]], {}, {"a": 1}, [None] * 30, "too much", "nothing",
)  # fmt: skip

Mutation = Callable[[random.Random], bytes]


def bytes_changed(draws: random.Random, data: bytes) -> bytes:
    """``data`` with one to four cuts, doublings, swaps or insertions."""
    out = bytearray(data)
    for _ in range(draws.randint(1, 4)):
        at, length = draws.randrange(len(out) + 1), draws.choice((1, 1, 2, 8, 60, 400))
        what = draws.randrange(4)
        if what == 0:
            del out[at : at + length]
        elif what == 1:
            out[at:at] = out[at : at + length]
        elif what == 2:
            out[at:at] = draws.choice(TOKENS)
        elif out:
            out[at % len(out)] = draws.randrange(256)
        if not out:
            break
    return bytes(out)


def value_changed(draws: random.Random, plain: Any) -> None:
    """Changes, takes out, adds or renames one value somewhere in nested ``plain``."""
    here = plain
    while True:
        keys = list(here) if isinstance(here, dict) else list(range(len(here)))
        if not keys:
            return
        key = draws.choice(keys)
        if isinstance(here[key], dict | list) and here[key] and draws.random() < 0.85:
            here = here[key]
            continue
        what = draws.randrange(6)
        if what == 0:
            del here[key]
        elif what == 1 and isinstance(here, dict):
            here[draws.choice(("soup", "kind", "a" * 300))] = copy.deepcopy(draws.choice(VALUES))
        else:
            here[key] = copy.deepcopy(draws.choice(VALUES))
        return


def a_set(draws: random.Random) -> bytes:
    if draws.random() < 0.5:
        return bytes_changed(draws, SET)
    packed = re.search(rb'list = """\n(.*?)"""', SET, re.DOTALL)
    assert packed is not None
    listed = json.loads(zlib.decompress(base64.b64decode(packed[1])))
    value_changed(draws, listed)
    again = base64.b64encode(zlib.compress(json.dumps(listed).encode()))
    return SET.replace(packed[1], again + b"\n")


def a_result(draws: random.Random) -> bytes:
    if draws.random() < 0.3:
        return bytes_changed(draws, RESULT)
    plain = json.loads(RESULT)
    for _ in range(draws.randint(1, 3)):
        value_changed(draws, plain)
    if isinstance(plain, dict) and draws.random() < 0.95:
        plain["checksum"] = checksum(plain)
    return json.dumps(plain).encode()


def survived(
    read: Callable[[bytes, str], object], mutated: Mutation, count: int
) -> tuple[int, int]:
    """How many of ``count`` mutations were read, and how many refused in one line."""
    read_count = refused = 0
    for seed in range(count):
        data = mutated(random.Random(seed))
        try:
            read(data, "x")
            read_count += 1
        except NamefirstError as error:
            refused += 1
            told = str(error)
        except Exception as error:
            pytest.fail(f"seed {seed}: {error!r}")
        else:
            continue
        if len(told.splitlines()) != 1 or len(told) > 500:
            pytest.fail(f"seed {seed}: not one clear line: {told!r}")
    return read_count, refused


def test_five_thousand_mutated_sets() -> None:
    read, refused = survived(read_set, a_set, 5000)
    assert read + refused == 5000
    assert refused > 4000


def test_five_thousand_mutated_results() -> None:
    read, refused = survived(read_result, a_result, 5000)
    assert read + refused == 5000
    assert refused > 2500
    assert read > 50  # some changes are changes of what may be changed: a name, a time


def test_mutated_zips(tmp_path: Path) -> None:
    from tests.trainer.test_set_taking import own_set

    whole = own_set(tmp_path).read_bytes()
    path = tmp_path / "mutated.zip"

    def read(data: bytes, _where: str) -> object:
        path.write_bytes(data)
        return read_set_file(path)

    def mutated(draws: random.Random) -> bytes:
        # The directory at the end is where it matters.
        return whole[:-900] + bytes_changed(draws, whole[-900:])

    read_count, refused = survived(read, mutated, 300)
    assert read_count + refused == 300
    assert refused > 100
