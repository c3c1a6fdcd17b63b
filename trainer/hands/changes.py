"""What changes under the hands between the written key and another: which fingers, why, and what to practise first."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass, replace

from trainer.hands import rules
from trainer.hands.fingering import Judge, Wish, finger_piece
from trainer.hands.keyboard import is_black
from trainer.hands.own import NOBODYS, Fingers, OwnFingers, fitted, under_one_thumb
from trainer.hands.position import MEDIUM
from trainer.hands.rules import THUMB
from trainer.music.piece import LEFT, Piece

# Changed notes with no more than this many unchanged ones between belong together.
_GAP = 1
_SHOWN = 8
# Points it costs to leave the fingers of the written key, by whether the finger is printed and whether this note and
# those around it have the colours they have there (where nothing differs under the hand there is little reason to);
# and points for every note changed.
_LEAVING = {(True, True): 12.0, (False, True): 6.0, (True, False): 3.0, (False, False): 2.0}
_EACH = {True: 0.1, False: 0.05}
_AROUND = 2


@dataclass(frozen=True)
class Change:
    """One note that takes another finger: index, hand, finger in the written key and in the target key, reason."""

    note: int
    hand: str
    before: int
    after: int
    why: str


@dataclass(frozen=True)
class Spot:
    """Notes that change together.

    Parameters
    ----------
    hand : str
    notes : tuple of int
        Indices, first to last.
    bars : tuple of int
        Printed numbers of the first and the last bar.
    why : str
    dear : float
        Points of effort that keeping the old fingers would cost; the costliest is practised first.
    leaps : bool
        Bars between the two are not played: another ending is taken, or the coda.
    """

    hand: str
    notes: tuple[int, ...]
    bars: tuple[int, int]
    why: str
    dear: float
    leaps: bool = False

    @property
    def where(self) -> str:
        """``bars 3–5``; a place may begin in the upbeat, run over a repeat sign back to an earlier bar, or leap on.

        >>> [Spot("right", (), bars, "", 0).where for bars in ((2, 2), (0, 1), (8, 5))]
        ['bar 2', 'upbeat to bar 1', 'from bar 8 back to bar 5']
        >>> Spot("right", (), (3, 10), "", 0, leaps=True).where
        'from bar 3 on to bar 10'
        """
        first, last = self.bars
        if first == last:
            return f"bar {first}" if first else "upbeat"
        if last < first:
            return f"from bar {first} back to {f'bar {last}' if last else 'the upbeat'}"
        if self.leaps:
            return f"from {f'bar {first}' if first else 'the upbeat'} on to bar {last}"
        return f"bars {first}–{last}" if first else f"upbeat to bar {last}"


@dataclass(frozen=True)
class Changes:
    """The fingering of a piece in its written key and in the target key.

    Parameters
    ----------
    written, target : dict of hand to dict of note index to finger
    changed : tuple of Change
        In the order of the piece.
    spots : tuple of Spot
        In the order to practise them.
    kept : float
        Share of the notes whose finger stays, 0 to 1.
    told : dict of note index to finger
        What a page is to bear, whatever is printed: fingers that change, what the player said and what follows from it.
    """

    written: Mapping[str, Mapping[int, int]]
    target: Mapping[str, Mapping[int, int]]
    changed: tuple[Change, ...]
    spots: tuple[Spot, ...]
    kept: float
    told: Fingers


@dataclass(frozen=True)
class Laid:
    """The fingers of both hands in both keys.

    Parameters
    ----------
    written, target : dict of hand to dict of note index to finger
    told : dict of note index to finger
        See `Changes`.
    """

    written: Mapping[str, dict[int, int]]
    target: Mapping[str, dict[int, int]]
    told: Fingers


def laid(
    written: Piece, expected: Piece, size: str = MEDIUM, own: OwnFingers = NOBODYS, plain: Laid | None = None
) -> Laid:
    """The fingers in the written key and in that of `expected`, with what the player said of either.

    What is said in the written key counts as printed there, and goes along to the other key where it serves; what is
    said for the other key stands above all. `plain` is what is found without it, where that is known.
    """
    here, there = own.of(written.key), own.of(expected.key)
    before: dict[str, dict[int, int]] = {}
    after: dict[str, dict[int, int]] = {}
    told: dict[int, int] = {}
    fingered = any(note.finger for note in written.notes)
    for hand in written.hands:
        old = plain.written[hand] if plain else finger_piece(written, hand, size)
        without = plain.target[hand] if plain else target_fingers(written, expected, hand, size, old)
        before[hand] = fitted(written, hand, size, old, here)
        moved = target_fingers(written, expected, hand, size, before[hand], here) if here else without
        after[hand] = fitted(expected, hand, size, moved, there)
        followed = after[hand].items()
        if fingered:
            told |= {i: number for i, number in followed if number != old.get(i)}
        if here or there:
            told |= {i: n for i, n in followed if i in here or i in there or n != without.get(i)}
        for both in under_one_thumb(expected, after[hand]) if told else ():
            # Of a thumb on two keys one alone would be read as the lower key's.
            told |= dict.fromkeys(both, THUMB) if any(i in told for i in both) else {}
    return Laid(before, after, told)


def changes(written: Piece, expected: Piece, size: str = MEDIUM, own: OwnFingers = NOBODYS) -> Changes:
    """Compare the fingering of a piece with that of the same piece in another key.

    A finger of the written key (printed, or found) is kept in the other key where keeping it costs no more than it
    is worth; so every change has a reason on the keyboard, or is the player's own.
    """
    found = laid(written, expected, size, own)
    before, after, there = found.written, found.target, own.of(expected.key)
    changed: list[Change] = []
    spots: list[Spot] = []
    total = same = 0
    for hand in written.hands:
        both = [i for i in before[hand] if i in after[hand]]
        total += len(both)
        same += sum(before[hand][i] == after[hand][i] for i in both)
        runs = _runs(both, before[hand], after[hand])
        judge = Judge(expected, hand, size)
        least = judge.points(after[hand])
        for run in runs:
            why = _why(written, expected, hand, run, both, before[hand], after[hand], there)
            changed += [
                Change(i, hand, before[hand][i], after[hand][i], why) for i in run if before[hand][i] != after[hand][i]
            ]
            kept = {**after[hand], **{i: before[hand][i] for i in run}}
            dear = max(0.0, judge.points(kept) - least)
            places = [written.bar_index(written.notes[at].onset) for at in (run[0], run[-1])]
            first, last = (written.bars[at].number for at in places)
            leaps = last - first > places[1] - places[0]
            spots.append(Spot(hand, tuple(run), (first, last), why, round(dear, 2), leaps))
    spots.sort(key=lambda spot: (-spot.dear, spot.notes))
    ordered = tuple(sorted(changed, key=lambda c: c.note))
    return Changes(before, after, ordered, tuple(spots), same / total if total else 1.0, found.told)


def served(written: Piece, expected: Piece, size: str = MEDIUM, own: OwnFingers = NOBODYS) -> Piece:
    """The written piece with the fingers its notes take in the key to play, for a page that bears fingers.

    What is printed stays where it serves; where a finger changes the new one is told, printed or not. A page without
    fingers bears those the player said and what follows from them.
    """
    if not any(note.finger for note in written.notes) and not own.by_key:
        return written
    return refingered(written, laid(written, expected, size, own).told)


def served_there(written: Piece, expected: Piece, size: str = MEDIUM, own: OwnFingers = NOBODYS) -> Piece:
    """The piece as it is to be played, with those same fingers, where `served` has the written page."""
    fingered = any(note.finger for note in written.notes) or own.by_key
    return refingered(expected, laid(written, expected, size, own).told) if fingered else expected


def refingered(piece: Piece, told: Fingers) -> Piece:
    """A piece, in either key, with some of its fingers replaced."""
    if not told:
        return piece
    notes = (replace(note, finger=told.get(i, note.finger)) for i, note in enumerate(piece.notes))
    return replace(piece, notes=tuple(notes))


def target_fingers(
    written: Piece,
    expected: Piece,
    hand: str,
    size: str = MEDIUM,
    before: Mapping[int, int] | None = None,
    said: Container[int] = (),
) -> dict[int, int]:
    """Only the fingers of one hand in the target key, keeping those of the written key where they serve.

    `before` is the fingering in the written key, found when it is not given; those `said` by the player there weigh as
    much as printed ones.
    """
    if before is None:
        before = finger_piece(written, hand, size)
    notes = [i for i, note in enumerate(written.notes) if note.hand == hand]
    alike = [is_black(written.notes[i].midi) == is_black(expected.notes[i].midi) for i in notes]
    wishes = {}
    for place, i in enumerate(notes):
        if i in before:
            same = all(alike[max(0, place - _AROUND) : place + _AROUND + 1])
            printed = written.notes[i].finger is not None or i in said
            wish = Wish(before[i]) if all(alike) else Wish(before[i], _LEAVING[printed, same], _EACH[printed])
            wishes[i] = replace(wish, moved=True) if i in said else wish
    return finger_piece(expected, hand, size, wishes)


def _runs(both: list[int], before: Mapping[int, int], after: Mapping[int, int]) -> list[list[int]]:
    """Stretches of a hand's notes that change together, first to last, unchanged ones between included."""
    runs: list[list[int]] = []
    last = -_GAP - 2
    for place, index in enumerate(both):
        if before[index] == after[index]:
            continue
        if place - last <= _GAP + 1:
            runs[-1] += both[last + 1 : place + 1]
        else:
            runs.append([index])
        last = place
    return runs


