"""The harmony of a piece: chords by degree and function, found beat by beat, corrected by the player.

How it is found: each beat is scored against every chord of the key's table (weight of its notes by length, what is
not in the chord against it, the bass for it), and the likeliest row of chords is chosen by dynamic programming with
a price on changing the chord that is lowest at the barline. The idea follows B. Pardo and W. Birmingham, "Algorithms
for chordal analysis", *Computer Music Journal* 26:2 (2002) (from memory); the figures are ours. Numerals do not
change when a piece is transposed, so nothing is computed again in another key.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.music.chordsymbol import ChordSymbol
from trainer.music.chordsymbol import parse as parse_symbol
from trainer.music.keys import MAJOR, MINOR, Key
from trainer.music.piece import LEFT, RIGHT, Note, Piece, Word, sorted_notes
from trainer.music.pitch import MusicError, SpelledPitch
from trainer.scores.numerals import LOW_SIXTH, TABLE, Numeral, inverted, parse

# Weights of the search; see above.
_FOREIGN = 1.3
_RESPELLED = 0.8
_ROOT_BASS = 0.35
_BASS_FOREIGN = 0.4
_MISSING = (0.25, 0.25, 0.05, 0.15)
_ONSET = 1.5
# A chord of the key's own notes is likelier than one whose altered note nobody hears; a single line says half as much.
_UNHEARD = 0.5
_LINE = 0.5
# Middle of the right hand's chords in a skeleton, and how strongly they are drawn back to it.
_CENTRE, _HOME = 66.0, 0.4
# Prices of a new chord: at the barline, at another beat, and where nothing asks for it (`_price`).
_CHANGE_BAR, _CHANGE_BEAT, _CHANGE_UNASKED = 0.35, 0.7, 1.2
_RAISED_FOURTH = 6
# The key's own notes as fifths from the tonic, in minor with both sixths and both sevenths.
_OWN = {MAJOR: frozenset(range(-1, 6)), MINOR: frozenset((*range(-4, 4), 5))}
# Major third and minor seventh with the fifth lowered or raised.
_ALTERED = ((4, -6, -2), (4, 8, -2))
# What the title of a skeleton ends with.
_SKELETON = ": its harmony"
# Quality of a chord symbol by its notes in thirds from the root, as fifths: the root's own left out.
_QUALITIES = {
    (4, 1): "", (-3, 1): "m", (-3, -6): "dim", (4, 8): "aug", (4, 1, -2): "7", (4, 1, 5): "maj7",
    (-3, 1, -2): "m7", (-3, -6, -2): "m7b5", (-3, -6, -9): "dim7", (-3, 1, 5): "m(maj7)",
}  # fmt: skip


@dataclass(frozen=True)
class Harmony:
    """One chord of a piece.

    Parameters
    ----------
    onset, length : Fraction
        Quarter notes.
    key : Key
        The key the numeral is read in.
    numeral : Numeral
    corrected : bool
        Said by the player, not found.
    """

    onset: Fraction
    length: Fraction
    key: Key
    numeral: Numeral
    corrected: bool = False

    @property
    def symbol(self) -> str:
        """As a chord symbol in the key: ``G7/B``."""
        root = self.numeral.pitches(self.key)[-self.numeral.inversion] if self.numeral.inversion else None
        bass = self.numeral.pitches(self.key)[0]
        first = self.numeral.fifths[0]
        quality = _QUALITIES.get(tuple(place - first for place in self.numeral.fifths[1:]), "")
        return ChordSymbol(root or bass, quality, bass if root else None).text

    @property
    def words(self) -> str:
        """``V65, dominant``."""
        function = self.numeral.function
        return f"{self.numeral.sign}, {function}" if function else self.numeral.sign


@dataclass(frozen=True)
class Correction:
    """What the player says instead: from this onset on, until the next chord, this numeral."""

    onset: Fraction
    figure: str


@dataclass(frozen=True)
class _Beat:
    onset: Fraction
    length: Fraction
    bar: int
    first_of_bar: bool
    key: Key
    weights: dict[int, float]  # fifths from the tonic -> share of the beat's sound
    low: Note | None  # what the left hand holds lowest as the beat begins
    moved: bool  # the left hand strikes, or a chord is struck, as the beat begins
    parted: bool  # `low` is struck under another voice of the left hand: a bass part of its own

    @property
    def bass(self) -> int | None:
        return None if self.low is None else self.low.pitch.fifths - self.key.tonic.fifths


def harmonies(piece: Piece, corrections: Sequence[Correction] = ()) -> tuple[Harmony, ...]:
    """The chords of a piece in order: from its chord symbols where it has them, else found from the notes.

    A chord ends where the next begins; the same chord going on is one. Corrections stand above what was found.
    """
    found = _from_symbols(piece) if piece.chords else ()
    return corrected(found or _found(piece), corrections)


def corrected(found: Sequence[Harmony], corrections: Iterable[Correction]) -> tuple[Harmony, ...]:
    """Harmonies with the player's corrections put in; a correction inside a chord divides it.

    Raises
    ------
    MusicError
        When a figure is no Roman numeral.
    """
    row = list(found)
    for change in sorted(corrections, key=lambda c: c.onset):
        at = bisect_right([h.onset for h in row], change.onset) - 1
        if at < 0:
            continue
        old = row[at]
        start = max(change.onset, old.onset)
        said = Harmony(start, old.onset + old.length - start, old.key, parse(change.figure, old.key.mode), True)
        row[at : at + 1] = ([replace(old, length=start - old.onset)] if start > old.onset else []) + [said]
    return tuple(row)


def _found(piece: Piece) -> tuple[Harmony, ...]:
    beats = _beats(piece)
    row: list[Harmony] = []
    start = 0
    while start < len(beats):
        stop = start
        while stop < len(beats) and beats[stop].key == beats[start].key:
            stop += 1
        for beat, numeral in zip(beats[start:stop], _likeliest(beats[start:stop]), strict=True):
            last = row[-1] if row else None
            if last and last.numeral == numeral and last.key == beat.key and last.onset + last.length == beat.onset:
                row[-1] = replace(last, length=last.length + beat.length)
            else:
                row.append(Harmony(beat.onset, beat.length, beat.key, numeral))
        start = stop
    return tuple(row)


def _beats(piece: Piece) -> list[_Beat]:
    notes = [note for note in sorted_notes(piece.notes + piece.sung) if note.length]
    sounding: list[Note] = []
    beats: list[_Beat] = []
    at = 0
    for number, bar in enumerate(piece.bars):
        onset = bar.onset
        while onset < bar.onset + bar.length:
            end = min(onset + bar.beat_quarters, bar.onset + bar.length)
            while at < len(notes) and notes[at].onset < end:
                sounding.append(notes[at])
                at += 1
            sounding = [note for note in sounding if note.end > onset]
            if sounding:
                beats.append(_beat(piece, sounding, onset, end, number))
            onset = end
    return beats


def _beat(piece: Piece, sounding: list[Note], onset: Fraction, end: Fraction, bar: int) -> _Beat:
    key = piece.key_at(onset)
    home = key.tonic.fifths
    weights: dict[int, float] = {}
    for note in sounding:
        shared = float(min(note.end, end) - max(note.onset, onset)) * (_ONSET if note.onset <= onset else 1.0)
        place = note.pitch.fifths - home
        weights[place] = weights.get(place, 0.0) + shared
    whole = sum(weights.values())
    left = [note for note in sounding if note.hand == LEFT]
    low = min(left, key=lambda n: (n.onset > onset, n.midi), default=None)
    struck = [note for note in sounding if note.onset == onset]
    return _Beat(
        onset=onset,
        length=end - onset,
        bar=bar,
        first_of_bar=onset == piece.bars[bar].onset,
        key=key,
        weights={place: w / whole for place, w in weights.items()},
        low=low,
        moved=len(struck) > 1 or any(note.hand == LEFT for note in struck),
        parted=low in struck and len({note.voice for note in left if note.onset <= onset}) > 1,
    )


def _likeliest(beats: Sequence[_Beat]) -> list[Numeral]:
    if not beats:
        return []
    table = TABLE[beats[0].key.mode]
    figures = list(table)
    best: list[float] = []
    came: list[list[int]] = []
    for number, beat in enumerate(beats):
        scores = [_score(beat, *table[figure]) for figure in figures]
        if not number:
            best = scores
            continue
        left = [best[i] - _price(beat, table[figure][0]) for i, figure in enumerate(figures)]
        leader = max(range(len(figures)), key=left.__getitem__)
        came.append([i if best[i] >= left[leader] else leader for i in range(len(figures))])
        best = [max(best[i], left[leader]) + scores[i] for i in range(len(figures))]
    at = max(range(len(figures)), key=best.__getitem__)
    path = [at]
    for step in reversed(came):
        at = step[at]
        path.append(at)
    return _voiced([figures[i] for i in reversed(path)], beats)


def _price(beat: _Beat, chord: tuple[int, ...]) -> float:
    """What it costs to leave a chord: most within a bar where it explains all that sounds, or where nothing moves."""
    if beat.first_of_bar:
        return _CHANGE_BAR
    explained = all(place in chord for place in beat.weights)
    return _CHANGE_UNASKED if explained or not beat.moved else _CHANGE_BEAT


def _score(beat: _Beat, chord: tuple[int, ...], prior: float) -> float:
    score = -prior
    there = [0.0] * len(chord)
    for place, weight in beat.weights.items():
        if place in chord:
            score += weight
            there[chord.index(place)] += weight
        else:
            alike = next((i for i, note in enumerate(chord) if (note - place) % 12 == 0), None)
            if alike is None:
                score -= _FOREIGN * weight
            else:
                score += _RESPELLED * weight
                there[alike] += weight
    if len(beat.weights) == 1 and beat.low is None:
        # Nobody misses the rest of a chord under a lone note; a seventh and a note that passes say least.
        score = (score + prior) * (_LINE if any(there[:3]) else _LINE * _LINE) - prior
    else:
        score -= sum(cost for cost, weight in zip(_MISSING, there, strict=False) if not weight)
    altered = [weight for place, weight in zip(chord, there, strict=True) if place not in _OWN[beat.key.mode]]
    if altered and not any(altered):
        score -= _UNHEARD
    if beat.bass is not None:
        places = [(note - beat.bass) % 12 for note in chord]
        # The bass of an augmented sixth is the lowered sixth degree, that of other chords first of all the root.
        own = chord.index(LOW_SIXTH) if _RAISED_FOURTH in chord and LOW_SIXTH in chord else 0
        score += _ROOT_BASS if places[own] == 0 else (0.0 if 0 in places else -_BASS_FOREIGN)
    return score


def _voiced(figures: Sequence[str], beats: Sequence[_Beat]) -> list[Numeral]:
    """Each beat's chord with its bass: within a bar the lowest note of a broken chord stays under it to its end."""
    row: list[Numeral] = []
    bass: Note | None = None
    for number, (figure, beat) in enumerate(zip(figures, beats, strict=True)):
        chord = TABLE[beat.key.mode][figure][0]
        under = beat.bass
        place = None if under is None else next((i for i, note in enumerate(chord) if (note - under) % 12 == 0), None)
        low = None if place is None else beat.low
        before = number - 1
        if not number or beats[before].bar != beat.bar or figures[before] != figure:
            bass = None
        if bass is None or beat.parted or (low and low.midi < bass.midi):
            bass, at = low, place or 0
        row.append(inverted(figure, chord, at))
    return row


