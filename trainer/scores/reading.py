"""Any music file to a piece."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from trainer.music.keys import Key
from trainer.music.packed import packed, unpacked
from trainer.music.piece import KeyChange, Piece
from trainer.music.pitch import MusicError
from trainer.scores import cache, guarding
from trainer.scores.notation.choir import MOST_SUNG
from trainer.scores.notation.written import Score

PARTS = ("piano", "voice", "all")


def read(path: str | Path, *, key: Key | None = None, parts: str = "piano") -> Piece:
    """Read MusicXML, .mxl, a Standard MIDI File, ABC or Humdrum; told apart by content, never by name.

    Parameters
    ----------
    key : Key or None
        The written key, where the player knows better than the file (a MIDI file's is found by key-finding and its
        notes are spelled to match).
    parts : {"piano", "voice", "all"}
        What to play of a song with a voice part over a piano part: the piano (the voices are kept in `Piece.sung`),
        the voice alone, or everything.

    Raises
    ------
    MusicError
        In one sentence, when the file is missing, damaged, too large, not music or a trap.
    """
    if parts not in PARTS:
        raise MusicError(f"'{parts}' is no choice of parts: use {', '.join(PARTS)}.")
    place = Path(path)
    return read_bytes(guarding.load(place), place.name, key=key, parts=parts)


def read_bytes(data: bytes, name: str, *, key: Key | None = None, parts: str = "piano", called: str = "") -> Piece:
    """As `read`, of what a file of that name holds; it is `called` otherwise in what is said when it fails."""
    entry = cache.name_for("piece", data, parts, key.short if key else "", name)
    kept = cache.fetch(entry)
    if kept is not None:
        try:
            return unpacked(kept)
        except (KeyError, TypeError, ValueError, AttributeError):
            pass  # an entry of another make: read afresh
    piece = from_bytes(data, called or name, key=key, parts=parts)
    cache.keep(entry, packed(piece))
    return piece


def is_transposing(path: str | Path) -> bool:
    """Whether a file says that what is written in it sounds elsewhere; `read` then gives what sounds."""
    place = Path(path)
    content = guarding.recognise(guarding.load(place), place.name)
    moves = {
        guarding.MUSICXML: r"<(?:\w+:)?(?:chromatic|octave-change)>\s*[+-]?0*[1-9]",
        guarding.ABC: r"\btranspose=[+-]?0*[1-9]",
    }
    return content.kind in moves and re.search(moves[content.kind], content.text) is not None


def left_out(path: str | Path) -> str:
    """What of a file `read` leaves out or guesses, a sentence each: parts of a score for many, the bars of a recording,
    parts of a great choir, verses, further tunes; empty where it is whole.
    """
    from trainer.scores.notation.parting import choose, lines_of
    from trainer.scores.notation.players import others_left_out
    from trainer.scores.notation.verses import MOST_VERSES

    place = Path(path)
    content = guarding.recognise(guarding.load(place), place.name)
    if content.kind == guarding.MIDI:
        return _guessed(content.data, place.name)
    parts = _score(content, place.name).parts
    said = [others_left_out(parts, place.name)]
    lines = lines_of(choose(parts, "piano")[1])
    if len(lines) > MOST_SUNG:
        said.append(_unshown(place.name, len(lines)))
    verses = max((len(bar.lyrics) for part in parts for bar in part.bars), default=0)
    if verses > MOST_VERSES + 1:
        read = MOST_VERSES + 1
        said.append(
            f"'{place.name}' has {verses} verses, of which {read} are read: keep the words of the others at hand."
        )
    heads = {guarding.ABC: r"^X:", guarding.HUMDRUM: r"^\*\*\w+(?:\t\*\*\w+)*\s*$"}
    count = len(re.findall(heads[content.kind], content.text, re.MULTILINE)) if content.kind in heads else 1
    if count > 1:
        how = (
            "'keyfarer shelf bring' with this file puts each on the shelf as a piece of its own."
            if content.kind == guarding.ABC
            else "save each of the others in a file of its own."
        )
        said.append(f"'{place.name}' holds {count} tunes and the first is read: {how}")
    return " ".join(filter(None, said))


def _unshown(name: str, lines: int) -> str:
    return f"'{name}' has {lines} sung parts, of which {MOST_SUNG} are shown over the piano: keep the score at hand."


def _guessed(data: bytes, name: str) -> str:
    from trainer.scores.midi.midi import is_free, others_left_out, sung_parts

    lines = sung_parts(data)
    said = [others_left_out(data, name), _unshown(name, lines) if lines > MOST_SUNG else ""]
    if is_free(data) and not any(said):
        said.append(
            f"'{name}' was played freely and knows no beats, so its bars and note values are guesses: for a page to "
            "read, export the piece from a notation program."
        )
    return " ".join(filter(None, said))


def from_bytes(data: bytes, name: str, *, key: Key | None = None, parts: str = "piano") -> Piece:
    """Read a file's content; `name` is for the title of untitled music and for what is said when it fails."""
    content = guarding.recognise(data, name)
    if content.kind == guarding.MIDI:
        from trainer.scores.midi.midi import from_midi

        piece = from_midi(content.data, name, key)
    else:
        from trainer.scores.notation.assembling import to_piece

        piece = to_piece(_score(content, name), name, parts)
        if key is not None:
            piece = in_key(piece, key)
    return piece if piece.title else replace(piece, title=title_from(name))


def _score(content: guarding.Content, name: str) -> Score:
    """The document as written, whichever of the text formats it is in."""
    if content.kind == guarding.ABC:
        from trainer.scores.abc import abctune

        return abctune.parse(content.text, name)
    if content.kind == guarding.HUMDRUM:
        from trainer.scores.humdrum import humdrum

        return humdrum.parse(content.text, name)
    from trainer.scores.musicxml.musicxml import parse

    return parse(content.text, name)


def title_from(name: str) -> str:
    """A readable title from a file name; what of it is no text becomes a question mark."""
    name = name.encode(errors="replace").decode()
    stem = re.sub(r"(\.(musicxml|xml|mxl|midi?|abc|krn|kar|smf))+$", "", name, flags=re.IGNORECASE)
    words = re.sub(r"[_\s]+", " ", stem).strip() or "Untitled"
    return words[0].upper() + words[1:]


def in_key(piece: Piece, key: Key) -> Piece:
    """The same notes, read as standing in `key` at the start; a passage with the same signature keeps its notes."""
    first = piece.key
    if key == first:
        return replace(piece, key_confidence=1.0)
    changes = []
    for index, change in enumerate(piece.keys):
        if index == 0 or (change.key == first and key.signature == first.signature):
            changes.append(KeyChange(change.onset, key))
        else:
            changes.append(change)
    return replace(piece, keys=tuple(changes), key_confidence=1.0)
