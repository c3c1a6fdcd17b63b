"""``keyfarer suit``: which keys suit a singer, or which key to play from an instrument's part."""

from __future__ import annotations

import argparse
import json
import re
from collections.abc import Sequence
from typing import Any

from trainer.coaching.singers.accompany import (
    Line,
    Part,
    Suits,
    ease_of,
    in_another_octave,
    plain_ease,
    plain_line,
    suit,
    suit_all,
    too_wide,
    voice_line,
)
from trainer.coaching.singers.choirs import CHOIR, Member, at_the_edge, choir_of
from trainer.coaching.singers.instruments import (
    Concert,
    Instrument,
    Written,
    instrument,
    part_for,
    playing_from,
    sounding_span,
    writing_for,
)
from trainer.coaching.singers.voices import CAUTION, Span, Voice, voice
from trainer.commands.asking import console
from trainer.commands.wishes import piece_of
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.pitch import Interval, MusicError
from trainer.music.transpose import Transposition, plan

# Letters of `C♯ major` and a little more: the head of the column takes several lines instead of every row.
_READS_WIDE = 10


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("piece", metavar="PIECE", nargs="?", help="a music file, or the name of a piece on the shelf")
    parser.add_argument("--tessitura", metavar="D4-D5", help="where the singer is comfortable, concert pitch")
    parser.add_argument("--voice", metavar="TYPE", help="soprano, mezzo, contralto, tenor, baritone, bass or choir")
    parser.add_argument("--second", metavar="TYPE", help="the second singer of a duet: a voice, or a range like D3-D4")
    parser.add_argument("--line", metavar="F4-F5", help="lowest and highest written note, instead of finding the line")
    parser.add_argument("--written", metavar="KEY", help="the written key, when there is no PIECE or it does not say")
    parser.add_argument("--instrument", metavar="NAME", help="play from this instrument's part: 'clarinet in B flat'")
    parser.add_argument(
        "--sounding", metavar="KEY", help="with --instrument: the key that is to sound, the part wanted"
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")


def run(args: argparse.Namespace) -> int:
    player = instrument(args.instrument) if args.instrument else None
    written = Key.parse(args.written) if args.written else None
    if (args.voice or "").strip().lower() == CHOIR:
        return _choir(args)
    if args.second:
        return _duet(args)
    if args.tessitura or args.voice:
        return _singer(args, written, player)
    if player is not None:
        return _part(args, written, player)
    raise MusicError("Say whom the key is for: --tessitura D4-D5, --voice mezzo, or --instrument 'clarinet in B flat'.")


def _singer(args: argparse.Namespace, written: Key | None, player: Instrument | None) -> int:
    kind = voice(args.voice) if args.voice else None
    piece = piece_of(args.piece, args.written) if args.piece else None
    line = _line(args.line, piece, written)
    tessitura = Span.parse(args.tessitura) if args.tessitura else _of(kind)
    found = suit(line, tessitura, kind, ease_of(piece) if piece else plain_ease)
    if args.json:
        print(json.dumps({"keys": [_row(one, player) for one in found]}, ensure_ascii=False))
        return 0
    wide = too_wide(line, tessitura)
    named = f"{piece.title}: line" if piece else "Line"
    print(f"{named} {line.span.name}, written in {line.key.name}; singer {tessitura.name} (concert pitch).")
    if not line.timed:
        print("Only the ends of the line are known: every note of the scale between them counts alike.")
    for said in (wide, in_another_octave(found[0].octaves)):
        if said:
            print(said)
    if piece and len(piece.singers) > 1 and not args.line:
        duet = len(piece.singers) == 2
        others = "--second TYPE finds a key for both" if duet else "--voice choir finds a key for all"
        print(f"This is the first singer's line: {others}.")
    _table(found, tessitura, player)
    print("fit: how comfortably it is sung; ease: how it lies under the hands; both from 0 to 1, at concert pitch.")
    print(CAUTION)
    return 0


def _duet(args: argparse.Namespace) -> int:
    """The keys for two singers, each with a line of their own."""
    if not args.piece or args.line or args.instrument or not (args.tessitura or args.voice):
        raise MusicError(
            "For a duet name the PIECE and both singers, no line and no instrument: --voice soprano --second baritone, "
            "or --tessitura D4-D5 for the first."
        )
    piece = piece_of(args.piece, args.written)
    kind = voice(args.voice) if args.voice else None
    first = Part(voice_line(piece), Span.parse(args.tessitura) if args.tessitura else _of(kind), kind)
    other = None if re.search(r"\d", args.second) else voice(args.second)
    second = Part(voice_line(piece, 1), other.tessitura if other else Span.parse(args.second), other)
    found = suit_all((first, second), ease_of(piece))
    if args.json:
        rows = [{**_row(one, None), "second": _row(two, None)} for one, two in found]
        print(json.dumps({"keys": rows}, ensure_ascii=False))
        return 0
    _say_lines(piece, (Member("first singer", first), Member("second singer", second)), found[0])
    _duet_table(found)
    print("fit: how comfortably each sings it; ease: how it lies under the hands; all from 0 to 1.")
    print(CAUTION)
    return 0


def _say_lines(piece: Piece, singers: Sequence[Member], best: Sequence[Suits]) -> None:
    print(f"{piece.title}: written in {piece.key.name}; concert pitch.")
    for one, row in zip(singers, best, strict=True):
        line, tessitura = one.part.line, one.part.tessitura
        said = (too_wide(line, tessitura), in_another_octave(row.octaves))
        about = f"{one.name[0].upper()}{one.name[1:]} {tessitura.name}: line {line.span.name}."
        print(" ".join([about, *(words for words in said if words)]))


def _choir(args: argparse.Namespace) -> int:
    """The keys for a whole choir: each as good as it is for the part that is worst off."""
    if not args.piece or args.line or args.instrument or args.tessitura or args.second:
        raise MusicError("For a choir name the PIECE and --voice choir, no more: its parts and their voices are found.")
    piece = piece_of(args.piece, args.written)
    choir = choir_of(piece)
    found = suit_all([one.part for one in choir], ease_of(piece))
    if args.json:
        rows = [{**_move(row[0].transposition), "fit": min(one.fit for one in row), "ease": row[0].ease,
                 "edge": at_the_edge(choir, row),
                 "parts": [{"name": member.name, **_row(one, None)} for member, one in zip(choir, row, strict=True)]}
                for row in found]  # fmt: skip
        print(json.dumps({"keys": rows}, ensure_ascii=False))
        return 0
    _say_lines(piece, choir, found[0])
    _choir_table(choir, found)
    print("fit: how comfortably the worst off of them sings it; ease: how it lies under the hands; both from 0 to 1.")
    print(CAUTION)
    return 0


def _choir_table(choir: Sequence[Member], found: Sequence[Sequence[Suits]]) -> None:
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="italic")
    table.add_column("key", no_wrap=True)
    table.add_column("move")
    table.add_column("fit", justify="right")
    table.add_column("ease", justify="right")
    table.add_column("at the edge")
    for row in found:
        fit, one = min(one.fit for one in row), row[0]
        table.add_row(_signed(one.key), _moved(one), f"{fit:.2f}", f"{one.ease:.2f}", at_the_edge(choir, row))
    console().print(table)


