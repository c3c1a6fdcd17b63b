"""The house is built as DEVELOPERS draws it: arrows run only downward, and few rooms know what is outside."""

from __future__ import annotations

import ast
import graphlib
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def drawn_under(title: str) -> list[list[str]]:
    """Floors from the top down, the rooms of one floor side by side."""
    drawn = re.search(rf"## {title}\n.*?```\n(.*?)```", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), re.S)
    return [re.findall(r"\w+", line) for line in drawn[1].splitlines()] if drawn is not None else []


FLOORS = drawn_under("The house")
IN_THE_WINDOW = drawn_under("The window")
IN_THE_SCORES = drawn_under("Scores")
IN_THE_COACH = drawn_under("The coach")
# Known to no other room, wherever it is imported.
KEPT_IN = {
    "music21": {"scores"},
    "verovio": {"scores", "window"},
    "typst": {"scores"},
    "rtmidi": {"listening"},
    "mido": {"listening", "scores"},
    "fsrs": {"coaching"},
    "sqlite3": {"coaching", "journal"},
    "rich": {"commands"},
    "pygame": {"listening", "sounding", "window"},
}


def room_of(path: Path) -> str:
    return path.relative_to(ROOT / "trainer").parts[0].removesuffix(".py")


@cache
def imports() -> tuple[tuple[Path, str], ...]:
    """Each file with the whole name of each module it imports, anywhere in it."""
    return tuple(_imports())


def _imports() -> Iterator[tuple[Path, str]]:
    for path in sorted((ROOT / "trainer").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                yield from ((path, alias.name) for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.module:
                whole = [f"trainer.{alias.name}" for alias in node.names] if node.module == "trainer" else [node.module]
                yield from ((path, name) for name in whole)


def test_every_room_is_drawn() -> None:
    rooms = {room_of(path) for path in (ROOT / "trainer").rglob("*.py")} - {"__init__", "__main__"}
    assert rooms == {room for floor in FLOORS for room in floor}


def test_arrows_run_only_downward() -> None:
    floor = {room: at for at, rooms in enumerate(FLOORS) for room in rooms}
    for path, module in imports():
        if module.startswith("trainer.") and room_of(path) in floor:
            one, other = room_of(path), module.split(".")[1]
            assert one == other or floor[one] < floor[other], f"{path.relative_to(ROOT)} imports {module}"


@pytest.mark.parametrize(
    ("room", "floors"), [("window", IN_THE_WINDOW), ("scores", IN_THE_SCORES), ("coaching", IN_THE_COACH)]
)
def test_within_a_room_what_works_for_another_folder_stands_under_it(room: str, floors: list[list[str]]) -> None:
    top = ROOT / "trainer" / room
    floor = {folder: at for at, folders in enumerate(floors) for folder in folders}
    folders = {path.relative_to(top).parts[0].removesuffix(".py") for path in top.rglob("*.py")}
    assert folders - {"__init__"} == floor.keys()
    for path in top.rglob("*.py"):
        one = path.relative_to(top).parts[0].removesuffix(".py")
        for found in drawn_on(ast.parse(path.read_text(encoding="utf-8"))):
            for whole in (f"{found.module}.{alias.name}" for alias in found.names):
                if whole.startswith(f"trainer.{room}."):
                    other = whole.split(".")[2]
                    assert one == other or floor[one] < floor[other], f"{path.relative_to(ROOT)} imports {whole}"


@pytest.mark.parametrize("room", ["window", "scores", "coaching"])
def test_a_file_has_a_name_of_its_own_in_its_room(room: str) -> None:
    names = [path.stem for path in (ROOT / "trainer" / room).rglob("*.py") if "strings" not in path.parts]
    assert [name for name in set(names) - {"__init__"} if names.count(name) > 1] == []


@pytest.mark.parametrize("package", KEPT_IN)
def test_what_is_outside_is_known_to_few_rooms(package: str) -> None:
    found = {room_of(path) for path, module in imports() if module.split(".")[0] == package}
    assert found == KEPT_IN[package]


def drawn_on(node: ast.AST) -> Iterator[ast.ImportFrom]:
    """What a module imports for its work, not for its types alone."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and isinstance(child.test, ast.Name) and child.test.id == "TYPE_CHECKING":
            continue
        if isinstance(child, ast.ImportFrom):
            yield child
        yield from drawn_on(child)


def circles(with_types: bool) -> list[str]:
    """The modules of one circle of imports, when there is one."""
    files = {
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
        for path in (ROOT / "trainer").rglob("*.py")
    }
    known: dict[str, set[str]] = {}
    for name, path in files.items():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        found = [one for one in ast.walk(tree) if isinstance(one, ast.ImportFrom)] if with_types else [*drawn_on(tree)]
        wanted = {str(one.module) for one in found}
        wanted |= {f"{one.module}.{each.name}" for one in found for each in one.names}
        # A window's parts name the screen that owns them.
        known[name] = {to for to in wanted & files.keys() - {name} if not (with_types and "window" in to)}
    try:
        graphlib.TopologicalSorter(known).prepare()
    except graphlib.CycleError as why:
        return list(why.args[1])
    return []


def test_no_module_works_through_one_that_works_through_it() -> None:
    assert circles(with_types=False) == []


def test_below_the_window_no_types_run_in_a_circle_either() -> None:
    assert circles(with_types=True) == []


def test_every_example_in_a_docstring_is_tried() -> None:
    options = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["pytest"]["ini_options"]
    examples = [path for path in (ROOT / "trainer").rglob("*.py") if ">>> " in path.read_text(encoding="utf-8")]
    tried = [ROOT / place for place in options["testpaths"] if "--doctest-modules" in options["addopts"]]
    assert [str(path) for path in examples if not any(path.is_relative_to(place) for place in tried)] == []


def test_what_is_read_is_read_in_the_same_letters_in_every_locale() -> None:
    """Left to the system, a file with an umlaut is refused in the plain locale of a server."""
    mine = Path(__file__)
    python = [
        path for folder in ("trainer", "tools", "tests") for path in (ROOT / folder).rglob("*.py") if path != mine
    ]
    assert [path.name for path in python if ".read_text()" in path.read_text(encoding="utf-8")] == []
