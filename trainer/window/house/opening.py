"""From the words of the command line to an open window."""

from __future__ import annotations

import argparse
import json
import os
import signal
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import pygame

from trainer.refusal import CannotDo
from trainer.window import settings as kept
from trainer.window.desk.bringing import tell_kept
from trainer.window.desk.desk import Desk
from trainer.window.house.house import LEAST, House

if TYPE_CHECKING:
    from trainer.listening.replay import Replay
    from trainer.scores.shelf.keeping import Brought
    from trainer.window.wish import Wish

_USUAL = (1280, 800)
_FRAME = 80  # pixels that a window's title and the bar of a desktop take of a screen's height (our guess)


def open_window(args: argparse.Namespace) -> int:
    """Open the window as asked and stay until it is closed.

    Raises
    ------
    CannotDo, MusicError
        In one sentence, before a window appears.
    """
    settings = settings_of(args)
    given = _given(args)
    replayed = _replay(args) if args.replay else None
    try:
        pygame.display.init()
        house = House(settings, _size(args.size))
        house.open_window()
    except pygame.error as trouble:
        raise CannotDo(
            f"No window can be opened here ({trouble}): start Keyfarer where there is a screen."
        ) from trouble
    begin(house, given)
    _closed_by_signals(house)
    house.journal_at = args.journal
    house.replayed = replayed
    house.run()
    try:
        if args.picture:
            house.picture(args.picture)
        if args.figures:
            Path(args.figures).write_text(json.dumps(house.loop.figures()), encoding="utf-8")
    except (OSError, pygame.error) as trouble:
        raise CannotDo(f"The window is closed, and all is kept, but {trouble}: name another file.") from trouble
    finally:
        pygame.quit()
    return 0


class Given(NamedTuple):
    """What the window is opened with: a piece for the Stand and where its file lies, or files to be brought."""

    wish: Wish | None = None
    found: Brought | None = None
    named: str = ""
    files: Sequence[str] = ()


def begin(house: House, given: Given) -> None:
    """Show the Desk, or a piece on the Stand with what is to be said of its file; bring what is for the shelf."""
    desk = house.screen_of(Desk)
    house.show(desk)
    if given.wish is not None:
        from trainer.window.stand.stand import Stand

        house.screen_of(Stand).play(given.wish)
    if given.found is not None:
        tell_kept(desk, given.named, given.found)
    desk.given = given.files


def _closed_by_signals(house: House) -> None:
    """Ctrl-C, a terminal that is closed and the end of a session close the window as its own cross does."""
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        # What whoever started the program has it ignore (nohup, a job in the background) stays ignored.
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, lambda *_: house.stop())


def settings_of(args: argparse.Namespace) -> kept.Settings:
    """What is set, as far as the words of the command do not say otherwise."""
    settings = kept.load(args.player or None)
    return replace(
        settings,
        night=settings.night or args.night,
        # Who asks for a size asks for a window, also after an evening in full screen.
        full_screen=args.full_screen or (settings.full_screen and not args.size),
        player=args.player or settings.player,
        midi_in=args.port or settings.midi_in,
    )


def _size(text: str | None) -> tuple[int, int]:
    """The size asked for, else the usual one as far as the screen has room for it."""
    if text:
        wide, high = (int(part) for part in text.lower().split("x"))
    else:
        screen = pygame.display.get_desktop_sizes()[0]
        wide, high = min(_USUAL[0], screen[0]), min(_USUAL[1], screen[1] - _FRAME)
    return max(LEAST[0], wide), max(LEAST[1], high)


def _given(args: argparse.Namespace) -> Given:
    """What is to be opened: what a piece is read from is kept on the shelf, as one that is dropped on the window."""
    words: list[str] = args.piece
    absent = next((word for word in words if not os.path.exists(word)), None)
    if len(words) > 1 and absent is not None:
        raise CannotDo(f"There is no file '{absent}': put a title of several words in quotes, or name files alone.")
    if not words:
        return Given()
    from trainer.coaching.work.handing import kind_of
    from trainer.scores.shelf.keeping import brought, unfolded
    from trainer.scores.shelf.library import find

    if len(words) > 1 or os.path.isdir(words[0]) or (absent is None and kind_of(Path(words[0]))):
        return Given(files=[os.path.abspath(word) for word in words])
    path = find(words[0])
    if len(unfolded([str(path)])) > 1:
        return Given(files=[str(path.absolute())])
    found = brought(path)
    return Given(_wish(args, found), found, str(path))


def _wish(args: argparse.Namespace, found: Brought) -> Wish:
    from trainer.music.transpose import plan
    from trainer.window.wish import Wish, written_tempo

    piece = found.piece
    moved = plan(piece.key, args.to, args.octave) if args.to else plan(piece.key, "-2")
    return Wish(piece, moved, args.hands, args.mode, written_tempo(piece), name=found.path)


def _replay(args: argparse.Namespace) -> Replay:
    from trainer.listening.replay import Replay, read_take

    return Replay(read_take(args.replay), args.speed)
