"""The house rules that a machine can hold: rooms and the way between them, what is said of each
public thing, nothing that nobody uses, colours, top level."""

from __future__ import annotations

import ast
import re
import subprocess
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from trainer.window.look import READ_PAIRS, contrast

ROOT = Path(__file__).parent.parent
PACKAGES = ("exercises", "trainer")
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "trainer",
    "exercises",
    "tests",
    "assets",
}


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


FILES = {
    module_name(path): path
    for package in PACKAGES
    for path in sorted((ROOT / package).rglob("*.py"))
}


def imports_of(path: Path, *, late: bool) -> set[str]:
    """Modules that a file imports: at its top, or with ``late`` inside functions too."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found: set[str] = set()

    def visit(node: ast.AST) -> None:
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            return
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda) and not late:
            return
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            found.update(f"{node.module}.{alias.name}" for alias in node.names)
        for child in ast.iter_child_nodes(node):
            visit(child)

    visit(tree)
    return found


def within(name: str, package: str) -> bool:
    return name == package or name.startswith(package + ".")


def test_there_is_a_house() -> None:
    assert len(FILES) > 50


@pytest.mark.parametrize("name", [name for name in FILES if within(name, "exercises")])
def test_what_is_heard_knows_no_learner_and_no_screen(name: str) -> None:
    imported = imports_of(FILES[name], late=True)
    assert not [each for each in imported if within(each, "trainer") or within(each, "pygame")]


FACES = (
    "trainer.window",
    "trainer.player",
    "trainer.cli",
    "trainer.__main__",
    # Commands that open the window on one of its pages.
    "trainer.listening_commands",
    "trainer.set_commands",
    "trainer.moves_command",
)


@pytest.mark.parametrize(
    "name",
    [n for n in FILES if within(n, "trainer") and not any(within(n, face) for face in FACES)],
)
def test_rules_know_no_pygame_and_no_window(name: str) -> None:
    imported = imports_of(FILES[name], late=True)
    assert not [each for each in imported if within(each, "pygame")]
    assert not [each for each in imported if within(each, "trainer.window")]


def test_no_module_needs_itself() -> None:
    """No cycle among the imports that run when a module is loaded."""
    graph = {
        name: {each for each in imports_of(path, late=False) if each in FILES and each != name}
        for name, path in FILES.items()
    }
    settled: set[str] = set()
    while ready := {name for name in graph if name not in settled and graph[name] <= settled}:
        settled |= ready
    assert not {name: graph[name] - settled for name in graph.keys() - settled}


def room_of(name: str) -> str:
    return FILES[name].parent.relative_to(ROOT).as_posix()


def rooms_told() -> dict[str, set[str]]:
    """The table of rooms in DEVELOPERS.md: each room, and the rooms that it opens."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `([a-z_/]+)` \|[^|]*\|([^|]*)\|$", text, re.MULTILINE)
    return {room: set(re.findall("`([^`]+)`", opens)) for room, opens in rows if "/" in opens + "/"}


