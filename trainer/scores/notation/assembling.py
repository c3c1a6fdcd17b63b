"""A score as written to the piece as played: repeats unfolded, ties joined, hands and voices told apart."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from itertools import groupby
from typing import TypeVar

from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Bar, KeyChange, Note, Piece, Word, sorted_notes
from trainer.music.pitch import MusicError
from trainer.scores.notation.choir import MOST_SUNG, Sung, over_the_piano
from trainer.scores.notation.expressing import Said, directions_of, of_one_hand
from trainer.scores.notation.keyfinding import find_mode
from trainer.scores.notation.parting import choose, hands_of, lines_of, together
from trainer.scores.notation.unfolding import Signs, playing_order
from trainer.scores.notation.verses import words_of
from trainer.scores.notation.written import FREE, LEFT_VOICES, Meter, Part, Score, Written, WrittenBar

What = TypeVar("What")
Telling = Callable[[WrittenBar], Sequence[tuple[Fraction, What]]]
_DEFAULT_TEMPO = 90.0
# Ends and starts of tied notes that differ by rounding only.
_NEAR = Fraction(1, 64)
_MOST_BARS = 20_000
_LONGEST_BAR = 2000
_CRUMB = Fraction(1, 4)
# From the tones of a broken chord to the chord they are held into.
_KEPT = Fraction(4)
# A bar without meter that has nothing in it.
_EMPTY = Fraction(4)


@dataclass(slots=True)
class _Held:
    """A note while its ties are still being joined."""

    written: Written
    onset: Fraction
    end: Fraction
    hand: str
    voice: int
    open: bool
    signs: list[str]
    kept: bool = False  # tied from a note before the last: its key is down already


def to_piece(score: Score, name: str, parts: str = "piano") -> Piece:
    """Make the piece a pianist plays of a score.

    Parameters
    ----------
    parts : {"piano", "voice", "all"}
        ``piano``: where a voice or solo part stands over a keyboard part, the keyboard part, and the voice, of a choir
        every one, is kept in `Piece.sung`. ``voice``: the voice part alone. ``all``: every part, upper ones in the
        right hand.

    Raises
    ------
    MusicError
        When no note is left to play.
    """
    played, singers = choose(score.parts, parts)
    signs = _signs(score.parts)
    order = [p.start + at for p in score.order for at in playing_order(signs[p.start : p.stop])] or playing_order(signs)
    bars = _bars(score.parts, order)
    handed = list(zip(played, hands_of(played), strict=True))
    notes = together([_play(part, order, bars, hands) for part, hands in handed])
    ordered = _mark_doubled(sorted_notes(_one_key_once(notes)))
    if not ordered:
        raise MusicError(f"'{name}' holds no notes to play: choose another file.")
    keys, sure = _keys(played, order, bars, list(ordered))
    line: tuple[int, ...] = ()
    if singers and singers[0] in played:
        own = {note.id for note in _play(singers[0], order, bars, lambda _: RIGHT)}
        line = tuple(index for index, note in enumerate(ordered) if note.id in own)
    elif singers:
        singers = lines_of(singers[:MOST_SUNG])[:MOST_SUNG]
    sung, those = over_the_piano([
        Sung(part.name, sorted_notes(_play(part, order, bars, lambda _: RIGHT)), *words_of([part], order, bars, signs),
             at_pitch=part.at_pitch)
        for part in singers if part not in played
    ])  # fmt: skip
    singing = singers[:1] or score.parts
    words, verses = words_of(singing, order, bars, signs)
    tempi = _along(played + score.parts, order, bars, lambda bar: bar.tempi)

    def directed(parts: Sequence[Part]) -> Said:
        return _along(parts, order, bars, lambda bar: bar.directions)

    return Piece(
        title=score.title,
        notes=ordered,
        bars=bars,
        keys=keys,
        tempo=tempi[0][1] if tempi else _DEFAULT_TEMPO,
        tempi=tuple(tempi),
        composer=score.composer,
        poet=score.poet,
        origin=score.origin,
        source=score.source,
        licence=score.licence,
        key_confidence=sure,
        chords=tuple(Word(*one) for one in _along(score.parts, order, bars, lambda bar: bar.chords)),
        lyrics=words,
        verses=verses,
        directions=directions_of(
            of_one_hand([directed([p]) for p, hands in handed if hands(1) == RIGHT]),
            of_one_hand([directed([p]) for p, hands in handed if hands(1) == LEFT]),
            directed(singers[:1]) if sung else [],
        ),
        voice_line=line,
        at_pitch=singing[0].at_pitch and singing[0].staves == 1,
        sung=sung,
        singers=those,
    )


def _signs(parts: Sequence[Part]) -> list[Signs]:
    """The way through the piece, as any part prints it."""
    found = []
    for at in range(max(len(part.bars) for part in parts)):
        together = Signs()
        for part in parts:
            if at >= len(part.bars):
                continue
            signs = part.bars[at].signs
            for slot in fields(Signs):
                value = getattr(signs, slot.name)
                if slot.name == "times":
                    together.times = max(together.times, value)
                elif value and not getattr(together, slot.name):
                    setattr(together, slot.name, value)
        found.append(together)
    return found


def _bars(parts: Sequence[Part], order: list[int]) -> tuple[Bar, ...]:
    """The bars as played, each as long as its longest part; an empty bar is as long as its meter says."""
    if len(order) > _MOST_BARS:
        raise MusicError(f"The piece plays {len(order)} bars: save a shorter passage of it.")
    count = max(len(part.bars) for part in parts)
    meters: list[Meter] = []
    meter = FREE
    for at in range(count):
        for part in parts:
            if at < len(part.bars) and part.bars[at].meter:
                meter = part.bars[at].meter or meter
                break
        meters.append(meter)
    lengths, numbers = [], []
    for at in range(count):
        here = [part.bars[at] for part in parts if at < len(part.bars)]
        counted = Fraction(4 * meters[at].beats, meters[at].unit)
        # Music without meter fills no bar but its own.
        full = counted or max((bar.length for bar in here), default=counted) or _EMPTY
        length = _bar_length(here, full)
        if length > _LONGEST_BAR:
            raise MusicError(f"Bar {here[0].number} lasts {float(length):.0f} quarter notes: put barlines in it.")
        lengths.append(length)
        pickup = at == 0 and length < counted and count > 1
        numbers.append(0 if pickup else here[0].number)
    bars = []
    onset = Fraction(0)
    for at in order:
        meter = meters[at] if meters[at].beats else _counted(lengths[at])
        bars.append(Bar(numbers[at], onset, lengths[at], meter[:2], meter.symbol))
        onset += lengths[at]
    return tuple(bars)


def _counted(length: Fraction) -> Meter:
    """What a bar without meter is counted in: its quarters, or the longest shorter value that fills it."""
    unit = next((unit for unit in (4, 8, 16, 32) if (length * unit / 4).denominator == 1), 4)
    return Meter(max(int(length * unit / 4), 1), unit, FREE.symbol)


def _bar_length(bars: list[WrittenBar], full: Fraction) -> Fraction:
    """The longest part's length. Rests for the whole bar count only where nothing else is written, and neither rests
    nor a crumb of rounding make a bar longer than its meter. A bar that is written too full stays so.
    """
    written = [max(bar.sounding, min(bar.length, full)) for bar in bars if bar.notes]
    written = written or [min(bar.length or bar.resting, full) for bar in bars]
    length = max(written, default=full) or full
    crumb = full < length <= full + _CRUMB and any(bar.rounded for bar in bars)
    return full if crumb else length


def _homes(part: Part) -> dict[str, int]:
    """The staff each voice belongs to: where most of its notes stand."""
    counts: dict[str, Counter[int]] = defaultdict(Counter)
    for bar in part.bars:
        for note in bar.notes:
            counts[note.voice][note.staff] += 1
    return {voice: staves.most_common(1)[0][0] for voice, staves in counts.items()}


def _numbered_by_hand(homes: dict[str, int]) -> bool:
    """Whether voices 1-4 live on the first staff and 5-8 on the second, as most notation programs number them."""
    return all(
        voice.isdigit() and 1 <= int(voice) <= 2 * LEFT_VOICES and (int(voice) > LEFT_VOICES) == (staff > 1)
        for voice, staff in homes.items()
    )


def _play(part: Part, order: list[int], bars: tuple[Bar, ...], hand_of: Callable[[int], str]) -> list[Note]:
    """The part's notes along the bars as played, ties joined."""
    homes = _homes(part)
    by_hand = part.staves == 2 and _numbered_by_hand(homes)
    voices = _voice_numbers(part, homes, by_hand)
    held: list[_Held] = []
    sounding: dict[int, list[_Held]] = defaultdict(list)
    latest: dict[int, _Held] = {}
    unclosed = _ties_unclosed(part)
    first: dict[str, str] = {}
    for at, bar in zip(order, bars, strict=True):
        if at >= len(part.bars):
            continue
        for written in sorted(part.bars[at].notes, key=lambda n: (n.onset, not n.grace)):
            home = homes[written.voice] if by_hand else written.staff
            onset = bar.onset + written.onset
            number = voices[written.voice] if by_hand or part.staves == 1 else voices[f"{home}/{written.voice}"]
            note = _Held(
                written, onset, onset + written.length, hand_of(home), number, written.tie_start, [*written.signs]
            )
            tied = written.tie_stop or (unclosed and not written.grace)
            before = _tied_from(note, sounding[written.pitch.midi]) if tied else None
            if before is not None:
                before.end = note.end
                before.open = written.tie_start
                before.signs += written.signs
                first[written.id] = before.written.id
                continue
            earlier = latest.get(written.pitch.midi)
            note.kept = written.tie_stop and earlier is not None and _is_kept(earlier, note)
            latest[written.pitch.midi] = note
            held.append(note)
            if written.tie_start and not written.grace:
                sounding[written.pitch.midi].append(note)
    for note in held:
        # What is tied is one note: a slur that begins at a later head of it begins with it.
        signs = [f"){first.get(sign[1:], sign[1:])}" if sign[0] == ")" else sign for sign in note.signs]
        note.signs = [sign for sign in signs if sign != f"){note.written.id}"]
    return [_finished(note, part.staves) for note in held]


