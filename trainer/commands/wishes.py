"""What several commands read alike: the key a piece is to be played in, the letters that notes are named by."""

from __future__ import annotations

import argparse
import sys

from trainer.music.keys import Key
from trainer.music.names import LANGUAGES
from trainer.music.transpose import Transposition, plan


def planned(written: Key, wish: str, octave: str) -> Transposition:
    """As `music.transpose.plan`; what is to be said about the choice goes to the error stream, one sentence."""
    move = plan(written, wish, octave)
    if move.note:
        print(f"keyfarer: {move.note}", file=sys.stderr)
    return move


def add_letters(parser: argparse.ArgumentParser) -> None:
    """Let the words choose the letters, which Setup has chosen else."""
    parser.add_argument("--letters", choices=LANGUAGES, help="how notes are named (as in Setup)")


def letters_of(args: argparse.Namespace, player: str | None = None) -> str:
    """The letters asked for, else those of a player's Setup, or of whoever played last."""
    from trainer.window.settings import load

    return str(args.letters or load(player).letters)
