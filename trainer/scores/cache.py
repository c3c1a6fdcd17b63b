"""Parsed pieces and engraved pages kept on disk by content, as JSON; never as code."""

from __future__ import annotations

import hashlib
import json
import os
import zlib
from fractions import Fraction
from pathlib import Path
from typing import Any

from trainer.music.keys import Key
from trainer.music.piece import Bar, KeyChange, Note, Piece, Word
from trainer.music.pitch import SpelledPitch

# Raised whenever reading changes what a file gives, so that old readings are not believed.
VERSION = 2
_MOST_BYTES = 300_000_000


def folder() -> Path:
    """The cache folder: ``$KEYFARER_HOME/cache``, else the platform's."""
    home = os.environ.get("KEYFARER_HOME")
    if home:
        return Path(home) / "cache"
    from platformdirs import user_cache_path

    return user_cache_path("keyfarer", appauthor=False)


def name_for(kind: str, *parts: bytes | str) -> str:
    """A file name that stands for exactly this content and these options."""
    digest = hashlib.blake2b(f"{kind} {VERSION}".encode(), digest_size=20)
    for part in parts:
        data = part.encode() if isinstance(part, str) else part
        digest.update(len(data).to_bytes(8, "big") + data)
    return f"{kind}-{digest.hexdigest()}"


def fetch(name: str) -> Any | None:
    """What was kept under a name, or None. A damaged entry counts as none."""
    try:
        return json.loads(zlib.decompress((folder() / name).read_bytes()))
    except (OSError, ValueError, zlib.error):
        return None


def keep(name: str, value: Any) -> None:
    """Keep a JSON value. Where the disk does not allow it, nothing is kept and nothing is said."""
    keep_bytes(name, zlib.compress(json.dumps(value, separators=(",", ":")).encode(), 1))


def keep_bytes(name: str, data: bytes) -> None:
    """Write whole or not at all, so that two programs may share the folder."""
    place = folder()
    try:
        place.mkdir(parents=True, exist_ok=True)
        draft = place / f"{name}.{os.getpid()}.draft"
        draft.write_bytes(data)
        draft.replace(place / name)
    except OSError:
        return


def tidy() -> None:
    """Drop the oldest entries once the folder passes its size."""
    try:
        entries = sorted((entry.stat().st_mtime, entry.stat().st_size, entry) for entry in folder().iterdir())
        total = sum(size for _, size, _ in entries)
        for _, size, entry in entries:
            if total <= _MOST_BYTES:
                break
            entry.unlink(missing_ok=True)
            total -= size
    except OSError:
        return


def packed(piece: Piece) -> dict[str, Any]:
    """A piece as plain JSON values; `unpacked` gives it back equal."""
    return {
        "notes": [_note(note) for note in piece.notes],
        "sung": [_note(note) for note in piece.sung],
        "bars": [[bar.number, *_pair(bar.onset), *_pair(bar.length), *bar.meter] for bar in piece.bars],
        "keys": [[*_pair(change.onset), change.key.letter, change.key.alteration, change.key.mode]
                 for change in piece.keys],
        "tempi": [[*_pair(onset), tempo] for onset, tempo in piece.tempi],
        "chords": [[*_pair(word.onset), word.text] for word in piece.chords],
        "lyrics": [[*_pair(word.onset), word.text] for word in piece.lyrics],
        "voice_line": list(piece.voice_line),
        "words": {name: getattr(piece, name) for name in _PLAIN},
    }  # fmt: skip


_PLAIN = ("title", "tempo", "composer", "origin", "source", "licence", "key_confidence")


def unpacked(value: dict[str, Any]) -> Piece:
    """The piece that `packed` wrote."""
    pitches: dict[tuple[str, int, int], SpelledPitch] = {}
    times: dict[tuple[int, int], Fraction] = {}

    def time(top: int, bottom: int) -> Fraction:
        found = times.get((top, bottom))
        if found is None:
            found = times[top, bottom] = Fraction(top, bottom)
        return found

    def note(row: list[Any]) -> Note:
        spelled = (row[1], row[2], row[3])
        pitch = pitches.get(spelled)
        if pitch is None:
            pitch = pitches[spelled] = SpelledPitch(*spelled)
        return Note(row[0], pitch, time(row[4], row[5]), time(row[6], row[7]), row[8], row[9], row[10],
                    bool(row[11]), bool(row[12]), row[13], row[14])  # fmt: skip

    return Piece(
        notes=tuple(note(row) for row in value["notes"]),
        sung=tuple(note(row) for row in value["sung"]),
        bars=tuple(Bar(n, time(a, b), time(c, d), (beats, unit)) for n, a, b, c, d, beats, unit in value["bars"]),
        keys=tuple(KeyChange(time(a, b), Key(letter, alter, mode)) for a, b, letter, alter, mode in value["keys"]),
        tempi=tuple((time(a, b), tempo) for a, b, tempo in value["tempi"]),
        chords=tuple(Word(time(a, b), text) for a, b, text in value["chords"]),
        lyrics=tuple(Word(time(a, b), text) for a, b, text in value["lyrics"]),
        voice_line=tuple(value["voice_line"]),
        **value["words"],
    )


def _pair(time: Fraction) -> tuple[int, int]:
    return time.numerator, time.denominator


def _note(note: Note) -> list[Any]:
    return [note.id, note.pitch.letter, note.pitch.alteration, note.pitch.octave, *_pair(note.onset),
            *_pair(note.length), note.hand, note.voice, note.finger, int(note.grace), int(note.optional),
            note.ornament, note.staff]  # fmt: skip
