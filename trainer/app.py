"""The command line: reads words, hands over."""

from __future__ import annotations

import argparse
import importlib
import re
import sys
from collections.abc import Sequence

from trainer.music.pitch import MusicError

# Order as shown in the help; each is a module of trainer.commands with `add(parser)` and `run(args) -> int`.
COMMANDS = {
    "open": "open the window (what `keyfarer` alone does)",
    "mark": "mark a recorded take of a piece played in a key",
    "look": "what a piece asks of the hands, and how it lies in each key",
    "fingers": "a fingering for a piece in a key, and what changes",
    "suit": "which keys suit a singer",
    "sheet": "print work for a student",
    "fresh": "compose a piece to be played at sight",
    "journal": "the record of all takes",
    "ports": "the MIDI ports there are",
}


class CannotDo(Exception):
    """Something asked for cannot be done; the text is one sentence saying what is wrong and what to do."""


# What argparse says of words it cannot take, as patterns, and the same in this house's words.
_SAID = (
    (r"argument (.+?): invalid int value: '(.*)'", "{0} takes a whole number, not '{1}'"),
    (r"argument (.+?): invalid float value: '(.*)'", "{0} takes a number, not '{1}'"),
    (r"argument (.+?): invalid (?:_?path|Path) value: '(.*)'", "{0} takes the name of a file, not '{1}'"),
    (r"argument (.+?): expected (?:one|at least one|1) argument", "{0} needs something after it"),
    (r"argument (.+?): not allowed with argument (.+)", "{0} and {1} do not go together"),
    (r"argument (.+?): ignored explicit argument '(.*)'", "{0} takes nothing after it, so '{1}' is too much"),
    (r"(?:the following arguments are required|one of the arguments): (.+)", "still to be said: {0}"),
    (r"one of the arguments (.+) is required", "one of these is still to be said: {0}"),
    (r"unrecognized arguments: (.+)", "'{0}' is too much or unknown"),
    (r"ambiguous option: (\S+) could match (.+)", "{0} could be {1}: write it out"),
)
_CHOICE = re.compile(r"argument (.+?): invalid choice: '?(.*?)'? \(choose from (.+)\)")


def _in_words(message: str) -> str:
    """A complaint of argparse's as a sentence of our own, without its full stop."""
    choice = _CHOICE.fullmatch(message)
    if choice:
        values = [value.strip().strip("'\"") for value in choice[3].split(",")]
        offered = f"{', '.join(values[:-1])} or {values[-1]}" if len(values) > 1 else values[0]
        return f"{choice[1]} takes {offered}, not '{choice[2]}'"
    for pattern, words in _SAID:
        found = re.fullmatch(pattern, message)
        if found:
            return words.format(*found.groups())
    return message


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> None:  # type: ignore[override]
        self.exit(2, f"{self.prog}: {_in_words(message)}; '{self.prog} --help' shows how.\n")


def build(words: Sequence[str]) -> tuple[argparse.ArgumentParser, list[str]]:
    """The parser, with only the asked command's module imported so that start-up stays short."""
    parser = _Parser(prog="keyfarer", description="Read a piece in its written key, play it in another, be marked.")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)
    listed = _joined(words)
    if not listed or listed[0] not in (*COMMANDS, "-h", "--help"):
        listed = ["open", *listed]
    for name, says in COMMANDS.items():
        sub = commands.add_parser(name, help=says, description=says[0].upper() + says[1:] + ".")
        if listed[0] == name:
            importlib.import_module(f"trainer.commands.{name}").add(sub)
    return parser, listed


def _joined(words: Sequence[str]) -> list[str]:
    """``--to -m3`` as ``--to=-m3``: an interval down begins like an option and must not be taken for one."""
    joined: list[str] = []
    for word in words:
        if joined and joined[-1] == "--to":
            joined[-1] = f"--to={word}"
        else:
            joined.append(word)
    return joined


def main(words: Sequence[str] | None = None) -> int:
    """Run one command. Returns the exit code: 0 done, 2 refused with one sentence on stderr."""
    parser, listed = build(sys.argv[1:] if words is None else words)
    args = parser.parse_args(listed)
    try:
        return int(importlib.import_module(f"trainer.commands.{args.command}").run(args))
    except (MusicError, CannotDo) as refusal:
        print(f"keyfarer: {refusal}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        return 0
    except KeyboardInterrupt:
        return 130
