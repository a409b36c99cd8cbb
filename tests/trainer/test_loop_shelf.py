"""The shelf of loops: adding, getting, finding again, removing; nothing is lost or overwritten."""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from exercises.errors import BadAudio, BadLoop
from exercises.kinds import Kind
from exercises.loop_writing import write_loop
from exercises.loops import Loop, Passage, Track, fingerprint, read_loop
from tests.exercises.awkward_files import write
from tests.exercises.songs import song
from tests.synthetic_loops import loop_of
from trainer import loop_shelf
from trainer.fair_sizes import fair_sizes_of
from trainer.loop_shelf import LoopShelf


def _small_loop(name: str, seed: int) -> Loop:
    samples = np.random.RandomState(seed).uniform(-0.5, 0.5, (20_000, 2)).astype(np.float32)
    tracks = (Track("all", samples),)
    passages = (Passage("the loop", 0, 20_000),)
    return Loop(name, name.title(), "", tracks, passages, fingerprint(tracks))


DEMO = {name: _small_loop(name, seed) for seed, name in enumerate(("harbour", "quarry"))}


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> LoopShelf:
    """An empty shelf whose demo loops are two small ones."""
    monkeypatch.setattr(loop_shelf, "demo_loop_names", lambda: tuple(DEMO))
    monkeypatch.setattr(loop_shelf, "demo_loop", DEMO.__getitem__)
    return LoopShelf(tmp_path / "data" / "loops")


@pytest.fixture
def own_file(tmp_path: Path) -> Path:
    write(tmp_path / "Night train.wav", song(104, 14, 0.7))
    return tmp_path / "Night train.wav"


def _put(shelf: LoopShelf, name: str, seed: int) -> Loop:
    """A small loop laid on the shelf, without a search."""
    loop = _small_loop(name, seed)
    write_loop(loop, shelf.folder / name)
    return loop


def test_an_empty_shelf_has_the_demo_loops(shelf: LoopShelf) -> None:
    assert shelf.names() == ("harbour", "quarry")
    assert shelf.own_names() == ()
    assert shelf.get("quarry") is DEMO["quarry"]
    assert not shelf.folder.exists(), "looking makes no folder"


def test_a_file_is_added_and_can_be_got(shelf: LoopShelf, own_file: Path) -> None:
    shares: list[float] = []
    name = shelf.add(own_file, progress=shares.append)
    assert name == "night-train"
    assert shelf.names() == ("night-train", "harbour", "quarry")
    loop = shelf.get(name)
    assert (loop.name, loop.title, loop.bars) == ("night-train", "Night train", 4)
    assert shares[-1] == 1.0
    assert LoopShelf(shelf.folder).get(name).fingerprint == loop.fingerprint


def test_adding_twice_keeps_both(shelf: LoopShelf, own_file: Path) -> None:
    first, second = shelf.add(own_file), shelf.add(own_file, choice=1)
    assert (first, second) == ("night-train", "night-train-2")
    assert shelf.get(first).fingerprint != shelf.get(second).fingerprint


def test_candidates_and_choice(shelf: LoopShelf, own_file: Path) -> None:
    candidates = shelf.candidates(own_file)
    name = shelf.add(own_file, choice=1, title="Second verse")
    assert name == "second-verse"
    assert shelf.get(name).frames == candidates[1].stop_frame - candidates[1].start_frame
    with pytest.raises(BadAudio, match=f"no loop number 8; 1 to {len(candidates)} were found"):
        shelf.add(own_file, choice=7)


def test_an_own_loop_never_takes_a_demo_loops_name(shelf: LoopShelf, own_file: Path) -> None:
    assert shelf.add(own_file, title="Quarry") == "quarry-2"
    assert shelf.get("quarry") is DEMO["quarry"]


@pytest.mark.parametrize("title", ["removed", "CON", "aux"])
def test_names_that_mean_something_else_are_not_given(
    title: str, shelf: LoopShelf, own_file: Path
) -> None:
    assert shelf.add(own_file, title=title) == f"{title.lower()}-2"


