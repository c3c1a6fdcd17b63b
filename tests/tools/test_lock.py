"""The lists of pinned packages hold what pyproject.toml asks for, everywhere the program runs, with hashes."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
ASKED = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
SYSTEMS = {"linux": ("Linux", "x86_64"), "darwin": ("Darwin", "arm64"), "win32": ("Windows", "AMD64")}
WHERE: list[dict[str, str]] = [
    {"python_version": python, "python_full_version": f"{python}.1", "sys_platform": system,
     "platform_system": SYSTEMS[system][0], "platform_machine": SYSTEMS[system][1], "implementation_name": "cpython",
     "platform_python_implementation": "CPython", "os_name": "nt" if system == "win32" else "posix",
     "implementation_version": f"{python}.1", "platform_release": "", "platform_version": ""}
    for python in ("3.11", "3.12", "3.13") for system in SYSTEMS
]  # fmt: skip


def pins(name: str) -> dict[str, list[Requirement]]:
    """The pinned packages of a list, each with its markers; every one has at least one hash."""
    found: dict[str, list[Requirement]] = {}
    text = (ROOT / "tools" / "lock" / f"{name}.txt").read_text(encoding="utf-8").replace("\\\n", " ")
    for line in text.splitlines():
        if line and not line.startswith("#"):
            words, *hashes = line.split("--hash=")
            assert hashes, words
            assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", one.strip()) for one in hashes), words
            pin = Requirement(words)
            assert re.fullmatch(r"==[^*]+", str(pin.specifier)), words
            found.setdefault(canonicalize_name(pin.name), []).append(pin)
    return found


def asked(name: str) -> list[Requirement]:
    project = ASKED["project"]
    listed = [*ASKED["build-system"]["requires"], *project["dependencies"]]
    return [Requirement(one) for one in listed + (project["optional-dependencies"]["test"] if name == "test" else [])]


def holds(one: Requirement, where: dict[str, str]) -> bool:
    return one.marker is None or one.marker.evaluate({"extra": "", **where})


@pytest.mark.parametrize("name", ["run", "test"])
def test_what_is_asked_for_is_pinned_once_on_every_system(name: str) -> None:
    pinned = pins(name)
    for wish in asked(name):
        for where in WHERE:
            if not holds(wish, where):
                continue
            there = [pin for pin in pinned.get(canonicalize_name(wish.name), []) if holds(pin, where)]
            assert len(there) == 1, (wish, where["python_version"], where["sys_platform"])
            (exact,) = there[0].specifier
            assert wish.specifier.contains(exact.version, prereleases=True), (str(wish), str(there[0]))


def test_the_list_for_checks_holds_the_one_for_running() -> None:
    run, test = pins("run"), pins("test")
    assert {name: sorted(map(str, pin)) for name, pin in run.items()}.items() <= {
        name: sorted(map(str, pin)) for name, pin in test.items()
    }.items()


def test_midi_is_built_from_the_version_whose_wheels_are_installed_elsewhere() -> None:
    """By builders that leave the packages of the checks as they are."""
    (wheel,), (source,) = pins("test")["python-rtmidi"], pins("midi")["python-rtmidi"]
    assert source.marker is None
    assert source.specifier == wheel.specifier
    test, build = pins("test"), pins("build")
    assert {"meson-python", "cython", "ninja", "wheel"} <= build.keys()
    for name in build.keys() & test.keys():
        assert build[name][0].specifier == test[name][0].specifier


def test_what_these_packages_need_is_pinned_too() -> None:
    """Followed through what is installed here, from package to package."""
    pinned, seen, waiting = pins("test"), set(), [*asked("test")]
    while waiting:
        wish = waiting.pop()
        name = canonicalize_name(wish.name)
        here = [{"extra": extra} for extra in wish.extras or {""}]
        if wish.marker is not None and not wish.marker.evaluate():
            continue
        assert name in pinned, name
        if name in seen:
            continue
        seen.add(name)
        try:
            version(name)
        except PackageNotFoundError:
            continue
        for each in map(Requirement, requires(name) or ()):
            if each.marker is None or any(each.marker.evaluate(extra) for extra in here):
                each.marker = None
                waiting.append(each)
    assert len(seen) > 40
