"""``keyfarer look PIECE``: what a piece asks of the hands, and how it lies in each key of its mode."""

from __future__ import annotations

import argparse
import json
from typing import Any

from trainer.commands.asking import console
from trainer.commands.wishes import piece_of, planned
from trainer.music.compass import HEXACHORD, OPEN, PENTACHORD, TRICHORD, compass, level
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, UNSHOWN, Note, Piece
from trainer.music.pitch import SpelledPitch
from trainer.music.solfege import degree, degree_label
from trainer.music.transpose import OCTAVES, Transposition, by_semitones, plan, transposed

# What a level asks of each hand.
_LEVELS = {
    TRICHORD: "each hand on the first three notes of the key",
    PENTACHORD: "each hand on five neighbouring notes, a finger for each",
    HEXACHORD: "each hand within a seventh, just beyond five fingers",
    OPEN: "the hand travels",
}
# Raised sixth and seventh degrees belong to a minor key as much as the plain ones.
_AT_HOME_IN_MINOR = {(6, 1), (7, 1)}


def add(parser: argparse.ArgumentParser) -> None:
    from trainer.hands.position import HAND_SIZES, MEDIUM

    parser.add_argument("piece", metavar="PIECE", help="a music file, or the name of a piece on the shelf")
    parser.add_argument("--to", metavar="KEY", help="look at one key only: Eb, f#, 'F# minor'; or -3; or -m3")
    parser.add_argument("--from", dest="written", metavar="KEY", help="the written key, when the file does not say")
    parser.add_argument("--octave", choices=OCTAVES, default=OCTAVES[0], help="which way to the other keys")
    parser.add_argument("--hand-size", choices=HAND_SIZES, default=MEDIUM, help="span of the hand, medium by default")
    parser.add_argument("--json", action="store_true", help="one JSON object")


def run(args: argparse.Namespace) -> int:
    piece = piece_of(args.piece, args.written)
    wishes = (
        (planned(piece.key, args.to, args.octave),)
        if args.to
        else tuple(plan(piece.key, key.name, args.octave) for key in keys_of(piece.key))
    )
    found = looked_at(piece, wishes, args.hand_size)
    if args.json:
        print(json.dumps(found, ensure_ascii=False))
    else:
        _print(found)
    return 0


def keys_of(written: Key) -> tuple[Key, ...]:
    """The twelve keys of one mode in the order of the circle, spelled as the Desk and the Stand spell them."""
    return tuple(by_semitones(written, 7 * fifths % 12).target for fifths in range(12))


def looked_at(piece: Piece, wishes: tuple[Transposition, ...], size: str) -> dict[str, Any]:
    """The analysis as the one object ``--json`` prints."""
    from trainer.hands.fingering import finger_piece
    from trainer.hands.places import places

    fingers = {hand: finger_piece(piece, hand, size) for hand in piece.hands}
    span = compass(piece.notes)
    meters = list(
        dict.fromkeys("/".join(map(str, bar.meter)) if bar.symbol != UNSHOWN else "no meter" for bar in piece.bars)
    )
    return {
        "title": piece.title,
        "written_key": piece.key.name,
        "key_confidence": round(piece.key_confidence, 3),
        "level": level(piece),
        "compass": {
            "low": span.low.name if span else None,
            "high": span.high.name if span else None,
            "interval": span.interval.plain if span else None,
            "degrees": _degrees(piece),
        },
        "hands": list(piece.hands),
        "bars": piece.printed_bars,
        "notes": len({note.id for note in piece.notes}),
        "notes_played": len(piece.notes),
        "meter": ", ".join(meters),
        "range": {hand: _range(piece, hand) for hand in (RIGHT, LEFT)},
        "chromatic": len({note.id for note in piece.notes if _is_chromatic(piece, note)}),
        "shifts": sum(max(0, len(places(piece, hand, fingers[hand])) - 1) for hand in piece.hands),
        "keys": _keys(piece, wishes, size, fingers),
    }


def _range(piece: Piece, hand: str) -> list[str] | None:
    span = compass(tuple(note for note in piece.notes if note.hand == hand))
    return [span.low.name, span.high.name] if span else None


