"""Loops in the window: heard, added by ear, put aside; and what can be heard on each, kept."""

from __future__ import annotations

import json
import os
import threading
import time
from collections.abc import Callable, Iterator
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pygame
import pytest

from exercises.askable_table import AskableTable
from exercises.bands import BANDS
from exercises.kinds import Kind
from exercises.loop_writing import write_loop
from exercises.loops import Loop
from exercises.own_loop import make_loop, survey
from exercises.samples import RATE_HZ, db_to_gain
from tests import captured_sound, meters
from tests.exercises.awkward_files import write
from tests.exercises.songs import song
from tests.page_off_screen import PATIENCE_S, Written, press, until, written
from tests.screen import wait_until, window
from tests.synthetic_loops import frames_of, loop_of, noise, repeated, small_band
from trainer import kept_tables
from trainer.kept_tables import table_of
from trainer.loop_choices import choices_in
from trainer.loop_shelf import LoopShelf
from trainer.loop_sounds import MIX, loop_sounds, solo_of
from trainer.loop_words import candidate_words
from trainer.planner import Limits
from trainer.playhead import FIRST_FADE_FRAMES
from trainer.record import Record
from trainer.watched_work import WatchedWork
from trainer.window.app import Window
from trainer.window.desk import Desk, Kept
from trainer.window.frame import Screen
from trainer.window.loop_add_page import LoopAddPage
from trainer.window.loop_search_page import LoopSearchPage
from trainer.window.loops_page import LoopsPage

SIZES = ((1280, 800), (1024, 640))
WINDOW = 4096


