"""Every page of the window: its keys by the glossary, and every word to be read, at every size.

``NAMEFIRST_PICTURES=folder`` leaves a picture of each page at each size.
"""

from __future__ import annotations

import contextlib
import os
import string
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pygame
import pytest

from exercises.demo_loops import demo_loop
from exercises.errors import NamefirstError
from exercises.evidence import evidence_for
from exercises.kinds import Kind
from exercises.samples import RATE_HZ
from tests.page_off_screen import Written, press, troubles, until, written
from tests.simulated_class import class_set
from tests.window_pages import LOOP, SIZES, Make, Rig, pages
from trainer.assignments.set_archive import write_set
from trainer.chain import Reach
from trainer.claim import Trial
from trainer.record import RecordError
from trainer.study import Need
from trainer.study_texts import text_of
from trainer.subject import SUBJECTS, Subject
from trainer.window.app import fitting
from trainer.window.canvas import Box, Canvas
from trainer.window.chain_page import ChainPage
from trainer.window.claim_form_page import ClaimFormPage
from trainer.window.frame import Screen
from trainer.window.keys import ACTS, GLOSSARY, LISTENING, ROOMS, UNKNOWN, key_words
from trainer.window.keys_page import KeysPage
from trainer.window.look import contrast
from trainer.window.question_page import QuestionPage
from trainer.window.rule import Rule, pointed_hz
from trainer.window.spectrum_picture import draw_spectrum
from trainer.window.study_notes import draw_side_by_side
from trainer.window.wait_page import WaitPage

PICTURES = os.environ.get("NAMEFIRST_PICTURES")


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Rig]:
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("NAMEFIRST_HOME", str(home))
        pygame.display.init()
        pygame.display.set_mode((1280, 800))
        rig = Rig(home)
        yield rig
        rig.desk.close()


@pytest.fixture(autouse=True)
def _let_go(rig: Rig) -> Iterator[None]:
    """No output plays here: what was to be heard would wait for one, and be kept to the end."""
    yield
    rig.desk.sound.playhead.fill(np.empty((64, 2), dtype=np.float32))


LETTERS = frozenset(string.ascii_uppercase)
TYPED = ("set-build", "set-open", "loop-add", "loop-search", "keys", "loops-removing")
"""Where a letter is text, or any key goes back."""
TELLS_WHY_NOT = {"question-no-a": {"A"}}


def heard_state(rig: Rig) -> object:
    playhead = rig.desk.sound.playhead
    return playhead.current, playhead.playing, rig.desk.sound.soloed


LED_ON = "led on"


def something_came_of(rig: Rig, page: Screen, *characters: str) -> str:
    """What came of the keys, pressed in turn: one led on, or what is seen or heard is another; else
    nothing ("")."""
    rig.desk.sound.playhead.stop()
    rig.desk.hush()
    press(page, pygame.K_F15)  # takes a note away, as any key does
    seen, heard = pixels(page), heard_state(rig)
    for character in characters:
        event = pygame.event.Event(
            pygame.KEYDOWN, key=ord(character), unicode=character, mod=pygame.KMOD_NONE
        )
        if page.key(event) is not page:
            return LED_ON
    return "changed" if pixels(page) != seen or heard_state(rig) != heard else ""


def pixels(page: Screen) -> bytes:
    canvas = Canvas(pygame.Surface((1024, 640)))
    canvas.clear()
    page.draw(canvas)
    return pygame.image.tobytes(canvas.surface, "RGB")


STATES = tuple(
    name
    for name, _ in pages(SimpleNamespace(desk=None, loop=demo_loop(LOOP), round=None, level=None))
)


@pytest.fixture(scope="module")
def made(rig: Rig) -> dict[str, Make]:
    return dict(pages(rig))


@pytest.fixture(scope="module", params=STATES)
def state(request: pytest.FixtureRequest, made: dict[str, Make]) -> tuple[str, Screen]:
    """The name of a state and a page in it, made once for all that look at it."""
    return request.param, made[request.param]()


