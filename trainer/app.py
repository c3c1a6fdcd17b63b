"""The command line: reads words, hands over."""

from __future__ import annotations

import contextlib
import errno
import importlib
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from trainer.commands.asking import Parser, near, open_streams
from trainer.music.pitch import MusicError, shortened
from trainer.refusal import CannotDo

# Order as shown in the help; each is a module of trainer.commands with `add(parser)` and `run(args) -> int`.
COMMANDS = {
    "open": "open the window (what `keyfarer` alone does)",
    "mark": "mark a recorded take of a piece played in a key",
    "look": "what a piece asks of the hands, and how it lies in each key",
    "fingers": "a fingering for a piece in a key, and what changes",
    "suit": "which keys suit a singer, and what to play from an instrument's part",
    "sheet": "print work for a student",
    "shelf": "your own pieces: list them, bring some, take some off, put them back",
    "fresh": "compose a piece to be played at sight",
    "journal": "the record of all takes",
    "ports": "the MIDI ports there are",
}
# What a disk says of an output that it cannot take: full, over its share, too large, broken.
_UNWRITTEN = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)
_CODES = "exit code: 0 when all of it was done, 2 when anything was refused or left out (a sentence says what and why)"


def build(words: Sequence[str]) -> tuple[Parser, list[str]]:
    """The parser, with only the asked command's module imported so that start-up stays short."""
    parser = Parser(prog="keyfarer", description="Read a piece in its written key, play it in another, be marked.")
    parser.epilog = f"{parser.epilog}\n\n{_CODES}"
    parser.add_argument("--version", action="store_true", help="say which version this is")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands", parser_class=Parser)
    listed = _joined(words)
    if not listed or listed[0] not in (*COMMANDS, "-h", "--help", "--version"):
        if listed:
            _look_for_slip(listed[0])
        listed = ["open", *listed]
    for name, says in COMMANDS.items():
        sub = commands.add_parser(name, help=says, description=says[0].upper() + says[1:] + ".")
        if listed[0] == name:
            importlib.import_module(f"trainer.commands.{name}").add(sub)
    return parser, listed


def _look_for_slip(word: str) -> None:
    """A word that is neither a command nor a file nor a piece, but nearly a command, was meant as one."""
    meant = near(word, COMMANDS, 0.72)
    if not meant or Path(word).exists():
        return
    from trainer.scores.shelf import library

    try:
        library.find(word)
    except MusicError:
        raise CannotDo(f"There is no command and no piece '{word}': did you mean 'keyfarer {meant}'?") from None


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("keyfarer")
    except PackageNotFoundError:
        return "of a checkout, not installed"


def _joined(words: Sequence[str]) -> list[str]:
    """``--to -m3`` as ``--to=-m3``: an interval down begins like an option and must not be taken for one."""
    joined: list[str] = []
    for word in words:
        if joined and joined[-1] == "--to":
            joined[-1] = f"--to={word}"
        else:
            joined.append(word)
    return joined


def _print_no_more() -> None:
    """What is still waiting to be written has nobody to read it either."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def main(words: Sequence[str] | None = None) -> int:
    """Run one command. Returns the exit code: 0 when all of it was done, 2 when anything was refused or left out.

    What was refused is said on stderr, in one sentence each; of several files the others are done all the same.
    """
    open_streams()
    try:
        parser, listed = build(sys.argv[1:] if words is None else words)
        args, unknown = parser.parse_known_args(listed)
        if args.version:
            print(f"keyfarer {_version()}")
            return 0
        if unknown:
            parser.refuse(unknown, listed)
        done = int(importlib.import_module(f"trainer.commands.{args.command}").run(args))
        # Here, where a reader that has gone away is no fault, and not at the interpreter's end, where it would be one.
        sys.stdout.flush()
        return done
    except (MusicError, CannotDo) as refusal:
        print(f"keyfarer: {refusal}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        _print_no_more()
        return 0
    except OSError as why:
        if why.filename is not None:
            # A name too long for this disk, a folder that may not be looked into.
            said = f"{shortened(why.filename, 80)} cannot be reached ({why.strerror}): name another."
            print(f"keyfarer: {said}", file=sys.stderr)
            return 2
        if why.errno not in _UNWRITTEN:
            raise
        _print_no_more()
        said = f"What there is to say could not be written ({why.strerror}): make room, or send it elsewhere."
        print(f"keyfarer: {said}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
