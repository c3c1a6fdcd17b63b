"""The real window under a real X server, keys from a real MIDI port, the journal read back afterwards."""

from __future__ import annotations

import os
import pathlib
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from trainer.journal.store import Journal
from trainer.journal.values import FINISHED
from trainer.listening.press import Release
from trainer.music.transpose import plan
from trainer.scores.reading import read
from trainer.scores.shelf.library import Shelf, find

ROOT = pathlib.Path(__file__).resolve().parents[2]
WAIT_S = 60.0
LOOK_S = 0.02
# A key struck while the ports open, or lost by a busy machine, is struck again after so long without an answer.
ANSWER_S = 1.0
pytestmark = pytest.mark.system


class Window:
    """A running program, steered by its keyboard."""

    def __init__(self, display: str, home: pathlib.Path, *words: str) -> None:
        self.environment = {
            **os.environ, "DISPLAY": display, "KEYFARER_HOME": str(home), "KEYFARER_MIDI": "jack",
            "SDL_VIDEODRIVER": "x11", "SDL_AUDIODRIVER": "dummy",
        }  # fmt: skip
        command = [sys.executable, "-m", "trainer", "open", "--size", "1280x800", *words]
        self.program = subprocess.Popen(command, cwd=ROOT, env=self.environment)
        self.id = self._found()
        self.xdotool("windowfocus", "--sync", self.id)

    def xdotool(self, *words: str) -> str:
        done = subprocess.run(["xdotool", *words], env=self.environment, capture_output=True, text=True, check=False)
        return done.stdout.strip()

    def _found(self) -> str:
        found: list[str] = []

        def seen() -> bool:
            assert self.program.poll() is None, "the window closed by itself"
            found[:] = self.xdotool("search", "--onlyvisible", "--pid", str(self.program.pid)).split()
            return bool(found)

        until(seen, "no window appeared")
        return found[-1]

    @property
    def caption(self) -> str:
        return self.xdotool("getwindowname", self.id).removesuffix(" – Keyfarer")

    def shows(self, caption: str) -> None:
        """Wait until the window is called so: what it names has been painted."""
        until(lambda: self.caption == caption, f"the window never showed '{caption}'")

    def keys(self, *names: str) -> None:
        self.xdotool("key", *names)

    def quit(self) -> None:
        self.keys("ctrl+q")
        try:
            assert self.program.wait(WAIT_S) == 0
        finally:
            self.program.kill()


@pytest.fixture
def window(display: str, jack: str, home: pathlib.Path) -> Iterator[Callable[..., Window]]:
    if not shutil.which("xdotool"):
        if os.environ.get("KEYFARER_NO_SKIPS") == "1":
            pytest.fail("xdotool is not installed (KEYFARER_NO_SKIPS=1)")
        pytest.skip("xdotool is not installed: on Debian, apt-get install xdotool")
    opened: list[Window] = []

    def start(*words: str) -> Window:
        opened.append(Window(display, home, *words))
        return opened[-1]

    yield start
    for one in opened:
        one.program.kill()
        one.program.wait()


def within(what: Callable[[], bool], seconds: float) -> bool:
    """Whether it comes true before so much time is up."""
    end = time.monotonic() + seconds
    while not what():
        if time.monotonic() > end:
            return False
        time.sleep(LOOK_S)
    return True


def until(what: Callable[[], bool], message: str) -> None:
    assert within(what, WAIT_S), message


def heard(piano: str) -> bool:
    """Whether JACK has a piano's keys joined to an input of Keyfarer."""
    done = subprocess.run(["jack_lsp", "-c", f"{piano}:keys"], capture_output=True, text=True, check=True)
    return "keyfarer" in done.stdout


def takes(home: pathlib.Path) -> list[Any]:
    path = home / "journal.sqlite"
    if not path.exists():
        return []
    with Journal(path) as journal:
        return journal.takes()


def kept(home: pathlib.Path) -> int:
    """How many presses of the latest take the journal holds."""
    rows = takes(home)
    if not rows:
        return 0
    with Journal(home / "journal.sqlite") as journal:
        return len(journal.take(rows[0].id).presses)


def releases(home: pathlib.Path) -> int:
    """How many keys of the latest take were let go of."""
    with Journal(home / "journal.sqlite") as journal:
        return sum(isinstance(event, Release) for event in journal.take(takes(home)[0].id).events)


