"""The words of the command line: help in one voice with examples, and complaints as sentences that say what to do."""

from __future__ import annotations

import argparse
import io
import os
import re
import shutil
import sys
from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from trainer.music.counted import listed
from trainer.refusal import CannotDo

if TYPE_CHECKING:
    from rich.console import Console

# What stands at the foot of each command's help; kept true by tests that read every line.
EXAMPLES: dict[str, tuple[str, ...]] = {
    "": (
        "keyfarer                                   open the window",
        "keyfarer aura-lee --to Eb                  open it with a piece, to be played in E flat",
        "keyfarer mark aura-lee take.mid --to Eb    mark a recorded take",
        "keyfarer journal --help                    what the journal can do",
    ),
    "open": (
        "keyfarer open aura-lee --to Eb --mode 'a tempo'",
        "keyfarer open aura-lee --to -3 --hands right --night",
        "keyfarer open waltz.mid gavotte.abc songs/         several files, or a folder of them, for the shelf",
    ),
    "mark": (
        "keyfarer mark aura-lee take.mid --to Eb            one take, every slip with its reason",
        "keyfarer mark song.musicxml takes/ --to f#         a folder of takes, one table",
        "keyfarer mark aura-lee take.mid --to -m3 --json    a minor third down, for another program",
    ),
    "look": (
        "keyfarer look aura-lee                              every key, the easiest first",
        "keyfarer look aura-lee --to Eb --hand-size small    one key, for a small hand",
    ),
    "fingers": ("keyfarer fingers aura-lee --to F#", "keyfarer fingers greensleeves --to c --hand-size small"),
    "suit": (
        "keyfarer suit aura-lee --voice mezzo                                  a song for a kind of voice",
        "keyfarer suit aura-lee --tessitura D4-D5                              for one singer's comfortable range",
        "keyfarer suit --instrument 'clarinet in B flat' --written Bb          what a part sounds like",
    ),
    "sheet": (
        "keyfarer sheet aura-lee --to Eb --to F# --out work.pdf                two keys on one sheet",
        "keyfarer sheet aura-lee --to Eb --answers --blank --paper letter      with staves to write on",
        "keyfarer sheet aura-lee --to Eb --alone --fingers none                to play from: nothing to be transposed",
        "keyfarer sheet aura-lee --to Eb --instrument 'clarinet in B flat'     the tune, to sound in E flat",
        "keyfarer sheet --path --level trichord                                a booklet of the path",
    ),
    "shelf": (
        "keyfarer shelf                              what lies there, and what was taken off",
        "keyfarer shelf bring waltz.mid songs/       copy music there, a folder of it too",
        "keyfarer shelf take-off waltz               it goes to a folder beside, its takes stay",
        "keyfarer shelf put-back waltz",
    ),
    "shelf bring": ("keyfarer shelf bring waltz.mid songs/",),
    "shelf take-off": ("keyfarer shelf take-off waltz 'Evening at the Weir'",),
    "shelf put-back": ("keyfarer shelf put-back waltz",),
    "fresh": ("keyfarer fresh --level pentachord --key G --bars 8 --seed 7 --out tonight.musicxml",),
    "ports": ("keyfarer ports", "keyfarer ports --watch"),
    "journal": (
        "keyfarer journal list --player 'Ada Winter'",
        "keyfarer journal summary --days 30",
        "keyfarer journal report --since 2027-02-03 --out lesson.pdf",
    ),
    "journal list": ("keyfarer journal list --limit 50 --player 'Ada Winter'",),
    "journal show": ("keyfarer journal show 12",),
    "journal summary": ("keyfarer journal summary --days 30",),
    "journal export": (
        "keyfarer journal export --csv --out takes.csv",
        "keyfarer journal export --midi folder --take 12",
    ),
    "journal merge": (
        "keyfarer journal merge Ada-Winter-2027-02-03.handover    a student's takes, each only once",
        "keyfarer journal merge post/                             every hand-over in a folder",
        "keyfarer journal merge work.toml                         work your teacher set",
    ),
    "journal hand-over": ("keyfarer journal hand-over --player 'Ada Winter'",),
    "journal assignments": (
        "keyfarer journal assignments",
        "keyfarer journal assignments --player 'Ada Winter' --out work.toml",
        "keyfarer journal assignments --player 'Ada Winter' --out work.pdf",
        "keyfarer journal assignments --player 'Ada Winter' --withdraw aura-lee",
    ),
    "journal report": (
        "keyfarer journal report --player 'Ada Winter' --since 2027-02-03 --out lesson.pdf",
        "keyfarer journal report --everyone --paper letter --out studio.pdf",
    ),
    "journal erase": ("keyfarer journal erase --take 12", "keyfarer journal erase --player 'Ada Winter'"),
    "journal picture": ("keyfarer journal picture sight --out sight.svg",),
    "journal finish": ("keyfarer journal finish 12",),
    "journal keep": ("keyfarer journal keep 12",),
}
# What argparse says of words it cannot take, as patterns, and the same in this house's words.
_SAID = (
    (r"argument (.+?): invalid (?:int|whole) value: '(.*)'", "{0} takes a whole number, not '{1}'"),
    (r"argument (.+?): (takes a number up to .+)", "{0} {1}"),
    (r"argument (.+?): invalid float value: '(.*)'", "{0} takes a number, not '{1}'"),
    (r"argument (.+?): invalid (?:_?path|Path) value: '(.*)'", "{0} takes the name of a file, not '{1}'"),
    (r"argument (.+?): expected (?:one|at least one|1) argument", "{0} needs something after it"),
    (r"argument (.+?): not allowed with argument (.+)", "{0} and {1} do not go together"),
    (r"argument (.+?): ignored explicit argument '(.*)'", "{0} takes nothing after it, so '{1}' is too much"),
    (r"(?:the following arguments are required|one of the arguments): (.+)", "still to be said: {0}"),
    (r"ambiguous option: (\S+) could match (.+)", "{0} could be {1}: write it out"),
)
_CHOICE = re.compile(r"argument (.+?): invalid choice: '?(.*?)'? \(choose from (.+)\)")
_ONE_OF = re.compile(r"one of the arguments (.+) is required")
# The largest number that is taken.
MOST = 1_000_000_000
# With more values than this a near one is named instead of all.
_FEW = 5
_NEAR = 0.6


