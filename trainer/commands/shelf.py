"""``keyfarer shelf``: the player's own pieces, listed, brought, taken off the shelf and put back."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.music.counted import many
from trainer.music.pitch import MusicError

if TYPE_CHECKING:
    from trainer.scores.shelf.books import Tune
    from trainer.scores.shelf.library import Entry


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="one JSON object")
    does = parser.add_subparsers(dest="does", metavar="WHAT", parser_class=type(parser))
    for name, names, says, meant in (
        ("bring", "FILE", "copy music to the shelf", "a file of music, a book of ABC tunes, or a folder of them"),
        (
            "take-off",
            "PIECE",
            "take pieces of your own off the shelf; their takes stay",
            "its title or its file, or the name of a book",
        ),
        ("put-back", "PIECE", "put back what was taken off", "its title or its file, or the name of a book"),
    ):
        one = does.add_parser(name, help=says, description=says[0].upper() + says[1:] + ".")
        one.add_argument("names", nargs="+", metavar=names, help=meant)


def run(args: argparse.Namespace) -> int:
    if args.does is None:
        return _list(args.json)
    if args.does == "bring":
        from trainer.scores.shelf.keeping import unfolded

        return _done(_bring, unfolded(args.names))
    return _done(_take_off if args.does == "take-off" else _put_back, args.names)


def _done(what: Callable[[Any], str], names: Sequence[Any]) -> int:
    """Do it with each; what cannot be done is said, and the others are done."""
    done = 0
    for name in names:
        try:
            print(what(name))
        except MusicError as refusal:
            print(f"keyfarer: {refusal}", file=sys.stderr)
        else:
            done += 1
    return 0 if done == len(names) else 2


def _bring(what: str | Tune) -> str:
    from trainer.scores.shelf.keeping import brought, name_of
    from trainer.scores.shelf.library import own_folder

    found = brought(what)
    if found.fault:
        raise MusicError(
            f"'{name_of(what)}' could not be copied to {own_folder()} ({found.fault.lower()}): see to the space and "
            "rights there."
        )
    lies = "lies on the shelf" if found.is_new else "lay on the shelf already"
    if found.older:
        lies = f"lies on the shelf for the older one, which is off it now ({found.older}) and whose takes stay"
    return f"{found.piece.title} {lies}: {found.path}"


def _take_off(name: str) -> str:
    from trainer.scores.shelf.library import own_folder
    from trainer.scores.shelf.offshelf import off_folder, on, take_off, whole_book

    files = _each(take_off, whole_book(name, own_folder()))
    if files:
        return f"All of {name} is off the shelf, {many(files, 'file')}, and lies in {off_folder()}; its takes stay."
    place = on(name)
    return f"{place.name} is off the shelf and lies at {take_off(place)}; its takes stay."


def _put_back(name: str) -> str:
    from trainer.scores.shelf.offshelf import off, off_folder, put_back, whole_book

    files = _each(put_back, whole_book(name, off_folder()))
    if files:
        return f"All of {name} is on the shelf again: {many(files, 'file')}."
    place = off(name)
    return f"{place.name} is on the shelf again: {put_back(place)}"


def _each(does: Callable[[Path], Path], book: Sequence[Path]) -> int:
    """Do it with every file of a book; how many there are."""
    for one in book:
        does(one)
    return len(book)


def _list(as_json: bool) -> int:
    from trainer.commands.summarised import table
    from trainer.scores.shelf.library import Shelf, own_folder
    from trainer.scores.shelf.offshelf import off_folder, taken_off

    shelf = Shelf()
    shelf.refresh()
    own = [one for one in (*shelf.entries, *shelf.faults) if not one.bundled]
    off = taken_off()
    if as_json:
        print(json.dumps({"shelf": [_json(one) for one in own], "off": [_json(one) for one in off]}))
    else:
        if not own and not shelf.trouble:
            print(f"None of your own pieces lie on the shelf, {own_folder()}: 'keyfarer shelf bring FILE' copies one.")
        elif own:
            print(f"On the shelf, {own_folder()}:")
            print("\n".join(table([("title", "key", "level", "bars", "file"), *map(_line, own)])))
        if off:
            print(f"{many(len(off), 'piece')} taken off, in {off_folder()}; 'keyfarer shelf put-back PIECE':")
            print("\n".join(table([("title", "key", "level", "bars", "file"), *map(_line, off)])))
    troubles = [*filter(None, [shelf.trouble]), *(one.fault for one in own if one.fault)]
    for trouble in troubles:
        print(f"keyfarer: {trouble}", file=sys.stderr)
    return 2 if troubles else 0


def _line(entry: Entry) -> tuple[str, ...]:
    bars = str(entry.printed) if entry.printed else ""
    return entry.title, entry.key, "not read" if entry.fault else entry.level, bars, Path(entry.path).name


def _json(entry: Entry) -> dict[str, object]:
    about = {"title": entry.title, "composer": entry.composer, "key": entry.key, "level": entry.level}
    return {**about, "hands": entry.hands, "bars": entry.printed, "file": entry.path, "fault": entry.fault}
