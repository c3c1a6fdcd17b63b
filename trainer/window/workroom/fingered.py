"""The fingers of a page, the player's own among them. Done in the second process; nothing here draws."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.music.packed import packed
from trainer.music.piece import Piece
from trainer.music.pitch import Interval, MusicError
from trainer.music.transpose import transposed
from trainer.scores import cache
from trainer.scores.engraving.look import Look

if TYPE_CHECKING:
    from trainer.hands.changes import Laid
    from trainer.hands.own import OwnFingers


# What was found last without anybody's own fingers.
_FOUND: dict[str, Laid] = {}
_REMEMBERED = 4


@dataclass(frozen=True)
class Whose:
    """Whose own fingers a page bears, and in which folder they are kept."""

    folder: str
    player: str


@dataclass(frozen=True)
class Fingered:
    """The fingers of a page.

    Parameters
    ----------
    fingers : dict of note index to finger
        Of the key to be played; empty where the page asks for none.
    said : dict of note index to finger
        Of these the player's own.
    any_said : bool
        Whether the player has said any of this piece, in whatever key.
    trouble : str
        Why their own could not be read, in a sentence; else empty.
    """

    fingers: Mapping[int, int] = field(default_factory=dict)
    said: Mapping[int, int] = field(default_factory=dict)
    any_said: bool = False
    trouble: str = ""


def fingered(
    piece: Piece, move: Interval, hand_size: str, whose: Whose | None = None, every: bool = False
) -> tuple[Piece, Fingered]:
    """A piece as it stands on the page, with the fingers of the key it is moved to, the player's own among them, and
    which they are; `every`: on each note that has one.
    """
    from trainer.hands.changes import refingered

    own, trouble = _own(piece, whose)
    printed, moves = any(note.finger for note in piece.notes), bool(move.semitones or move.steps)
    if not (every or own.by_key or (printed and moves)):
        return piece, Fingered(trouble=trouble)
    expected = transposed(piece, move) if moves else piece
    found = laid_with(piece, expected, hand_size, own)
    fingers = {i: number for hand in found.target.values() for i, number in hand.items()}
    shown = refingered(piece, fingers if every else found.told if printed or own.by_key else {})
    return shown, Fingered(fingers, dict(own.of(expected.key)), bool(own.by_key), trouble)


def known(piece: Piece, move: Interval, hand_size: str, whose: Whose) -> Fingered:
    """The fingers of every note in the key a piece is moved to, without a page."""
    return fingered(piece, move, hand_size, whose, every=True)[1]


def laid_with(piece: Piece, expected: Piece, hand_size: str, own: OwnFingers) -> Laid:
    """The fingers of both hands with the player's own; what is found without any is remembered, so that each finger
    said is there soon.
    """
    from trainer.hands.changes import laid

    name = cache.name_for("laid", json.dumps(packed(piece)), repr((expected.key, expected.notes[:1], hand_size)))
    if name not in _FOUND:
        while len(_FOUND) >= _REMEMBERED:
            del _FOUND[next(iter(_FOUND))]
        _FOUND[name] = laid(piece, expected, hand_size)
    return laid(piece, expected, hand_size, own, _FOUND[name]) if own.by_key else _FOUND[name]


def said_for(piece: Piece, move: Interval, whose: Whose) -> Fingered:
    """The player's own fingers for the key a piece is moved to, and no others."""
    own, trouble = _own(piece, whose)
    return Fingered(said=dict(own.of(piece.key.transposed(move))), any_said=bool(own.by_key), trouble=trouble)


def _own(piece: Piece, whose: Whose | None) -> tuple[OwnFingers, str]:
    """The player's own fingers, and why they could not be read."""
    from trainer.coaching.own import ownfingers
    from trainer.hands.own import NOBODYS

    if whose is None:
        return NOBODYS, ""
    try:
        return ownfingers.load(Path(whose.folder), piece, whose.player), ""
    except MusicError as error:
        return NOBODYS, str(error)


def own_shown(look: Look, known: Fingered) -> Look:
    """A look that shows the player's own fingers whatever else gives way."""
    return replace(look, own=frozenset(known.said))


def under(lying: Mapping[int, int], expected: Piece, known: Fingered) -> Mapping[int, int]:
    """Keys and fingers of hands that stay where they are, as the player's own fingers have them; a key that takes now
    one finger, now another is told without, and so are those not played any more beside it.
    """
    if not known.said or not lying:
        return lying
    taken: dict[int, set[int]] = {}
    for i, number in known.fingers.items():
        taken.setdefault(expected.notes[i].midi, set()).add(number)
    if all(taken.get(midi, {number}) == {number} for midi, number in lying.items()):
        return lying
    return {midi: number for midi in lying if len(taken.get(midi, ())) == 1 for number in taken[midi]}
