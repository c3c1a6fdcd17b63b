"""What a take and a piece look like in the journal's file: JSON columns, compressed.

Everything here can be read with two standard tools, zlib and JSON; DEVELOPERS.md lists the columns. A list of rows is
turned on its side, one list a column, and times are kept as differences in whole microseconds, because that packs to
about ten bytes a press. zlib's own check sum (RFC 1950) tells a damaged row from a good one.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from trainer.following.marks import CAUSES, RIGHT, Finding, Mark, Move, Settled
from trainer.journal.columns import NO_NOTE, Columns
from trainer.journal.errors import JournalError
from trainer.listening.press import Event, Pedal, Press, Release
from trainer.music import packed
from trainer.music.piece import Piece

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

PRESS, RELEASE = 0, 1
PEDALS = ("sustain", "sostenuto", "soft")  # kinds 2, 3, 4
_PROBABILITY = 10_000
_NAMES = {cause: cause for cause in CAUSES}
_NOTHING = Mark(0, None, RIGHT)
# In bytes, unpacked; eight hours of playing without a rest have some ten million.
LARGEST = 40_000_000
DAMAGED = "A take in the journal is damaged and cannot be read: erase it, or restore the backup."


def event_row(event: Event) -> tuple[int, int, int, int]:
    """(microseconds, kind, pitch or 0, velocity or pedal value)."""
    at = round(event.at * 1e6)
    if isinstance(event, Press):
        return at, PRESS, event.pitch, event.velocity
    if isinstance(event, Release):
        return at, RELEASE, event.pitch, 0
    return at, 2 + PEDALS.index(event.pedal), 0, event.value


def event_of(at: int, kind: int, pitch: int, value: int) -> Event:
    """The event of a row."""
    if kind == PRESS:
        return Press(at / 1e6, pitch, value)
    if kind == RELEASE:
        return Release(at / 1e6, pitch)
    return Pedal(at / 1e6, PEDALS[kind - 2], value)


def squeezed(value: Any) -> bytes:
    """JSON without spaces, through zlib."""
    return zlib.compress(json.dumps(value, separators=(",", ":"), ensure_ascii=False).encode(), 6)


def opened(blob: bytes) -> Any:
    """What `squeezed` packed; `JournalError` when the bytes are damaged."""
    try:
        opener = zlib.decompressobj()
        data = opener.decompress(blob, LARGEST)
        if not opener.eof:
            raise ValueError("cut off, or a trap")
        return json.loads(data)
    except (zlib.error, ValueError, TypeError, RecursionError) as why:
        raise JournalError(DAMAGED) from why


def is_whole(blob: bytes) -> bool:
    """Whether packed bytes can be opened, by their own check sum."""
    try:
        zlib.decompress(blob)
    except (zlib.error, TypeError):
        return False
    return True


def pack_events(rows: Iterable[tuple[int, int, int, int]]) -> bytes:
    """Event rows in time order as columns ``t`` (differences), ``k``, ``p``, ``v``."""
    kept = list(rows)
    times = [row[0] for row in kept]
    return squeezed(
        {
            "t": _steps(times),
            "k": "".join(str(row[1]) for row in kept),
            "p": [row[2] for row in kept],
            "v": [row[3] for row in kept],
        }
    )


def unpack_events(blob: bytes) -> tuple[Event, ...]:
    """The events of a take, in order."""
    columns = opened(blob)
    at = 0
    found = []
    for step, kind, pitch, value in zip(columns["t"], columns["k"], columns["p"], columns["v"], strict=True):
        at += step
        found.append(event_of(at, int(kind), pitch, value))
    return tuple(found)


def _steps(numbers: Sequence[int]) -> list[int]:
    return [b - a for a, b in zip([0, *numbers], numbers, strict=False)]


def _sums(steps: Iterable[int]) -> list[int]:
    at, found = 0, []
    for step in steps:
        at += step
        found.append(at)
    return found


def _note_steps(marks: Sequence[Mark]) -> list[int | None]:
    """Notes as differences from the note named before, so that clean playing is a row of ones; None stays None."""
    before = 0
    found: list[int | None] = []
    for mark in marks:
        if mark.note is None:
            found.append(None)
        else:
            found.append(mark.note - before)
            before = mark.note
    return found


def _notes(steps: Iterable[int | None]) -> list[int | None]:
    before = 0
    found: list[int | None] = []
    for step in steps:
        if step is None:
            found.append(None)
        else:
            before += step
            found.append(before)
    return found


def _mark_columns(marks: Sequence[Mark]) -> dict[str, Any]:
    return {
        "n": _note_steps(marks),
        "c": [mark.cause for mark in marks],
        "p": [round(mark.probability * _PROBABILITY) for mark in marks],
        "o": [mark.offset for mark in marks],
        # Only slips have other causes worth keeping: press -> [[cause, probability] ...].
        "a": {
            str(at): [[cause, round(p * _PROBABILITY)] for cause, p in mark.others]
            for at, mark in enumerate(marks)
            if mark.others
        },
    }


def _marks(columns: dict[str, Any]) -> tuple[Mark, ...]:
    others = _others(columns)
    return tuple(
        Mark(at, note, cause, probability / _PROBABILITY, others.get(at, ()), offset)
        for at, (note, cause, probability, offset) in enumerate(
            zip(_notes(columns["n"]), columns["c"], columns["p"], columns["o"], strict=True)
        )
    )


def _others(columns: dict[str, Any]) -> dict[int, tuple[tuple[str, float], ...]]:
    return {int(at): tuple((cause, p / _PROBABILITY) for cause, p in kept) for at, kept in columns["a"].items()}


def _first(kept: dict[str, Any], first: list[Mark]) -> None:
    """Put the first marks that said something else into a list of the final ones."""
    for press, note, cause, probability, offset in kept["first"]:
        first[press] = Mark(press, note, cause, probability / _PROBABILITY, (), offset)


def _moves(kept: dict[str, Any]) -> tuple[Move, ...]:
    return tuple(Move(kind, at / 1e6, origin, goal, s / 1e6) for kind, at, origin, goal, s in kept["moves"])


def _findings(kept: dict[str, Any]) -> tuple[Finding, ...]:
    return tuple(Finding(kind, words, semitones) for kind, words, semitones in kept["findings"])


def _span(kept: dict[str, Any], marks: int) -> tuple[int, int] | None:
    """Which of the marks count; None in takes of which all do, as in those kept before this was told."""
    if "span" not in kept:
        return None
    (first, end), _ = _whole(kept["span"], (0, marks))
    if not 0 <= first < end <= marks:
        raise ValueError("what counts of a take is not in it")
    return int(first), int(end)


def pack_verdicts(first: Sequence[Mark], settled: Settled) -> bytes:
    """First and final marks, missed notes, moves and findings.

    Of the first marks only those are kept that said something else than the final ones: press, note, cause,
    probability, offset.
    """
    others = [
        [one.press, one.note, one.cause, round(one.probability * _PROBABILITY), one.offset]
        for one, final in zip(first, settled.marks, strict=True)
        if (one.note, one.cause, one.offset) != (final.note, final.cause, final.offset)
    ]
    return squeezed(
        {
            "first": others,
            "final": _mark_columns(settled.marks),
            "missed": _steps(settled.missed),
            "moves": [[m.kind, round(m.at * 1e6), m.origin, m.goal, round(m.seconds * 1e6)] for m in settled.moves],
            "findings": [[f.kind, f.words, f.semitones] for f in settled.findings],
            **({"span": settled.span} if settled.span is not None else {}),
        }
    )


def unpack_verdicts(blob: bytes) -> tuple[tuple[Mark, ...], Settled]:
    """(first marks, settled)."""
    kept = opened(blob)
    final = _marks(kept["final"])
    first = list(final)
    _first(kept, first)
    missed, span = tuple(_sums(kept["missed"])), _span(kept, len(final))
    return tuple(first), Settled(final, missed, _moves(kept), _findings(kept), span)


def unpack_columns(events: bytes, verdicts: bytes) -> Columns:
    """What is counted of a take, without making a value of every event and mark: for merging years of takes.

    Raises
    ------
    JournalError, ValueError, KeyError, TypeError, IndexError, OverflowError
        When the rows are not as this program writes them, in whatever column.
    """
    import numpy as np

    heard, kept = opened(events), opened(verdicts)
    kinds = np.frombuffer(heard["k"].encode("ascii"), np.uint8) - ord("0")
    times, _, _ = _whole(heard["t"], heard["p"], heard["v"])
    if len(kinds) != len(times) or np.any(kinds >= 2 + len(PEDALS)):
        raise ValueError("events of unequal columns or of an unknown kind")
    final = kept["final"]
    none = [at for at, step in enumerate(final["n"]) if step is None]
    steps, offsets, _ = _whole([step or 0 for step in final["n"]] if none else final["n"], final["o"], final["p"])
    notes = np.cumsum(steps)
    notes[none] = NO_NOTE
    causes = [_NAMES[cause] for cause in final["c"]]
    missed, elsewhere = _sums(kept["missed"]), Settled((), (), (), _findings(kept)).shift != 0
    found = Columns(np.cumsum(times)[kinds == PRESS] / 1e6, notes, causes, offsets, missed, elsewhere)
    span = _span(kept, len(notes))
    # Nothing of these is counted, but a row in which they are garbled is damaged.
    _others(final)
    _first(kept, [_NOTHING] * len(notes))
    _moves(kept)
    return found if span is None else found.part(*span)


def _whole(*columns: Sequence[int]) -> NDArray[np.int64]:
    """Columns of whole numbers, all of one length."""
    import numpy as np

    found = np.array(columns)
    if found.ndim != 2 or (found.dtype.kind != "i" and found.size):
        raise ValueError("not columns of whole numbers")
    return found.astype(np.int64, copy=False)


def piece_key(piece: Piece) -> str:
    """The identity of a piece's music, 32 hexadecimal digits: the same notes, bars and keys under any title.

    Raises nothing; two files of one piece that differ only in title or note ids are the same music.
    """
    text = json.dumps(packed.music(piece), separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def pack_piece(piece: Piece) -> bytes:
    """A whole piece, so that a take can be shown and marked again without its file."""
    return squeezed(packed.packed(piece))


def unpack_piece(blob: bytes) -> Piece:
    """The piece of `pack_piece`."""
    return packed.unpacked(opened(blob))