def _degrees(piece: Piece) -> list[str]:
    """The degrees used, from the tonic up, each in the key that stands where it is written."""
    used = {}
    for note in piece.notes:
        key = piece.key_at(note.onset)
        used[degree(note.pitch, key)] = degree_label(note.pitch, key)
    return [used[place] for place in sorted(used)]


def _is_chromatic(piece: Piece, note: Note) -> bool:
    key = piece.key_at(note.onset)
    number, off = degree(note.pitch, key)
    return off != 0 and not (key.is_minor and (number, off) in _AT_HOME_IN_MINOR)


def _keys(
    piece: Piece, wishes: tuple[Transposition, ...], size: str, fingers: dict[str, dict[int, int]]
) -> list[dict[str, Any]]:
    """One row a key, the one to try first at the head and the written key last."""
    from trainer.hands.ease import ease
    from trainer.hands.why import PIANO, why

    asked = level(piece)
    rows: list[dict[str, Any]] = []
    for wish in wishes:
        expected = transposed(piece, wish.interval)
        figures = ease(piece, expected, size, fingers)
        fits = all(PIANO.holds(note.midi) for note in expected.notes)
        row = {
            "key": wish.target.name,
            "interval": wish.interval.short,
            "semitones": wish.interval.semitones,
            "fifths_away": piece.key.fifths_away(wish.target),
            "ease": figures.total,
            "level_kept": fits and level(expected) == asked,
            "why": why(wish, expected, figures),
        }
        rows.append(row)
    home = {wish.target.name for wish in wishes if not wish.interval.semitones}
    rows.sort(key=lambda row: (row["key"] in home, not row["level_kept"], -row["ease"], abs(row["semitones"])))
    if len(rows) > 1:
        rows[0]["why"] = f"to try first: {rows[0]['why']}"
    return rows


def _print(found: dict[str, Any]) -> None:
    from rich.table import Table
    from rich.text import Text

    out = console()
    sure = f" (found from the notes, {found['key_confidence']:.0%} sure)" if found["key_confidence"] < 1 else ""
    out.print(Text.assemble((found["title"], "bold"), f", written in {found['written_key']}{sure}"))
    span = found["compass"]
    ranges = "; ".join(f"{hand} hand {_signed(low)} to {_signed(high)}" for hand, (low, high) in _given(found["range"]))
    repeated = found["notes_played"] > found["notes"]
    played = f" ({found['notes_played']} as played, with the repeats)" if repeated else ""
    out.print(
        f"{found['level'].capitalize()}: {_LEVELS[found['level']]}; with good fingers {_shifts(found)}.\n"
        f"{_count(found['bars'], 'bar')} of {found['meter']}, {found['notes']} notes{played}; {ranges}; degrees "
        f"{' '.join(span['degrees'])}; {_count(found['chromatic'], 'chromatic note')}.",
        highlight=False,
    )
    table = Table(box=None, header_style="bold", pad_edge=False)
    table.add_column("key", no_wrap=True)
    for column in ("fifths", "ease"):
        table.add_column(column, justify="right", no_wrap=True)
    table.add_column("why")
    for row in found["keys"]:
        # The reason says the interval in words.
        table.add_row(row["key"], str(row["fifths_away"]), f"{row['ease']:.2f}", row["why"])
    out.print(table)


def _count(number: int, what: str) -> str:
    return f"{number or 'no'} {what}{'' if number == 1 else 's'}"


def _shifts(found: dict[str, Any]) -> str:
    """How often the hands take another position, in words."""
    number, one = found["shifts"], len(found["hands"]) == 1
    hands = "the hand" if one else "the hands"
    if not number:
        return f"{hands} {'stays where it begins' if one else 'stay where they begin'}"
    often = ("once", "twice")[number - 1] if number < 3 else f"{number} times"
    return f"{hands} {'changes' if one else 'change'} place {often}"


def _signed(name: str) -> str:
    """A pitch with music signs, as people read it: ``B♭4``."""
    pitch = SpelledPitch.parse(name)
    return f"{pitch.sign_name}{pitch.octave}"


def _given(ranges: dict[str, list[str] | None]) -> list[tuple[str, list[str]]]:
    return [(hand, span) for hand, span in ranges.items() if span]
