"""A piece as plain values that JSON can hold, and back: the one form for the journal and the cache.

Columns of plain values, one entry a note; times are fractions written as text (``3/2``). A form of `VERSION` 1 as the
first journals hold it lacks the voice part (``sung``) and is read all the same; later ones know two singers at most and
keep the words of the second by themselves (``second_lyrics``).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from typing import Any

from trainer.music.keys import Key
from trainer.music.piece import VOICES_A_SINGER, Bar, KeyChange, Note, Piece, Singer, Verse, Word
from trainer.music.pitch import SpelledPitch

_HANDS = {"r": "right", "l": "left"}
_WORDS = ("title", "tempo", "composer", "origin", "source", "licence", "key_confidence")


def music(piece: Piece) -> dict[str, Any]:
    """Only what sounds and where it is written: notes, bars, keys. The identity of a piece is taken from this text."""
    return {
        **_columns(piece.notes),
        "bars": [[bar.number, str(bar.onset), str(bar.length), *bar.meter] for bar in piece.bars],
        "keys": [[str(change.onset), change.key.short] for change in piece.keys],
    }


def packed(piece: Piece) -> dict[str, Any]:
    """A whole piece; `unpacked` gives it back equal."""
    return {
        "id": [note.id for note in piece.notes],
        **music(piece),
        **{name: getattr(piece, name) for name in _WORDS},
        **({"poet": piece.poet} if piece.poet else {}),
        "tempi": [[str(onset), bpm] for onset, bpm in piece.tempi],
        "chords": _words(piece.chords),
        "lyrics": _words(piece.lyrics),
        "voice_line": list(piece.voice_line),
        "sung": {"id": [note.id for note in piece.sung], **_columns(piece.sung), **_signs(piece.sung)}
        if piece.sung
        else None,
        **({"singers": [_singer(one) for one in piece.singers]} if piece.singers else {}),
        **({"at_pitch": True} if piece.at_pitch else {}),
        **_symbols(piece.bars),
        **_singers_verses(piece.singers),
        **({"verses": _verses(piece.verses)} if piece.verses else {}),
        **({"directions": [_said(word) for word in piece.directions]} if piece.directions else {}),
        **_signs(piece.notes),
    }


def unpacked(kept: dict[str, Any]) -> Piece:
    """The piece that `packed` wrote.

    Raises
    ------
    MusicError, KeyError, ValueError, TypeError
        When the values are not such a piece.
    """
    sung = kept.get("sung")
    symbols = {at: symbol for first, end, symbol in kept.get("symbols", ()) for at in range(first, end)}
    return Piece(
        notes=_notes(kept),
        sung=_notes(sung) if sung else (),
        bars=tuple(
            Bar(number, _time(on), _time(length), (beats, unit), symbols.get(at, ""))
            for at, (number, on, length, beats, unit) in enumerate(kept["bars"])
        ),
        keys=tuple(KeyChange(_time(on), Key.parse(key)) for on, key in kept["keys"]),
        tempi=tuple((_time(on), bpm) for on, bpm in kept["tempi"]),
        chords=_read(kept["chords"]),
        lyrics=_read(kept["lyrics"]),
        verses=_sung(kept.get("verses", ())),
        singers=_singers(kept),
        voice_line=tuple(kept["voice_line"]),
        at_pitch=kept.get("at_pitch") is True,
        directions=tuple(Word(_time(on), *said) for on, *said in kept.get("directions", ())),
        poet=str(kept.get("poet", "")),
        **{name: kept[name] for name in _WORDS},
    )


def _symbols(bars: Sequence[Bar]) -> dict[str, Any]:
    """Stretches of bars whose meter is shown by a symbol: first, and after the last."""
    found: list[list[Any]] = []
    for at, bar in enumerate(bars):
        if bar.symbol and found and found[-1][1:] == [at, bar.symbol]:
            found[-1][1] += 1
        elif bar.symbol:
            found.append([at, at + 1, bar.symbol])
    return {"symbols": found} if found else {}


def _words(said: Sequence[Word]) -> list[list[str]]:
    return [[str(word.onset), word.text] for word in said]


def _singer(one: Singer) -> list[Any]:
    return [one.name, _words(one.words), one.at_pitch]


def _singers_verses(singers: Sequence[Singer]) -> dict[str, Any]:
    """By themselves, so that programs that know none read the rest."""
    found = [[at, _verses(one.verses)] for at, one in enumerate(singers) if one.verses]
    return {"singers_verses": found} if found else {}


def _verses(verses: Sequence[Verse]) -> list[Any]:
    return [[verse.number, _words(verse.words)] for verse in verses]


def _sung(kept: Sequence[Any]) -> tuple[Verse, ...]:
    return tuple(Verse(number, _read(words)) for number, words in kept)


def _read(kept: Sequence[Sequence[str]]) -> tuple[Word, ...]:
    return tuple(Word(_time(on), text) for on, text in kept)


def _singers(kept: dict[str, Any]) -> tuple[Singer, ...]:
    """Those who sing over the piano; of a form that knows two at most, the second by what it keeps of that line."""
    if "singers" in kept:
        verses = {at: _sung(said) for at, said in kept.get("singers_verses", ())}
        return tuple(
            Singer(name, _read(words), at_pitch is True, verses.get(at, ()))
            for at, (name, words, at_pitch) in enumerate(kept["singers"])
        )
    notes = kept.get("sung") or {"voice": ()}
    if max(notes["voice"], default=0) <= VOICES_A_SINGER:
        return ()
    first = Singer(at_pitch=kept.get("at_pitch") is True)
    return first, Singer("", _read(kept.get("second_lyrics", ())), kept.get("second_at_pitch") is True)


def _said(word: Word) -> list[str]:
    return [str(word.onset), word.text, *([word.place] if word.place else [])]


def _columns(notes: Sequence[Note]) -> dict[str, Any]:
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
    }


def _signs(notes: Sequence[Note]) -> dict[str, Any]:
    """Few notes have any."""
    found = {str(index): list(note.signs) for index, note in enumerate(notes) if note.signs}
    return {"signs": found} if found else {}


def _notes(kept: dict[str, Any]) -> tuple[Note, ...]:
    signs = {int(index): tuple(said) for index, said in kept.get("signs", {}).items()}
    return tuple(
        Note(name, _pitch(pitch), _time(onset), _time(length), _HANDS[hand], voice, finger, bool(grace),
             bool(optional), ornament, staff, signs.get(index, ()))
        for index, (name, pitch, onset, length, hand, voice, finger, grace, optional, ornament, staff) in enumerate(zip(
            kept["id"], kept["pitch"], kept["onset"], kept["length"], kept["hand"], kept["voice"], kept["finger"],
            kept["grace"], kept["optional"], kept["ornament"], kept["staff"], strict=True,
        ))
    )  # fmt: skip


# The same few pitches and times come again and again.
_pitch = cache(SpelledPitch.parse)
_time = cache(Fraction)
