"""Which parts of a score are played, by which hand, and which one is sung."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from trainer.music.piece import LEFT, RIGHT, SECOND_SINGER, Note, sorted_notes
from trainer.scores.written import LEFT_VOICES, Part, WrittenBar

Verses = dict[int, list[tuple[Fraction, str]]]

_KEYBOARDS = re.compile(
    r"piano|klavier|clavier|keyboard|harpsichord|cembalo|clavecin|organ|orgel|orgue|pno|celesta|clavichord", re.I
)
_VOICES = re.compile(
    r"voice|vocal|singstimme|gesang|chant\b|canto|soprano|alto\b|tenor|bar[iy]tone?|mezzo|sung|\bvoz\b", re.I
)
_SOLOISTS = re.compile(
    r"flute|fl[öo]te|flauto|oboe|hautbois|clarinet|klarinette|bassoon|fagott|\bhorn\b|\bcorno\b|trumpet|trompete|cornet|"
    r"trombone|posaune|sax|recorder|violin|geige|viola|bratsche|cello|\bsolo\b",
    re.I,
)
# Choir Aahs, Voice Oohs, Synth Voice (General MIDI level 1 sound set, counted from 1 as MusicXML does).
_SINGING = (53, 54, 55)
_OCTAVE = 12
_LEFT_NAME = re.compile(r"\b(left|links?|linke|l\.?h|m\.?s|m\.?g|gauche|sinistra)\b", re.I)


def choose(parts: Sequence[Part], wish: str) -> tuple[list[Part], Part | None]:
    """The parts to be played, and the part that is sung if one is recognised."""
    sounding = [part for part in parts if any(bar.notes for bar in part.bars)] or list(parts)
    keyboards = [part for part in sounding if part.staves > 1]
    if not keyboards and len(sounding) > 1:
        keyboards = [part for part in sounding if names_keyboard(part.name) and not part.has_lyrics]
    others = [part for part in sounding if part not in keyboards]
    voice = next((part for part in others if _sings(part)), None)
    if voice is None and len(sounding) > 1:
        voice = next((part for part in sounding if part.has_lyrics and part.staves == 1), None)
    if wish == "all":
        return sounding, voice
    if wish == "voice":
        line = voice or (others or sounding)[0]
        return [line], line
    if keyboards and others:
        played = keyboards if keyboards[0].staves == 1 else [
            keyboards[0], *(part for part in others if names_keyboard(part.name) and part is not voice)
        ]  # fmt: skip
        return played, voice or (others[0] if len(others) == 1 else None)
    if len(keyboards) > 1 and keyboards[0].staves > 1:
        return keyboards[:1], voice
    return sounding, voice


def partner(parts: Sequence[Part], played: Sequence[Part], voice: Part | None) -> Part | None:
    """The second voice of a duet."""
    if voice is None or voice in played:
        return None
    others = [part for part in parts if _is_unseen(part, played, voice)]
    return others[0] if len(others) == 1 else None


def share_a_staff(voice: Part, second: Part) -> bool:
    """Whether one staff holds both voices of a duet: they are not an octave and more apart and sing the same words."""
    words = [[bar.lyrics for bar in part.bars if bar.lyrics] for part in (voice, second)]
    return abs(_height(second) - _height(voice)) < _OCTAVE and (not words[1] or words[0] == words[1])


def duet(parts: Sequence[Part], played: Sequence[Part], voice: Part | None) -> tuple[Part | None, Part | None]:
    """Who sings over the piano and, of a duet, the second: in a part of their own, or in the first one's."""
    second = partner(parts, played, voice)
    if voice is None or voice in played or second is not None:
        return voice, second
    first, *others = singers_of(voice)
    return first, others[0] if others else None


def singers_of(part: Part) -> list[Part]:
    """A sung part as it is; or, where two voices of its staff sing other words at once, as a part for each."""
    voices = sorted({voice for bar in part.bars for voice in bar.said})
    if part.staves > 1 or len(voices) != 2 or not any(_differ(*map(bar.said.get, voices)) for bar in part.bars):
        return [part]
    bars: tuple[list[WrittenBar], list[WrittenBar]] = [], []
    for bar in part.bars:
        # Notes of a voice without words of its own are the first one's.
        lines = (
            [note for note in bar.notes if note.voice != voices[1]],
            [replace(note, voice=voices[0]) for note in bar.notes if note.voice == voices[1]],
        )
        for at, notes in enumerate(lines):
            own = bar.said.get(voices[at], {})
            bars[at].append(replace(bar, notes=notes, lyrics=own, said={voices[0]: own}))
    return [replace(part, bars=bars[0]), replace(part, bars=bars[1])]


