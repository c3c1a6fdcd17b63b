"""``keyfarer journal …``: the record of all takes, read, exported, merged, erased, restored."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import date, datetime
from pathlib import Path

from trainer import folders
from trainer.coaching.path.comeback import finish, take_back
from trainer.commands import merging, summarised, teaching
from trainer.commands.asking import named, whole
from trainer.commands.sliplines import lines, whole_take
from trainer.commands.wishes import add_letters, keyboard_of, letters_of
from trainer.following.marks import right_of
from trainer.journal import files
from trainer.journal.errors import JournalError
from trainer.journal.export import row_json, take_json, take_numbers
from trainer.journal.store import Journal
from trainer.journal.values import FINISHED, TakeRow
from trainer.music.counted import many
from trainer.music.names import key_name
from trainer.music.piece import hands_named
from trainer.music.pitch import MusicError
from trainer.music.transpose import transposed
from trainer.refusal import CannotDo

# Of takes or days: more than a long life holds.
_MOST = 100_000
# Lines of takes by the time they were played.
_NEWEST = "1 ORDER BY t.began DESC LIMIT ?"


def add(parser: argparse.ArgumentParser) -> None:
    everywhere = argparse.ArgumentParser(add_help=False)
    for one, absent in ((parser, None), (everywhere, argparse.SUPPRESS)):
        one.add_argument("--journal", metavar="FILE", default=absent, help="another journal than the usual one")
        one.add_argument("--player", type=named, metavar="NAME", default=absent, help="only this player")
    does = parser.add_subparsers(dest="does", metavar="WHAT", required=True, parser_class=type(parser))

    def what(name: str, says: str) -> argparse.ArgumentParser:
        return does.add_parser(name, help=says, description=says[0].upper() + says[1:] + ".", parents=[everywhere])

    listing = what("list", "the latest takes")
    listing.add_argument("--limit", type=whole, default=20, metavar="N", help="how many (20)")
    listing.add_argument("--json", action="store_true", help="one JSON object")
    show = what("show", "one take with its marks")
    add_letters(show)
    show.add_argument("take", type=whole, metavar="N", help="its number in the list")
    show.add_argument("--json", action="store_true", help="one JSON object")
    summary = what("summary", "what the journal says of a player")
    summary.add_argument("--days", type=whole, default=90, metavar="N", help="of the last N days (90)")
    summary.add_argument("--json", action="store_true", help="one JSON object")
    export = what("export", "the takes for other programs")
    form = export.add_mutually_exclusive_group(required=True)
    form.add_argument("--csv", action="store_true", help="one line a key press")
    form.add_argument("--json", action="store_true", help="one JSON object with every take")
    form.add_argument("--midi", metavar="DIR", help="one MIDI file a take, and its piece as MusicXML, into this folder")
    export.add_argument("--out", metavar="FILE", help="write here instead of printing")
    export.add_argument("--take", type=whole, metavar="N", help="only this take")
    merging.add(what)
    teaching.add(what)
    erase = what("erase", "erase everything, one player (--player), or one take")
    erase.add_argument("--take", type=whole, metavar="N", help="only this take")
    erase.add_argument("--yes", action="store_true", help="do not ask")
    picture = what("picture", "pictures of progress")
    picture.add_argument("what", nargs="?", default="circle", metavar="PICTURE", help="circle, sight, cost or causes")
    picture.add_argument("--out", metavar="FILE", help="a .png or .svg file (PICTURE.png)")
    path = what("path", "the order in which keys are opened, as a table with reasons")
    path.add_argument("--edit", action="store_true", help="put a copy beside the journal, for a teacher to change")
    restore = what("restore", "put the backup in the journal's place")
    restore.add_argument("--yes", action="store_true", help="do not ask, even if the backup holds fewer takes")
    what("where", "where the journal lies")
    for name, says in (("finish", "mark a take that was cut off"), ("keep", "keep a take that was cut off, unmarked")):
        what(name, says).add_argument("take", type=whole, metavar="N", help="its number in the list")


def run(args: argparse.Namespace) -> int:
    try:
        return _DOES[args.does](args)
    except JournalError as why:
        raise CannotDo(str(why)) from why


def _path(args: argparse.Namespace) -> Path:
    return folders.typed(args.journal) if args.journal else files.where()


@contextmanager
def _opened(args: argparse.Namespace, also: Sequence[str] | None = None) -> Iterator[Journal]:
    """The journal asked for. `also`: who has work set and may be named; with work set it need not have begun."""
    path = _path(args)
    if not path.exists() and also is None:
        raise CannotDo(f"There is no journal at {path} yet: it begins with the first take, or with one merged.")
    with Journal(path, strict=True) as journal:
        for words in filter(None, (journal.trouble, take_back(journal, keyboard_of()).words)):
            print(f"keyfarer: {words}", file=sys.stderr)
        if args.player is not None and args.player not in (names := (*journal.players(), *(also or ()))):
            known = ", ".join(dict.fromkeys(names)) or "nobody yet"
            raise CannotDo(f"The journal has no player '{args.player}': it has {known}.")
        take = getattr(args, "take", None)
        if args.player is not None and take is not None and (whose := journal.row(take).player) != args.player:
            raise CannotDo(
                f"Take {take} is of {whose}, not of {args.player}: 'keyfarer journal list' shows the numbers."
            )
        yield journal


def _list(args: argparse.Namespace) -> int:
    with _opened(args) as journal:
        # By the day it was played: what was merged last need not be the latest.
        most = _counted("--limit", args.limit)
        rows = journal.takes(args.player, most) if args.player is not None else journal.rows(_NEWEST, (most,))
        elsewhere = journal.elsewhere(rows)
    if args.json:
        print(json.dumps({"takes": [row_json(row, elsewhere.get(row.id, 0)) for row in rows]}, ensure_ascii=False))
    elif not rows:
        print("No takes yet.")
    else:
        head = ("take", "when", "player", "piece", "key", "hands", "right", "pulse", "cost")
        print("\n".join(summarised.table([head, *(_line(row, row.id in elsewhere) for row in rows)])))
    return 0


def _counted(option: str, number: int) -> int:
    """A number of takes or days that there can be."""
    if not 1 <= number <= _MOST:
        raise CannotDo(f"{option} takes a whole number from 1 to {_MOST}, not {number}.")
    return number


def _line(row: TakeRow, elsewhere: bool) -> tuple[str, ...]:
    right = _right(row, elsewhere) if row.state == FINISHED else row.state
    pulse = f"{row.pulse:.0f}" if row.pulse else ""
    cost = f"{row.cost:.2f}" if row.cost else ""
    when = f"{row.began:%Y-%m-%d %H:%M}"
    return str(row.id), when, row.player, row.title, f"{row.written} → {row.target}", row.hands, right, pulse, cost


def _right(row: TakeRow, elsewhere: bool) -> str:
    """How much was right; of less than most of a piece that it was a part, and no figure of what lay elsewhere."""
    if elsewhere:
        return "lay elsewhere"
    said = right_of(row.right or 0, row.played or 0, row.missed or 0)
    return said if row.is_most else f"a part, {said}"


def _show(args: argparse.Namespace) -> int:
    with _opened(args) as journal:
        kept = journal.take(args.take)
    if args.json:
        print(json.dumps(take_json(kept), ensure_ascii=False))
        return 0
    row = kept.row
    letters = letters_of(args, row.player)
    keys = [key_name(key, letters) for key in (kept.written, kept.target)]
    print(f"{row.title}, written in {keys[0]}, played in {keys[1]} ({kept.plan.words})")
    print(f"{row.began:%A, %d %B %Y, %H:%M}, {row.player}, {hands_named(row.hands)}, {row.mode}, help {row.help}")
    if kept.settled is None:
        presses = many(len(kept.presses), "press", "presses")
        print(f"Cut off after {presses}: 'keyfarer journal finish {row.id}' marks it.")
        return 0
    right = _right(row, bool(kept.settled.shift))
    said = [right if kept.settled.shift else f"{right} right", f"{row.seconds:.0f} s"]
    said += [f"pulse {row.pulse:.0f}"] if row.pulse else []
    said += [f"{row.cost:.2f} times the time of the written key"] if row.cost else []
    print(", ".join(said))
    for sentence in whole_take(kept.settled, letters):
        print(sentence)
    expected = transposed(kept.piece, kept.plan.interval)
    for line in lines(kept.piece, expected, kept.presses, kept.settled, letters=letters):
        print(f"  {line.place}: {line.words}" if line.place else f"  {line.words}")
    return 0


def _player(args: argparse.Namespace, journal: Journal) -> str:
    """The player asked for, or who played last."""
    if args.player is not None:
        return str(args.player)
    rows = journal.rows(_NEWEST, (1,))
    if not rows:
        raise CannotDo("The journal has no takes yet: play something first.")
    return rows[0].player


def _whose(args: argparse.Namespace, journal: Journal) -> str:
    """The player asked for, or the only one: what leaves the house must not be another's."""
    players = journal.players()
    if args.player is None and len(players) > 1:
        raise CannotDo(f"This journal has {', '.join(players)}: say whose with --player NAME.")
    return _player(args, journal)


