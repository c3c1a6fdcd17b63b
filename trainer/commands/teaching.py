"""What ``keyfarer journal`` does for a teacher: hand-overs, assignments, reports."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.asking import file_named
from trainer.commands.wishes import add_letters, letters_of
from trainer.journal.handover import SUFFIX, hand_over
from trainer.journal.store import Journal
from trainer.music.counted import many
from trainer.music.pitch import MusicError
from trainer.music.solfege import DO_BASED, LA_BASED
from trainer.refusal import CannotDo
from trainer.scores.paper.papers import PAPERS

if TYPE_CHECKING:
    from trainer.music.piece import Piece

ENDINGS = (".pdf", ".html")


def add(what: Callable[[str, str], argparse.ArgumentParser]) -> None:
    """Add the words a teacher and a student use to the parser of ``keyfarer journal``."""
    handing = what("hand-over", "one file with a player's takes since last time, for the teacher")
    handing.add_argument("--out", metavar="FILE", help="where to write (a file named after player and day)")
    handing.add_argument("--all", action="store_true", help="every take, not only those since last time")
    work = what("assignments", "the work that is set, and how far it is")
    add_letters(work)
    work.add_argument("--withdraw", metavar="PIECE", help="take back what is set in this piece")
    work.add_argument(
        "--out", metavar="FILE", help="write it to a .toml file for the student's own computer, or print it as .pdf"
    )
    work.add_argument("--paper", choices=tuple(PAPERS), default="a4", help="for a PDF (a4)")
    report = what("report", "one page for a lesson, as PDF or HTML")
    report.add_argument("--since", metavar="DATE", help="the day of the last lesson, written 2027-02-03 (a week ago)")
    report.add_argument("--everyone", action="store_true", help="a page for every student, after the studio page")
    report.add_argument("--studio", action="store_true", help="the studio page alone: all students in one table")
    report.add_argument(
        "--minor", choices=(LA_BASED, DO_BASED), default=LA_BASED, help="what minor begins on, for syllables (la)"
    )
    add_letters(report)
    report.add_argument("--paper", choices=tuple(PAPERS), default="a4", help="for a PDF (a4)")
    report.add_argument(
        "--out", metavar="FILE", help="where to write: .pdf, or .html (a PDF named after player and day)"
    )


def hand(journal: Journal, player: str, args: argparse.Namespace) -> int:
    today = date.today()
    path = Path(args.out) if args.out else Path(f"{_plain(player)}-{today:%Y-%m-%d}{SUFFIX}")
    if not args.out:
        again = 2
        while path.exists():
            path, again = Path(f"{_plain(player)}-{today:%Y-%m-%d}-{again}{SUFFIX}"), again + 1
    if path.suffix != SUFFIX:
        raise CannotDo(
            f"'{path.name}' would not be found among other hand-overs, which end in {SUFFIX}: name it "
            f"{path.with_suffix(SUFFIX).name}."
        )
    made = hand_over(journal, player, path, everything=args.all)
    print(f"{made.path}: {many(made.takes, 'take')} of {player}. Give it to your teacher; nothing was sent.")
    return 0


def named(folder: Path) -> tuple[str, ...] | None:
    """Whom the work that is set names, withdrawn or not; None where none is. Work may come before a first take."""
    from trainer.coaching.work.assignments import everything

    set_ = everything(folder)
    return tuple(dict.fromkeys(name for one in set_ for name in one.players)) if set_ else None


def forget(path: Path, player: str) -> None:
    """Take the name of somebody who has left out of the work that is set and out of the settings of this computer, and
    their own fingers with it.
    """
    from trainer.coaching.own import ownfingers
    from trainer.coaching.work import work
    from trainer.coaching.work.assignments import FILE
    from trainer.journal import files
    from trainer.window import settings

    try:
        if path == files.where():
            settings.forget(player)
        left = work.forget(path.parent, player)
    except MusicError as why:
        print(f"{FILE} may still name {player}: {why}", file=sys.stderr)
    else:
        if left:
            print(f"The name is gone from {many(left, 'assignment')} in {FILE}, too.")
    try:
        ownfingers.forget(path.parent, player)
    except MusicError as why:
        print(f"{ownfingers.FILE} may still name {player}: {why}", file=sys.stderr)


def assignments(journal: Journal, whose: Callable[[], str], args: argparse.Namespace) -> int:
    from trainer.coaching.work.assignments import EXAMPLE, FILE, load
    from trainer.coaching.work.work import absent, unknown_names, work_of

    folder = journal.path.parent
    prints = bool(args.out) and Path(args.out).suffix.lower() in ENDINGS
    if args.out and not prints and Path(args.out).suffix.lower() != ".toml":
        raise CannotDo(
            f"'{Path(args.out).name}' would not be known as work, which ends in .toml: name it "
            f"{Path(args.out).with_suffix('.toml').name}."
        )
    if args.withdraw:
        _withdraw(folder, args.withdraw, args.player)
    if prints:
        _print(journal, whose(), args)
    elif args.out:
        _give(journal, Path(args.out), args.player)
    if args.withdraw or args.out:
        return 0
    set_ = load(folder)
    if not set_:
        print(f"Nothing is set. Write {folder / FILE} like this:\n\n{EXAMPLE}")
        return 0
    for name in unknown_names(journal, set_):
        print(f"keyfarer: {FILE} names '{name}', who has no takes in this journal yet.", file=sys.stderr)
    tell_absent(absent(set_), FILE)
    letters = letters_of(args)
    players = [args.player] if args.player else [*journal.players(), *unknown_names(journal, set_)]
    # Before anybody has played, what is set for everyone is set for whoever will.
    for player in players or [""]:
        for one in work_of(journal, player, set_, date.today()):
            print(f"{player or 'everyone'}: {one.assignment.said(letters)}: {one.told}.")
            if one.assignment.note:
                print(f"  {one.assignment.note}")
    return 0


def _print(journal: Journal, player: str, args: argparse.Namespace) -> None:
    from trainer.coaching.own import ownfingers
    from trainer.coaching.paper.sheets import Wishes
    from trainer.coaching.paper.workbook import workbook
    from trainer.coaching.work.assignments import load
    from trainer.coaching.work.work import work_of
    from trainer.scores.paper.printing import save

    folder, day = journal.path.parent, date.today()
    work = work_of(journal, player, load(folder), day)

    def wishes(piece: Piece) -> Wishes:
        return Wishes(paper=args.paper, own=ownfingers.load(folder, piece, player))

    save(workbook(player, work, day, wishes, letters_of(args)), Path(args.out), args.paper)
    print(args.out)


def tell_absent(pieces: Iterable[str], where: str) -> None:
    """Say which pieces that are set cannot be played here yet, and what to do about it."""
    from trainer.scores.shelf.library import own_folder

    for piece in pieces:
        print(
            f"keyfarer: {where} sets '{piece}', which is not on the shelf here: look how it is spelt, or put its file "
            f"into {own_folder()}.",
            file=sys.stderr,
        )


def _give(journal: Journal, out: Path, player: str | None) -> None:
    from trainer.coaching.work.work import give

    given = give(journal, out, player)
    back = f", {given.withdrawn} of it withdrawn" if given.withdrawn else ""
    print(
        f"{out}: {many(given.pieces, 'piece')} of work{back}. The student drops it on the window, or 'keyfarer journal "
        f"merge {out.name}' takes it up."
    )
    if given.music:
        print(f"{many(given.music, 'piece')} of your own {'goes' if given.music == 1 else 'go'} along in it.")
    if given.fingers:
        print(
            f"{many(given.fingers, 'finger')} said for {player} {'goes' if given.fingers == 1 else 'go'} along in it."
        )
    for path in given.left:
        print(f"Give {path} along: this piece does not come with Keyfarer, and is too large to go along in the file.")


def _withdraw(folder: Path, name: str, player: str | None) -> None:
    from trainer.coaching.work.assignments import load
    from trainer.coaching.work.work import withdraw
    from trainer.scores.shelf.library import plain

    found = [one for one in load(folder) if plain(name) in map(plain, (one.piece, one.title, one.known_as))]
    mine = [one for one in found if player is None or one.is_for(player)]
    whom = f" for {player}" if player else ""
    if not mine:
        raise CannotDo(f"No work is set in '{name}'{whom}: 'keyfarer journal assignments' shows what is.")
    if player is not None and any(not one.players for one in mine):
        raise CannotDo(f"'{name}' is set for everyone: withdraw it without --player.")
    for one in mine:
        withdraw(folder, one, date.today(), player)
        print(f"Withdrawn for {player or ', '.join(one.players) or 'everyone'}: {one.words}.")


def report(journal: Journal, player: Callable[[], str], args: argparse.Namespace) -> int:
    from trainer.coaching.paper.lesson import everybody, lesson, studio
    from trainer.coaching.work.assignments import load
    from trainer.scores.paper.printing import save

    out = file_named(args.out, ENDINGS)
    now, since = datetime.now().astimezone(), _day(args.since)
    if since is not None and since > now.date():
        raise CannotDo(f"{args.since} is still to come: --since is the day of the last lesson.")
    # The teacher's own, who plays here too; a student's are at the student's.
    set_, letters = load(journal.path.parent), letters_of(args)
    if args.studio or args.everyone:
        document = (
            everybody(journal, now, since, set_, args.paper, args.minor, letters) if args.everyone
            else studio(journal, now, since, set_, args.minor)
        )  # fmt: skip
        name = f"studio-{now:%Y-%m-%d}"
    else:
        whose = player()
        document = lesson(journal, whose, now, since, set_, args.paper, args.minor, letters)
        name = f"{_plain(whose)}-{now:%Y-%m-%d}"
    path = out or Path(f"{name}.pdf")
    save(document, path, args.paper)
    print(path)
    return 0


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as why:
        raise CannotDo(f"'{text}' is not a day: write it like 2027-02-03.") from why


def _plain(name: str) -> str:
    """A name as part of a file's name."""
    return "".join(c if c.isalnum() else "-" for c in name).strip("-") or "player"
