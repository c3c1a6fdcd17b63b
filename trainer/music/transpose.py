"""A piece and a key make the piece expected."""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.music.chordsymbol import transposed_symbol
from trainer.music.keys import MAX_ACCIDENTALS, Key
from trainer.music.piece import KeyChange, Note, Piece
from trainer.music.pitch import SIGNS, Interval, MusicError, SpelledPitch

NEAREST = "nearest"
UP = "up"
DOWN = "down"
OCTAVES = (NEAREST, UP, DOWN)
OCTAVE = Interval(7, 12)
_FURTHEST = 24
# What is said of moves besides perfect, major and minor intervals, and the letters that semitones usually span.
_SAID = ("A1", "A4", "d5", "A11", "d12")
_USUAL_STEPS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)


@dataclass(frozen=True)
class Transposition:
    """How a piece is to be moved.

    Parameters
    ----------
    written, target : Key
    interval : Interval
        Spelled and signed; applied to every note.
    note : str
        What should be said to the player about the choice, or empty.
    """

    written: Key
    target: Key
    interval: Interval
    note: str = ""

    @property
    def words(self) -> str:
        """As a musician says it: ``down a minor third``, ``up a chromatic semitone``.

        Where a key is spelled otherwise than the usual interval would have it, the interval is said as it sounds:
        nobody says that B major lies a diminished third below D flat.

        >>> plan(Key.parse("Db"), "B").words, plan(Key.parse("Db"), "Bb").words
        ('down a major second, respelled', 'down a minor third')
        """
        short, way = self.interval.short[1:], "down" if self.interval.is_down else "up"
        octaves, semitones = divmod(abs(self.interval.semitones), 12)
        if short[0] in "PMm" or short in _SAID:
            return self.interval.words
        if short == "A8":
            return f"{way} an octave and a chromatic semitone"
        if not self.interval.semitones:
            return "on the same keys, respelled"
        return f"{way} {Interval(_USUAL_STEPS[semitones] + 7 * octaves, abs(self.interval.semitones)).plain}, respelled"


def interval_between(written: Key, target: Key, octave: str = NEAREST) -> Interval:
    """The spelled interval that takes the written tonic to the target tonic.

    `octave` is ``nearest`` (at most six semitones; a tritone goes down), ``up`` (at or above the written) or
    ``down``. Between equal keys the interval is the unison for every choice.
    """
    up = target.tonic - written.tonic
    while up.semitones < 0:
        up = up + OCTAVE
    while up.semitones >= 12:
        up = up + -OCTAVE
    if octave == UP or up.semitones == 0:
        return up
    if octave == DOWN or up.semitones >= 6:
        return up + -OCTAVE
    return up


def plan(written: Key, wish: str, octave: str = NEAREST) -> Transposition:
    """Read what the player asked for: a key, a signed number of semitones, or a signed interval.

    A key of the other mode names its tonic only, for transposing keeps the mode; the `note` says so. A number names no
    spelling: it leads to the key with the fewest accidentals (`by_semitones`).

    Parameters
    ----------
    wish : str
        ``Eb``, ``f#``, ``F# minor``; ``-3``, ``+0``; ``-m3``, ``+P4``.
    octave : str
        Only for keys: ``nearest``, ``up`` or ``down``.

    Raises
    ------
    MusicError
        When the wish cannot be read, or lies more than two octaves away.
    """
    if octave not in OCTAVES:
        raise MusicError(f"'{octave}' is not an octave choice: use nearest, up or down.")
    text = wish.strip()
    if re.fullmatch(r"[+-]\d+", text):
        semitones = int(text)
        if abs(semitones) > _FURTHEST:
            raise MusicError(f"{text} semitones is further than two octaves: choose between -24 and +24.")
        return by_semitones(written, semitones)
    if re.fullmatch(r"[+-](?:P|M|m|A{1,3}|d{1,3})\d+", text):
        interval = Interval.parse(text)
        if abs(interval.semitones) > _FURTHEST:
            raise MusicError(f"{text} is further than two octaves: choose a smaller interval.")
        return _named(written, interval)
    target = Key.parse(text)
    if target.full_mode != written.full_mode:
        own = replace(target, mode=written.mode, church=written.church)
        own = own if abs(own.signature) <= MAX_ACCIDENTALS else own.respelled()
        said = f"The piece is in {written.name} and transposing keeps the mode, so '{text}' is taken as {own.name}."
        return Transposition(written, own, interval_between(written, own, octave), said)
    return Transposition(written, target, interval_between(written, target, octave))


