"""The fingers of a page, the player's own among them. Done in the second process; nothing here draws."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.music.piece import Piece
from trainer.music.pitch import Interval, MusicError
from trainer.music.transpose import transposed
from trainer.scores.look import Look

if TYPE_CHECKING:
    from trainer.hands.own import OwnFingers


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
    from trainer.hands import changes

    own, trouble = _own(piece, whose)
    printed, moves = any(note.finger for note in piece.notes), bool(move.semitones or move.steps)
    if not (every or own.by_key or (printed and moves)):
        return piece, Fingered(trouble=trouble)
    expected = transposed(piece, move) if moves else piece
    found = changes.laid(piece, expected, hand_size, own)
    fingers = {i: number for hand in found.target.values() for i, number in hand.items()}
    shown = changes.refingered(piece, fingers if every else found.told if printed or own.by_key else {})
    return shown, Fingered(fingers, dict(own.of(expected.key)), bool(own.by_key), trouble)


def said_for(piece: Piece, move: Interval, whose: Whose) -> Fingered:
    """The player's own fingers for the key a piece is moved to, and no others."""
    own, trouble = _own(piece, whose)
    return Fingered(said=dict(own.of(piece.key.transposed(move))), any_said=bool(own.by_key), trouble=trouble)


def _own(piece: Piece, whose: Whose | None) -> tuple[OwnFingers, str]:
    """The player's own fingers, and why they could not be read."""
    from trainer.coaching import ownfingers
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