def test_the_glossary_has_one_meaning_a_letter() -> None:
    """No two rooms, sounds or acts share a letter, and none shares its first words."""
    tables = (ROOMS, LISTENING, ACTS)
    assert sum(map(len, tables)) == len(set().union(*tables))
    meanings = [words[0] for words in GLOSSARY.values()]
    assert sorted(words for words in set(meanings) if meanings.count(words) > 1) == ["all keys"]
    with pytest.raises(LookupError, match="'delete'"):
        key_words("X", "delete")
    with pytest.raises(LookupError):
        key_words("Z")


def test_a_page_shows_no_key_but_by_the_glossary(state: tuple[str, Screen]) -> None:
    name, page = state
    assert set(page.keys) <= set(page.all_keys)
    for cap, words in page.all_keys:
        assert key_words(cap, words) == (cap, words)
        assert words in UNKNOWN if cap == "X" and name == "claim-trials" else words not in UNKNOWN
    caps = [cap for cap, _ in page.all_keys]
    assert len(caps) == len(set(caps)), "a key stands there twice"
    assert "Esc" in caps
    if not isinstance(page, KeysPage):
        assert {"?", "F1"} & {cap for cap, _ in page.keys}, "there is no way to all keys"


@pytest.mark.parametrize("name", [each for each in STATES if each not in TYPED])
def test_letters_do_what_the_page_says_and_no_other_does_anything(
    rig: Rig, made: dict[str, Make], name: str
) -> None:
    page = made[name]()
    said = {cap for cap, _ in page.all_keys} & LETTERS
    typed = any(" k" in cap for cap, _ in page.all_keys)
    free = LETTERS - said - ({"K"} if typed else set()) - TELLS_WHY_NOT.get(name, set())
    others = sorted(letter.lower() for letter in free)
    came = something_came_of(rig, page, *others)
    assert not came, [each for each in others if something_came_of(rig, made[name](), each)]
    came = LED_ON
    for letter in sorted(said):
        page = made[name]() if came == LED_ON else page
        came = something_came_of(rig, page, letter.lower())
        assert came, f"{letter} does nothing"


def test_every_word_can_be_read(state: tuple[str, Screen]) -> None:
    """On the page, apart from one another, and 4.5 to 1 (WCAG 2.2, criterion 1.4.3, AA)."""
    name, page = state
    for size in SIZES:
        canvas = written(page, size)
        if PICTURES:
            folder = Path(PICTURES)
            folder.mkdir(parents=True, exist_ok=True)
            pygame.image.save(canvas.surface, str(folder / f"{name}-{size[0]}x{size[1]}.png"))
        assert len(canvas.words) > 3, size
        assert troubles(canvas) == [], size
        for ink, ground in canvas.inks:
            assert contrast(ink, ground) >= 4.5, (size, ink, ground)


@pytest.mark.parametrize(
    ("pointed", "marked"),
    [(251.2, 250.0), (1001.0, 1000.0), (15_860.0, 16_000.0), (186.4, 186.0), (5.0, 20.0)],
)
def test_a_mark_stands_on_what_is_engraved_where_it_is_pointed_at(
    pointed: float, marked: float
) -> None:
    """ISO 266 nominal frequencies are engraved; the exact middle of the 250 Hz band is 251.19."""
    assert pointed_hz(pointed) == marked


def test_one_backspace_too_many_turns_no_figure_into_a_kind(rig: Rig) -> None:
    page = QuestionPage(rig.desk, rig.round())
    press(page, *"2150", *[pygame.K_BACKSPACE] * 5, *"3.2k")
    assert page._round.kind is Kind.TOO_LITTLE
    assert page._round.freq_hz == 3200.0


def test_no_mark_stands_on_the_rule_for_what_is_no_frequency(rig: Rig) -> None:
    page = QuestionPage(rig.desk, rig.round())
    press(page, *"223.2")
    assert "23.2 Hz" in [word.words for word in written(page).words if word.top > 300.0]
    press(page, "k")
    words = [word.words for word in written(page).words]
    assert "23.2 kHz  (20 Hz to 20 kHz)" in words
    assert "23.2 Hz" not in words


def test_figures_after_a_kind_without_a_place_leave_it_as_it_is(rig: Rig) -> None:
    page = QuestionPage(rig.desk, rig.round())
    press(page, *"7300")
    assert page._round.kind is Kind.NOTHING
    assert any("has no place" in word.words for word in written(page).words)
    press(page, pygame.K_BACKSPACE, *"1300")
    assert (page._round.kind, page._round.freq_hz) == (Kind.TOO_MUCH, 300.0)


