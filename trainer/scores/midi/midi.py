"""Standard MIDI Files to pieces: quantised, the hands told apart, the key found and the notes spelled.

A file says only which keys go down and when; everything else is inferred here, and the player can overrule the key.
Source of the format: *Standard MIDI Files 1.0* (MIDI Manufacturers Association).
"""

from __future__ import annotations

import io
from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from statistics import median
from typing import TYPE_CHECKING

from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Bar, KeyChange, Note, Piece
from trainer.music.pitch import MusicError
from trainer.scores.midi.midisong import PLAYED, others, plain_text, singers, sung_text, words_at
from trainer.scores.midi.quantising import PARTS, Sounded, quantised, unpedalled
from trainer.scores.midi.quantising import is_free as is_beatless
from trainer.scores.midi.spelling import spell
from trainer.scores.notation.choir import Sung, over_the_piano
from trainer.scores.notation.keyfinding import find_key, find_mode
from trainer.scores.notation.players import in_words

if TYPE_CHECKING:
    from mido import MetaMessage, MidiFile

_DRUMS = 9
_QUARTER_LIMIT = 40_000
_BAR_LIMIT = 20_000
_NOTE_LIMIT = 20_000
# Every key by each hand.
_AT_ONCE_LIMIT = 256
_MIDDLE_C = 60
# Quarters a minute until a file says something else: the format's own.
_USUAL_TEMPO = 120.0
# Of a quarter: so little off their note some programs write words.
_WORD_NEAR = 8


@dataclass(slots=True)
class _Meta:
    """What the file says besides notes, in ticks."""

    tempi: list[tuple[int, float]]
    meters: list[tuple[int, tuple[int, int]]]
    keys: list[tuple[int, Key]]
    names: dict[int, str]
    lyrics: dict[int, list[tuple[int, str]]]