def _summary(args: argparse.Namespace) -> int:
    from trainer.coaching.progress.report import report

    with _opened(args) as journal:
        found = report(journal, _player(args, journal), datetime.now().astimezone(), _counted("--days", args.days))
    if args.json:
        print(json.dumps(found, ensure_ascii=False))
        return 0
    print("\n".join(summarised.lines(found)))
    return 0


def _export(args: argparse.Namespace) -> int:
    from trainer.journal.export import readable, write_csv, write_json, write_midi, written_whole

    with _opened(args) as journal:
        numbers = [args.take] if args.take is not None else take_numbers(journal, args.player)
        if args.take is not None:
            names = [journal.row(args.take).player]
        else:
            names = [args.player] if args.player else journal.players()
        damaged: list[int] = []
        takes = (journal.take(number) for number in numbers) if args.take else readable(journal, numbers, damaged)
        write = write_csv if args.csv else write_json
        if args.midi:
            write_midi(takes, Path(args.midi))
        elif args.out:
            written_whole(Path(args.out), lambda out: write(takes, out))
        else:
            write(takes, sys.stdout)
    if not numbers:
        print("There are no takes to export.", file=sys.stderr)
        return 0
    told = f"{args.midi or args.out or 'the screen'}: {many(len(numbers) - len(damaged), 'take')} of {', '.join(names)}"
    print(f"Written to {told}, every key press with its time, and the pieces' names.", file=sys.stderr)
    if damaged:
        which = ", ".join(f"take {number}" for number in damaged)
        print(f"Damaged and left out: {which}. Erase what is damaged, or restore the backup.", file=sys.stderr)
    return 2 if damaged else 0