def test_a_claim_that_is_not_shown_offers_to_point_and_does_not_force_it(
    made: dict[str, Make],
) -> None:
    page = made["claim-not-shown"]()
    assert page.title == "claim: verdict"
    assert "Point at it all the same" in {word.words for word in written(page).words}
    assert press(page, "1").title == "claim: where is it? 1"


def test_a_spike_that_is_drawn_and_not_counted_is_explained() -> None:
    """A sine in noise, so many times the power of the noise in its third octave: too weak to be
    prominent (9 dB, as ECMA-418-1 has it) at 5, prominent and a build-up of its own at 40."""
    noise = np.random.default_rng(7).standard_normal((4 * RATE_HZ, 2)) * 0.01
    third_octave = 1e-4 * 1000.0 * (2.0 ** (1 / 6) - 2.0 ** (-1 / 6)) / (RATE_HZ / 2)
    sine = np.sin(2.0 * np.pi * 1000.0 * np.arange(len(noise)) / RATE_HZ)[:, None]
    told = {}
    for times in (0, 5, 40):
        sound = noise + np.sqrt(2.0 * times * third_octave) * sine
        evidence = evidence_for(sound.astype(np.float32), 1000.0)
        canvas = Written()
        draw_spectrum(canvas, Box(56, 264, 1168, 200), Rule(Box(56, 472, 1168, 84)), evidence)
        explained = any("a single note is not counted" in word.words for word in canvas.words)
        told[times] = (evidence.there, explained)
    assert told == {0: (False, False), 5: (False, True), 40: (True, False)}