def test_a_folder_that_is_a_loop_is_taken_as_it_is(shelf: LoopShelf, tmp_path: Path) -> None:
    loop = _small_loop("from elsewhere", 5)
    write_loop(loop, tmp_path / "elsewhere")
    name = shelf.add(tmp_path / "elsewhere")
    assert shelf.get(name).fingerprint == loop.fingerprint
    assert read_loop(tmp_path / "elsewhere").fingerprint == loop.fingerprint
    assert shelf.get(shelf.add(tmp_path / "elsewhere", title="Mine")).title == "Mine"


def test_what_cannot_be_read_is_refused_and_leaves_nothing(
    shelf: LoopShelf, tmp_path: Path
) -> None:
    (tmp_path / "a.wav").write_text("text" * 100)
    with pytest.raises(BadAudio, match=r"a\.wav: not audio"):
        shelf.add(tmp_path / "a.wav")
    with pytest.raises(BadAudio, match=r"b\.wav: no such file"):
        shelf.add(tmp_path / "b.wav")
    assert not shelf.folder.exists()


def test_a_shelf_that_cannot_be_written(tmp_path: Path, own_file: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(BadLoop, match="cannot be written"):
        LoopShelf(tmp_path / "file" / "loops").add(own_file)


def test_get_names_what_there_is(shelf: LoopShelf) -> None:
    _put(shelf, "mine", 7)
    with pytest.raises(BadLoop, match="no loop 'other'; there are mine, harbour, quarry"):
        shelf.get("other")


def test_a_loop_is_named_by_its_title_where_that_is_its_own(shelf: LoopShelf) -> None:
    write_loop(replace(_small_loop("x", 7), title="Straße nach Süden"), shelf.folder / "mine")
    for called in ("mine", "Straße nach Süden", "STRASSE NACH SÜDEN"):
        assert shelf.named(called) == "mine"
    assert shelf.named("Quarry") == "quarry"
    for called in ("Straße", "MINE", "", "../loops/mine"):
        with pytest.raises(BadLoop, match=f"no loop '{called}'; there are mine, harbour, quarry"):
            shelf.named(called)


def test_a_title_that_is_that_of_two_loops_names_neither(shelf: LoopShelf) -> None:
    for name, title in (("one", "Night train"), ("two", "night Train"), ("three", "one")):
        write_loop(replace(_small_loop(name, 7), title=title), shelf.folder / name)
    with pytest.raises(BadLoop, match=r"more than one .* 'Night train'; give .* of one: one, two"):
        shelf.named("Night train")
    assert shelf.named("one") == "one", "a name goes before a title"


@pytest.mark.parametrize("name", ["..", "../loops/mine", "", "removed"])
def test_a_name_is_not_a_path(name: str, shelf: LoopShelf) -> None:
    _put(shelf, "mine", 7)
    with pytest.raises(BadLoop, match="no loop"):
        shelf.get(name)
    with pytest.raises(BadLoop, match="no loop"):
        shelf.remove(name)


def test_a_removed_loop_moves_and_is_not_lost(shelf: LoopShelf) -> None:
    loop = _put(shelf, "mine", 7)
    shelf.get("mine")
    moved_to = shelf.remove("mine")
    assert shelf.names() == ("harbour", "quarry")
    assert read_loop(moved_to).fingerprint == loop.fingerprint
    with pytest.raises(BadLoop, match="no loop 'mine'"):
        shelf.get("mine")
    assert shelf.find("mine", loop.fingerprint).fingerprint == loop.fingerprint


def test_removing_the_same_name_again_keeps_both(shelf: LoopShelf) -> None:
    first = _put(shelf, "mine", 7)
    shelf.remove("mine")
    second = _put(shelf, "mine", 8)
    shelf.remove("mine")
    assert shelf.find("mine", first.fingerprint).fingerprint == first.fingerprint
    assert shelf.find("mine", second.fingerprint).fingerprint == second.fingerprint


def test_a_demo_loop_cannot_be_removed(shelf: LoopShelf) -> None:
    with pytest.raises(BadLoop, match="'harbour' is a demo loop; only your own loops can be"):
        shelf.remove("harbour")


def test_removing_what_is_not_there(shelf: LoopShelf) -> None:
    with pytest.raises(BadLoop, match="no loop 'x' of your own; there are: none"):
        shelf.remove("x")


def test_find_looks_behind_the_name(shelf: LoopShelf) -> None:
    """The same sound under another name, own or demo."""
    loop = _put(shelf, "mine", 7)
    _put(shelf, "other", 8)
    assert shelf.find("mine", loop.fingerprint).name == "mine"
    assert shelf.find("other", loop.fingerprint).name == "mine"
    assert shelf.find("gone", loop.fingerprint).name == "mine"
    assert shelf.find("harbour", DEMO["quarry"].fingerprint) is DEMO["quarry"]
    with pytest.raises(BadLoop, match="loop 'mine' is not at hand as it was; add the file"):
        shelf.find("mine", "0" * 64)


def test_find_passes_over_damaged_loops(shelf: LoopShelf) -> None:
    loop = _put(shelf, "mine", 7)
    _put(shelf, "broken", 8)
    (shelf.folder / "broken" / "loop.toml").write_text("not toml [")
    assert shelf.find("gone", loop.fingerprint).fingerprint == loop.fingerprint
    with pytest.raises(BadLoop, match=r"broken.loop\.toml: cannot be read"):
        shelf.get("broken")


def test_half_built_folders_are_not_loops(shelf: LoopShelf) -> None:
    write_loop(_small_loop("x", 3), shelf.folder / ".building-abc")
    assert shelf.own_names() == ()


def test_loops_are_kept_in_memory(shelf: LoopShelf) -> None:
    _put(shelf, "mine", 7)
    assert shelf.get("mine") is shelf.get("mine")
    for number in range(8):
        _put(shelf, f"more-{number}", number)
        shelf.get(f"more-{number}")
    assert len(shelf._memory) == 6


def test_a_new_loop_under_a_removed_ones_name_is_the_new_one(shelf: LoopShelf) -> None:
    _put(shelf, "mine", 7)
    shelf.get("mine")
    shelf.remove("mine")
    new = _put(shelf, "mine", 8)
    assert shelf.get("mine").fingerprint == new.fingerprint


def test_a_loop_made_over_by_hand_is_read_again(shelf: LoopShelf) -> None:
    """A loop.toml edited between two questions (a better title, passages renamed) counts."""
    _put(shelf, "mine", 7)
    shelf.get("mine")
    described = shelf.folder / "mine" / "loop.toml"
    described.write_text(described.read_text().replace('"Mine"', '"Ours, second take"'))
    assert shelf.get("mine").title == "Ours, second take"


def test_several_threads_may_ask_at_once(shelf: LoopShelf) -> None:
    for number in range(8):
        _put(shelf, f"loop-{number}", number)
    wrong: list[str] = []

    def ask(seed: int) -> None:
        for number in np.random.RandomState(seed).randint(0, 8, 40):
            if shelf.get(f"loop-{number}").name != f"loop-{number}":
                wrong.append(f"loop-{number}")

    threads = [threading.Thread(target=ask, args=(seed,)) for seed in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []


def test_the_loops_name_is_its_folders(shelf: LoopShelf) -> None:
    """So that a recipe made from it finds it again."""
    loop = replace(_small_loop("something else", 4), title="Mine")
    write_loop(loop, shelf.folder / "mine")
    assert shelf.get("mine").name == "mine"


def test_a_loop_that_takes_a_removed_ones_name_is_judged_by_its_own_sound(
    shelf: LoopShelf,
) -> None:
    fair = fair_sizes_of(shelf)
    assert fair_sizes_of(shelf) is fair, "the drill and Study share one"
    _put(shelf, "mine", 5)
    assert fair.parts("mine").tracks == tuple(t.name for t in shelf.get("mine").tracks)
    assert fair("mine", Kind.TOO_MUCH, 8000.0) is not None
    shelf.remove("mine")
    hum = np.sin(np.arange(48_000) * (2 * np.pi * 60.0 / 48_000)).astype(np.float32)
    other = loop_of(("hum", 0.1 * np.column_stack((hum, hum))))
    write_loop(replace(other, name="mine"), shelf.folder / "mine")
    assert fair.parts("mine").tracks == tuple(track.name for track in other.tracks)
    assert fair("mine", Kind.TOO_MUCH, 8000.0) is None, "there is no treble in a hum"