def _voice_numbers(part: Part, homes: dict[str, int], by_hand: bool) -> dict[str, int]:
    """Voice within the hand, from 1, for every voice name (or staff/voice name) of the part."""
    if by_hand:
        return {voice: (int(voice) - 1) % LEFT_VOICES + 1 for voice in homes}
    if part.staves == 1 and all(v.isdigit() and 1 <= int(v) <= LEFT_VOICES for v in homes):
        return {voice: int(voice) for voice in homes}
    places: dict[int, list[str]] = defaultdict(list)
    for bar in part.bars:
        for note in bar.notes:
            staff = note.staff if part.staves > 1 else 1
            if note.voice not in places[staff]:
                places[staff].append(note.voice)
    numbers = {}
    for staff, names in places.items():
        # Of three staves the upper two are one hand's: the voices of the second go on from those of the first.
        before = sum(len(places[above]) for above in places if above < staff < part.staves)
        for number, name in enumerate(sorted(names, key=lambda v: (not v.isdigit(), int(v) if v.isdigit() else 0, v))):
            numbers[f"{staff}/{name}" if part.staves > 1 else name] = min(before + number + 1, LEFT_VOICES)
    return numbers


def _ties_unclosed(part: Part) -> bool:
    """Whether the program that wrote the file left out the far ends of ties: then every tie leads to the next note."""
    notes = [note for bar in part.bars for note in bar.notes]
    return 2 * sum(note.tie_stop for note in notes) < sum(note.tie_start for note in notes)


