"""The window in bad hours: a slow page, an output that is pulled out, a record that is gone."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.trainer.test_cli import ROOT
from trainer.record import Record

BEGIN = """
import sys, time
from pathlib import Path
import pygame
from trainer import __version__
from trainer.limits import Limits
from trainer.loop_shelf import LoopShelf
from trainer.record import Record
from trainer.window.app import Window
from trainer.window.desk import Kept

home = Path(sys.argv[1])
pygame.display.init(); pygame.font.init()
record = Record(home, "ada", __version__)
record.set_setting("volume_db", -28.0)
kept = Kept(record, LoopShelf(home / "loops"))
shown = Window(pygame.display.set_mode((1280, 800)), kept, Limits(loops=("slipway",)))

def turn(times=1):
    "Once round the window's loop, as in Window.run."
    for _ in range(times):
        shown._show()
        for event in (pygame.event.wait(shown._wait_ms()), *pygame.event.get()):
            shown._take(event)
        shown._repeat()
        shown._desk.sound.keep_up()
        if shown._page is not None:
            shown._follow(shown._page.tick())

def down(key, text=""):
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=key, unicode=text, mod=0))

def up(key):
    pygame.event.post(pygame.event.Event(pygame.KEYUP, key=key, unicode="", mod=0))

def press(key, text=""):
    down(key, text)
    up(key)
    turn()

def until(holds):
    end = time.monotonic() + 60
    while not holds() and time.monotonic() < end:
        turn()
    assert holds(), shown._page.title

def said():
    return shown._desk._notice
"""


def run_window(home: Path, script: str) -> list[str]:
    """What a script prints that drives a window which nobody sees, sounding to nobody."""
    done = subprocess.run(
        [sys.executable, "-c", BEGIN + script, str(home)],
        cwd=ROOT,
        env=os.environ
        | {
            "NAMEFIRST_HOME": str(home),
            "SDL_AUDIODRIVER": "dummy",
            "SDL_VIDEODRIVER": "dummy",
            "PYGAME_HIDE_SUPPORT_PROMPT": "1",
        },
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_a_short_press_on_a_slow_page_counts_once_and_a_held_key_goes_on(tmp_path: Path) -> None:
    """The release comes while the page still works; the wait for a repeat is over long before."""
    lines = run_window(
        tmp_path,
        """
pressed = []
class SlowPage:
    title, stale = "slow", False
    def draw(self, canvas): pass
    def move(self, canvas): return []
    def tick(self): return self
    def key(self, event):
        pressed.append(event.key)
        time.sleep(slow_s)
        return self

shown._follow(SlowPage())
slow_s = 0.6
press(pygame.K_RIGHT)
turn(3)
print(len(pressed))
pressed.clear()
slow_s = 0.0
down(pygame.K_RIGHT)
end = time.monotonic() + 1.0
while time.monotonic() < end:
    turn()
up(pygame.K_RIGHT)
turn()
held = len(pressed)
turn(10)
print(held > 3, len(pressed) == held)
down(pygame.K_RETURN)
end = time.monotonic() + 0.8
pressed.clear()
while time.monotonic() < end:
    turn()
print(len(pressed))
shown._desk.close()
""",
    )
    assert lines == ["1", "True True", "1"]


def test_an_output_that_is_pulled_out_is_said_and_the_drill_goes_on(tmp_path: Path) -> None:
    """First it comes back, then it does not: the answer is kept, and what helps is said."""
    lines = run_window(
        tmp_path,
        """
import trainer.player as player

def unplug():
    pygame.event.post(pygame.event.Event(pygame.AUDIODEVICEREMOVED, which=2, iscapture=0))
    until(said)
    print(said())

def answer():
    press(pygame.K_b, "b")
    until(lambda: shown._desk.sound.heard_s("B") > 1.1)
    press(pygame.K_7, "7")
    press(pygame.K_RETURN)

press(pygame.K_RETURN)
until(lambda: shown._page.title == "question 1")
press(pygame.K_b, "b")
until(lambda: shown._desk.sound.heard_s("B") > 0.3)
unplug()
print(shown._page.title, shown._desk.sound.playhead.playing)
answer()
print(shown._page.title)
unplug()
def none_there(*_):
    raise player.NoAudioDevice("there is no output; add --silent or --terminal")
opened, player.open_player = player.open_player, none_there
press(pygame.K_b, "b")
print(said(), shown._desk.sound.playhead.playing)
player.open_player = opened
press(pygame.K_RETURN)
until(lambda: shown._page.title == "question 2")
answer()
print(shown._page.title)
shown._desk.close()
""",
    )
    gone = "the system's sound output is gone; plug it in, then start the sound again"
    assert lines == [
        gone,
        "question 1 False",
        "review 1",
        gone,
        "there is no output; add --silent or --terminal False",
        "review 2",
    ]
    record = Record(tmp_path, "ada", "1")
    assert record.count_answers() == 2
    record.close()


def test_a_record_that_is_gone_is_said_on_the_page_and_the_answer_can_be_given_again(
    tmp_path: Path,
) -> None:
    home = tmp_path / "home"
    lines = run_window(
        home,
        """
press(pygame.K_RETURN)
until(lambda: shown._page.title == "question 1")
press(pygame.K_b, "b")
until(lambda: shown._desk.sound.heard_s("B") > 1.1)
press(pygame.K_7, "7")
home.rename(home.with_name("elsewhere"))
press(pygame.K_RETURN)
print(shown._page.title, "|", said())
press(pygame.K_MINUS, "-")
print(shown._page.title, "|", said())
home.with_name("elsewhere").rename(home)
press(pygame.K_RETURN)
print(shown._page.title, "|", said())
shown._desk.close()
""",
    )
    gone = f"{home}/record.sqlite: was moved or deleted while it was in use; put it back"
    assert lines[0].startswith(f"question 1 | {gone}")
    assert lines[1].startswith(f"question 1 | {gone}")
    assert lines[2] == "review 1 | "
    record = Record(home, "ada", "1")
    assert record.count_answers() == 1
    record.close()
