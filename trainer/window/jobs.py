"""What the second process does: reading, engraving, composing. What draws it imports late, to start quickly."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import ceil
from typing import TYPE_CHECKING, Any

from trainer.music.keys import Key
from trainer.music.packed import packed
from trainer.music.passage import passage
from trainer.music.piece import Piece
from trainer.music.pitch import Interval
from trainer.music.transpose import transposed
from trainer.scores import cache
from trainer.scores.engraving import MAKE, Engraved, Look, System, engrave, heights, in_pixels, kept, stretch
from trainer.scores.library import Entry, Shelf, find
from trainer.window.fingered import Fingered, Whose, fingered, own_shown, said_for
from trainer.window.inking import Ink, inked

# A layout that does not fit is tried again at most so often.
_TRIES = 4
# Systems fit into a room that they exceed by so little.
OVER = 1.03
# What of a look gives way until a piece fits, or grows with it.
_FITTED = ("staff_px", "ribbon_px", "stacked", "expression")
# Staves as the engraver has them, in whole pixels between two lines, and how much of a room a piece that is made larger
# takes at most, so that the fingers of another key find room too (ours).
_STEP_PX, _FULL = 4, 0.96
# Systems that share their bars are lower than before by no more than this; one alone may grow by this more than the
# tallest of smaller ones lets expect, for larger ones hold fewer bars and it is made smaller again (tuned).
_SHARED, _ALONE = 1.15, 1.2
# Of the size wished, what more than two systems may be made smaller to.
_LARGE_ENOUGH = 0.75
# Of a piece of so many bars that must be laid out what is seen stands there at once, the whole a moment later.
_LONG, _FIRST_BARS = 48, 16

if TYPE_CHECKING:
    from trainer.coaching.schedule import Suggestion
    from trainer.following.ground import Compass
    from trainer.following.marks import Settled
    from trainer.following.timing import Timing
    from trainer.journal.values import KeptTake
    from trainer.session import Summary


def warm() -> None:
    """Load what engraving needs before it is asked for."""
    import pygame  # noqa: F401 (to unpack pictures)
    import resvg_py  # noqa: F401
    import verovio  # noqa: F401

    # Every page in every size is kept: once a start the oldest go.
    cache.tidy()


def shelved() -> list[Entry]:
    """The shelf, read where files are new or changed."""
    shelf = Shelf()
    shelf.refresh()
    return shelf.entries


def piece_at(path: str) -> Piece:
    """The piece in a file."""
    from trainer.scores.reading import read

    return read(path)


def left_out_at(path: str) -> str:
    """What of a file is not read, in a sentence, or empty."""
    from trainer.scores.reading import left_out

    return left_out(path)


def shelf_piece(name: str) -> Piece:
    """A piece by its name on the shelf."""
    return piece_at(str(find(name)))


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


@dataclass(frozen=True)
class Waiting:
    """Who looks at a page waits for it: what is seen comes first.

    Parameters
    ----------
    lead : int
        Index of the bar where the system before those that are looked at begins, or of one before; 0 at the beginning
        of the piece.
    bars : int
        How many from there on hold what is seen, with the system after it.
    begins : tuple of int
        Bars with which systems begin on the page that stands there.
    stood : (int, float)
        How wide these are and how high their staves, in pixels.
    """

    lead: int = 0
    bars: int = _FIRST_BARS
    begins: tuple[int, ...] = ()
    stood: tuple[int, float] = (0, 0.0)

    @classmethod
    def at(cls, page: Engraved | None, near: int, slots: int) -> Waiting:
        """Before a page that is to take the place of this one, or of none, so many systems looked at near a bar."""
        if page is None:
            return cls(max(0, near - _FIRST_BARS // 2))
        begins = tuple(system.bars[0].bar for system in page.systems)
        here, ends = page.system_of_bar(near), (*begins[1:], page.systems[-1].bars[-1].bar + 1)
        lead = begins[max(0, here - 2)]
        return cls(lead, ends[min(here + slots, len(ends) - 1)] - lead, begins, _set(page.look))


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
    slots: int,
    room: int,
    least: float,
    most: float,
    move: Interval,
    hand_size: str,
    near: int = 0,
    waiting: Waiting | None = None,
    below: int = 0,
    whose: Whose | None = None,
    every: bool = False,
    alone: float = 0.0,
) -> Drawn:
    """A piece laid out so that `slots` systems stand in `room` pixels, `below` more free under each of them, and the
    ink of those round the bar `near`.

    Tall systems are made smaller, down to staves of `least` pixels; a piece that stands there as a whole larger, up to
    `most`, and one of which a single system has room up to `alone`. The fingers are those of the key it is moved to
    (see `fingered`): the hand plays there, whatever the eye reads. How large it is drawn is found once for the piece,
    so that another key neither waits for it nor moves the page, unless its fingers need room.

    Where the player is `waiting` a long piece that was not laid out before comes as the systems that are seen alone.
    """
    # Where every note bears a finger that needs the same room in every key.
    room_ = slots, room, least, most, below, alone
    terms = (MAKE, look, *room_, *(["every"] if every else []))
    name = cache.name_for("fitted", json.dumps(packed(piece)), repr(terms))
    found = cache.fetch(name)
    size: dict[str, Any] | None = found if isinstance(found, dict) and found.keys() == {*_FITTED, "fits"} else None
    here, known = fingered(piece, move, hand_size, whose, every)
    # While fingers are said none said asks for another layout.
    shown = look if every else own_shown(look, known)
    if waiting is not None and len(piece.bars) >= _LONG:
        settled = _sized_as(shown, size) if size is not None else None
        if settled is None or kept(here, settled) is None:
            begun = _begun(
                here, lambda cut: settled or _by_itself(cut, shown, *room_), slots, room, below, near, waiting
            )
            if begun is not None:
                return replace(_first_drawn(begun, near, slots, whole=False), fingered=known)
    if size is None:
        plain = here if every else piece
        settled = _fitting(plain, look, *room_)
        standing_ = _standing(plain, settled, slots, room, below)
        size = {one: getattr(settled, one) for one in _FITTED} | {"fits": standing_}
        cache.keep(name, size)
    settled = _sized_as(shown, size)
    if _standing(here, settled, slots, room, below) < size["fits"]:
        settled = _fitting(here, shown, *room_)
    return replace(engraved(here, settled, near, slots), fingered=known)


def _sized_as(look: Look, size: dict[str, Any]) -> Look:
    return replace(look, **{one: size[one] for one in _FITTED})


def _begun(
    piece: Piece, sized: Callable[[Piece], Look], slots: int, room: int, below: int, near: int, waiting: Waiting
) -> Engraved | None:
    """Of a long piece the systems that are looked at, one more than is seen at once, as large as these bars by
    themselves are; None where that needs so many bars that the whole is hardly slower.
    """
    first, count = waiting.lead, waiting.bars
    while 2 * count <= len(piece.bars):
        last = min(first + count, len(piece.bars)) - 1
        look = sized(passage(piece, (first, last)))
        found = stretch(piece, look, (first, last), waiting.begins if waiting.stood == _set(look) else ())
        if found.systems and near <= found.systems[-1].bars[-1].bar:
            before = max(0, found.system_of_bar(near) - 1)
            tall = [ceil(system.height) + below for system in found.systems[before:]]
            seen = min(slots, standing(tall, slots, room + slots * below))
            if seen < len(tall) or last + 1 == len(piece.bars):
                return found
        count += count // 2
    return None


def _by_itself(
    cut: Piece, look: Look, slots: int, room: int, least: float, most: float, below: int, alone: float
) -> Look:
    """How large a passage fits by itself, which may be larger than the whole does: at once is worth more."""
    found, tall = _sized(cut, look, slots, room, least)
    return found if stand_in(tall, slots, room) else _fitting(cut, look, slots, room, least, most, below, alone)


def _set(look: Look) -> tuple[int, float]:
    """What says where systems begin: how wide they are, and how large in them the music is."""
    return look.width_px, in_pixels(look).staff_px


def _fitting(
    piece: Piece,
    look: Look,
    slots: int,
    room: int,
    least: float,
    most: float,
    below: int = 0,
    alone: float = 0.0,
) -> Look:
    """How large a piece fits. To see the next system is worth more than every finger of a chord, and those go first,
    then slurs, dynamics and the like.

    Where even so one system stands alone, it is as large as it would be by itself, with all of them.
    """
    whole, tall = _sized(piece, look, slots, room, least)
    fits = slots == 1 or _fits(piece, whole, slots, room, tall)
    if slots > 2 and not (fits and whole.staff_px >= _LARGE_ENOUGH * look.staff_px):
        # A third system is worth less than the size of two and all that stands in them.
        return _fitting(piece, look, slots - 1, room + below, least, most, below, alone)
    if fits and (slots > 1 or len(tall) == 1):
        return _grown(piece, whole, slots, room, most, below)
    if not fits:
        bare = replace(look, stacked=False, expression=False)
        # What does not stand there in the smallest size need not be tried in others.
        if stand_in(heights(piece, replace(bare, staff_px=round(least, 1))), slots, room * _SHARED):
            for fewer in (replace(look, stacked=False), bare):
                sized, now = _sized(piece, fewer, slots, room, least)
                if _fits(piece, sized, slots, room, now):
                    return sized
    room += (slots - 1) * below
    # One system has the whole room: the notes grow into it, the syllables with them.
    staff = min(max(alone, look.staff_px), whole.staff_px * _ALONE * room / max(tall))
    larger = replace(look, staff_px=staff, ribbon_px=round(look.ribbon_px * staff / look.staff_px, 1))
    return _sized(piece, larger if staff > look.staff_px else look, 1, room, least)[0]


def room_for(tall: Sequence[float], slots: int) -> float:
    """The most height that so many systems take, of those that come one after the other.

    More than two keep their places while the page turns, so each has as much as the tallest.
    """
    if slots > 2:
        return slots * max(tall)
    return max(sum(tall[at : at + slots]) for at in range(max(1, len(tall) - slots + 1)))


def stand_in(tall: Sequence[float], slots: int, room: float) -> bool:
    """Whether so many systems of a piece, each so tall in whole pixels, stand under each other in a room."""
    return room_for(tall, slots) <= room * OVER


def standing(tall: Sequence[float], slots: int, room: float) -> int:
    """How many systems of a piece are shown at once: all of them where they stand under each other in the room, else
    `slots` at most, and one at least.
    """
    if stand_in(tall, len(tall), room):
        return len(tall)
    return next((count for count in range(slots, 1, -1) if stand_in(tall, count, room)), 1)


def _standing(piece: Piece, look: Look, slots: int, room: int, below: int) -> int:
    """The same of a piece laid out; 0 where even one is too tall."""
    tall = [ceil(system.height) + below for system in engrave(piece, look).systems]
    count = standing(tall, slots, room + slots * below)
    return count if stand_in(tall, count, room + slots * below) else 0


def _fits(piece: Piece, look: Look, slots: int, room: int, tall: Sequence[float]) -> bool:
    """Whether so many systems stand there once the last share their bars, so `tall` before."""
    if not stand_in(tall, slots, room * _SHARED):
        return False
    return stand_in([ceil(system.height) for system in engrave(piece, look).systems], slots, room)


def _grown(piece: Piece, look: Look, slots: int, room: int, most: float, below: int) -> Look:
    """Of a piece that stands there as a whole: the look with the largest staves, syllables with them, at which it still
    does, on as many systems as it then takes.
    """
    tall = heights(piece, look)
    if len(tall) > slots:
        return look
    free = (room + slots * below) * _FULL

    def at(step: int) -> Look:
        staff = float(step * _STEP_PX)
        return replace(look, staff_px=staff, ribbon_px=round(look.ribbon_px * staff / look.staff_px, 1))

    def stands(tall: Sequence[float]) -> bool:
        return room_for([height + below for height in tall], len(tall)) <= free

    usual = fits = int(look.staff_px / _STEP_PX)
    # Larger staves never take fewer lines.
    most = min(most, look.staff_px * free / max(1.0, room_for(tall, len(tall))))
    too_large = int(most / _STEP_PX) + 1
    while too_large - fits > 1:
        tried = (fits + too_large) // 2
        if stands(heights(piece, at(tried))):
            fits = tried
        else:
            too_large = tried
    # Systems that share their bars may be taller than they were.
    while fits > usual and not stands([system.height for system in engrave(piece, at(fits)).systems]):
        fits -= 1
    return at(fits) if fits > usual else look


def _sized(piece: Piece, look: Look, slots: int, room: int, least: float) -> tuple[Look, list[float]]:
    """The look with staves of such a size that a piece fits, as far as they may be made smaller, and how tall its
    systems then are.
    """
    for tries in range(_TRIES + 1):
        tall = heights(piece, look)
        needed = room_for(tall, slots)
        if tries == _TRIES or needed <= room or look.staff_px <= least * 1.01:
            break
        words = 2.5 * look.ribbon_px * min(slots, len(tall))
        share = (room - words) / max(1.0, needed - words)
        look = replace(look, staff_px=round(max(least, look.staff_px * max(0.5, share)), 1))
    return look, tall


def pattern_of(kind: str, key: Key, hands: str) -> Piece:
    """A pattern in a key."""
    from trainer.scores.patterns import pattern

    return pattern(kind, key, hands)


def piece_of(suggestion: Suggestion, seed: int) -> Piece:
    """The piece of a suggestion: a pattern in its key, from the shelf, or composed from a seed."""
    if suggestion.pattern:
        return pattern_of(suggestion.pattern, suggestion.key, suggestion.hands)
    if suggestion.name:
        return shelf_piece(suggestion.name)
    from trainer.coaching.fresh import composed
    from trainer.coaching.schedule import page_key

    written = suggestion.written or page_key(suggestion.key)
    return composed(suggestion.level, written, suggestion.hands, 8, seed, suggestion.tempo)


def marked_again(kept: KeptTake, compass: Compass) -> tuple[Settled, Summary, Timing | None]:
    """What a take that was cut off comes to: its marks, its figures, its pulse."""
    from trainer.session import heard_again

    session = heard_again(kept, compass)
    assert session.settled is not None
    assert session.summary is not None
    return session.settled, session.summary, session.timing
