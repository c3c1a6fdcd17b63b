"""What is used of pygame is loaded without what it asks for in vain, and greets nobody."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from trainer.listening.quiet import hushed

ROOT = Path(__file__).resolve().parents[2]
# Each way to pygame, in a program of its own.
WAYS = {
    "the window": "from trainer.commands import open; open._has_screen = lambda: False; "
    "from trainer.app import main; main(['open'])",
    "the tone": "from trainer.sounding.tone import ToneVoice; ToneVoice().close()",
    "MIDI without python-rtmidi": "from trainer.listening.backends import PygameBackend; PygameBackend()",
    "the second process": "from trainer.window.workroom.jobs import warm; warm()",
}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.usefixtures("home")
def test_pygame_comes_without_setuptools_and_without_a_greeting(way: str, tmp_path: Path) -> None:
    (tmp_path / "pkg_resources.py").write_text("print('asked for in vain')", encoding="utf-8")
    environment = {name: value for name, value in os.environ.items() if name != "PYGAME_HIDE_SUPPORT_PROMPT"}
    environment |= {"PYTHONPATH": f"{tmp_path}{os.pathsep}{ROOT}", "SDL_AUDIODRIVER": "dummy"}
    code = f"{WAYS[way]}; import sys; assert 'pygame' in sys.modules and 'pkg_resources' not in sys.modules"
    done = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, encoding="utf-8")
    assert (done.returncode, done.stdout) == (0, "")


def test_what_libraries_complain_of_stays_quiet_and_stderr_comes_back(capfd: pytest.CaptureFixture[str]) -> None:
    def complain() -> None:
        for _ in range(50):
            with hushed():
                os.write(2, b"complaint")

    threads = [threading.Thread(target=complain) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    os.write(2, b"heard again")
    assert capfd.readouterr().err == "heard again"