def _moved(one: Suits) -> str:
    return one.transposition.words if one.transposition.interval.semitones else "as written"


def _duet_table(found: Sequence[tuple[Suits, ...]]) -> None:
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="italic")
    table.add_column("key", no_wrap=True)
    table.add_column("move")
    for name in ("first", "second"):
        table.add_column(name, no_wrap=True)
        table.add_column("fit", justify="right")
    table.add_column("ease", justify="right")
    for one, two in found:
        sung = (text for row in (one, two) for text in (Span(row.low, row.high).name, f"{row.fit:.2f}"))
        table.add_row(_signed(one.key), _moved(one), *sung, f"{one.ease:.2f}")
    console().print(table)


def _of(kind: Voice | None) -> Span:
    assert kind is not None
    return kind.tessitura


def _sounds_already(name: str) -> bool:
    from trainer.scores import reading
    from trainer.scores.shelf import library

    return reading.is_transposing(library.find(name))


def _line(span: str | None, piece: Piece | None, written: Key | None) -> Line:
    if span is not None:
        key = written or (piece.key if piece else None)
        if key is None:
            raise MusicError("A line needs the key it is written in: add --written Bb.")
        return plain_line(Span.parse(span, "a line"), key)
    if piece is None:
        raise MusicError("Say what is sung: name a PIECE, or give --line F4-F5 --written Bb.")
    return voice_line(piece)