def test_a_trial_that_cannot_be_written_is_the_same_trial_again(
    rig: Rig, made: dict[str, Make], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What sounds as X stays what the answer is held against."""
    page: Any = made["claim-trials"]()
    monkeypatch.setattr(rig.desk.sound, "heard_s", lambda _letter: 1.0)
    x = page._way.claim.x
    rig.desk.record._db.execute("PRAGMA query_only = ON")
    try:
        for _ in range(8):  # more often than it takes to decide
            with pytest.raises(RecordError, match="readonly"):
                page._say(x)
    finally:
        rig.desk.record._db.execute("PRAGMA query_only = OFF")
    assert (page._way.claim.number, page._way.claim.x, page._way.claim.trials) == (1, x, ())
    page._say(x)
    assert page._way.claim.trials == (Trial(x, x),)


def test_a_claim_takes_a_file_that_is_dropped(rig: Rig, tmp_path: Path) -> None:
    song = tmp_path / "Harbour lights.wav"
    song.write_bytes(b"")
    page = ClaimFormPage(rig.desk)
    page.open(song)
    assert "Harbour lights.wav" in {word.words for word in written(page).words}
    assert str(page._material.on) == str(song)
    press(page, pygame.K_RIGHT)
    assert page._material.on in rig.desk.shelf.names()


def test_a_claim_can_be_on_a_passage_or_on_seconds_that_are_typed(rig: Rig) -> None:
    page = ClaimFormPage(rig.desk)
    press(page, pygame.K_DOWN, pygame.K_DOWN)
    assert page.typing  # or a hyphen would be for the volume
    assert "all of it" in {word.words for word in written(page).words}
    while page._material.on != LOOP:
        page._material.step_on(1)
    loop = rig.desk.shelf.get(LOOP)
    for passage in loop.passages:
        press(page, pygame.K_RIGHT)
        assert passage.name in {word.words for word in written(page).words}
        asked = page._material.asked
        assert (asked.start_s, asked.stop_s) == (
            pytest.approx(passage.start_frame / RATE_HZ),
            pytest.approx(passage.stop_frame / RATE_HZ),
        )
    press(page, *"0:01-0:0", pygame.K_RETURN)
    assert "is no stretch of 2 to 60 seconds" in rig.desk._notice
    press(page, pygame.K_BACKSPACE, *"4.5")
    assert (page._material.asked.start_s, page._material.asked.stop_s) == (1.0, 4.5)
    measuring: Any = press(page, pygame.K_UP, pygame.K_RETURN)
    evidence: Any = until(measuring, lambda page: page.title.endswith("is it there?"))
    assert evidence._way.case.stretch.seconds == pytest.approx(3.5, abs=0.01)
    assert press(evidence, pygame.K_ESCAPE) is page  # as it was filled in


@pytest.mark.parametrize(
    ("desktop", "size"),
    [
        ((1280, 800), (1280, 800)),
        ((1366, 768), (1024, 640)),
        ((1440, 900), (1280, 800)),
        ((2560, 1440), (1958, 1224)),
        ((3840, 2160), (2938, 1836)),
    ],
)
def test_a_window_opens_as_large_as_its_desktop_has_room_for(
    desktop: tuple[int, int], size: tuple[int, int]
) -> None:
    """With its type: a unit is a pixel at 1280 by 800."""
    assert fitting(desktop) == size


def test_a_chain_check_that_cannot_be_written_is_kept_at_the_next_press(rig: Rig) -> None:
    page: Any = press(ChainPage(rig.desk), pygame.K_RETURN)
    rig.desk.record._db.execute("PRAGMA query_only = ON")
    try:
        while page._check.left:
            until(page, lambda page: not page._train.begun)
            with contextlib.suppress(RecordError):
                page._say(page._check.current.bursts)
    finally:
        rig.desk.record._db.execute("PRAGMA query_only = OFF")
    assert page.tick() is page
    counted = page._check.counted
    done: Any = press(page, "0")
    assert done.title == "chain check done"
    assert page._check.counted == counted
    assert set(done._kept.reach) == {Reach.REPRODUCED}


def test_the_notes_of_a_confused_pair_stand_side_by_side(made: dict[str, Make]) -> None:
    drawn = written(made["guided-pair"]())
    at = {word.words: word for word in drawn.words}
    there, named = Subject(Kind.TOO_MUCH, 3), Subject(Kind.TOO_LITTLE, 7)
    one, other = (at[", ".join(text_of(subject).words)] for subject in (there, named))
    assert one.top == other.top
    assert one.right < other.left

    # Those of any two end over the marks of the rule.
    for subject in SUBJECTS:
        draw_side_by_side(drawn, [("1", subject), ("2", subject)], one.bottom)
    marks = min(word.top for word in drawn.words if word.words in {"1", "2"} and word.top > 400)
    notes = [word for word in drawn.words if word.left in (one.left, other.left)]
    assert max(word.bottom for word in notes) < marks


def test_a_set_is_opened_by_typing_where_it_lies(rig: Rig, made: dict[str, Make]) -> None:
    post = rig.home / "post"
    post.mkdir()
    path, no_set = post / "week three.toml", post / "shopping.txt"
    write_set(class_set(2, title="Week three"), path, rig.desk.shelf.folder)
    no_set.write_text("leeks")
    page = press(made["sets"](), "i")
    assert press(page, pygame.K_RETURN) is page
    assert "Type where a set's file lies" in rig.desk._notice
    with pytest.raises(NamefirstError, match=r"shopping\.txt"):
        press(page, *str(no_set), pygame.K_RETURN)
    assert str(no_set) in [word.words for word in written(page).words]  # to be mended
    page = press(page, *[pygame.K_BACKSPACE] * len(no_set.name), *path.name, pygame.K_RETURN)
    assert page.title == "a set"
    assert "Week three" in [word.words for word in written(page).words]


def test_a_question_that_cannot_be_shown_is_the_same_question_again(
    rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A minute of study opens before it, and that cannot be written at first."""
    opened = Subject(Kind.TOO_MUCH, 3), Need.NEW
    monkeypatch.setattr("trainer.drill.drill_opens", lambda *_: opened)
    page: Any = WaitPage(rig.desk)
    drill = rig.desk.open_drill()
    if not drill.begun:
        drill.begin_next()
    until(KeysPage(page), lambda _: drill.ready)
    rig.desk.record._db.execute("PRAGMA query_only = ON")
    try:
        until(page, lambda page: page._trouble)
    finally:
        rig.desk.record._db.execute("PRAGMA query_only = OFF")
    waiting = page._round
    assert waiting is not None
    assert "The question waits." in [word.words for word in written(page).words]
    minute: Any = until(press(page, pygame.K_RETURN), lambda shown: shown is not page)
    question: Any = minute.key(pygame.event.Event(pygame.KEYDOWN, key=pygame.K_g, unicode="g"))
    assert question._round is waiting
