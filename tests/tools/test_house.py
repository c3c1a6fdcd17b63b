"""The house is built as DEVELOPERS draws it: arrows run only downward, and few rooms know what is outside."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
DRAWN = re.search(r"## The house\n.*?```\n(.*?)```", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), re.S)
# Floors from the top down, the rooms of one floor side by side.
FLOORS = [re.findall(r"\w+", line) for line in DRAWN[1].splitlines()] if DRAWN is not None else []
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
    "pygame": {"commands", "listening", "sounding", "window"},
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
                yield path, f"{node.module}.{node.names[0].name}" if node.module == "trainer" else node.module


def test_every_room_is_drawn() -> None:
    rooms = {room_of(path) for path in (ROOT / "trainer").rglob("*.py")} - {"__init__", "__main__"}
    assert rooms == {room for floor in FLOORS for room in floor}


def test_arrows_run_only_downward() -> None:
    floor = {room: at for at, rooms in enumerate(FLOORS) for room in rooms}
    for path, module in imports():
        if module.startswith("trainer.") and room_of(path) in floor:
            one, other = room_of(path), module.split(".")[1]
            assert one == other or floor[one] < floor[other], f"{path.relative_to(ROOT)} imports {module}"


@pytest.mark.parametrize("package", KEPT_IN)
def test_what_is_outside_is_known_to_few_rooms(package: str) -> None:
    found = {room_of(path) for path, module in imports() if module.split(".")[0] == package}
    assert found == KEPT_IN[package]
