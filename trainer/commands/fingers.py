"""``keyfarer fingers PIECE --to KEY``: a fingering for a piece in a key, and what changes from the written key."""

from __future__ import annotations

import argparse
import json
import sys
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from trainer.commands.asking import console, named
from trainer.commands.wishes import piece_of, planned
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Piece
from trainer.music.pitch import shortened
from trainer.music.transpose import OCTAVES, transposed
from trainer.refusal import CannotDo

if TYPE_CHECKING:
    from trainer.hands.changes import Changes, Spot
    from trainer.hands.own import Fingers

_PRACTISED_FIRST = 5


def add(parser: argparse.ArgumentParser) -> None:
    from trainer.hands.position import HAND_SIZES, MEDIUM

    parser.add_argument("piece", metavar="PIECE", help="a music file, or the name of a piece on the shelf")
    parser.add_argument("--to", required=True, metavar="KEY", help="Eb, f#, 'F# minor'; or -3, +0; or -m3")
    parser.add_argument("--from", dest="written", metavar="KEY", help="the written key, when the file does not say")
    parser.add_argument("--octave", choices=OCTAVES, default=OCTAVES[0], help="which way to the target key")
    parser.add_argument("--hand-size", choices=HAND_SIZES, default=MEDIUM, help="span of the hand, medium by default")
    parser.add_argument("--player", type=named, metavar="NAME", help="whose own fingers stand (whoever played last)")
    parser.add_argument(
        "--say", action="append", default=[], metavar="TEXT",
        help="keep a finger of your own in this key, the note as the page has it: 'bar 3, beat 2 1/2: A4 with 4'",
    )  # fmt: skip
    parser.add_argument(
        "--take-away", action="append", default=[], metavar="TEXT",
        help="take one of your own away: 'bar 3, beat 2 1/2: A4'",
    )  # fmt: skip
    parser.add_argument("--json", action="store_true", help="one JSON object")


def run(args: argparse.Namespace) -> int:
    from trainer.coaching.own import ownfingers
    from trainer.hands.changes import changes
    from trainer.hands.own import remark
    from trainer.journal.files import where
    from trainer.window.settings import load

    piece = piece_of(args.piece, args.written)
    wish = planned(piece.key, args.to, args.octave)
    folder, player = where().parent, load(args.player).player
    asked = [(text, *ownfingers.note_named(piece, text)) for text in (*args.say, *args.take_away)]
    for text, _, finger in asked[: len(args.say)]:
        if not finger:
            raise CannotDo(f"'{shortened(text)}' names no finger: end it like 'with 4'.")
    for at, (_, note, finger) in enumerate(asked):
        ownfingers.keep(folder, piece, wish.target, note, finger if at < len(args.say) else 0, player)
    own = ownfingers.load(folder, piece, player)
    expected = transposed(piece, wish.interval)
    found = changes(piece, expected, args.hand_size, own)
    said = own.of(expected.key)
    for _, note, finger in asked[: len(args.say)]:
        known = remark(expected, note, found.target[piece.notes[note].hand], args.hand_size)
        if known is not None:
            print(f"keyfarer: {ownfingers.remarked(piece, note, finger, known)}", file=sys.stderr)
    if args.json:
        print(json.dumps(as_json(piece, found, said), ensure_ascii=False))
    else:
        _print(piece, expected, wish.target, found, args.hand_size, said)
    return 0


def as_json(piece: Piece, found: Changes, said: Fingers) -> dict[str, Any]:
    """The fingering as the one object ``--json`` prints; notes are named by their ids in the file."""
    return {
        **{
            hand: [{"note": piece.notes[i].id, "finger": finger} for i, finger in found.target.get(hand, {}).items()]
            for hand in (RIGHT, LEFT)
        },
        "changed": [
            {"note": piece.notes[change.note].id, "from": change.before, "to": change.after, "why": change.why}
            for change in found.changed
        ],
        "kept": round(found.kept, 4),
        "own": [{"note": piece.notes[i].id, "finger": finger} for i, finger in sorted(said.items())],
    }


def _print(piece: Piece, expected: Piece, target: Key, found: Changes, size: str, said: Fingers) -> None:
    from rich.table import Table

    from trainer.hands.places import too_wide
    from trainer.hands.position import CAUTION, widest

    out = console()
    out.print(f"{piece.title}: from {piece.key.name} to {target.name}, {size} hand")
    table = Table(box=None, header_style="bold", pad_edge=False)
    table.add_column("bar", justify="right")
    for hand in found.target:
        table.add_column(f"{hand} hand", overflow="fold")
    for bar, cells in _by_bar(piece, expected, found, said).items():
        table.add_row(str(bar), *cells)
    out.print(table)
    out.print(f"Each note and its finger, 1 the thumb; * another finger than in {piece.key.name}.", style="dim")
    if said:
        out.print("! is the player's own finger, said for this key.", style="dim")
    if not found.spots:
        out.print("Every finger stays as in the written key.")
    else:
        out.print(f"{found.kept:.0%} of the fingers stay. To practise, the costliest first:")
    # Unfolded repeats bring the same bars again; they are practised once.
    for spot in list(dict.fromkeys(map(_spot, found.spots)))[:_PRACTISED_FIRST]:
        out.print(spot)
    wide = sorted(
        {piece.bar_at(piece.notes[i].onset).number for hand in piece.hands for i in too_wide(expected, hand, size)}
    )
    if wide:
        bars = ", ".join(map(str, wide))
        out.print(f"Wider than a {size} hand reaches (a {widest(size)}), to be broken: bars {bars}.")
    out.print(CAUTION, style="dim")


def _spot(spot: Spot) -> str:
    return f"  {spot.where}, {spot.hand} hand: {spot.why}"


def _by_bar(piece: Piece, expected: Piece, found: Changes, own: Fingers) -> dict[int, list[str]]:
    """For each printed bar, one cell a hand: notes, each with its finger, a changed one starred, the player's own with
    an exclamation mark; no repeats.
    """
    changed = {change.note for change in found.changed}
    rows: dict[int, list[dict[Fraction, list[str]]]] = {}
    for column, fingers in enumerate(found.target.values()):
        for i, finger in fingers.items():
            onset = piece.notes[i].onset
            cells = rows.setdefault(piece.bar_index(onset), [{} for _ in found.target])
            # A note and its finger are not to be broken apart at a line's end.
            mark = "!" if i in own else "*" if i in changed else ""
            noted = f"{expected.notes[i].pitch.sign_name}\xa0{finger}{mark}"
            cells[column].setdefault(onset, []).append(noted)
    printed: dict[int, list[str]] = {}
    for index in sorted(rows):
        bar = [", ".join("+".join(cell[onset]) for onset in sorted(cell)) for cell in rows[index]]
        printed.setdefault(piece.bars[index].number, bar)
    return printed
