"""A warm-up for tonight's keys: hands first into each key, then the songs' first notes and their hardest bars.

The order is common practice, no source: five fingers, cadence, where each song begins, then the few bars that go
wrong. How the minutes are shared is ours.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.hands.fingering import Judge, finger_piece
from trainer.music.keys import Key
from trainer.music.passage import passage
from trainer.music.piece import Bar, KeyChange, Piece
from trainer.music.pitch import MusicError
from trainer.music.transpose import Transposition, transposed
from trainer.scores.composing.patterns import pattern

PENTASCALE = "pentascale"
CADENCE = "cadence"
START = "start"
BARS = "bars"
# Share of the minutes for each kind of step; what a kind cannot use goes to the hardest bars.
SHARES = {PENTASCALE: 0.2, CADENCE: 0.2, START: 0.15, BARS: 0.45}
LEAST_MINUTES, MOST_MINUTES = 2, 60
# A hard spot is this many bars; no song gives more than this many spots.
SPOT_BARS = 2
SPOTS = 2
STEP_MINUTES = 0.25

# Bar index (place in `Piece.bars`) -> how hard; only the order matters.
Hardness = Callable[[Piece], Mapping[int, float]]


@dataclass(frozen=True)
class Tonight:
    """One song of tonight: the piece in its written key, the move, slips by bar from the journal where there are any.

    `slips` maps the printed number of a bar to slips this player made there in this key.
    """

    piece: Piece
    transposition: Transposition
    slips: Mapping[int, float]


@dataclass(frozen=True)
class Step:
    """One step of a warm-up.

    Parameters
    ----------
    kind : str
        ``pentascale``, ``cadence``, ``start`` or ``bars``.
    words : str
        What to do.
    minutes : float
        For how long.
    piece : Piece
        What stands on the page.
    transposition : Transposition or None
        The move to play it with; None when the page is already in the key to be played.
    """

    kind: str
    words: str
    minutes: float
    piece: Piece
    transposition: Transposition | None = None


def warm_up(tonight: Sequence[Tonight], minutes: float, hardness: Hardness | None = None) -> tuple[Step, ...]:
    """The steps for tonight's songs in so many minutes.

    Parameters
    ----------
    hardness : callable, optional
        Piece in the key to be played -> hardness by bar index, for songs the journal knows no slips of. Default:
        `hard_bars`.

    Raises
    ------
    MusicError
        When there is no song, or the minutes are out of bounds.
    """
    if not tonight:
        raise MusicError("There is no song to warm up for: put songs on the set list, or choose a piece.")
    if not LEAST_MINUTES <= minutes <= MOST_MINUTES:
        raise MusicError(f"A warm-up takes from {LEAST_MINUTES} to {MOST_MINUTES} minutes: choose so many.")
    keys: list[Key] = []
    for song in tonight:
        if song.transposition.target not in keys:
            keys.append(song.transposition.target)
    steps = [
        Step(PENTASCALE, f"Five fingers in {key.name}, hands together", 0, pattern("pentascale", key)) for key in keys
    ]
    steps += [Step(CADENCE, f"Cadence in {key.name}", 0, pattern("cadence", key)) for key in keys]
    steps += [_start(song) for song in tonight]
    steps += [spot for song in tonight for spot in _spots(song, hardness or hard_bars)]
    return _shared(steps, minutes)


def _start(song: Tonight) -> Step:
    piece = song.piece
    first = piece.moments[0]
    notes = [piece.notes[index] for index in first.notes]
    for hand in piece.hands:
        if not any(note.hand == hand for note in notes):
            later = next(note for note in piece.notes if note.hand == hand)
            notes += [note for note in piece.notes if note.hand == hand and note.onset == later.onset]
    bar = piece.bar_at(first.onset)
    held = [
        replace(note, onset=Fraction(0), length=Fraction(4 * bar.meter[0], bar.meter[1]), grace=False) for note in notes
    ]
    page = replace(
        _bare(piece).with_notes(held),
        title=f"{piece.title}: where it begins",
        bars=(Bar(1, Fraction(0), held[0].length, bar.meter, bar.symbol),),
        keys=(KeyChange(Fraction(0), piece.key_at(first.onset)),),
        tempi=(),
    )
    target = song.transposition.target.name
    return Step(
        START,
        f"{piece.title} in {target}: find the first notes, look away, find them again",
        0,
        page,
        song.transposition,
    )


def _bare(piece: Piece) -> Piece:
    """Notes, bars and keys alone: what there is to find with the hands."""
    return replace(piece, chords=(), lyrics=(), verses=(), singers=(), sung=(), directions=())


def _spots(song: Tonight, hardness: Hardness) -> list[Step]:
    """The hardest stretches of a song: where this player slips, else where the target key lies worst."""
    piece = song.piece
    if song.slips:
        heat = {i: song.slips.get(bar.number, 0.0) for i, bar in enumerate(piece.bars)}
        why = "where it slipped before"
    else:
        heat = dict(hardness(transposed(piece, song.transposition.interval)))
        why = "where it lies hardest"
    found: list[Step] = []
    used: set[int] = set()
    for index in sorted(heat, key=lambda i: (-heat[i], i)):
        if len(found) == SPOTS or heat[index] <= 0:
            break
        place = min(index, max(len(piece.bars) - SPOT_BARS, 0))
        span = range(place, min(place + SPOT_BARS, len(piece.bars)))
        if used & set(span) or not any(piece.bar_index(note.onset) in span for note in piece.notes):
            continue
        used |= set(span)
        numbers = sorted({piece.bars[span.start].number, piece.bars[span.stop - 1].number})
        said = f"bar {numbers[0]}" if len(numbers) == 1 else f"bars {numbers[0]} and {numbers[1]}"
        words = f"{piece.title}, {said} in {song.transposition.target.name}: {why}"
        found.append(Step(BARS, words, 0, some_bars(piece, span.start, span.stop), song.transposition))
    return found


def some_bars(piece: Piece, first: int, stop: int) -> Piece:
    """Bars `first` up to (not with) `stop` by place in `Piece.bars`, bare, as a piece of their own beginning at 0.

    Raises `MusicError` when there is nothing to play in them.
    """
    return replace(
        _bare(passage(piece, (first, stop - 1))), title=f"{piece.title}, from bar {piece.bars[first].number}"
    )


def hard_bars(piece: Piece) -> dict[int, float]:
    """How hard each bar is: the effort of its best fingering (`hands.fingering`), both hands added."""
    heat = dict.fromkeys(range(len(piece.bars)), 0.0)
    for hand in piece.hands:
        fingers = finger_piece(piece, hand)
        inside: dict[int, list[int]] = {}
        for index in fingers:
            inside.setdefault(piece.bar_index(piece.notes[index].onset), []).append(index)
        for bar, notes in inside.items():
            cut = replace(piece, notes=tuple(piece.notes[index] for index in notes))
            heat[bar] += Judge(cut, hand).points({place: fingers[index] for place, index in enumerate(notes)})
    return heat


def _shared(steps: list[Step], minutes: float) -> tuple[Step, ...]:
    """Minutes dealt out in quarters: each kind its share, divided evenly; too little time drops the last steps."""
    while len(steps) > 1 and minutes / len(steps) < STEP_MINUTES:
        steps.pop()
    kinds = {step.kind for step in steps}
    whole = sum(SHARES[kind] for kind in kinds)
    counts = {kind: sum(step.kind == kind for step in steps) for kind in kinds}
    dealt = [
        max(minutes * SHARES[step.kind] / whole / counts[step.kind] // STEP_MINUTES * STEP_MINUTES, STEP_MINUTES)
        for step in steps
    ]
    at = len(dealt) - 1
    while abs(sum(dealt) - minutes) >= STEP_MINUTES:
        change = STEP_MINUTES if sum(dealt) < minutes else -STEP_MINUTES
        if dealt[at] + change >= STEP_MINUTES:
            dealt[at] += change
        at = (at - 1) % len(dealt)
    return tuple(replace(step, minutes=time) for step, time in zip(steps, dealt, strict=True))