def _tied_from(note: _Held, candidates: list[_Held]) -> _Held | None:
    """The sounding note that a tie leads from: same key, ending where this one starts, same voice before others."""
    fitting = [one for one in candidates if one.open and abs(one.end - note.onset) < _NEAR]
    if not fitting:
        return None
    return min(fitting, key=lambda one: (one.written.voice != note.written.voice,
                                         one.written.staff != note.written.staff))  # fmt: skip


def _is_kept(earlier: _Held, note: _Held) -> bool:
    """Whether a tie leads over other notes from the tone of a broken chord into the chord: who holds it strikes nothing
    there.
    """
    return earlier.open and Fraction(0) < note.onset - earlier.end <= _KEPT


def _finished(held: _Held, staves: int) -> Note:
    written = held.written
    return Note(
        id=written.id,
        pitch=written.pitch,
        onset=held.onset,
        length=held.end - held.onset,
        hand=held.hand,
        voice=held.voice,
        finger=written.finger,
        grace=written.grace,
        optional=written.optional or written.grace or held.kept,
        ornament=written.ornament,
        staff=2 if staves > 1 and written.staff >= staves else 1,
        signs=tuple(dict.fromkeys(held.signs)),
    )


def _one_key_once(notes: list[Note]) -> list[Note]:
    """End a note where its own key is struck again in the same voice."""
    latest: dict[tuple[str, int, int], int] = {}
    ordered = list(sorted_notes(notes))
    for index, note in enumerate(ordered):
        if note.grace:
            continue
        place = (note.hand, note.voice, note.midi)
        before = latest.get(place)
        if before is not None and ordered[before].onset < note.onset < ordered[before].end:
            ordered[before] = replace(ordered[before], length=note.onset - ordered[before].onset)
        latest[place] = index
    return ordered


