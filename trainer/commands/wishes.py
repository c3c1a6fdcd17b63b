"""What several commands read alike: the key a piece is to be played in."""

from __future__ import annotations

import sys

from trainer.music.keys import Key
from trainer.music.transpose import Transposition, plan


def planned(written: Key, wish: str, octave: str) -> Transposition:
    """As `music.transpose.plan`; what is to be said about the choice goes to the error stream, one sentence."""
    move = plan(written, wish, octave)
    if move.note:
        print(f"keyfarer: {move.note}", file=sys.stderr)
    return move