def by_semitones(written: Key, semitones: int) -> Transposition:
    """The move by some semitones into whichever key they lead to that has the fewest accidentals.

    What an accompanist does when told "a semitone lower": seven are never read where five do; six flats or six sharps
    are chosen in major by the written key's own side. In minor it is six flats: the raised seventh degree of D sharp
    minor is C double sharp, that of E flat minor a plain D.

    >>> by_semitones(Key.parse("D"), -1).target.name, by_semitones(Key.parse("e"), -1).target.name
    ('D♭ major', 'E♭ minor')
    """
    wanted = (written.tonic.pitch_class + semitones) % 12
    all_keys = (Key.from_signature(n, written.full_mode) for n in range(-MAX_ACCIDENTALS, MAX_ACCIDENTALS + 1))
    keys = (written,) if semitones % 12 == 0 else all_keys
    target = min(
        (key for key in keys if key.tonic.pitch_class == wanted),
        key=lambda key: (
            abs(key.signature),
            key.signature if written.is_minor else abs(key.signature - written.signature),
        ),
    )
    interval = target.tonic - written.tonic
    while interval.semitones < semitones:
        interval = interval + OCTAVE
    while interval.semitones > semitones:
        interval = interval + -OCTAVE
    return Transposition(written, target, interval)


def _named(written: Key, interval: Interval) -> Transposition:
    spelled = written.transposed(interval)
    if abs(spelled.signature) <= MAX_ACCIDENTALS:
        return Transposition(written, spelled, interval)
    simpler = spelled.respelled()
    shift = simpler.tonic - spelled.tonic
    while shift.semitones > 6:
        shift = shift + -OCTAVE
    while shift.semitones < -6:
        shift = shift + OCTAVE
    said = (
        f"{spelled.name} would need {abs(spelled.signature)} accidentals, so the page is thought in {simpler.name}: "
        f"the same keys of the piano."
    )
    return Transposition(written, simpler, interval + shift, said)


def transposed(piece: Piece, interval: Interval) -> Piece:
    """Every note, key and chord symbol moved by the interval; ids, order and fingers stay.

    A passage whose own key would pass seven accidentals is respelled with its notes to the enharmonic key with
    fewer, so no player has to read triple flats.
    """
    keys: list[KeyChange] = []
    extra: list[Interval] = []
    for change in piece.keys:
        spelled = change.key.transposed(interval)
        if abs(spelled.signature) > MAX_ACCIDENTALS:
            simpler = spelled.respelled()
            shift = simpler.tonic - spelled.tonic
            if shift.semitones:
                shift = shift + (-OCTAVE if shift.semitones > 0 else OCTAVE)
            extra.append(interval + shift)
            keys.append(KeyChange(change.onset, simpler))
        else:
            extra.append(interval)
            keys.append(KeyChange(change.onset, spelled))

    starts = [change.onset for change in piece.keys]

    def by(onset: Fraction) -> Interval:
        return extra[max(bisect_right(starts, onset) - 1, 0)] if len(extra) > 1 else extra[0]

    def moved(line: tuple[Note, ...]) -> tuple[Note, ...]:
        return tuple(replace(note, pitch=_writable(note.pitch + by(note.onset))) for note in line)

    chords = tuple(replace(word, text=transposed_symbol(word.text, by(word.onset))) for word in piece.chords)
    return replace(piece, notes=moved(piece.notes), sung=moved(piece.sung), keys=tuple(keys), chords=chords)


def _writable(pitch: SpelledPitch) -> SpelledPitch:
    """The pitch, or where there is no accidental for it the same key of the piano on the next letter."""
    while pitch.alteration not in SIGNS:
        pitch = SpelledPitch.from_steps(pitch.steps + (1 if pitch.alteration > 0 else -1), pitch.midi)
    return pitch