def _from_symbols(piece: Piece) -> tuple[Harmony, ...]:
    row: list[Harmony] = []
    ends = [word.onset for word in piece.chords[1:]] + [piece.length]
    for word, end in zip(piece.chords, ends, strict=True):
        symbol = parse_symbol(word.text)
        if symbol is None or end <= word.onset:
            continue
        key = piece.key_at(word.onset)
        row.append(Harmony(word.onset, end - word.onset, key, numeral_of(symbol, key)))
    return tuple(row)


def numeral_of(symbol: ChordSymbol, key: Key) -> Numeral:
    """The Roman numeral of a chord symbol in a key; a chord the key's table lacks is named by its root's degree.

    >>> numeral_of(parse_symbol("A7/C#"), Key.parse("C")).figure
    'V65/ii'
    """
    thirds = symbol.thirds
    root = symbol.root.fifths - key.tonic.fifths
    chord = (root, *(root + third for third in thirds))
    bass = symbol.bass.fifths - key.tonic.fifths if symbol.bass else root
    place = next((i for i, note in enumerate(chord) if (note - bass) % 12 == 0), 0)
    costs = TABLE[key.mode]
    if thirds in _ALTERED:
        # An altered dominant is named as the plain one: the numeral tells its place, the symbol its colours.
        chord = (root, root + 4, root + 1, root - 2)
    named = [
        f
        for f, (notes, _) in costs.items()
        if len(notes) == len(chord) and all((a - b) % 12 == 0 for a, b in zip(notes, chord, strict=True))
    ]
    if named:
        return inverted(min(named, key=lambda f: costs[f][1]), chord, place)
    return inverted(_by_degree(symbol.root, key, thirds), chord, place)