def _merge(args: argparse.Namespace) -> int:
    return merging.run(_path(args), args)


def _erase(args: argparse.Namespace) -> int:
    from trainer.journal import erasing

    path = _path(args)
    if args.take is None and args.player is None:
        if not files.family(path):
            raise CannotDo(f"There is no journal at {path}: nothing to erase.")
        _sure_to_erase(args, f"Erase the whole journal {path} and its backup?")
        gone = erasing.erase_everything(path)
        print(f"Erased: {', '.join(one.name for one in gone)}.")
        return 0
    also = None
    with suppress(MusicError):  # a broken file of work keeps nobody from being erased
        also = teaching.named(path.parent) if args.player else None
    with _opened(args, also) as journal:
        if args.take is not None:
            row = journal.row(args.take)
            _sure_to_erase(args, f"Erase take {row.id}, {row.player}, {row.title} of {row.began:%Y-%m-%d}?")
            erasing.erase_takes(journal, [args.take])
            print(f"Take {args.take} is erased; the backup was made anew without it.")
        else:
            _sure_to_erase(args, f"Erase everything of {args.player}?")
            # Work may be set for somebody who has not played yet.
            takes = erasing.erase_player(journal, args.player) if args.player in journal.players() else 0
            print(f"{args.player} and {many(takes, 'take')} are erased; the backup was made anew without them.")
            teaching.forget(path, args.player)
    return 0


def _sure_to_erase(args: argparse.Namespace, question: str) -> None:
    _sure(args, f"{question} It cannot be undone.", "Erasing cannot be undone: say --yes.", "Nothing was erased.")


def _sure(args: argparse.Namespace, question: str, unasked: str, left: str) -> None:
    """Ask before something is done; `unasked` is said where nobody can answer, `left` when the answer is no."""
    if args.yes:
        return
    if not sys.stdin.isatty():
        raise CannotDo(unasked)
    try:
        answer = input(f"{question} (yes/no) ").strip().lower()
    except EOFError:
        answer = ""
    if answer not in ("y", "yes"):
        raise CannotDo(left)


