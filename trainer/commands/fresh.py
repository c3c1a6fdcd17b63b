"""``keyfarer fresh``: compose a piece to be played at sight."""

from __future__ import annotations

import argparse
import json
import secrets
import sys

from trainer.commands.asking import file_named, whole
from trainer.music.compass import LEVELS
from trainer.music.keys import Key
from trainer.music.piece import BOTH, HANDS

# As other programs know MusicXML, and the shelf finds it.
ENDINGS = (".musicxml", ".xml")


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--level", default="pentachord", metavar="L", help=f"{', '.join(LEVELS)} (pentachord)")
    parser.add_argument("--key", default="C", metavar="K", help="the written key: C, Eb, f# (C)")
    parser.add_argument("--meter", default="4/4", metavar="M", help="2/4, 3/4, 4/4, 6/8 and others (4/4)")
    parser.add_argument("--bars", type=whole, default=8, metavar="N", help="4, 8, 12 and so on up to 32 (8)")
    parser.add_argument("--hands", default=BOTH, metavar="H", help=f"{', '.join(HANDS)} (both)")
    parser.add_argument("--seed", type=int, metavar="S", help="a whole number; the same seed gives the same piece")
    parser.add_argument("--out", metavar="FILE", help="write MusicXML here instead of on the screen")
    parser.add_argument("--json", action="store_true", help="one JSON object")


def run(args: argparse.Namespace) -> int:
    from trainer.scores.composing.composing import Request, compose
    from trainer.scores.engraving.writing import to_musicxml
    from trainer.scores.plain import write_whole

    out = file_named(args.out, ENDINGS)
    seed = secrets.randbelow(1_000_000) if args.seed is None else args.seed
    piece = compose(Request(args.level, Key.parse(args.key), args.meter, args.bars, args.hands, seed))
    text = to_musicxml(piece)
    if out:
        write_whole(out, text.encode(), private=False)
    if args.json:
        about = {
            "title": piece.title, "level": args.level, "key": piece.key.short, "meter": args.meter, "bars": args.bars,
            "hands": args.hands, "seed": seed, "notes": len(piece.notes), "file": str(out) if out else None,
        }  # fmt: skip
        print(json.dumps(about if out else {**about, "musicxml": text}, ensure_ascii=False))
    elif out:
        print(f"{piece.title}: {args.bars} bars of {args.meter} in {out} (--seed {seed} makes it again).")
    else:
        sys.stdout.write(text)
    return 0
