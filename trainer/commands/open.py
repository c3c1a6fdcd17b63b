"""Open the window."""

from __future__ import annotations

import argparse
import math
import os
import sys

from trainer.commands.asking import named
from trainer.listening.quiet import load_pygame
from trainer.music.piece import BOTH, HANDS
from trainer.refusal import CannotDo


def add(parser: argparse.ArgumentParser) -> None:
    """Say which words the command takes."""
    parser.add_argument(
        "piece", nargs="*", metavar="PIECE", help="a file, or the name of a piece on the shelf; or files for the shelf"
    )
    parser.add_argument("--to", metavar="KEY", help="the key to play in: Eb, f#, -3, -m3")
    parser.add_argument("--octave", choices=("nearest", "up", "down"), default="nearest", help="which way to move it")
    parser.add_argument("--hands", choices=HANDS, default=BOTH, help="which hands play")
    parser.add_argument(
        "--mode", choices=("senza misura", "a tempo", "prima vista"), default="senza misura", help="how it is played"
    )
    parser.add_argument("--replay", metavar="TAKE.mid", help="let a recorded take play itself")
    parser.add_argument("--speed", type=float, default=1.0, metavar="X", help="how fast the recorded take plays")
    parser.add_argument("--journal", metavar="FILE", help="the file takes are kept in")
    parser.add_argument("--player", type=named, metavar="NAME", help="whose takes they are")
    parser.add_argument("--size", metavar="WxH", help="size of the window in pixels")
    parser.add_argument("--full-screen", action="store_true", help="fill the screen")
    parser.add_argument("--night", action="store_true", help="dark paper for a dark room")
    parser.add_argument("--port", metavar="NAME", help="the MIDI port to hear, or a part of its name")
    parser.add_argument("--figures", metavar="FILE", help="write how long frames took to FILE when the window closes")
    parser.add_argument("--picture", metavar="FILE", help="write a picture of the window to FILE when it closes")


def run(args: argparse.Namespace) -> int:
    """Open the window and stay until it is closed."""
    load_pygame()
    from trainer.window.house.opening import open_window

    if not _has_screen():
        raise CannotDo(
            "There is no screen here: 'keyfarer mark PIECE TAKE.mid --to KEY' marks a recorded take without one."
        )
    if not (math.isfinite(args.speed) and args.speed > 0):
        raise CannotDo(f"{args.speed} is not a speed: 1 is as played, 0.5 half as fast.")
    if args.size and not _is_size(args.size):
        raise CannotDo(f"'{args.size}' is not a size: write width and height in pixels, like 1280x800.")
    return open_window(args)


def _has_screen() -> bool:
    """Whether a window can be seen; a driver of SDL's asked for by name is taken at its word."""
    named = any(os.environ.get(name) for name in ("SDL_VIDEODRIVER", "DISPLAY", "WAYLAND_DISPLAY"))
    return named or not sys.platform.startswith("linux")


def _is_size(text: str) -> bool:
    wide, cross, high = text.lower().partition("x")
    return bool(cross) and wide.isdigit() and high.isdigit() and 200 <= int(wide) <= 16384 and 200 <= int(high) <= 16384