def doors_told() -> set[str]:
    """The modules of ``trainer`` that DEVELOPERS.md lists as doors."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (told,) = re.findall(r"Doors of `trainer`: ([^.]*)\.", text)
    return {f"trainer.{name}" for name in re.findall("`([^`]+)`", told)}


def test_the_rooms_are_those_that_developers_are_told_of() -> None:
    opened: dict[str, set[str]] = {room_of(name): set() for name in FILES}
    doors = set()
    for name, path in FILES.items():
        rooms = {room_of(each) for each in imports_of(path, late=True) if each in FILES}
        if room_of(name) == "trainer" and rooms - {"trainer", "exercises"}:
            doors.add(name)
        else:
            opened[room_of(name)] |= rooms - {room_of(name)}
    assert rooms_told() == opened
    assert doors_told() == doors


Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def public_in(
    tree: ast.Module | ast.ClassDef, holder: str = ""
) -> Iterator[tuple[str, Definition]]:
    """Public functions, classes and methods: ("Class.method", its node)."""
    for node in tree.body:
        if isinstance(node, Definition) and not node.name.startswith("_"):
            yield holder + node.name, node
            if isinstance(node, ast.ClassDef):
                yield from public_in(node, f"{holder}{node.name}.")


TREES = {name: ast.parse(path.read_text(encoding="utf-8")) for name, path in FILES.items()}
# What every page has is said once, where all pages are asked for it.
OF_EVERY_PAGE = {
    name.removeprefix("Screen.")
    for name, _ in public_in(TREES["trainer.window.frame"])
    if name.startswith("Screen.")
}


@pytest.mark.parametrize("name", FILES)
def test_whatever_is_public_says_what_it_is(name: str) -> None:
    assert ast.get_docstring(TREES[name])
    silent = {each for each, node in public_in(TREES[name]) if not ast.get_docstring(node)}
    if within(name, "trainer.window"):
        silent = {each for each in silent if each.partition(".")[2] not in OF_EVERY_PAGE}
    assert not silent


# (frames, 2), (blocks,), (..., bins): a comma tells a shape from an aside.
SHAPE = re.compile(r"\((?:\.\.\.|[a-z0-9][a-z0-9 ]*),(?: (?:\.\.\.|[a-z0-9][a-z0-9 ]*),?)*\)")


@pytest.mark.parametrize("name", [name for name in FILES if within(name, "exercises")])
def test_what_takes_or_gives_an_array_names_its_shape(name: str) -> None:
    """In its own words, or once for all in those of its module or, in the studio, the package.

    Arrays of ``Samples`` have the one shape that exercises/samples.py names.
    """
    package = "exercises.studio" if within(name, "exercises.studio") else name
    if any(SHAPE.search(ast.get_docstring(TREES[each]) or "") for each in (name, package)):
        return
    for called, node in public_in(TREES[name]):
        if isinstance(node, ast.FunctionDef):
            arguments = [*node.args.args, *node.args.kwonlyargs]
            hints = [
                ast.unparse(each)
                for each in (node.returns, *(a.annotation for a in arguments))
                if each
            ]
            if re.search("Floats|Complexes|NDArray", " ".join(hints)):
                assert SHAPE.search(ast.get_docstring(node) or ""), called


# Public all the same, and why.
USED_BY_NOBODY = {
    "exercises.audio_file.read_audio": "a file read in one call, as awkward files are tried",
    "exercises.excitation.erb_number": "the standard's own scale, to hold its inverse to",
    "exercises.fix_candidates.fix_candidates": "all four, also where they make no round",
    "exercises.other_names.other_names": "the rule of two names, by which judging is held to sound",
    "exercises.residual.Judgement.cured_db": "half of a judgement, to hold the whole to",
    "exercises.residual.Judgement.damage_heard": "the other half",
    "trainer.ability.Ability.named_probability": "one size foretold, to hold placement to",
    "trainer.ability.Ability.walk_weights": "what is believed of forgetting, to hold drift to",
    "trainer.record.Record.learners": "who is in a record that the program wrote",
    "trainer.sequential_test.wald_rule": "Wald's own test, to hold the paths to his figures",
    "trainer.window.look.contrast": "WCAG's formula, to hold every pair of colours to",
}


def names_in(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            yield node.id
        elif isinstance(node, ast.Attribute):
            yield node.attr


def test_nothing_stands_there_that_nobody_uses() -> None:
    """Each public function, class and method is named somewhere in the program itself, in a page
    template, or in the list above with the reason why it is there all the same."""
    used = Counter(each for tree in TREES.values() for each in names_in(tree))
    pages = "".join(path.read_text(encoding="utf-8") for path in ROOT.glob("trainer/**/*.j2"))
    unused = {
        f"{name}.{called}"
        for name, tree in TREES.items()
        for called, node in public_in(tree)
        if not used[node.name] and node.name not in pages
    }
    assert unused == set(USED_BY_NOBODY)


@pytest.mark.parametrize(("ink", "ground"), READ_PAIRS)
def test_every_pair_of_colours_can_be_read(
    ink: tuple[int, int, int], ground: tuple[int, int, int]
) -> None:
    """WCAG 2.2, success criterion 1.4.3 (AA): 4.5 to 1 for text."""
    assert contrast(ink, ground) >= 4.5


def test_contrast_is_that_of_the_standard() -> None:
    """WCAG 2.2, definition of contrast ratio: black on white is 21 to 1."""
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    # #777777 on white, a worked example often given in accessibility guides: 4.48 to 1.
    assert contrast((0x77, 0x77, 0x77), (255, 255, 255)) == pytest.approx(4.48, abs=0.01)


def test_the_top_level_is_as_it_was_asked_for() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    names = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in names if not name.startswith(".")} == TOP_LEVEL


@pytest.mark.parametrize("name", [n for n in FILES if within(n, "trainer.window")])
def test_type_on_the_screen_has_the_sizes_of_the_one_scale(name: str) -> None:
    sizes = [
        keyword.value.value
        for node in ast.walk(TREES[name])
        if isinstance(node, ast.Call)
        for keyword in node.keywords
        if keyword.arg == "size" and isinstance(keyword.value, ast.Constant)
    ]
    assert not sizes, f"{name}: take one of look.py"
