"""The player's own fingers, kept as plain data.

``fingers.toml`` in the journal's folder::

    [[fingers]]
    player = "Ada"        # left out for who plays without a name
    piece = "Aura Lee"
    key = "Eb"            # the key to be played
    hand = "right"
    notes = [
        "bar 3, beat 2 1/2: A4 with 4",          # the note as the page has it
        "bar 4, beat 1, grace note: G4 with 2",
    ]

They hold wherever that bar is played, in every repeat, and for that player alone: hands differ.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.coaching.own.beats import BEAT, beat_of, beat_words, onsets_of, place_of
from trainer.hands.own import CROSSED, FULL, NOBODYS, WIDE, Lie, OwnFingers, Remark, lie, objection
from trainer.journal.values import NOBODY_NAMED
from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Piece
from trainer.music.pitch import MusicError, SpelledPitch, shortened
from trainer.scores.plain import LARGEST, Entry, blocks, read_plain, read_remembered, write_plain

if TYPE_CHECKING:
    from tomlkit import TOMLDocument
    from tomlkit.items import AoT

FILE = "fingers.toml"
_HEAD = "Fingers of your own, by the key they are played in; notes are named as the page has them. You may edit this."
_NOTE = re.compile(rf"bar (\d{{1,4}}), beat ({BEAT})(, grace note)?: (\S+) with ([1-5])")
# How a note is named.
Namer = Callable[[SpelledPitch], str]
_SHAPE = '"bar 3, beat 2 1/2: A4 with 4"'


def _words(pitch: SpelledPitch) -> str:
    return pitch.words


@dataclass(frozen=True, order=True)
class Line:
    """One line of a file: where, which note, which finger."""

    bar: int
    beat: Fraction
    grace: bool
    pitch: str
    finger: int

    @property
    def place(self) -> tuple[int, Fraction, bool, str]:
        return self.bar, self.beat, self.grace, self.pitch

    @property
    def text(self) -> str:
        grace = ", grace note" if self.grace else ""
        return f"bar {self.bar}, beat {beat_words(self.beat)}{grace}: {self.pitch} with {self.finger}"

    @classmethod
    def of(cls, piece: Piece, note: int, finger: int) -> Line:
        one = piece.notes[note]
        return cls(*place_of(piece, one.onset), one.grace, one.pitch.name, finger)

    @classmethod
    def parse(cls, text: object, where: str) -> Line:
        match = _NOTE.fullmatch(" ".join(text.split())) if isinstance(text, str) else None
        if match is None:
            raise MusicError(f"{where}: '{shortened(str(text))}' names no finger; write it like {_SHAPE}.")
        try:
            pitch = SpelledPitch.parse(match[4]).name
        except MusicError as error:
            raise MusicError(f"{where}: {error}") from error
        return cls(int(match[1]), beat_of(match[2], where), bool(match[3]), pitch, int(match[5]))

    def notes(self, piece: Piece, hand: str) -> Iterator[int]:
        """The notes it speaks of, in every repeat."""
        moments = piece.moments
        for onset in onsets_of(piece, self.bar, self.beat):
            at = bisect_left(moments, onset, key=attrgetter("onset"))
            for i in moments[at].notes if at < len(moments) and moments[at].onset == onset else ():
                note = piece.notes[i]
                if (note.hand, note.grace, note.pitch.name) == (hand, self.grace, self.pitch):
                    yield i


def load(folder: Path, piece: Piece, player: str = "") -> OwnFingers:
    """A player's own fingers for a piece, by its title.

    Raises
    ------
    MusicError
        Saying which entry is wrong.
    """
    by_key: dict[Lie, dict[int, int]] = {}
    for entry in _entries(read_remembered(folder / FILE) or {}, piece, player):
        key, hand = _key(entry), _hand(entry)
        up = above(piece, key)
        for one in _lines(entry):
            for note in one.notes(piece, hand):
                said = by_key.setdefault(lie(key), {})
                against = objection(piece, note, one.finger, said, up)
                if against is not None:
                    raise MusicError(f"{entry.where}, {one.text}: {refusal(piece, one.finger, against)}")
                said[note] = one.finger
    return OwnFingers(by_key) if by_key else NOBODYS


def above(piece: Piece, key: Key) -> int:
    """Semitones, 0 to 11, that a key to be played lies above the piece's own."""
    return (key.tonic.pitch_class - piece.key.tonic.pitch_class) % 12