def _picture(args: argparse.Namespace) -> int:
    from trainer.coaching.progress.progress import PICTURES, picture
    from trainer.journal.charts import FORMATS, rendered
    from trainer.scores.plain import write_whole

    if args.what not in PICTURES:
        raise CannotDo(f"'{args.what}' is no picture: there are {', '.join(PICTURES)}.")
    goal = Path(args.out or f"{args.what}.png")
    form = goal.suffix.lower().lstrip(".")
    if form not in FORMATS:
        raise CannotDo(f"'{goal}' is neither a .png nor an .svg file: name one.")
    with _opened(args) as journal:
        figure = picture(journal, _player(args, journal), args.what, datetime.now().astimezone())
    write_whole(goal, rendered(figure, form), private=False)
    print(goal)
    return 0


def _restore(args: argparse.Namespace) -> int:
    path = _path(args)
    stood, backup = files.takes_in(path), files.takes_in(files.backup_of(path))
    if stood is not None and backup is not None and backup < stood:
        fewer = f"The backup holds {many(backup, 'take')}, the journal {many(stood, 'take')}"
        _sure(args, f"{fewer}. Put the backup in its place?", f"{fewer}: say --yes to put the backup in its place.",
              "Nothing was changed.")  # fmt: skip
    kept = files.restore(path)
    with Journal(path, strict=True) as journal:
        takes = journal.ask("SELECT count(*) FROM take")[0][0]
    print(f"The backup is back in place, with {many(takes, 'take')}.")
    if kept is not None:
        what = f"What stood there, with {many(stood, 'take')}," if stood is not None else "What stood there"
        print(f"{what} is kept as {kept}: 'keyfarer journal merge {kept}' takes its newer takes in.")
    return 0


def _where(args: argparse.Namespace) -> int:
    path = _path(args)
    print(path)
    for one in files.family(path):
        if one != path:
            print(f"  {one.name}, {one.stat().st_size / 1e6:.1f} MB, {date.fromtimestamp(one.stat().st_mtime)}")
    return 0


def _route(args: argparse.Namespace) -> int:
    """The path in use; with ``--edit`` its table where the coach looks for a teacher's own."""
    from trainer.coaching.path import path as route

    folder = _path(args).parent
    try:
        used = route.load(folder)
        if args.edit:
            print(f"{route.copy(folder)}: change keys, order, reasons or numbers; the coach reads it from now on.")
            return 0
    except MusicError as why:
        raise CannotDo(str(why)) from why
    rows = [(str(at), step.level, " ".join(step.keys), ", ".join(step.hands), step.reason)
            for at, step in enumerate(used.steps, 1)]  # fmt: skip
    print("\n".join(summarised.table([("step", "level", "keys", "hands", "reason"), *rows])))
    return 0


def _hand_over(args: argparse.Namespace) -> int:
    with _opened(args) as journal:
        return teaching.hand(journal, _whose(args, journal), args)


def _assignments(args: argparse.Namespace) -> int:
    with _opened(args, teaching.named(_path(args).parent)) as journal:
        return teaching.assignments(journal, lambda: _whose(args, journal), args)


def _report(args: argparse.Namespace) -> int:
    with _opened(args) as journal:
        return teaching.report(journal, lambda: _whose(args, journal), args)


def _finish(args: argparse.Namespace) -> int:
    from trainer.session import heard_again

    with _opened(args) as journal:
        kept = journal.take(args.take)
        if kept.row.state == FINISHED:
            raise CannotDo(f"Take {args.take} is finished already.")
        compass = keyboard_of()
        session = heard_again(kept, compass)
        assert session.settled is not None
        assert session.summary is not None
        finish(journal, args.take, session.settled, session.summary, session.timing, compass)
        row = journal.row(args.take)
    print(f"Take {args.take} is marked: {right_of(row.right or 0, row.played or 0, row.missed or 0)} right.")
    return 0


def _keep(args: argparse.Namespace) -> int:
    with _opened(args) as journal:
        journal.keep(args.take)
    print(f"Take {args.take} is kept as it is.")
    return 0


_DOES: dict[str, Callable[[argparse.Namespace], int]] = {
    "list": _list, "show": _show, "summary": _summary, "export": _export, "merge": _merge, "erase": _erase,
    "picture": _picture, "path": _route, "restore": _restore, "where": _where, "finish": _finish, "keep": _keep,
    "hand-over": _hand_over, "assignments": _assignments, "report": _report,
}  # fmt: skip