def strike(keys: Any, home: pathlib.Path, pitch: int) -> None:
    """Strike a key until the journal holds one press more."""
    before = kept(home)

    def heard() -> bool:
        keys.press(pitch)
        keys.release(pitch)
        return within(lambda: kept(home) > before, ANSWER_S)

    until(heard, f"key {pitch} was not heard")


def test_choose_play_be_marked_and_find_it_again(
    window: Callable[..., Window], piano: Callable[[str], Any], home: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    # A shelf read before, as on every day but the first.
    Shelf().refresh()
    keys = piano("test-piano")
    picture = tmp_path / "stand.png"
    shown = window("--picture", str(picture))
    # Find a piece on the Desk, a whole tone higher, and go to the Stand.
    shown.keys("slash")
    shown.xdotool("type", "--delay", "60", "three bells")
    shown.keys("Escape", "Tab", "k", "k", "Return")
    shown.shows("Three Bells, G major")
    piece = read(find("three-bells"))
    expected = [note.midi for note in piece.notes[:6]]
    moved = plan(piece.key, "+2").interval.semitones
    for pitch in expected[:-1]:
        strike(keys, home, pitch + moved)
    strike(keys, home, expected[-1])
    shown.keys("Return")
    until(lambda: bool(takes(home)) and takes(home)[0].state == "finished", "the take was not finished")
    shown.quit()
    (take,) = takes(home)
    assert take.title == piece.title
    assert take.target == plan(piece.key, "+2").target.short
    assert take.played >= 6
    assert _has_blue(picture), "no pencil mark is on the picture"

    again = window("--picture", str(tmp_path / "desk.png"))
    again.shows("Desk")
    again.quit()
    assert (tmp_path / "desk.png").stat().st_size > 10_000
    assert len(takes(home)) == 1


def test_the_port_goes_and_comes_back_in_the_middle_of_a_take(
    window: Callable[..., Window], piano: Callable[[str], Any], home: pathlib.Path
) -> None:
    keys = piano("comes-and-goes")
    shown = window("three-bells", "--to", "G")
    piece = read(find("three-bells"))
    moved = plan(piece.key, "G").interval.semitones

    strike(keys, home, piece.notes[0].midi + moved)
    assert heard("comes-and-goes")
    before = kept(home)
    keys.press(piece.notes[1].midi + moved)
    until(lambda: kept(home) > before, "the second note was not heard")
    let_go = releases(home)
    keys.close()
    # Whoever misses the piano lets go of what was down on it.
    until(lambda: releases(home) > let_go, "the piano was not missed")
    keys = piano("comes-and-goes")
    strike(keys, home, piece.notes[2].midi + moved)
    assert len(takes(home)) == 1, "the take did not go on"
    shown.quit()


def test_a_take_cut_off_by_a_kill_is_offered_and_marked(
    window: Callable[..., Window], piano: Callable[[str], Any], home: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    """The program dies without a word in the middle of a take; the next one offers what was played."""
    Shelf().refresh()
    keys = piano("cut-off-piano")
    piece = read(find("three-bells"))
    moved = plan(piece.key, "D").interval.semitones
    shown = window("three-bells", "--to", "D")

    for note in piece.notes[:6]:
        strike(keys, home, note.midi + moved)
    shown.program.kill()
    shown.program.wait()
    (row,) = takes(home)
    assert row.state == "playing"
    again = window("--picture", str(tmp_path / "marked.png"))

    def marked() -> bool:
        # The journal opens after the first frame: the key is struck until it is heard.
        again.keys("f")
        return within(lambda: bool(takes(home)[0].state == "finished"), ANSWER_S)

    until(marked, "the take was not marked")
    again.quit()
    assert takes(home)[0].right >= 6
    assert (tmp_path / "marked.png").stat().st_size > 10_000


def test_a_chord_is_corrected_typed_and_played_and_found_again(
    window: Callable[..., Window], piano: Callable[[str], Any], home: pathlib.Path
) -> None:
    keys = piano("chords")
    shown = window("aura-lee", "--to", "Eb")
    kept = home / "harmony.toml"

    def holds(numeral: str) -> bool:
        return kept.exists() and f'numeral = "{numeral}"' in kept.read_text(encoding="utf-8")

    shown.keys("ctrl+r")
    shown.xdotool("type", "--delay", "60", "vi")

    def typed() -> bool:
        shown.keys("Return")
        return within(lambda: holds("vi"), ANSWER_S)

    until(typed, "the numeral was not kept")
    shown.keys("Right")

    def played() -> bool:
        # B flat seventh, its third in the bass: the dominant of E flat.
        for pitch in (50, 58, 65, 68):
            keys.press(pitch)
        for pitch in (50, 58, 65, 68):
            keys.release(pitch)
        shown.keys("Return")
        return within(lambda: holds("V65"), ANSWER_S)

    until(played, "the chord that was played was not kept")
    shown.quit()
    assert takes(home) == [], "naming a chord is no take"
    again = window("aura-lee", "--to", "G")
    again.keys("ctrl+r")

    def taken_away() -> bool:
        # Only a chord of the player's own that was found again can be taken away.
        again.keys("Delete")
        return within(lambda: not holds("vi"), ANSWER_S)

    until(taken_away, "the chord was not found after a new start")
    again.keys("ctrl+z")
    until(lambda: holds("vi"), "what was taken away did not come back")
    again.quit()


def test_a_finger_is_said_by_keyboard_and_piano_and_found_again(
    window: Callable[..., Window], piano: Callable[[str], Any], home: pathlib.Path
) -> None:
    keys = piano("fingers")
    shown = window("aura-lee", "--to", "Eb", "--player", "Ada")
    kept = home / "fingers.toml"

    def holds(words: str) -> bool:
        return kept.exists() and words in kept.read_text(encoding="utf-8")

    def typed(digit: str, words: str) -> Callable[[], bool]:
        def done() -> bool:
            shown.keys(digit)
            time.sleep(0.3)
            return holds(words)

        return done

    shown.shows("Aura Lee, E♭ major")
    shown.keys("ctrl+t")
    until(typed("3", "bar 1, beat 1: D4 with 3"), "the finger was not kept")

    def framed() -> bool:
        # The key that is played in E flat for the F sharp of the page. The finger is the one of before: where the piano
        # is not heard yet, it is said of the first note once more.
        keys.press(62)
        time.sleep(0.05)
        keys.release(62)
        return typed("3", "bar 1, beat 3: F#4 with 3")()

    until(framed, "the key of the piano framed no note")
    shown.quit()
    assert takes(home) == [], "saying a finger is no take"
    again = window("aura-lee", "--to", "Eb", "--player", "Ada")
    again.shows("Aura Lee, E♭ major")
    again.keys("ctrl+t")

    def taken_away() -> bool:
        again.keys("Delete")
        time.sleep(0.3)
        return not holds("D4 with 3")

    until(taken_away, "the finger was not found after a new start")

    def brought_back() -> bool:
        again.keys("ctrl+z")
        time.sleep(0.3)
        return holds("D4 with 3")

    until(brought_back, "what was taken away did not come back")
    again.quit()


def _has_blue(path: pathlib.Path) -> bool:
    import pygame

    surface = pygame.image.load(path)
    blue = (0x2C, 0x5A, 0x8C)
    found = pygame.mask.from_threshold(surface, blue, (12, 12, 12, 255))
    return found.count() > 25


@pytest.mark.skipif(os.name != "posix", reason="a terminal's Ctrl-C cannot be sent there")
@pytest.mark.parametrize("how", ["SIGINT", "SIGHUP"])
def test_ctrl_c_and_a_closed_terminal_close_the_window_as_its_cross_does(
    how: str, display: str, piano: Callable[[str], Any], home: pathlib.Path
) -> None:
    keys = piano("test-piano")
    environment = {**os.environ, "DISPLAY": display, "KEYFARER_HOME": str(home), "KEYFARER_MIDI": "jack",
                   "SDL_VIDEODRIVER": "x11", "SDL_AUDIODRIVER": "dummy"}  # fmt: skip
    command = [sys.executable, "-m", "trainer", "open", "au-clair-de-la-lune", "--to", "D"]
    started = f"import os, signal; signal.signal(signal.{how}, signal.SIG_DFL); os.execv({command[0]!r}, {command!r})"
    # In a session of its own, as under a terminal: the signal goes to the second process, too.
    program = subprocess.Popen([sys.executable, "-c", started], cwd=ROOT, env=environment, start_new_session=True,
                               stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)  # fmt: skip
    try:
        for pitch in (62, 62, 62, 64, 66, 64):
            strike(keys, home, pitch)
        os.killpg(program.pid, getattr(signal, how))
        said, _ = program.communicate(timeout=WAIT_S)
    finally:
        program.kill()
        program.wait()
    assert program.returncode == 0
    # Of a terminal that is gone nobody reads a word.
    assert said == "" or how == "SIGHUP"
    assert takes(home)[0].state == FINISHED