def _by_degree(root: SpelledPitch, key: Key, thirds: tuple[int, ...]) -> str:
    number = (root.steps - key.tonic.steps) % 7
    off = root.alteration - key.alteration_of(root.letter)
    sign = "b" * -off if off < 0 else "#" * off
    stem = ("I", "II", "III", "IV", "V", "VI", "VII")[number]
    minor = thirds[0] == -3
    half = thirds[2:] == (-2,)
    mark = (("ø" if half else "o") if thirds[1] == -6 else "") if minor else ("+" if thirds[1] == 8 else "")
    return sign + (stem.lower() if minor else stem) + mark


def skeleton(piece: Piece, found: Sequence[Harmony]) -> Piece:
    """Only the harmony of a piece, as a piece to play: bass in the left hand, close chords in the right.

    A chord is struck again at each barline; upper voices go to the nearest notes of the next chord. Chord symbols
    stand over it and numerals are its words. In the key of `found`: transpose it like any piece.

    Raises
    ------
    MusicError
        When there is no harmony to play.
    """
    if not found:
        raise MusicError(f"'{piece.title}' has no chords to be found: choose a piece with more than one voice.")
    notes: list[Note] = []
    upper: tuple[SpelledPitch, ...] = ()
    for harmony in found:
        upper = _nearest(harmony, upper)
        bass = harmony.numeral.pitches(harmony.key, 2)[0]
        bass = bass if bass.midi >= 40 else SpelledPitch(bass.letter, bass.alteration, 3)
        for onset, length in _in_bars(piece, harmony):
            stem = f"h{len(notes)}"
            notes.append(Note(f"{stem}b", bass, onset, length, LEFT, staff=2))
            notes.extend(Note(f"{stem}r{i}", pitch, onset, length, RIGHT) for i, pitch in enumerate(upper))
    return replace(
        piece.with_notes(notes),
        title=piece.title + _SKELETON,
        chords=tuple(Word(h.onset, h.symbol) for h in found),
        lyrics=tuple(Word(h.onset, h.numeral.sign) for h in found),
        verses=(),
        sung=(),
        singers=(),
    )


