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
from fractions import Fraction
from typing import Any

from trainer.following.marks import Finding, Mark, Move, Settled
from trainer.journal.errors import JournalError
from trainer.listening.press import Event, Pedal, Press, Release
from trainer.music.keys import Key
from trainer.music.piece import Bar, KeyChange, Note, Piece, Word
from trainer.music.pitch import SpelledPitch

PRESS, RELEASE = 0, 1
PEDALS = ("sustain", "sostenuto", "soft")  # kinds 2, 3, 4
_PROBABILITY = 10_000
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
    others = columns["a"]
    return tuple(
        Mark(
            at,
            note,
            cause,
            probability / _PROBABILITY,
            tuple((other, p / _PROBABILITY) for other, p in others.get(str(at), ())),
            offset,
        )
        for at, (note, cause, probability, offset) in enumerate(
            zip(_notes(columns["n"]), columns["c"], columns["p"], columns["o"], strict=True)
        )
    )


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
        }
    )


def unpack_verdicts(blob: bytes) -> tuple[tuple[Mark, ...], Settled]:
    """(first marks, settled)."""
    kept = opened(blob)
    final = _marks(kept["final"])
    first = list(final)
    for press, note, cause, probability, offset in kept["first"]:
        first[press] = Mark(press, note, cause, probability / _PROBABILITY, (), offset)
    return tuple(first), Settled(
        final,
        tuple(_sums(kept["missed"])),
        tuple(Move(kind, at / 1e6, origin, goal, s / 1e6) for kind, at, origin, goal, s in kept["moves"]),
        tuple(Finding(kind, words, semitones) for kind, words, semitones in kept["findings"]),
    )


def _music(piece: Piece) -> dict[str, Any]:
    """The music of a piece, columns of plain values; fractions as text."""
    notes, bars = piece.notes, piece.bars
    return {
        "pitch": [note.pitch.name for note in notes],
        "onset": [str(note.onset) for note in notes],
        "length": [str(note.length) for note in notes],
        "hand": "".join(note.hand[0] for note in notes),
        "voice": [note.voice for note in notes],
        "finger": [note.finger for note in notes],
        "grace": [int(note.grace) for note in notes],
        "optional": [int(note.optional) for note in notes],
        "ornament": [note.ornament for note in notes],
        "staff": [note.staff for note in notes],
        "bars": [[bar.number, str(bar.onset), str(bar.length), *bar.meter] for bar in bars],
        "keys": [[str(change.onset), change.key.short] for change in piece.keys],
    }


def piece_key(piece: Piece) -> str:
    """The identity of a piece's music, 32 hexadecimal digits: the same notes, bars and keys under any title.

    Raises nothing; two files of one piece that differ only in title or note ids are the same music.
    """
    text = json.dumps(_music(piece), separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def pack_piece(piece: Piece) -> bytes:
    """A whole piece, so that a take can be shown and marked again without its file."""
    about = {
        "title": piece.title,
        "composer": piece.composer,
        "origin": piece.origin,
        "source": piece.source,
        "licence": piece.licence,
        "tempo": piece.tempo,
        "tempi": [[str(onset), bpm] for onset, bpm in piece.tempi],
        "key_confidence": piece.key_confidence,
        "chords": [[str(word.onset), word.text] for word in piece.chords],
        "lyrics": [[str(word.onset), word.text] for word in piece.lyrics],
        "voice_line": list(piece.voice_line),
    }
    return squeezed({"id": [note.id for note in piece.notes], **_music(piece), **about})


def unpack_piece(blob: bytes) -> Piece:
    """The piece of `pack_piece`."""
    kept = opened(blob)
    hands = {"r": "right", "l": "left"}
    columns = (kept[name] for name in ("id", "pitch", "onset", "length", "hand", "voice", "finger"))
    flags = (kept[name] for name in ("grace", "optional", "ornament", "staff"))
    notes = tuple(
        Note(
            id=name,
            pitch=SpelledPitch.parse(pitch),
            onset=Fraction(onset),
            length=Fraction(length),
            hand=hands[hand],
            voice=voice,
            finger=finger,
            grace=bool(grace),
            optional=bool(optional),
            ornament=ornament,
            staff=staff,
        )
        for name, pitch, onset, length, hand, voice, finger, grace, optional, ornament, staff in zip(
            *columns, *flags, strict=True
        )
    )
    return Piece(
        title=kept["title"],
        notes=notes,
        bars=tuple(
            Bar(number, Fraction(on), Fraction(length), (n, unit)) for number, on, length, n, unit in kept["bars"]
        ),
        keys=tuple(KeyChange(Fraction(on), Key.parse(key)) for on, key in kept["keys"]),
        tempo=kept["tempo"],
        tempi=tuple((Fraction(on), bpm) for on, bpm in kept["tempi"]),
        composer=kept["composer"],
        origin=kept["origin"],
        source=kept["source"],
        licence=kept["licence"],
        key_confidence=kept["key_confidence"],
        chords=tuple(Word(Fraction(on), text) for on, text in kept["chords"]),
        lyrics=tuple(Word(Fraction(on), text) for on, text in kept["lyrics"]),
        voice_line=tuple(kept["voice_line"]),
    )
