"""``keyfarer sheet``: work on paper for a student, as PDF or HTML; or the music alone in a key, as MusicXML."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.asking import file_named, named
from trainer.commands.wishes import piece_of, planned
from trainer.hands.position import HAND_SIZES, MEDIUM
from trainer.music.compass import LEVELS
from trainer.music.solfege import DO_BASED, LA_BASED
from trainer.music.transpose import OCTAVES
from trainer.refusal import CannotDo
from trainer.scores.paper.papers import FINGERS, PAPERS, PRINTED
from trainer.scores.plain import as_name

if TYPE_CHECKING:
    from trainer.hands.own import OwnFingers
    from trainer.music.piece import Piece

# As in `scores.paper.printing`, which takes its time to import.
ENDINGS = (".pdf", ".html")
MUSIC = ".musicxml"


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("piece", metavar="PIECE", nargs="?", help="a music file, or the name of a piece on the shelf")
    parser.add_argument(
        "--to",
        action="append",
        default=[],
        metavar="KEY",
        help="a key to play in: Eb, f#, -3, -m3; say it once for each key",
    )
    parser.add_argument("--from", dest="written", metavar="KEY", help="the written key, when the file does not say")
    parser.add_argument("--octave", choices=OCTAVES, default=OCTAVES[0], help="which way to the key (nearest)")
    parser.add_argument("--path", action="store_true", help="a booklet: every key of the path in its order")
    parser.add_argument("--level", choices=LEVELS, help="with --path and no PIECE: one level only (all)")
    parser.add_argument("--alone", action="store_true", help="the music in the key and nothing else, to play from")
    parser.add_argument(
        "--instrument",
        metavar="NAME",
        help="the tune as an instrument reads it, to sound in the key: 'clarinet in B flat'",
    )
    parser.add_argument(
        "--fingers",
        choices=FINGERS,
        help="with --alone: those printed, as they serve in the key (printed), every, none",
    )
    parser.add_argument("--answers", action="store_true", help="add the transposed music")
    parser.add_argument("--blank", action="store_true", help="add staves to write the transposition on")
    parser.add_argument("--syllables", action="store_true", help="print syllables under the written music")
    parser.add_argument("--harmony", action="store_true", help="print the chords by degree under the written music")
    parser.add_argument(
        "--minor", choices=(LA_BASED, DO_BASED), default=LA_BASED, help="what minor begins on, for syllables (la)"
    )
    parser.add_argument(
        "--hand-size", "--hand", dest="hand", choices=HAND_SIZES, default=MEDIUM, help="for the fingering (medium)"
    )
    parser.add_argument("--player", type=named, metavar="NAME", help="whose own fingers stand (whoever played last)")
    parser.add_argument("--paper", choices=tuple(PAPERS), default="a4", help="for a PDF (a4)")
    parser.add_argument(
        "--out",
        metavar="FILE",
        help="where to write: .pdf, or .html (a PDF named after piece and keys); or .musicxml, the music alone in a "
        "key, for a notation program",
    )


def run(args: argparse.Namespace) -> int:
    from trainer.coaching.own import corrections, ownfingers
    from trainer.coaching.paper.alone import on_paper
    from trainer.coaching.paper.sheets import Wishes, booklet
    from trainer.coaching.singers.instruments import instrument
    from trainer.hands.own import NOBODYS
    from trainer.journal.files import where
    from trainer.scores.harmony import harmonies
    from trainer.window.settings import load

    out = file_named(args.out, (*ENDINGS, MUSIC))
    if args.level and (args.piece or not args.path):
        raise CannotDo("--level chooses among the levels of the path: say --path without a PIECE, or leave it out.")
    piece = piece_of(args.piece, args.written) if args.piece else None
    chords = harmonies(piece, corrections.load(where().parent, piece)) if args.harmony and piece else ()
    own = ownfingers.load(where().parent, piece, load(args.player).player) if piece else NOBODYS
    if args.fingers and not args.alone:
        raise CannotDo("--fingers are chosen for music alone in a key: say --alone too, or leave it out.")
    besides = args.path or args.answers or args.blank
    if (args.alone and args.instrument) or ((args.alone or args.instrument) and besides):
        raise CannotDo(
            "--alone and --instrument are pages of their own: say one of them, without --path, --answers and --blank."
        )
    if out and out.suffix.lower() == MUSIC:
        return _music(args, piece, own, out)
    wishes = Wishes(args.syllables, args.answers, args.blank, args.minor, args.hand, args.paper, chords, own=own)
    if args.path:
        from trainer.coaching.path.path import load as path_in

        document = booklet(path_in(where().parent), piece, args.level, wishes)
        name = as_name(piece.title, " - the path") if piece else "The path"
    elif piece is None:
        raise CannotDo("Say what to print: name a PIECE and a key (--to Eb), or the path (--path).")
    else:
        if not args.to:
            raise CannotDo("Say in which keys it is to be played: --to Eb, once for each key.")
        moves = [planned(piece.key, wish, args.octave) for wish in dict.fromkeys(args.to)]
        player = instrument(args.instrument) if args.instrument else None
        fingers = (args.fingers or PRINTED) if args.alone else None
        document, name = on_paper(piece, moves, wishes, player=player, fingers=fingers)
    path = out or Path(f"{name}.pdf")
    from trainer.scores.paper.printing import save

    save(document, path, args.paper)
    print(path)
    return 0


def _music(args: argparse.Namespace, piece: Piece | None, own: OwnFingers, out: Path) -> int:
    from trainer.hands.changes import served_there
    from trainer.music.transpose import transposed
    from trainer.scores.engraving.writing import to_musicxml
    from trainer.scores.plain import write_whole

    besides = args.path or args.answers or args.blank or args.syllables or args.harmony
    if piece is None or len(set(args.to)) != 1 or besides or args.instrument or args.fingers:
        raise CannotDo(
            f"A {MUSIC} file holds one piece in one key and nothing besides: name a PIECE, say --to once, and leave "
            "out --path, --answers, --blank, --syllables, --harmony, --instrument and --fingers."
        )
    expected = transposed(piece, planned(piece.key, args.to[0], args.octave).interval)
    write_whole(out, to_musicxml(served_there(piece, expected, args.hand, own)).encode(), private=False)
    print(out)
    return 0
