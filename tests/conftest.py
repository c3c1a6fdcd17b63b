"""Shared fixtures: real parts for the tests, and a home of their own.

A test that asks for a part the machine lacks is skipped and says why; with ``KEYFARER_NO_SKIPS=1`` it fails instead.
"""

from __future__ import annotations

import contextlib
import gc
import os
import pathlib
import shutil
import signal
import time
from collections.abc import Callable, Iterator
from typing import Any, NoReturn

import pytest
from hypothesis import HealthCheck, settings

from tools.instruments import VirtualPiano
from tools.lending import lend
from tools.servers import NoServer, ended, jack_answers, jack_name, jack_started, started
from trainer import folders

# The same examples on every machine, and no verdict on how fast a busy one makes them.
settings.register_profile("steady", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # Begun in the background the tests, and all they start, would not hear ctrl c.
    signal.signal(signal.SIGINT, signal.default_int_handler)

DISPLAY_WAIT_S = 60.0


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Whatever asks for a real port or window is a system test, before tests are chosen by their marks."""
    for item in items:
        if {"jack", "display"} & set(getattr(item, "fixturenames", ())):
            item.add_marker("system")


def pytest_collection_finish() -> None:
    """Some million values of modules and tests stay to the end: the collector need not look through them for ever."""
    gc.collect()
    gc.freeze()


def _missing(reason: str) -> NoReturn:
    if os.environ.get("KEYFARER_NO_SKIPS") == "1":
        pytest.fail(f"{reason} (KEYFARER_NO_SKIPS=1)", pytrace=False)
    pytest.skip(reason)


@pytest.fixture(scope="session")
def jack() -> Iterator[str]:
    """A dummy JACK server for the whole session: its name, also in ``JACK_DEFAULT_SERVER``."""
    if not (shutil.which("jackd") and shutil.which("jack_lsp")):
        _missing("jackd is not installed: on Debian, apt-get install jackd2")
    kept = os.environ.get("JACK_DEFAULT_SERVER")
    if kept and jack_answers(kept):
        yield kept
        return
    name = jack_name()
    os.environ["JACK_DEFAULT_SERVER"] = name
    try:
        # Synchronous: on a busy machine the server waits for its clients instead of losing what they send.
        server = jack_started(name)
    except NoServer as why:
        _missing(str(why))
    try:
        yield name
    finally:
        ended(server)
        if kept is None:
            del os.environ["JACK_DEFAULT_SERVER"]
        else:
            os.environ["JACK_DEFAULT_SERVER"] = kept


@pytest.fixture(scope="session")
def display() -> Iterator[str]:
    """An X display of 1920 by 1080 nobody looks at: its name, like ``:7``, for a child's ``DISPLAY``."""
    if not shutil.which("Xvfb"):
        _missing("Xvfb is not installed: on Debian, apt-get install xvfb xdotool")
    reading, writing = os.pipe()
    words = ["Xvfb", "-displayfd", str(writing), "-screen", "0", "1920x1080x24", "-nolisten", "tcp", "-noreset"]
    server = started(words, pass_fds=[writing])
    os.close(writing)
    try:
        os.set_blocking(reading, False)
        number = b""
        until = time.monotonic() + DISPLAY_WAIT_S
        while not number.endswith(b"\n"):
            with contextlib.suppress(BlockingIOError):
                number += os.read(reading, 16)
            if server.poll() is not None or time.monotonic() > until:
                _missing("Xvfb does not start here")
            time.sleep(0.02)
        yield f":{number.decode().strip()}"
    finally:
        os.close(reading)
        ended(server)


@pytest.fixture(scope="session")
def run_cache(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    """The cache of the whole run, whichever process a test runs in: a piece is read and a page engraved once."""
    base = tmp_path_factory.getbasetemp()
    place = (base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base) / "made"
    place.mkdir(exist_ok=True)
    return place


@pytest.fixture(scope="session", autouse=True)
def nobodys_home(tmp_path_factory: pytest.TempPathFactory, run_cache: pathlib.Path) -> Iterator[None]:
    """A test that asks for no home of its own writes into nobody's journal all the same."""
    place = tmp_path_factory.mktemp("home")
    lend(run_cache, place)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KEYFARER_HOME", str(place))
        # What was sent to whoever runs the tests is nobody's business here.
        patch.setattr(folders, "downloads", lambda: place / "downloads")
        patch.setattr(folders, "desktop", lambda: place / "desktop")
        yield


@pytest.fixture
def home(first_home: pathlib.Path, run_cache: pathlib.Path) -> pathlib.Path:
    """A data folder empty but for what the run has read and engraved, named in ``KEYFARER_HOME``."""
    lend(run_cache, first_home)
    return first_home


@pytest.fixture
def first_home(tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> pathlib.Path:
    """A data folder as at the very first start, where nothing has been read yet, named in ``KEYFARER_HOME``."""
    place = tmp_path / "home"
    place.mkdir()
    monkeypatch.setenv("KEYFARER_HOME", str(place))
    return place


@pytest.fixture
def piano(jack: str) -> Iterator[Callable[[str], VirtualPiano]]:
    """Makes virtual pianos on the JACK server; all are unplugged at the end of the test."""
    made: list[VirtualPiano] = []

    def plug_in(name: str) -> VirtualPiano:
        made.append(VirtualPiano(name))
        return made[-1]

    yield plug_in
    for one in made:
        one.close()


@pytest.fixture
def synth(jack: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], Any]]:
    """Makes sound modules on the JACK server; what is under test goes through JACK, too."""
    from tests.sounding.synth import Synth

    monkeypatch.setenv("KEYFARER_MIDI", "jack")
    made: list[Synth] = []

    def plug_in(name: str) -> Synth:
        made.append(Synth(name))
        return made[-1]

    yield plug_in
    for one in made:
        one.close()


@pytest.fixture
def disk(tmp_path: pathlib.Path, home: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> pathlib.Path:
    """The file SDL writes every sample to that a sound card would be given."""
    path = tmp_path / "heard.raw"
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")
    monkeypatch.setenv("SDL_DISKAUDIOFILE", str(path))
    return path
