"""Plain lines: whole in a pipe, broken between words at a terminal of any width."""

from __future__ import annotations

import io
import os
import sys

import pytest

from trainer.plain_text import PlainText

LINE = (
    "  Step 1 of 7: one problem on the whole mix; 2 answers, 1 of 2, 50 % (9 to 91) named at "
    "31.5 Hz, +11.1 dB, in /a/path/that/is/longer/than/the/terminal/and/stays/whole.json"
)


def test_in_a_pipe_a_line_stays_whole() -> None:
    shown = io.StringIO()
    text = PlainText(io.StringIO("yes\n"), shown)
    text.say(LINE)
    assert text.ask("well") == "yes"
    assert shown.getvalue() == f"{LINE}\nwell:\n"


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")
@pytest.mark.parametrize("columns", [24, 40, 58, 80, 132])
def test_at_a_terminal_lines_break_between_words(columns: int) -> None:
    import fcntl
    import struct
    import termios

    ours, theirs = os.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    with os.fdopen(theirs, "w", encoding="utf-8") as shown:
        PlainText(None, shown).say(LINE)
        told = os.read(ours, 4096).decode().split("\r\n")
    os.close(ours)
    lines = told[:-1]
    assert " ".join(line.strip() for line in lines) == LINE.strip()
    assert all(len(line) < columns for line in lines if " " in line.strip())
    assert lines[0].startswith("  Step")
    assert all(line.startswith("    ") for line in lines[1:])
    # SI brochure 5.4.3: a space between figure and unit, which are read together.
    assert not any(line.strip().split()[0] in {"%", "Hz,", "dB,"} for line in lines)