def _why(
    written: Piece,
    expected: Piece,
    hand: str,
    run: list[int],
    both: list[int],
    before: Mapping[int, int],
    after: Mapping[int, int],
    said: Fingers,
) -> str:
    """Why the old fingers of a run do not serve, with the fingers before and after; `said`: the player's own."""
    shown = run[:_SHOWN]
    more = " …" if len(run) > _SHOWN else ""
    old, new = (" ".join(str(of[i]) for i in shown) + more for of in (before, after))
    own = next((i for i in run if i in said and before[i] != after[i]), None)
    if own is None:
        return f"{_reason(written, expected, hand, run, both, before, after)}: {old} becomes {new}"
    return f"{after[own]} on {expected.notes[own].pitch.words} is the player's own finger: {old} becomes {new}"


def _reason(
    written: Piece,
    expected: Piece,
    hand: str,
    run: list[int],
    both: list[int],
    before: Mapping[int, int],
    after: Mapping[int, int],
) -> str:
    for finger, name in ((1, "the thumb"), (5, "the little finger")):
        for i in run:
            pitch = expected.notes[i].pitch
            if before[i] == finger != after[i] and is_black(pitch.midi) and not is_black(written.notes[i].midi):
                return f"{name} would land on {pitch.words}"
    place = both.index(run[0])
    window = both[max(0, place - _AROUND) : both.index(run[-1]) + _AROUND + 1]
    worse = _worse(written, expected, hand, window, before, after)
    if worse:
        return worse
    for i in run:
        pitch = expected.notes[i].pitch
        if after[i] == 1 and before[i] != 1 and not is_black(pitch.midi) and is_black(written.notes[i].midi):
            return f"the thumb is free to take {pitch.words}, a white key here"
    for i in sorted(window, key=lambda i: min(abs(i - j) for j in run)):
        old, new = written.notes[i].pitch, expected.notes[i].pitch
        if is_black(old.midi) != is_black(new.midi):
            now, then = ("black", "white") if is_black(new.midi) else ("white", "black")
            return f"{new.words} is {now} where {old.words} was {then}"
    return "goes with the changes beside it"


_WORSE = {
    rules.FOUR_ON_BLACK: "with the old fingers 4 would reach up to a black key beside 3 on a white one",
    rules.THUMB_PASSING: "with the old fingers the thumb would pass under to a black key",
    rules.FIVE_ON_BLACK: "with the old fingers the little finger would reach up to a black key",
    rules.THUMB_ON_BLACK: "with the old fingers the thumb would stand on a black key among white ones",
}


def _worse(
    written: Piece,
    expected: Piece,
    hand: str,
    window: list[int],
    before: Mapping[int, int],
    after: Mapping[int, int],
) -> str | None:
    """The rule of black and white that the old fingers break most in the new key, and neither did in the old one nor
    the new fingers do: what the change is good for."""

    def broken(piece: Piece, fingers: Mapping[int, int]) -> dict[str, int]:
        return rules.points([piece.notes[i].midi for i in window], [fingers[i] for i in window], hand == LEFT)

    kept, old, new = broken(expected, before), broken(written, before), broken(expected, after)
    relief = {rule: kept[rule] - max(old[rule], new[rule]) for rule in _WORSE}
    best = max(relief, key=lambda rule: relief[rule])
    return _WORSE[best] if relief[best] > 0 else None