def keep(folder: Path, piece: Piece, key: Key, note: int, finger: int, player: str = "") -> None:
    """Keep a finger for a note, as `keep_all` keeps several."""
    keep_all(folder, piece, key, {note: finger}, player)


def keep_all(folder: Path, piece: Piece, key: Key, fingers: Mapping[int, int], player: str = "") -> None:
    """Keep fingers for notes in a key to be played, in place of any said of them; finger 0 takes that away again.

    Whatever else stands in the file, comments too, is left as it is.

    Raises
    ------
    MusicError
        When a note cannot be played with its finger beside those said of the same chord, or the file cannot be read or
        written; then nothing is changed.
    """
    import tomlkit

    own = dict(load(folder, piece, player).of(key)) if any(fingers.values()) else {}
    for note, finger in fingers.items():
        against = objection(piece, note, finger, own, above(piece, key)) if finger else None
        if against is not None:
            raise MusicError(refusal(piece, finger, against))
        own[note] = finger
    document = read_plain(folder / FILE)
    if document is None:
        document = tomlkit.document()
        document.add(tomlkit.comment(_HEAD))
    every = blocks(document, "fingers")
    for note, finger in fingers.items():
        _put(every, document, piece, key, note, finger, player)
    if not every:
        # An empty list would be written as one.
        document.pop("fingers", None)
    text = tomlkit.dumps(document)
    if len(text.encode()) > LARGEST:
        raise MusicError(f"{FILE} holds as much as it can: take away fingers that are not wanted any more.")
    write_plain(folder / FILE, text)


def _put(every: AoT, document: TOMLDocument, piece: Piece, key: Key, note: int, finger: int, player: str) -> None:
    hand, new = piece.notes[note].hand, Line.of(piece, note, finger)
    here = [
        row
        for row, entry in zip(every, Entry.each(document, "fingers", FILE), strict=True)
        if _is_of(entry, piece, player) and lie(_key(entry)) == lie(key) and _hand(entry) == hand
    ]
    for row in here:
        lines = [Line.parse(text, FILE) for text in row["notes"]]
        for at in reversed([at for at, one in enumerate(lines) if one.place == new.place]):
            del row["notes"][at]
    if finger:
        if not here:
            every.append(_block(piece, key, hand, player))
            here = [every[-1]]
        lines = [Line.parse(text, FILE) for text in here[0]["notes"]]
        here[0]["notes"].insert(sum(one < new for one in lines), new.text)
        here[0]["notes"].multiline(True)
    for at in reversed([at for at, row in enumerate(every) if any(row is one for one in here) and not row["notes"]]):
        del every[at]


def alike(piece: Piece, note: int) -> tuple[int, ...]:
    """The note and the same note of every repeat: what is said of one is said of all."""
    return tuple(Line.of(piece, note, 0).notes(piece, piece.notes[note].hand))


def note_named(piece: Piece, text: str) -> tuple[int, int]:
    """The note that a line like ``bar 3, beat 2 1/2: A4 with 4`` names, and its finger, 0 where none is named.

    ``left hand,`` before it tells notes apart that both hands have.

    Raises
    ------
    MusicError
        When it names no note of the piece, or two.
    """
    match = re.fullmatch(r"(?:(right|left) hand, )?(.*?)( with [1-5])?", " ".join(text.split()))
    assert match is not None  # every part may be empty
    one = Line.parse(f"{match[2]}{match[3] or ' with 1'}", "A finger of your own")
    found = [note for hand in (RIGHT, LEFT) if match[1] in (None, hand) for note in one.notes(piece, hand)]
    if not found:
        raise MusicError(f"There is no {one.pitch} on beat {beat_words(one.beat)} of bar {one.bar}: look at the page.")
    if len({piece.notes[note].hand for note in found}) > 1:
        raise MusicError(f'Both hands have that {one.pitch}: begin with "right hand," or "left hand,".')
    return found[0], one.finger if match[3] else 0


