"""``keyfarer journal merge``: journals, hand-overs and set work taken into this journal, each file once."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from trainer import folders
from trainer.coaching.path.comeback import take_back
from trainer.commands.teaching import tell_absent
from trainer.commands.wishes import keyboard_of
from trainer.journal import files
from trainer.journal.errors import JournalError
from trainer.journal.handover import SUFFIX
from trainer.journal.store import Journal
from trainer.music.counted import many
from trainer.music.pitch import MusicError
from trainer.refusal import CannotDo

_SQLITE = b"SQLite format 3\0"


def add(what: Callable[[str, str], argparse.ArgumentParser]) -> None:
    """Add the words of ``merge`` to the parser of ``keyfarer journal``."""
    merge = what("merge", "take in students' hand-overs, another journal, or work a teacher set")
    merge.add_argument(
        "file", nargs="+", metavar="FILE", help="hand-overs, or a folder of them; journals; a teacher's .toml file"
    )
    who = merge.add_mutually_exclusive_group()
    who.add_argument("--as", dest="called", metavar="NAME", help="what the student is called in this journal")
    who.add_argument("--same-as", metavar="NAME", help="who in this journal the student is, who plays here too")


def run(path: Path, args: argparse.Namespace) -> int:
    """Every file by itself: one that is refused does not keep the others out. 2 when any was refused."""
    found = [file for name in args.file for file in _files(folders.typed(name))]
    if (args.called or args.same_as) is not None and len(found) != 1:
        raise CannotDo(f"{'--as' if args.called else '--same-as'} names the student of one file: give that file alone.")
    refused = 0
    with Journal(path, strict=True) as journal:
        if journal.takes(limit=1):
            files.back_up(path)
        back = take_back(journal, keyboard_of())
        if back.words:
            print(f"keyfarer: {back.words}", file=sys.stderr)
        for file in found:
            try:
                # What was set aside is in the journal by now, and its file gone.
                if any(file.resolve() == one.resolve() for one in back.takes):
                    continue
                print(_taken(journal, file, args))
            except (JournalError, MusicError) as why:
                refused += 1
                print(f"keyfarer: {why}", file=sys.stderr)
    if len(found) > 1:
        print(f"{many(len(found) - refused, 'file')} taken in, {refused} refused." if refused else "All taken in.")
    return 2 if refused else 0


def _files(place: Path) -> list[Path]:
    if not place.is_dir():
        return [place]
    found = sorted(place.glob(f"*{SUFFIX}"))
    if not found:
        raise CannotDo(f"There is no hand-over in {place}: they end in {SUFFIX}.")
    return found


def _taken(journal: Journal, file: Path, args: argparse.Namespace) -> str:
    """Take in one file; the sentence that says what came of it."""
    if not file.is_file():
        raise JournalError(f"There is no file {file}: name a hand-over, a journal, or a teacher's .toml file.")
    from trainer.coaching.work import handing

    kind = handing.kind_of(file)
    if kind or file.suffix.lower() == handing.WORK_SUFFIX:
        from trainer.window import settings

        taken = handing.take(journal, file, args.called, args.same_as, settings.load().player)
        known = f", {taken.known} here already" if taken.known else ""
        if taken.moved:
            return f"{many(taken.moved, 'take')} counted as {taken.player}'s from now on, no more as somebody else's."
        if taken.kind == handing.PLAYED:
            return f"{many(taken.fresh, 'take')} of {taken.player} taken in{known}."
        known += f", {taken.back} withdrawn" if taken.back else ""
        tell_absent(taken.missing, file.name)
        said = f"{many(taken.fresh, 'piece')} of work taken up from {file.name}{known}."
        if taken.fingers:
            said += f" {many(taken.fingers, 'finger')} of your teacher's on the page."
        return f"{said} Now on the shelf: {', '.join(taken.music)}." if taken.music else said
    with file.open("rb") as opened:
        if opened.read(len(_SQLITE)) != _SQLITE:
            raise JournalError(f"{file.name} is no hand-over and no journal: name a file that Keyfarer made.")
    from trainer.journal import rescue

    return f"{many(rescue.merge(journal.db, file), 'take')} taken in from {file.name}."
