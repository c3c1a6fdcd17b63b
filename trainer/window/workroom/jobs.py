"""Jobs of the second process that lay pieces out and draw them. What draws it imports late, to start quickly."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from trainer.listening.quiet import load_pygame
from trainer.music.packed import packed
from trainer.music.piece import Piece
from trainer.music.pitch import Interval
from trainer.music.transpose import transposed
from trainer.scores import cache
from trainer.scores.engraving.engraving import MAKE, Engraved, System, engrave, kept
from trainer.scores.engraving.look import Look
from trainer.window.workroom.fingered import Fingered, Whose, fingered, own_shown, said_for
from trainer.window.workroom.fitting import (
    Room,
    Size,
    Waiting,
    begun,
    by_itself,
    fitting,
    further,
    is_long,
    standing_of,
)
from trainer.window.workroom.inking import Ink, inked

# What of a look gives way until a piece fits, or grows with it.
_FITTED = ("staff_px", "ribbon_px", "stacked", "expression")


def warm() -> None:
    """Load what engraving needs before it is asked for."""
    load_pygame()  # to unpack pictures
    import resvg_py  # noqa: F401
    import verovio  # noqa: F401

    # Every page in every size is kept: once a start the oldest go.
    cache.tidy()


@dataclass(frozen=True)
class Drawn:
    """A piece laid out, and what is drawn of it.

    Parameters
    ----------
    engraved : Engraved
        A system whose ink is there comes without its drawing.
    ink : dict of system index to Ink
        Of those that are to be seen first; `drawn` makes the others.
    whole : bool
        Whether these are all systems of the piece, or only those that are looked at.
    fingered : Fingered
    """

    engraved: Engraved
    ink: dict[int, Ink]
    whole: bool = True
    fingered: Fingered = field(default_factory=Fingered)


def engraved(piece: Piece, look: Look, near: int = 0, first: int = 1) -> Drawn:
    """A piece laid out, and the ink of its `first` systems from the one that holds the bar at the index `near`, and of
    the one before that.
    """
    return _first_drawn(engrave(piece, look), near, first)


def _first_drawn(found: Engraved, near: int, first: int, whole: bool = True) -> Drawn:
    here = found.system_of_bar(near)
    ink = {at: inked(found.systems[at]) for at in range(max(0, here - 1), min(here + first, len(found.systems)))}
    # The window has no use for a drawing once it has its ink.
    systems = tuple(replace(one, svg="") if at in ink else one for at, one in enumerate(found.systems))
    return Drawn(Engraved(systems, found.look), ink, whole)


def drawn(systems: Sequence[System]) -> list[Ink]:
    """The ink of some systems."""
    return [inked(system) for system in systems]


def glimpsed(
    piece: Piece, look: Look, move: Interval, hand_size: str, near: int = 0, first: int = 1, whose: Whose | None = None
) -> Drawn:
    """A piece laid out in the key it is moved to, with the fingers of that key, drawn as `engraved` does."""
    here, known = fingered(piece, move, hand_size, whose)
    drawn_ = engraved(transposed(here, move), own_shown(look, known), near, first)
    return replace(drawn_, fingered=known)


def copied(piece: Piece, look: Look, move: Interval, whose: Whose, near: int = 0, first: int = 1) -> Drawn:
    """A piece laid out as written, without fingers but the player's own for the key it is moved to, drawn as `engraved`
    does: the marks have the room.
    """
    known = said_for(piece, move, whose)
    if known.said:
        notes = (replace(note, finger=known.said.get(i)) for i, note in enumerate(piece.notes))
        piece, look = replace(piece, notes=tuple(notes)), own_shown(replace(look, fingers=True), known)
    return replace(engraved(piece, look, near, first), fingered=known)


def copied_ahead(piece: Piece, look: Look, move: Interval, whose: Whose) -> None:
    """Lay out what `copied` will be asked for: it is kept on disk, and nothing of it is handed over."""
    copied(piece, look, move, whose)


def fitted(
    piece: Piece,
    look: Look,
    room: Room,
    move: Interval,
    hand_size: str,
    near: int = 0,
    waiting: Waiting | None = None,
    whose: Whose | None = None,
    every: bool = False,
) -> Drawn:
    """A piece laid out so that its systems stand in a room, and the ink of those round the bar `near`.

    Tall systems are made smaller; a piece that stands there as a whole larger, and one of which a single system has
    room. The fingers are those of the key it is moved to (see `fingered`): the hand plays there, whatever the eye
    reads. How large it is drawn is found once for the piece, so that another key neither waits for it nor moves the
    page, unless its fingers need room, which is found once for these fingers.

    Where the player is `waiting` a long piece that was not laid out before comes as the systems that are seen alone.
    """
    here, known = fingered(piece, move, hand_size, whose, every)
    # While fingers are said none said asks for another layout.
    shown = look if every else own_shown(look, known)
    # Where every note bears a finger that needs the same room in every key.
    usual, fingers = _name(piece, look, room, *(["every"] if every else [])), _name(here, shown, room)
    size, anew = _size(usual), _size(fingers)
    known_size = anew or size
    settled = _sized_as(shown, known_size) if known_size else None
    if waiting is not None and is_long(piece) and (settled is None or kept(here, settled) is None):

        def sized(cut: Piece, on: Look | None) -> Size:
            if waiting.size is not None:
                return own_shown(waiting.size[0], known) if not every else waiting.size[0], waiting.size[1]
            return (settled, room.slots) if settled is not None else by_itself(cut, on or shown, room)

        seen = begun(here, room, sized, near, waiting)
        if seen is not None:
            return replace(_first_drawn(seen, near, room.slots, whole=False), fingered=known)
    if settled is None:
        plain = here if every else piece
        found = fitting(plain, look, room)
        size = _sizes(found) | {"fits": standing_of(plain, found, room)}
        cache.keep(usual, size)
        settled = _sized_as(shown, size)
    if anew is None and size is not None:
        if standing_of(here, settled, room) < size["fits"]:
            settled = fitting(here, shown, room)
        cache.keep(fingers, _sizes(settled) | {"fits": size["fits"]})
    return replace(engraved(here, settled, near, room.slots), fingered=known)


def gone_on(
    piece: Piece,
    look: Look,
    last: tuple[int, int],
    slots: int,
    move: Interval,
    hand_size: str,
    whose: Whose | None = None,
    every: bool = False,
) -> Drawn:
    """Of a page of which only some systems are there those that follow the `last`, given by its first bar and its last,
    and the ink of them; fingers as `fitted` has them.
    """
    here, known = fingered(piece, move, hand_size, whose, every)
    found = further(here, look if every else own_shown(look, known), last, slots)
    return replace(_first_drawn(found, last[1] + 1, slots + 1, whole=False), fingered=known)


def _name(piece: Piece, look: Look, room: Room, *more: str) -> str:
    """Where it is kept on disk how large a piece fits."""
    return cache.name_for("fitted", json.dumps(packed(piece)), repr((MAKE, look, room, *more)))


def _size(name: str) -> dict[str, Any] | None:
    """What is kept there; None without."""
    found = cache.fetch(name)
    return found if isinstance(found, dict) and found.keys() == {*_FITTED, "fits"} else None


def _sizes(look: Look) -> dict[str, Any]:
    return {one: getattr(look, one) for one in _FITTED}


def _sized_as(look: Look, size: dict[str, Any]) -> Look:
    return replace(look, **{one: size[one] for one in _FITTED})