def forget(folder: Path, player: str) -> None:
    """Take all fingers of a player who has left out of the file."""
    import tomlkit

    document = read_plain(folder / FILE)
    if document is None:
        return
    every = blocks(document, "fingers")
    entries = list(Entry.each(document, "fingers", FILE))
    theirs = [at for at, one in enumerate(entries) if is_by(one, player)]
    for at in reversed(theirs):
        del every[at]
    if not every:
        document.pop("fingers", None)
    if theirs:
        write_plain(folder / FILE, tomlkit.dumps(document))


def give_name(folder: Path, player: str) -> None:
    """Whoever said fingers without a name has one from now on."""
    import tomlkit

    document = read_plain(folder / FILE)
    if document is None:
        return
    every = blocks(document, "fingers")
    nameless = [at for at, one in enumerate(Entry.each(document, "fingers", FILE)) if is_by(one, "")]
    for at in nameless:
        row = tomlkit.table()
        row.update({"player": player, **{key: value for key, value in every[at].items() if key != "player"}})
        row.add(tomlkit.nl())
        every[at] = row
    if nameless:
        write_plain(folder / FILE, tomlkit.dumps(document))


def refusal(piece: Piece, finger: int, against: Remark, name: Namer = _words) -> str:
    """Why a finger cannot be, in a sentence; notes are named as the page has them."""
    if against.kind == FULL:
        return "No finger is left for this note: more than five keys lie under one hand."
    if against.other is None:
        return f"With {finger} here no finger is left for the other notes of the chord: choose one between."
    other = name(piece.notes[against.other].pitch)
    if against.kind == CROSSED:
        return f"With {finger} here the fingers of the chord would cross at {other}: change that one first."
    return f"{finger} is on {other} of the same chord: give that note another finger first."


def remarked(piece: Piece, note: int, finger: int, known: Remark, name: Namer = _words) -> str:
    """What is to be known of a finger that is kept, in a sentence; notes are named as the page has them."""
    assert known.other is not None
    other, here = name(piece.notes[known.other].pitch), name(piece.notes[note].pitch)
    if known.kind == WIDE:
        return f"From {other} to {here} that is wider than these fingers reach: roll it or let one go, never force it."
    return f"{finger} plays {other} beside it too: it has to slide or to leap."


def _entries(document: Any, piece: Piece, player: str) -> Iterator[Entry]:
    return (entry for entry in Entry.each(document, "fingers", FILE) if _is_of(entry, piece, player))


def _is_of(entry: Entry, piece: Piece, player: str) -> bool:
    return entry.text("piece").casefold() == piece.title.casefold() and is_by(entry, player)


def is_by(entry: Entry, player: str) -> bool:
    """Whether an entry is by that player."""
    # Who has given no name is "Player" in the journal.
    return _unnamed(entry.text("player", "")).casefold() == _unnamed(player).casefold()


def _unnamed(player: str) -> str:
    return "" if player == NOBODY_NAMED else player


def _key(entry: Entry) -> Key:
    try:
        return Key.parse(entry.text("key"))
    except MusicError as error:
        said = str(error)
        raise MusicError(said if said.startswith(entry.where) else f"{entry.where}: {said}") from error


def _hand(entry: Entry) -> str:
    hand = entry.text("hand")
    if hand not in (RIGHT, LEFT):
        raise MusicError(f'{entry.where}: hand must be "right" or "left".')
    return hand


def said(entry: Entry) -> tuple[Key, str, tuple[Line, ...]]:
    """The key an entry is for, its hand and its lines; `MusicError` when it is wrong."""
    return _key(entry), _hand(entry), tuple(_lines(entry))


def _lines(entry: Entry) -> list[Line]:
    rows = entry.table.get("notes")
    if not isinstance(rows, list):
        raise MusicError(f"{entry.where}: notes must be a list, like notes = [{_SHAPE}].")
    return [Line.parse(text, entry.where) for text in rows]


def _block(piece: Piece, key: Key, hand: str, player: str) -> Any:
    import tomlkit

    row = tomlkit.table()
    named = {"player": player} if _unnamed(player) else {}
    row.update({**named, "piece": piece.title, "key": key.short, "hand": hand, "notes": tomlkit.array()})
    row.add(tomlkit.nl())
    return row
