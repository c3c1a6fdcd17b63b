"""Set up and start Keyfarer: ``python3 tools/start.py [PIECE --to KEY …]``.

With a screen it opens the window. Without one it plays a bundled recorded take through the same session, prints the
marks, keeps the take in a journal and saves two pictures.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys

from environment import ROOT, prepare


def has_screen() -> bool:
    if os.environ.get("SDL_VIDEODRIVER") in ("dummy", "offscreen"):
        return False
    return sys.platform in ("win32", "darwin") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def main() -> int:
    python = prepare()
    words = sys.argv[1:]
    if words or has_screen():
        return run([str(python), "-m", "trainer", *words])
    return run([str(python), str(ROOT / "tools" / "first_take.py")])


def run(command: list[str]) -> int:
    """Run a program to its end; gives its exit code. What would end this one is the program's to answer: it keeps the
    take first.
    """
    # Ctrl-C reaches both; it is not ignored, for that would be handed on.
    signal.signal(signal.SIGINT, lambda *_: None)
    program: subprocess.Popen[bytes] | None = None
    early: list[int] = []

    def hand_on(number: int, _: object) -> None:
        if program is None:
            early.append(number)
        else:
            program.send_signal(number)

    # Before there is a program: one that is told to end while it begins is not left behind.
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, hand_on)
    program = subprocess.Popen(command)
    for number in early:
        program.send_signal(number)
    code = program.wait()
    return code if code >= 0 else 128 - code


if __name__ == "__main__":
    try:
        raise SystemExit(main())
    except KeyboardInterrupt:
        raise SystemExit(130) from None
