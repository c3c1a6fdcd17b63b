"""What several commands read alike: the piece, the key it is to be played in, the letters and the keyboard."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable

from trainer.hands.keyboard import ANY, KEYBOARDS, Compass
from trainer.listening.press import Press
from trainer.music.keys import Key
from trainer.music.names import LANGUAGES
from trainer.music.piece import Piece
from trainer.music.transpose import Transposition, plan


def piece_of(name: str, written: str | None) -> Piece:
    """The piece of a file or of the shelf, in the key said to be written; what is not read of it goes to the error
    stream, one sentence.
    """
    from trainer.scores import reading
    from trainer.scores.shelf import library

    place = library.find(name)
    piece = reading.read(place, key=Key.parse(written) if written else None)
    said = reading.left_out(place)
    if said:
        print(f"keyfarer: {said}", file=sys.stderr)
    return piece


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


def keyboard_of(keys: int | None = None) -> Compass:
    """The lowest and the highest key of a keyboard of so many keys, else of the one in Setup."""
    from trainer.window.settings import load

    return KEYBOARDS[keys or load().keys].compass


def played_on(keyboard: Compass, presses: Iterable[Press]) -> Compass:
    """The keyboard a take was played on: the one it is said to be, unless it has struck keys that one lacks."""
    lowest, highest = keyboard
    return keyboard if all(lowest <= press.pitch <= highest for press in presses) else ANY