def open_streams() -> None:
    """Let every letter be written: sharps and flats are in no Windows or Latin code page.

    Files and other programs get UTF-8 on every system, as Python itself does from 3.15 on, unless another encoding is
    asked for; where a letter is lacking there is a question mark. What is said on a stream that was closed is lost.
    """
    if sys.stdout is None:
        sys.stdout = os.fdopen(os.open(os.devnull, os.O_WRONLY), "w")
    if sys.stderr is None:
        sys.stderr = os.fdopen(os.open(os.devnull, os.O_WRONLY), "w")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            usual = stream.isatty() or os.environ.get("PYTHONIOENCODING")
            stream.reconfigure(encoding=None if usual else "utf-8", errors="replace")


def console(*, stderr: bool = False, width: int | None = None) -> Console:
    """Where tables are printed: brackets and colons in a title are no markup."""
    from rich.console import Console

    class Printer(Console):
        """Leaves it to `trainer.app` what a reader that goes away means."""

        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    return Printer(stderr=stderr, width=width, markup=False, emoji=False)


def file_named(given: str | None, endings: Sequence[str]) -> Path | None:
    """The file named with ``--out``, which ends in one of two ways; None where none is."""
    if given is None:
        return None
    out = Path(given)
    ends = f"that ends in {listed(endings, 'or')}"
    if not given.strip():
        raise CannotDo(f"--out names no file: name one {ends}.")
    if out.is_dir():
        raise CannotDo(f"'{given}' is a folder: name a file in it {ends}.")
    if out.suffix.lower() not in endings:
        raise CannotDo(f"'{out.name}' is neither {' nor '.join(endings)}: name a file that is one of them.")
    return out


def whole(text: str) -> int:
    """A whole number of a size people mean: what goes beyond is no take, no day and no bar."""
    number = int(text)
    if abs(number) > MOST:
        raise argparse.ArgumentTypeError(f"takes a number up to {MOST}, not {text}")
    return number


def named(text: str) -> str:
    """A name that can be written down; bytes that are no text come from the command line as lone surrogates."""
    try:
        text.encode()
    except UnicodeEncodeError:
        raise argparse.ArgumentTypeError("takes a name in letters, and this one is no text: type it again") from None
    return text


def near(word: str, known: Iterable[str], cutoff: float = _NEAR) -> str:
    """The known word most like one that is not known; empty for none."""
    return next(iter(get_close_matches(word, list(known), 1, cutoff)), "")


class _Help(argparse.RawDescriptionHelpFormatter):
    """As wide as is good to read, with the words of options in one column."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=28, width=min(shutil.get_terminal_size().columns, 100) - 2)


class Parser(argparse.ArgumentParser):
    """argparse in this house's words."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **{"formatter_class": _Help, **options, "add_help": False})
        self._positionals.title = "what to name"
        self.add_argument("-h", "--help", action="help", help="show this help")
        examples = EXAMPLES.get(self.prog.removeprefix("keyfarer").strip())
        if examples and self.epilog is None:
            head = "example" if len(examples) == 1 else "examples"
            self.epilog = f"{head}:\n" + "\n".join(f"  {line}" for line in examples)

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"{self.prog}: {in_words(message)}; '{self.prog} --help' shows how.\n")

    def refuse(self, words: Sequence[str], said: Sequence[str]) -> NoReturn:
        """Words nobody asked for, said by the command they were given to, with the near word where there is one."""
        parser = self._asked(said)
        word = words[0]
        options = [name for action in parser._actions for name in action.option_strings]
        meant = near(word.split("=")[0], options) if word.startswith("-") else ""
        hint = f"is unknown: did you mean {meant}?" if meant else "is too much or unknown;"
        parser.exit(2, f"{parser.prog}: '{word}' {hint} '{parser.prog} --help' shows how.\n")

    def _asked(self, said: Sequence[str]) -> Parser:
        """The parser of the command that was asked for, however deep."""
        found: Parser = self
        for word in said:
            below = [action for action in found._actions if isinstance(action, argparse._SubParsersAction)]
            if below and word in below[0].choices:
                found = below[0].choices[word]
        return found


def in_words(message: str) -> str:
    """A complaint of argparse's as a sentence of our own, without its full stop."""
    choice = _CHOICE.fullmatch(message)
    if choice:
        name, word = choice[1], choice[2]
        values = [value.strip().strip("'\"") for value in choice[3].split(",")]
        meant = near(word, values)
        if len(values) > _FEW:
            hint = f"did you mean {meant}" if meant else f"there are {listed(values)}"
            return f"'{word}' is unknown: {hint}"
        return f"{name} takes {listed(values, 'or')}, not '{word}'"
    one_of = _ONE_OF.fullmatch(message)
    if one_of:
        return f"still to be said: {listed(one_of[1].split(), 'or')}"
    for pattern, words in _SAID:
        found = re.fullmatch(pattern, message)
        if found:
            return words.format(*found.groups())
    return message