def _mark_doubled(notes: tuple[Note, ...]) -> tuple[Note, ...]:
    """Where two voices write one key at one onset, one press answers both: all but the longest are optional."""
    found: dict[tuple[Fraction, int], list[int]] = defaultdict(list)
    for index, note in enumerate(notes):
        if not note.grace:
            found[note.onset, note.midi].append(index)
    changed = list(notes)
    for indices in found.values():
        if len(indices) > 1:
            first = max(indices, key=lambda i: (not notes[i].optional, notes[i].length, -i))
            for index in indices:
                if index != first:
                    changed[index] = replace(notes[index], optional=True)
    return tuple(changed)


def _along(
    parts: Sequence[Part], order: list[int], bars: tuple[Bar, ...], said: Telling[What]
) -> list[tuple[Fraction, What]]:
    """What the first part that has any says along the piece: tempi, chord symbols."""
    for part in parts:
        found = [
            (bar.onset + at, thing)
            for place, bar in zip(order, bars, strict=True)
            if place < len(part.bars)
            for at, thing in said(part.bars[place])
        ]
        if found:
            return [one for one, _ in groupby(sorted(found, key=lambda pair: pair[0]))]
    return []


def _keys(
    parts: Sequence[Part], order: list[int], bars: tuple[Bar, ...], notes: list[Note]
) -> tuple[tuple[KeyChange, ...], float]:
    """Key changes along the piece, and how sure the first is."""
    standing: dict[int, list[tuple[Fraction, int, str]]] = {}
    now = _first_key(parts)
    printed = now is not None
    now = now or (0, "")
    for at in range(max(len(part.bars) for part in parts)):
        here = next((part.bars[at].keys for part in parts if at < len(part.bars) and part.bars[at].keys), [])
        here = sorted(here, key=lambda one: one[0])  # a further layer may say its own after the first has ended
        at_start = [one for one in here if one[0] == 0]
        if at_start:
            now = (at_start[-1][1], at_start[-1][2])
        standing[at] = [(Fraction(0), *now)] + [one for one in here if one[0] > 0]
        if here:
            now = (here[-1][1], here[-1][2])
    raw: list[tuple[Fraction, int, str]] = []
    for place, bar in zip(order, bars, strict=True):
        for offset, fifths, mode in standing.get(place, []):
            if not raw or raw[-1][1:] != (fifths, mode):
                raw.append((bar.onset + offset, fifths, mode))
    changes: list[KeyChange] = []
    sure = 1.0
    onsets = [note.onset for note in notes]
    for index, (onset, fifths, mode) in enumerate(raw):
        if mode:
            key = Key.from_signature(fifths, mode)
        else:
            end = bisect_left(onsets, raw[index + 1][0]) if index + 1 < len(raw) else len(notes)
            key, certain = find_mode(notes[bisect_left(onsets, onset) : end], fifths)
            if index == 0:
                sure = certain if printed else certain / 2
        if not changes or changes[-1].key != key:
            changes.append(KeyChange(onset, key))
    return tuple(changes), sure


def _first_key(parts: Sequence[Part]) -> tuple[int, str] | None:
    """The one that is printed where the notes begin: one that comes later says nothing of what stands before it."""
    firsts = (next((bar.keys for bar in part.bars if bar.keys or bar.notes), []) for part in parts)
    return next((keys[0][1:] for keys in firsts if keys), None)