def _differ(one: Verses | None, other: Verses | None) -> bool:
    """Whether two voices have another syllable of one verse at one onset."""
    spots = {(verse, onset): text for verse, words in (one or {}).items() for onset, text in words}
    return any(
        spots.get((verse, onset), text) != text for verse, words in (other or {}).items() for onset, text in words
    )


def _height(part: Part) -> float:
    keys = [note.pitch.midi for bar in part.bars for note in bar.notes]
    return sum(keys) / max(len(keys), 1)


def _is_unseen(part: Part, played: Sequence[Part], voice: Part) -> bool:
    return _sings(part) and part is not voice and part not in played and any(bar.notes for bar in part.bars)


def first_singer(notes: Sequence[Note]) -> tuple[Note, ...]:
    """The notes of a singer in voices below the second one's, however the file numbers them."""
    used = sorted({note.voice for note in notes})
    return sorted_notes(replace(note, voice=min(used.index(note.voice) + 1, SECOND_SINGER - 1)) for note in notes)


def second_singer(notes: Sequence[Note], own_staff: bool) -> list[Note]:
    """The notes of the second singer in voices of their own; of an even voice the stems go down."""
    staff = 2 if own_staff else 1
    return [replace(n, voice=LEFT_VOICES if n.voice == 1 else SECOND_SINGER, staff=staff) for n in notes]


def unseen(parts: Sequence[Part]) -> int:
    """How many sung parts are neither played nor shown over what is."""
    played, voice = choose(parts, "piano")
    if voice is None or partner(parts, played, voice):
        return 0
    return sum(_is_unseen(part, played, voice) for part in parts)


def names_voice(name: str) -> bool:
    """Whether a part is called as singers are."""
    return bool(_VOICES.search(name))


def names_keyboard(name: str) -> bool:
    """Whether a part is called as a keyboard is."""
    return bool(_KEYBOARDS.search(name))


def names_soloist(name: str) -> bool:
    """Whether a part is called as an instrument is that a keyboard accompanies."""
    return bool(_SOLOISTS.search(name))


def _sings(part: Part) -> bool:
    return part.has_lyrics or part.program in _SINGING or names_voice(part.name)


def hands_of(parts: Sequence[Part]) -> list[Callable[[int], str]]:
    """For each part, a function from a written note's home staff to the hand that plays it."""
    if len(parts) == 1 and parts[0].staves == 1:
        clef = parts[0].clefs.get(1, "G")
        left = clef == "F" if not _LEFT_NAME.search(parts[0].name) else True
        return [_always(LEFT if left else RIGHT)]
    found: list[Callable[[int], str]] = []
    upper = (len(parts) + 1) // 2
    for at, part in enumerate(parts):
        if part.staves > 1:
            # Of three staves (organ, or a piano piece on three) the lowest alone is the left hand's.
            found.append(_by_staff(part.staves))
        else:
            found.append(_always(RIGHT if at < upper else LEFT))
    return found


def _always(hand: str) -> Callable[[int], str]:
    return lambda _: hand


def _by_staff(last: int) -> Callable[[int], str]:
    return lambda staff: LEFT if staff >= last else RIGHT


def together(lines: list[list[Note]]) -> list[Note]:
    """All parts as one: parts that share a hand keep voices apart, and single parts go to their hand's staff."""
    if len(lines) == 1:
        return lines[0]
    used = {RIGHT: 0, LEFT: 0}
    notes: list[Note] = []
    for line in lines:
        most = {hand: max((note.voice for note in line if note.hand == hand), default=0) for hand in used}
        split = all(most.values())
        for note in line:
            voice = min(used[note.hand] + note.voice, LEFT_VOICES)
            notes.append(replace(note, voice=voice, staff=note.staff if split else (2 if note.hand == LEFT else 1)))
        for hand in used:
            used[hand] += most[hand]
    return notes