def _row(one: Suits, player: Instrument | None) -> dict[str, Any]:
    return {
        **_move(one.transposition),
        "low": one.low.name,
        "high": one.high.name,
        "fit": one.fit,
        "ease": one.ease,
        "why": one.why + _reads(one, player),
    }


def _reads(one: Suits, player: Instrument | None) -> str:
    """What an instrument that joins in finds on its part."""
    if player is None:
        return ""
    return f" The {player.name} reads {_part_of(one, player)} (written)."


def _part_of(one: Suits, player: Instrument) -> str:
    return part_for(Concert(one.key), player).value.name


def _move(move: Transposition) -> dict[str, Any]:
    return {
        "key": move.target.short,
        "interval": size(move.interval),
        "direction": direction(move.interval),
        "semitones": move.interval.semitones,
    }


def size(interval: Interval) -> str:
    """The interval without direction or article: ``minor third``; ``unison`` for the written key."""
    return interval.plain.split(" ", 1)[1] if interval.semitones else "unison"


def direction(interval: Interval) -> str:
    """``up``, ``down`` or ``none``."""
    return ("down" if interval.is_down else "up") if interval.semitones else "none"


def _part(args: argparse.Namespace, written: Key | None, player: Instrument) -> int:
    sounds: Span | None = None
    if args.sounding:
        sounding = Key.parse(args.sounding)
        move = writing_for(Concert(sounding), player)
        why = f"To sound in {sounding.name} (concert), the part of the {player.name} is written in {move.target.name}."
        start = "From the sounding key"
    elif args.piece and _sounds_already(args.piece):
        # Moved once more it would sound in a key that nobody asked for.
        page = piece_of(args.piece, None)
        reads, move = part_for(Concert(page.key), player).value, plan(page.key, "+0")
        why = (
            f"The file says how its part sounds and is read so: the {player.name} reads {reads.name}, the page here "
            f"stands in {page.key.name} (concert). Play it as it stands."
        )
        start, sounds = "From the page", _line(args.line, page, page.key).span
    else:
        piece = piece_of(args.piece, args.written) if args.piece else None
        key = written or (piece.key if piece else None)
        if key is None:
            raise MusicError("Say what the part is written in: name a PIECE, or give --written Bb.")
        move = playing_from(Written(key, player))
        why = f"A part written in {key.name} for {player.name} sounds in {move.target.name} (concert): play that."
        start = "From the page"
        if piece or args.line:
            line = _line(args.line, piece, key).span
            sounds = sounding_span(line, player)
            why += f" Its line {line.name} (written) sounds {sounds.name} (concert)."
    ends = {"low": sounds.low.name if sounds else None, "high": sounds.high.name if sounds else None}
    row = {**_move(move), **ends, "fit": None, "ease": round(plain_ease(move), 3), "why": why}
    if args.json:
        print(json.dumps({"keys": [row]}, ensure_ascii=False))
    else:
        print(f"{player.words[0].upper()}{player.words[1:]}.\n{why}\n{start}: {move.words}.")
    return 0


def _table(found: list[Suits], tessitura: Span, player: Instrument | None) -> None:
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="italic")
    table.add_column("key", no_wrap=True)
    table.add_column("move")
    table.add_column("sung", no_wrap=True)
    table.add_column("fit", justify="right")
    table.add_column("ease", justify="right")
    if player is not None:
        table.add_column(f"{player.name} reads (written)", max_width=_READS_WIDE)
    table.add_column(f"beyond {tessitura.name}")
    for one in found:
        reads = [_part_of(one, player)] if player is not None else []
        sung = Span(one.low, one.high).name
        table.add_row(_signed(one.key), _moved(one), sung, f"{one.fit:.2f}", f"{one.ease:.2f}", *reads, one.beyond)
    console().print(table)


def _signed(key: Key) -> str:
    """A key and its signature: ``A♭ major 4♭``."""
    count = abs(key.signature)
    return f"{key.name} {count}{'♯' if key.signature > 0 else '♭'}" if count else key.name
