"""Everything in a take that was not right, line by line: what ``mark`` and ``journal show`` print."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from operator import itemgetter
from typing import NamedTuple

from trainer.following.marks import EXTRA, MISSED, RIGHT, Move, Settled, right_of
from trainer.listening.press import Press
from trainer.music.counted import many
from trainer.music.names import ENGLISH, keys_in
from trainer.music.piece import BOTH, Piece
from trainer.music.solfege import LA_BASED

_SEVERAL = 3  # notes left out of one bar by one hand that are told in one line (ours)


class Line(NamedTuple):
    """Where it happened, the code of the mark or move, and what a teacher would say of it."""

    place: str
    code: str
    words: str


def whole_take(settled: Settled, letters: str = ENGLISH) -> tuple[str, ...]:
    """What is true of the take as a whole, in sentences; where it lay, with how much of it was right there."""
    said = [keys_in(finding.words, letters) for finding in settled.findings]
    if settled.shift:
        right = right_of(settled.right_as_it_lay, len(settled.counted), len(settled.missed))
        said.append(f"Taken where it lay, {right} were right.")
    return tuple(said)


def lines(
    written: Piece,
    expected: Piece,
    presses: Sequence[Press],
    settled: Settled,
    *,
    minor: str = LA_BASED,
    letters: str = ENGLISH,
) -> Iterator[Line]:
    """All but right notes, and but what `whole_take` says of all, in the order it happened.

    What is one thing is one line: a stretch that lay elsewhere, notes doubled at the octave or gone past in a skip,
    what was left out of a bar.
    """
    from trainer.following.findings import meant
    from trainer.following.outside import false_start, keys_before
    from trainer.following.stretches import doubled, stretches
    from trainer.following.words import say, say_bar, say_doubled, say_place, say_stretch

    heard = meant(expected, settled.findings)
    runs = stretches(written, settled)
    told: list[tuple[float, Line]] = []
    for run in runs:
        words = say_stretch(run, written, heard, letters)
        told.append((presses[run.presses[0]].at, Line(_where(written, run.hand, run.notes), run.cause, words)))
    crowds = _crowds(written, presses, settled)
    told += crowds.lines
    said = crowds.presses.union(*(run.presses for run in runs))
    begun = false_start(written, presses, settled)
    if begun is not None:
        back, before = begun
        # What was not the piece yet is told once, with where it began.
        told = [one for one in told if one[0] >= back.at]
        said |= {mark.press for mark in settled.marks[:before]}
    elif found := keys_before(settled):
        # Who only found the key is told nothing of it.
        told = [one for one in told if one[0] >= presses[settled.marks[found.stop].press].at]
        said |= {mark.press for mark in settled.marks[: found.stop]}
    bar, twice = "", doubled(presses, settled)
    for mark in settled.marks:
        press = presses[mark.press]
        if mark.note is not None:
            bar = say_bar(written, written.notes[mark.note].onset)
        if mark.cause != RIGHT and mark.press not in said and not settled.is_of_all(mark):
            note = twice.get(mark.press, mark.note)
            place = say_place(written, note) if note is not None else bar
            if note is not None and mark.press in twice:
                words = say_doubled(note, written, heard, minor=minor, language=letters)
            else:
                words = say(settled.as_told(mark), written, heard, minor=minor, language=letters, pressed=press.pitch)
            told.append((press.at, Line(place, mark.cause, words)))
    told += _not_played(written, expected, presses, settled, begun, minor, letters)
    for _, line in sorted(told, key=lambda pair: pair[0]):
        yield line._replace(words=line.words.removeprefix(f"{line.place}: "))


def _where(written: Piece, hand: str, notes: Sequence[int]) -> str:
    from trainer.following.words import say_bars

    bars = say_bars(written, notes)
    return bars if hand == BOTH or len(written.hands) < 2 else f"{bars}, {hand} hand"


class _Crowds(NamedTuple):
    """Keys that answer no note and are told together: at which presses, and the lines with their times."""

    presses: frozenset[int]
    lines: list[tuple[float, Line]]


def _crowds(written: Piece, presses: Sequence[Press], settled: Settled) -> _Crowds:
    """Many keys in a row that answer no note, and many doubled at the octave."""
    from trainer.following.outside import keys_after
    from trainer.following.stretches import LONG, doubled
    from trainer.following.words import say_bar, say_bars

    twice = doubled(presses, settled)
    twice = twice if len(twice) >= LONG else {}
    said: set[int] = set(twice)
    told: list[tuple[float, Line]] = []
    if twice:
        words = f"{len(twice)} notes doubled at the octave"
        told.append((presses[min(twice)].at, Line(say_bars(written, [*twice.values()]), EXTRA, words)))
    after = keys_after(written, presses, settled)
    bar, row = "", list[int]()
    for mark in [*settled.marks, None]:
        if mark is not None and mark.cause == EXTRA and mark.press not in twice:
            row.append(mark.press)
            continue
        if len(row) >= LONG or (row and row[0] in after):
            said.update(row)
            place, words = (
                (bar, "that are not written here") if row[0] not in after else ("after the end", "of no note")
            )
            told.append((presses[row[0]].at, Line(place, EXTRA, f"{len(row)} keys {words}")))
        row = []
        if mark is not None and mark.note is not None:
            bar = say_bar(written, written.notes[mark.note].onset)
    return _Crowds(frozenset(said), told)


def _not_played(
    written: Piece,
    expected: Piece,
    presses: Sequence[Press],
    settled: Settled,
    begun: tuple[Move, int] | None,
    minor: str,
    letters: str,
) -> Iterator[tuple[float, Line]]:
    """Moves and notes left out: those gone past in a skip with the skip, several of one hand in one bar together."""
    from trainer.following.stretches import gone_past
    from trainer.following.words import say_bar, say_left_out, say_missed, say_move, say_place

    due = _due(presses, settled)
    past = dict(gone_past(written, settled))
    for move in settled.moves:
        if begun is not None and move.at <= begun[0].at:
            if move == begun[0]:
                yield move.at, Line("before the beginning", move.kind, f"{begun[1]} keys, then begun again")
            continue
        words, count = say_move(move, written), len(past.get(move, ()))
        words += f", {many(count, 'note')} left out" if count else ""
        yield move.at, Line(say_bar(written, written.notes[move.goal].onset), move.kind, words)
    skipped = {note for notes in past.values() for note in notes}
    bars: dict[tuple[int, str], list[int]] = {}
    for note in settled.missed:
        if note not in skipped:
            one = written.notes[note]
            bars.setdefault((written.bar_index(one.onset), one.hand), []).append(note)
    for notes in bars.values():
        place = say_place(written, notes[0])
        if len(notes) >= _SEVERAL:
            yield due(notes[0]), Line(place, MISSED, say_left_out(notes, expected, minor=minor))
            continue
        for note in notes:
            words = say_missed(note, written, expected, minor=minor, language=letters)
            yield due(note), Line(place, MISSED, words)


def _due(presses: Sequence[Press], settled: Settled) -> Callable[[int], float]:
    """When a note that nobody played was due: with the press before it in the piece."""
    played = sorted((mark.note, presses[mark.press].at) for mark in settled.marks if mark.note is not None)

    def due(note: int) -> float:
        at = bisect_right(played, note, key=itemgetter(0))
        return played[at - 1][1] if at else 0.0

    return due
