"""The house rules that a machine can hold: one-way imports, no cycle, colours, top level."""

from __future__ import annotations

import ast
import subprocess
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