def is_skeleton(piece: Piece) -> bool:
    """Whether a piece was made by `skeleton`."""
    return piece.title.endswith(_SKELETON)


def _in_bars(piece: Piece, harmony: Harmony) -> list[tuple[Fraction, Fraction]]:
    end = harmony.onset + harmony.length
    parts = []
    onset = harmony.onset
    while onset < end:
        bar = piece.bar_at(onset)
        stop = min(end, bar.onset + bar.length) if bar.onset + bar.length > onset else end
        parts.append((onset, stop - onset))
        onset = stop
    return parts


def _nearest(harmony: Harmony, before: tuple[SpelledPitch, ...]) -> tuple[SpelledPitch, ...]:
    """Three or four upper notes in close position, nearest to the chord before and not far from `_CENTRE`."""
    numeral, key = harmony.numeral, harmony.key
    centre = sum(p.midi for p in before) / len(before) if before else _CENTRE
    choices = [
        Numeral(numeral.figure, numeral.fifths, inversion).pitches(key, octave)
        for inversion in range(len(numeral.fifths))
        for octave in (3, 4)
    ]
    return min(
        choices,
        key=lambda chord: (
            abs(sum(p.midi for p in chord) / len(chord) - centre)
            + _HOME * abs(sum(p.midi for p in chord) / len(chord) - _CENTRE)
            + (0 if not before else sum(min(abs(p.midi - q.midi) for q in before) for p in chord) / 4)
        ),
    )