def from_midi(data: bytes, name: str, key: Key | None = None) -> Piece:
    """Read a Standard MIDI File.

    Parameters
    ----------
    key : Key or None
        The key to spell in. Without it the key is found from the notes. A signature
        in the file is believed unless it is the empty one and no other follows, which most programs write unasked.

    Raises
    ------
    MusicError
        When the file is damaged, or holds no notes, or is timed in frames instead of beats.
    """
    sounded, meta, per_quarter = _music(data, name)
    timed = quantised(sounded, per_quarter)
    singing = singers(meta.names, meta.lyrics, {one.track for one in sounded})
    playing = iter(_hands([one for one in sounded if one.track not in singing], meta))
    hands = [RIGHT if one.track in singing else next(playing) for one in sounded]
    bars = _bars(meta, per_quarter, _in_quarters(max(onset + length for onset, length in timed)))
    keys, sure = _keys(sounded, timed, _printed(meta, per_quarter), key)
    standing = _standing(keys)
    lines: dict[int, list[int]] = defaultdict(list)
    begun: dict[int, dict[int, Fraction]] = defaultdict(dict)
    for index, (one, (onset, _)) in enumerate(zip(sounded, timed, strict=True)):
        lines[one.track if one.track in singing else PLAYED].append(index)
        begun[one.track][one.start] = _in_quarters(onset)

    def line(at: int) -> tuple[Note, ...]:
        mine = lines[at]
        lasting = unpedalled((hands[i], timed[i][0], sounded[i].midi, timed[i][1]) for i in mine)
        return tuple(
            Note(f"n{i + 1}", spell(sounded[i].midi, standing(timed[i][0])), _in_quarters(timed[i][0]),
                 _in_quarters(length), hands[i], staff=2 if hands[i] == LEFT else 1)
            for i, length in ((mine[place], length) for place, length in lasting)
        )  # fmt: skip

    voices = [
        Sung(meta.names.get(at, ""), line(at), words_at(begun[at], meta.lyrics.get(at, ()), per_quarter // _WORD_NEAR))
        for at in singing
    ]
    sung, those = over_the_piano(voices)
    tempi = tuple((_quarters(tick, per_quarter), round(tempo, 3)) for tick, tempo in meta.tempi)
    if not tempi or tempi[0][0] > 0:
        tempi = ((Fraction(0), _USUAL_TEMPO), *tempi)
    return Piece(
        title="" if 0 in singing else _title(meta),
        notes=line(PLAYED),
        sung=sung,
        singers=those,
        lyrics=voices[0].words if voices else (),
        bars=bars,
        keys=keys,
        tempo=tempi[0][1],
        tempi=tempi,
        key_confidence=sure,
    )


def _music(data: bytes, name: str) -> tuple[list[Sounded], _Meta, int]:
    """What is played or sung, what the file says beside it, ticks a quarter; refused where it cannot be a piece."""
    try:
        sounded, meta, per_quarter = _played(data)
    except Exception as error:  # mido raises whatever it meets in a damaged file
        raise MusicError(f"'{name}' is a damaged MIDI file: export it again.") from error
    if not 0 < per_quarter < 32768:
        raise MusicError(f"'{name}' is timed in film frames, not in beats: export it with bars and beats.")
    rest = others(meta.names, meta.lyrics, {one.track for one in sounded})
    sounded = [one for one in sounded if one.track not in rest]
    if not sounded:
        raise MusicError(f"'{name}' holds no notes: choose another file.")
    if len(sounded) > _NOTE_LIMIT or max(one.end for one in sounded) > _QUARTER_LIMIT * per_quarter:
        raise MusicError(f"'{name}' is too long ({len(sounded)} notes): save one piece alone.")
    if max(Counter(one.start for one in sounded).values()) > _AT_ONCE_LIMIT:
        raise MusicError(f"'{name}' strikes more than {_AT_ONCE_LIMIT} keys at once: export it again.")
    return sounded, meta, per_quarter


def _collect(file: MidiFile) -> tuple[list[Sounded], _Meta]:
    meta = _Meta([], [], [], {}, {})
    sounded: list[Sounded] = []
    tracks = list(enumerate(file.tracks))
    if file.type == 2:  # each track is a piece of its own, and the first is read
        tracks = [one for one in tracks if any(message.type == "note_on" for message in one[1])][:1]
    for number, track in tracks:
        tick = 0
        down: dict[tuple[int, int], list[Sounded]] = defaultdict(list)
        for message in track:
            tick += message.time
            if message.type in ("note_on", "note_off"):
                place = (message.channel, message.note)
                if message.type == "note_on" and message.velocity > 0:
                    if message.channel != _DRUMS:
                        one = Sounded(number, message.channel, message.note, tick, -1)
                        down[place].append(one)
                        sounded.append(one)
                elif down[place]:
                    down[place].pop(0).end = tick
            else:
                _meta(message, number, tick, meta)
        for held in down.values():
            for one in held:
                one.end = tick
    for one in sounded:
        one.end = max(one.end, one.start + 1)
    sounded.sort(key=lambda one: (one.start, one.track, one.midi))
    meta.tempi.sort(key=lambda pair: pair[0])
    meta.meters.sort(key=lambda pair: pair[0])
    meta.keys.sort(key=lambda pair: pair[0])
    return sounded, meta


def _meta(message: MetaMessage, track: int, tick: int, meta: _Meta) -> None:
    if message.type == "set_tempo":
        tempo = 60_000_000 / max(message.tempo, 1)
        if 4 <= tempo <= 999:  # any other is nonsense, in MusicXML too
            meta.tempi.append((tick, tempo))
    elif message.type == "time_signature" and message.numerator and message.denominator <= 64:
        meta.meters.append((tick, (message.numerator, message.denominator)))
    elif message.type == "key_signature":
        text = message.key
        letter = text.rstrip("m")
        try:
            meta.keys.append((tick, Key.parse(letter.lower() if text.endswith("m") else letter)))
        except MusicError:
            return
    elif message.type == "track_name":
        meta.names[track] = " ".join(plain_text(message.name).split())
    elif message.type == "lyrics":
        meta.lyrics.setdefault(track, []).append((tick, sung_text(message.text)))


def _quarters(tick: int, per_quarter: int) -> Fraction:
    """A place on the 24th-of-a-quarter grid, fine enough for tempi and bar lines."""
    return Fraction(round(Fraction(tick * 24, per_quarter)), 24)


@lru_cache(maxsize=32_768)
def _in_quarters(parts: int) -> Fraction:
    """What is counted in parts of a quarter; one value for all notes that begin together."""
    return Fraction(parts, PARTS)


# Several things are told of one file, one after the other.
@lru_cache(maxsize=1)
def _played(data: bytes) -> tuple[list[Sounded], _Meta, int]:
    """The notes of a file, what else it says, and its ticks a quarter."""
    import mido

    file = mido.MidiFile(file=io.BytesIO(data), clip=True)
    return *_collect(file), file.ticks_per_beat


def is_free(data: bytes) -> bool:
    """Whether a file was played without regard to its beats, so that the bars of its page are guesses."""
    sounded, _, per_quarter = _played(data)
    return is_beatless(sounded, per_quarter)


def sung_parts(data: bytes) -> int:
    """How many tracks of a song are sung over its keyboard's."""
    sounded, meta, _ = _played(data)
    return len(singers(meta.names, meta.lyrics, {one.track for one in sounded}))


def others_left_out(data: bytes, name: str) -> str:
    """Which parts of a file for several players are read for the hands and which are not, as `players` says it of other
    files; a part is a channel of a track, and has its track's name where there is more than one track.
    """
    sounded, meta, _ = _played(data)
    parts = sorted({(one.track, one.channel) for one in sounded})
    tracks = {track for track, _ in parts}
    rest = others(meta.names, meta.lyrics, tracks)
    away = {*rest, *singers(meta.names, meta.lyrics, tracks)}
    names = [meta.names.get(track, "") if len(tracks) > 1 else "" for track, _ in parts]
    played = [at for at, (track, _) in enumerate(parts) if track not in away]
    return in_words(names, played, [at for at, (track, _) in enumerate(parts) if track in rest], name)


def _hands(sounded: Sequence[Sounded], meta: _Meta) -> list[str]:
    """By tracks or channels where two of them carry the notes, by names where they say so, else by pitch."""
    groups: dict[tuple[int, int], list[int]] = defaultdict(list)
    for index, one in enumerate(sounded):
        groups[one.track, one.channel].append(index)
    if len(groups) == 1:
        return _split(sounded)
    ranked = sorted(groups, key=lambda place: -median(sounded[i].midi for i in groups[place]))
    hands = [RIGHT] * len(sounded)
    upper = (len(ranked) + 1) // 2
    for at, place in enumerate(ranked):
        named = meta.names.get(place[0], "").lower()
        left = at >= upper
        if "left" in named or named.strip() in ("lh", "l.h.", "bass"):
            left = True
        elif "right" in named or named.strip() in ("rh", "r.h.", "treble"):
            left = False
        for index in groups[place]:
            hands[index] = LEFT if left else RIGHT
    return hands


def _split(sounded: Sequence[Sounded]) -> list[str]:
    """One track: a single line keeps one hand; more is divided so that each hand moves little and reaches an octave."""
    moments: dict[int, list[int]] = defaultdict(list)
    for index, one in enumerate(sounded):
        moments[one.start].append(index)
    if all(len(group) == 1 for group in moments.values()):
        middle = median(one.midi for one in sounded)
        spread = max(one.midi for one in sounded) - min(one.midi for one in sounded)
        if spread <= 24:
            return [RIGHT if middle >= _MIDDLE_C - 5 else LEFT] * len(sounded)
    hands = [RIGHT] * len(sounded)
    right, left = 67.0, 50.0
    for start in sorted(moments):
        keys = sorted(moments[start], key=lambda i: sounded[i].midi)
        pitches = [sounded[i].midi for i in keys]
        best = min(range(len(keys) + 1), key=lambda cut: _cut_cost(pitches, cut, left, right))
        for place, index in enumerate(keys):
            hands[index] = LEFT if place < best else RIGHT
        if best:
            left += 0.4 * (sum(pitches[:best]) / best - left)
        if best < len(keys):
            right += 0.4 * (sum(pitches[best:]) / (len(keys) - best) - right)
    return hands


def _cut_cost(pitches: list[int], cut: int, left: float, right: float) -> float:
    low, high = pitches[:cut], pitches[cut:]
    cost = sum(abs(pitch - left) for pitch in low) + sum(abs(pitch - right) for pitch in high)
    for hand in (low, high):
        if hand and hand[-1] - hand[0] > 12:
            cost += 4.0 * (hand[-1] - hand[0] - 12)
        if len(hand) > 5:
            cost += 20.0 * (len(hand) - 5)
    return cost


def _bars(meta: _Meta, per_quarter: int, end: Fraction) -> tuple[Bar, ...]:
    meters = [(_quarters(tick, per_quarter), meter) for tick, meter in meta.meters]
    if not meters or meters[0][0] > 0:
        meters.insert(0, (Fraction(0), (4, 4)))
    bars: list[Bar] = []
    onset = Fraction(0)
    at = 0
    while onset < end or not bars:
        while at + 1 < len(meters) and meters[at + 1][0] <= onset:
            at += 1
        meter = meters[at][1]
        length = Fraction(4 * meter[0], meter[1])
        if at + 1 < len(meters) and onset < meters[at + 1][0] < onset + length:
            length = meters[at + 1][0] - onset
        if len(bars) >= _BAR_LIMIT:
            raise MusicError(f"The piece has more than {_BAR_LIMIT} bars: save one piece alone.")
        bars.append(Bar(len(bars) + 1, onset, length, meter))
        onset += length
    return _with_upbeat(bars)


def _with_upbeat(bars: list[Bar]) -> tuple[Bar, ...]:
    """An upbeat is written into a file as one bar of a shorter meter before the first whole one."""
    if len(bars) < 2 or bars[0].length >= bars[1].length or any(bars[0].meter == bar.meter for bar in bars[1:3]):
        return tuple(bars)
    upbeat = replace(bars[0], meter=bars[1].meter)
    return tuple(replace(bar, number=number) for number, bar in enumerate([upbeat, *bars[1:]]))


def _printed(meta: _Meta, per_quarter: int) -> list[tuple[Fraction, Key]]:
    """The signatures of the file, each where it takes the place of another; the first stands from the beginning."""
    found: list[tuple[Fraction, Key]] = []
    for tick, key in meta.keys:
        onset = _quarters(tick, per_quarter) if found else Fraction(0)
        # Tracks that say another at the same time are those of instruments that transpose.
        if not found or (onset > found[-1][0] and key != found[-1][1]):
            found.append((onset, key))
    return found


def _standing(keys: Sequence[KeyChange]) -> Callable[[int], Key]:
    """The key that stands at a place, which is counted in `PARTS`."""
    starts = [int(change.onset * PARTS) for change in keys]
    return lambda place: keys[max(bisect_right(starts, place) - 1, 0)].key


def _keys(
    sounded: Sequence[Sounded],
    timed: Sequence[tuple[int, int]],
    printed: Sequence[tuple[Fraction, Key]],
    wish: Key | None,
) -> tuple[tuple[KeyChange, ...], float]:
    """The keys of the piece, and how sure the first is."""
    if wish is not None:
        return (KeyChange(Fraction(0), wish),), 1.0
    plain = Key.parse("C")
    notes = [
        Note("", spell(one.midi, plain), _in_quarters(onset), _in_quarters(length))
        for one, (onset, length) in zip(sounded, timed, strict=True)
    ]
    if len(printed) < 2 and not any(key.signature for _, key in printed):
        found, sure = find_key(notes)
        return (KeyChange(Fraction(0), found),), sure
    changes: list[KeyChange] = []
    first = 1.0
    for (onset, key), (end, _) in zip(printed, [*printed[1:], (None, None)], strict=True):
        if not key.is_minor:  # nobody writes minor into a file without meaning it; major stands there by default
            here = [note for note in notes if onset <= note.onset and (end is None or note.onset < end)]
            key, sure = find_mode(here, key.signature)
            first = first if changes else sure
        if not changes or changes[-1].key != key:
            changes.append(KeyChange(onset, key))
    return tuple(changes), first


def _title(meta: _Meta) -> str:
    """The first track's name, where it says more than what plays."""
    name = meta.names.get(0, "")
    generic = {"", "piano", "untitled", "track 0", "track 1", "right", "left", "control track", "conductor", "tempo"}
    return "" if name.lower() in generic else name