@pytest.fixture(scope="module", autouse=True)
def _fonts() -> Iterator[None]:
    pygame.font.init()
    yield
    pygame.font.quit()


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder with one small own loop, "small", of three tracks."""
    monkeypatch.setenv("NAMEFIRST_HOME", str(tmp_path / "home"))
    write_loop(small_band(3.0, level_db=-6.0), tmp_path / "home" / "loops" / "small")
    return tmp_path / "home"


@pytest.fixture
def desk(home: Path) -> Iterator[Desk]:
    kept = Kept(Record(home, "ada", "1"), LoopShelf(home / "loops"))
    desk = Desk(kept, Limits(), silent=True)
    desk.hush()  # that it is a rehearsal was read
    yield desk
    desk.close()


@pytest.fixture(scope="module")
def own_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("own") / "Night train.wav"
    write(path, song(104, 14, 0.7))
    return path


def _words(page: Screen, desk: Desk) -> str:
    """All that stands on the page, the notice included."""
    canvas = Written()
    canvas.clear()
    page.draw(canvas)
    desk.draw_notice(canvas)
    return "\n".join(words for words, *_ in canvas.words)


def _notice(desk: Desk) -> str:
    canvas = Written()
    desk.draw_notice(canvas)
    return " ".join(words for words, *_ in canvas.words)


def _no_words_overlap(page: Screen, size: tuple[int, int]) -> None:
    canvas = Written(size)
    canvas.clear()
    page.draw(canvas)
    seen = [each for each in canvas.words if each[0]]
    assert seen
    for words, left, top, right, bottom in seen:
        assert left >= 0, words
        assert top >= 0, words
        assert right <= canvas.width, words
        assert bottom <= canvas.height, words
    for one, other in combinations(seen, 2):
        apart = one[3] <= other[1] or other[3] <= one[1] or one[4] <= other[2] or other[4] <= one[2]
        assert apart, (one, other)


def _settled(desk: Desk, name: str = "small") -> LoopsPage:
    """The page with ``name`` chosen, read, and its table worked out."""
    page = LoopsPage(desk, name)
    until(page, lambda _: "All over: squashed" in _words(page, desk))
    return page


# The whole way, with real keys ------------------------------------------------------------------


def test_own_material_is_added_by_ear(tmp_path: Path, own_file: Path) -> None:
    home, capture = tmp_path / "home", tmp_path / "sound.raw"
    sound = captured_sound.capture_environment(capture, delay_ms=10)
    material = survey(own_file)
    loops = {str(n): make_loop(material, n - 1) for n in (1, 2)}
    sounds = {number: loop_sounds(loop)[MIX] for number, loop in loops.items()}
    # On this song they differ, so that hearing one is not hearing the other.
    assert loops["1"].fingerprint != loops["2"].fingerprint
    environment = os.environ | sound | {"NAMEFIRST_HOME": str(home)}
    with window(["drill", "--learner", "ada"], environment, tmp_path) as shown:
        shown.wait_title("Today")
        shown.press("o")
        shown.wait_title("loops")
        shown.press("n")
        shown.wait_title("add a loop")
        shown.xdotool("type", "--delay", "15", str(tmp_path / "broken.wav"))
        (tmp_path / "broken.wav").write_bytes(b"RIFF of no use" * 20)
        shown.press("Return")
        time.sleep(1.0)
        shown.picture("loops_broken_file")
        shown.wait_title("add a loop")  # told in one line, as below; nothing else has changed
        shown.press("Escape")
        shown.wait_title("loops")
        shown.press("n")
        shown.wait_title("add a loop")
        shown.xdotool("type", "--delay", "15", str(own_file))
        shown.press("Return")
        shown.wait_title("choose a loop")
        shown.press("2")
        wait_until(lambda: capture.exists() and capture.stat().st_size > 3 * RATE_HZ * 8)
        time.sleep(2.0)
        shown.picture("loops_choice")
        shown.press("Return")
        shown.wait_title("loops")
        wait_until(lambda: list((home / "askable").glob("*.json")))
        time.sleep(0.5)
        shown.picture("loops_own")
        shown.press("Escape")
        shown.wait_title("Today")
        shown.press("Escape")
        assert shown.process.wait(timeout=30) == 0
    shelf = LoopShelf(home / "loops")
    assert shelf.own_names() == ("night-train",)
    assert shelf.get("night-train").fingerprint == loops["2"].fingerprint
    (kept,) = (home / "askable").glob("*.json")
    assert kept.name.startswith(loops["2"].fingerprint)
    captured = captured_sound.read_capture(capture)
    captured = captured[np.flatnonzero(np.abs(captured).max(axis=1))[0] :][: 8 * RATE_HZ]
    heard = captured_sound.who_sounds(captured, {"2": sounds["2"]}, WINDOW)
    # A song repeats itself, so it takes some windows to know the place; from there on it is sure.
    at = [place for place, one in enumerate(heard) if one.name == "2"]
    assert len(at) * WINDOW > 2.0 * RATE_HZ
    assert {one.name for one in heard[at[0] : at[-1] + 1]} == {"2"}
    # And before that it was the same from its first frame on, once it had faded in.
    known = heard[at[0]]
    assert abs(known.place - known.start) <= 2
    faded_in = slice(FIRST_FADE_FRAMES + WINDOW, known.start)
    own = np.roll(sounds["2"], known.start - known.place, axis=0)[faded_in]
    assert np.allclose(captured[faded_in], own * db_to_gain(known.gain_db), rtol=0.0, atol=1e-6)


def test_a_file_dropped_on_the_window_is_searched(
    home: Path, own_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.init()
    surface = pygame.display.set_mode(SIZES[1])
    kept = Kept(Record(home, "ada", "1"), LoopShelf(home / "loops"))
    shown = Window(surface, kept, Limits(), silent=True)
    seen: list[str] = []

    def hand() -> None:
        def wait_for(title: str) -> None:
            wait_until(lambda: pygame.display.get_caption()[0] == f"Namefirst: {title}")
            seen.append(pygame.display.get_caption()[0])

        wait_for("Today")
        pygame.event.post(pygame.event.Event(pygame.DROPFILE, file=str(own_file)))
        wait_for("choose a loop")
        # And from there, something that is nothing: told, and another can be named.
        pygame.event.post(pygame.event.Event(pygame.DROPFILE, file=str(home / "loops" / "nil.xyz")))
        wait_for("add a loop")
        pygame.event.post(pygame.event.Event(pygame.QUIT))

    driver = threading.Thread(target=hand)
    driver.start()
    shown.run()
    driver.join()
    pygame.display.quit()
    assert seen == [f"Namefirst: {each}" for each in ("Today", "choose a loop", "add a loop")]


# The list ---------------------------------------------------------------------------------------


def test_own_loops_come_first_then_the_demo_loops(desk: Desk) -> None:
    (desk.shelf.folder / "wrecked").mkdir()
    (desk.shelf.folder / "wrecked" / "loop.toml").write_text("format = 1\n")
    words = _words(LoopsPage(desk), desk)
    assert words.index("Test loop") < words.index("wrecked") < words.index("Bandstand waltz")
    assert "synthetic\n3.0 s\n3 tracks" in words
    assert "orchestra\n11.2 s\n5 tracks\nstrings alone, full orchestra" in words
    assert "damaged" in words
    page = LoopsPage(desk, "wrecked")
    reason = "needs a title and at least one [[track]]"  # over two lines where its path is long
    until(page, lambda _: reason in _words(page, desk).replace("\n", " "))
    press(page, pygame.K_UP)
    until(page, lambda _: "whole mix" in _words(page, desk))


def test_the_mix_and_each_track_are_heard_as_loud_as_questions_are(desk: Desk) -> None:
    loop = desk.shelf.get("small")
    sounds = loop_sounds(loop)
    # Measured by libebur128; -23 LUFS is the target of EBU R 128, and what questions are played at.
    # Going round, the loop's beginning is heard after its end.
    measured_lufs = meters.ebur128_lufs(repeated(sounds[MIX], 30.0))
    assert measured_lufs == pytest.approx(-23.0, abs=0.1)
    parts = sum(sounds[solo_of(track)].astype(float) for track in range(len(loop.tracks)))
    assert np.allclose(parts, sounds[MIX], atol=1e-5)
    page = _settled(desk)
    playhead = desk.sound.playhead
    assert not playhead.playing
    press(page, pygame.K_SPACE)
    assert (playhead.playing, playhead.current) == (True, MIX)
    press(page, pygame.K_RIGHT)
    assert playhead.current == solo_of(0)
    assert "drums, alone" in _words(page, desk)
    press(page, pygame.K_l)
    assert playhead.current == MIX
    assert "drums, in the mix" in _words(page, desk)
    press(page, pygame.K_l, pygame.K_RIGHT, pygame.K_RIGHT)
    assert playhead.current == solo_of(2)
    press(page, pygame.K_RIGHT)
    assert playhead.current == MIX
    press(page, pygame.K_LEFT)
    assert playhead.current == solo_of(2)
    assert not isinstance(press(page, pygame.K_ESCAPE), LoopsPage)
    assert not playhead.playing


def test_the_picture_says_what_the_kept_table_says(desk: Desk, home: Path) -> None:
    page = _settled(desk)
    table = table_of(desk.shelf.get("small"), home / "askable")
    for track, keys in ((None, ()), ("drums", (pygame.K_RIGHT,)), ("bass", (pygame.K_RIGHT,))):
        press(page, *keys)
        canvas = Written()
        canvas.clear()
        page.draw(canvas)
        said = [words for words, *_ in canvas.words]
        figures: list[str] = []
        silent = 0
        for band in BANDS:
            pair = [
                table.smallest_db(track, track is not None, kind, band.index)
                for kind in (Kind.TOO_MUCH, Kind.TOO_LITTLE)
            ]
            if pair == [None, None]:
                silent += 1
            else:
                figures += ["never" if size is None else f"{size:.2f}" for size in pair]
        assert said.count("not to be") == said.count("heard here") == silent
        shown = [words for words in said if words == "never" or _is_size(words)]
        assert shown == figures
    assert table.smallest_db("bass", True, Kind.TOO_MUCH, 9) is None, "a bass has no 16 kHz"


def _is_size(words: str) -> bool:
    whole, dot, rest = words.partition(".")
    return whole.isdigit() and dot == "." and len(rest) == 2 and rest.isdigit()


def test_a_loop_is_put_aside_only_when_asked_twice(desk: Desk) -> None:
    page = _settled(desk)
    press(page, pygame.K_DELETE)
    assert "off the shelf?" in _words(page, desk)
    press(page, pygame.K_ESCAPE)
    assert "off the shelf?" not in _words(page, desk)
    press(page, pygame.K_DELETE, pygame.K_n)
    assert desk.shelf.own_names() == ("small",)
    press(page, pygame.K_DELETE, pygame.K_RETURN)
    assert desk.shelf.own_names() == ()
    assert (desk.shelf.folder / "removed" / "small" / "loop.toml").is_file()
    assert "'Test loop' is off the shelf; it lies in" in _notice(desk)
    press(page, pygame.K_DELETE)  # a demo loop stays
    assert "off the shelf?" not in _words(page, desk)


@pytest.mark.parametrize("size", SIZES)
def test_no_words_overlap_or_leave_the_pages(
    size: tuple[int, int], desk: Desk, own_file: Path
) -> None:
    page: Screen = LoopsPage(desk, "small")
    _no_words_overlap(page, size)
    page = _settled(desk)
    _no_words_overlap(page, size)
    press(page, pygame.K_RIGHT)
    _no_words_overlap(page, size)
    press(page, pygame.K_DELETE)
    _no_words_overlap(page, size)
    page = LoopAddPage(desk)
    _no_words_overlap(page, size)
    page = LoopSearchPage(desk, own_file)
    _no_words_overlap(page, size)
    page = until(page, lambda shown: shown.title == "choose a loop")
    press(page, pygame.K_1)
    until(page, lambda _: desk.sound.playhead.playing)
    _no_words_overlap(page, size)


# Adding -----------------------------------------------------------------------------------------


def _typed(page: Screen, text: str) -> Screen:
    for character in text:
        event = pygame.event.Event(
            pygame.KEYDOWN, key=ord(character.lower()), unicode=character, mod=0
        )
        assert page.key(event) is page
    return press(page, pygame.K_RETURN)


def test_what_was_found_is_told_with_its_reasons_and_notes(desk: Desk, tmp_path: Path) -> None:
    file = tmp_path / "Cut short.wav"
    write(file, song(104, 14, 0.7))
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) - len(whole) // 8])  # the header promises more
    page = _typed(LoopAddPage(desk), str(file))
    page = until(page, lambda shown: shown.title == "choose a loop")
    words = _words(page, desk)
    material = survey(file)
    assert material.notes
    assert all(note in words for note in material.notes)
    for candidate in material.candidates:
        assert candidate_words(candidate) in words
        assert f"energy in {candidate.reasons.bands} of 10 bands" in words
    assert "4 bars at 104.0 BPM" in words


@pytest.mark.parametrize(
    ("build", "told"),
    [
        (lambda path: path.write_bytes(b"RIFF of no use" * 20), "not audio"),
        (lambda path: path.write_bytes(b""), "empty"),
        (lambda path: path.mkdir(), "no audio files in it"),
        (lambda path: None, "no such file"),
    ],
)
def test_what_is_no_loop_is_told_in_one_line_and_another_can_be_named(
    desk: Desk, tmp_path: Path, build: Callable[[Path], object], told: str
) -> None:
    path = tmp_path / "broken.wav"
    build(path)
    page = _typed(LoopAddPage(desk), str(path))
    page = until(page, lambda _: _notice(desk))
    assert told in _notice(desk)
    assert "broken.wav" in _notice(desk)
    assert page.title == "add a loop"
    assert isinstance(page, LoopAddPage)
    assert page.typing
    said = [words for words, *_ in written(page).words]
    assert any(words.endswith("broken.wav") for words in said), "to be mended, not typed again"
    assert desk.shelf.own_names() == ("small",)


def test_a_path_can_be_pasted(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.init()
    pygame.display.set_mode(SIZES[1])
    pygame.scrap.init()
    pygame.scrap.put("text/plain;charset=utf-8", "nowhere/Übung 2.wav\nmore".encode())
    page = LoopAddPage(desk)
    press(page, pygame.K_v, mod=pygame.KMOD_LCTRL)
    assert "nowhere/Übung 2.wav" in _words(page, desk)
    until(press(page, pygame.K_RETURN), lambda _: _notice(desk))
    assert "Übung 2.wav: no such file" in _notice(desk)
    pygame.display.quit()


def test_a_kept_choice_is_listed_and_the_same_sound_is_kept_once(
    desk: Desk, own_file: Path
) -> None:
    for told in ("is on the shelf now", "was on the shelf already"):
        page: Screen = LoopSearchPage(desk, own_file)
        page = until(page, lambda shown: shown.title == "choose a loop")
        press(page, pygame.K_RIGHT, pygame.K_2)
        assert "Counted at 104 BPM, as found" in _words(page, desk), "the choice is each loop's own"
        press(page, pygame.K_LEFT, pygame.K_LEFT)
        assert "Counted at 52 BPM, half of what was found" in _words(page, desk)
        assert press(page, pygame.K_RETURN, pygame.K_ESCAPE) is page, "what is begun is told of"
        page = until(page, lambda shown: isinstance(shown, LoopsPage))
        assert f"'Night train' {told}" in _notice(desk)
        assert "Night train" in _words(page, desk)
        assert desk.shelf.own_names() == ("night-train", "small")
    assert desk.shelf.get("night-train").tempo_bpm == pytest.approx(52.0, rel=1e-3)


def test_a_folder_that_is_a_loop_is_offered_as_it_is(desk: Desk, tmp_path: Path) -> None:
    loop = small_band(4.0, level_db=-8.0)
    write_loop(loop, tmp_path / "from a friend")
    page: Screen = LoopSearchPage(desk, tmp_path / "from a friend")
    page = until(page, lambda shown: shown.title == "choose a loop")
    assert "it is a loop already" in _words(page, desk)
    press(page, pygame.K_RETURN)
    until(page, lambda shown: isinstance(shown, LoopsPage))
    assert {desk.shelf.get(name).fingerprint for name in desk.shelf.own_names()} >= {
        loop.fingerprint
    }


def test_escape_gives_a_search_up(desk: Desk, tmp_path: Path) -> None:
    file = tmp_path / "Long.wav"
    write(file, np.tile(song(104, 14, 0.7), (12, 1)))
    page = _typed(LoopAddPage(desk), str(file))
    assert page.title == "searching for loops"
    until(page, lambda _: " %" in _words(page, desk) and "\n0 %" not in _words(page, desk))
    page = press(page, pygame.K_ESCAPE)
    assert page.title == "add a loop"
    assert "Long.wav" in _words(page, desk)
    for _ in range(20):
        assert page.tick() is page
        time.sleep(0.05)
    assert page.title == "add a loop"
    assert _notice(desk) == ""
    assert isinstance(press(page, pygame.K_ESCAPE), LoopsPage)


def test_work_that_is_given_up_ends_when_it_next_tells_its_share() -> None:
    work: WatchedWork[str] = WatchedWork()
    told, go_on, ended = threading.Event(), threading.Event(), threading.Event()

    def make(tell: Callable[[float], None]) -> str:
        tell(0.25)
        told.set()
        go_on.wait(PATIENCE_S)
        try:
            tell(0.5)
        finally:
            ended.set()
        raise AssertionError("it went on")

    work.begin(make)
    assert told.wait(PATIENCE_S)
    assert work.share == 0.25
    work.give_up()
    assert (work.begun, work.share) == (False, 0.0)
    work.begin(lambda tell: "another")
    go_on.set()
    assert ended.wait(PATIENCE_S)
    assert work.take() == "another"


# Tables -----------------------------------------------------------------------------------------


def _count_makings(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    made: list[str] = []
    make = kept_tables.askable_table

    def counted(loop: Loop, **how: Any) -> AskableTable:
        made.append(loop.name)
        return make(loop, **how)

    monkeypatch.setattr(kept_tables, "askable_table", counted)
    return made


def test_a_table_is_worked_out_once_and_again_when_it_does_not_fit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = _count_makings(monkeypatch)
    loop = loop_of(("all", noise(frames_of(1.5), 3)))
    shares: list[float] = []
    table = table_of(loop, tmp_path / "askable", shares.append)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    assert shares == sorted(shares)
    assert table_of(loop, tmp_path / "askable") == table
    assert len(made) == 1
    (path,) = (tmp_path / "askable").iterdir()
    for damage in ("", "{}", "[1, 2]", json.dumps(table.to_dict() | {"fingerprint": "0" * 64})):
        path.write_text(damage)
        made.clear()
        assert table_of(loop, tmp_path / "askable") == table
        assert len(made) == 1, damage
    path.unlink()
    path.parent.rmdir()
    path.parent.write_text("a file where the folder should be")
    assert table_of(loop, tmp_path / "askable") == table


def test_a_choice_is_cut_when_it_is_wanted_and_once(own_file: Path) -> None:
    choices = choices_in(own_file, "Second verse")
    assert choices.loop(2) is choices.loop(2)
    assert choices.loop(2).title == "Second verse"
    assert choices.loop(1).fingerprint == make_loop(survey(own_file)).fingerprint
