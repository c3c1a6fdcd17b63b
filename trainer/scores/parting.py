"""Which parts of a score are played, by which hand, and which one is sung."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from trainer.music.piece import LEFT, RIGHT, Note
from trainer.scores.written import LEFT_VOICES, Part

_KEYBOARDS = re.compile(
    r"piano|klavier|clavier|keyboard|harpsichord|cembalo|clavecin|organ|orgel|orgue|pno|celesta|clavichord", re.I
)
_VOICES = re.compile(
    r"voice|vocal|singstimme|gesang|chant\b|canto|soprano|alto\b|tenor|bar[iy]tone?|mezzo|sung|\bvoz\b", re.I
)
# Choir Aahs, Voice Oohs, Synth Voice (General MIDI level 1 sound set, counted from 1 as MusicXML does).
_SINGING = (53, 54, 55)
_OCTAVE = 12
# So much of a part's name is said.
_NAME = 40
_LEFT_NAME = re.compile(r"\b(left|links?|linke|l\.?h|m\.?s|m\.?g|gauche|sinistra)\b", re.I)


def choose(parts: Sequence[Part], wish: str) -> tuple[list[Part], Part | None]:
    """The parts to be played, and the part that is sung if one is recognised."""
    sounding = [part for part in parts if any(bar.notes for bar in part.bars)] or list(parts)
    keyboards = [part for part in sounding if part.staves > 1]
    if not keyboards and len(sounding) > 1:
        keyboards = [part for part in sounding if _KEYBOARDS.search(part.name) and not part.has_lyrics]
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
            keyboards[0], *(part for part in others if _KEYBOARDS.search(part.name) and part is not voice)
        ]  # fmt: skip
        return played, voice or (others[0] if len(others) == 1 else None)
    if len(keyboards) > 1 and keyboards[0].staves > 1:
        return keyboards[:1], voice
    return sounding, voice


def partner(parts: Sequence[Part], played: Sequence[Part], voice: Part | None) -> Part | None:
    """The second voice of a duet, where it finds room on the first one's staff: not an octave and more apart."""
    if voice is None or voice in played:
        return None
    others = [part for part in parts if _is_unseen(part, played, voice)]
    return others[0] if len(others) == 1 and abs(_height(others[0]) - _height(voice)) < _OCTAVE else None


def _height(part: Part) -> float:
    keys = [note.pitch.midi for bar in part.bars for note in bar.notes]
    return sum(keys) / max(len(keys), 1)


def _is_unseen(part: Part, played: Sequence[Part], voice: Part) -> bool:
    return _sings(part) and part is not voice and part not in played and any(bar.notes for bar in part.bars)


def unworded(parts: Sequence[Part]) -> str:
    """The name of a second singer who is shown on the first one's staff but sings other words; else empty."""
    played, voice = choose(parts, "piano")
    second = partner(parts, played, voice)
    if voice is None or second is None:
        return ""
    words = [[bar.lyrics for bar in part.bars if bar.lyrics] for part in (voice, second)]
    return _named(second) if words[1] and words[0] != words[1] else ""


def _named(part: Part) -> str:
    return " ".join(part.name.split())[:_NAME] or "the second"


def unseen(parts: Sequence[Part]) -> list[str]:
    """The names of sung parts that are neither played nor shown over what is."""
    played, voice = choose(parts, "piano")
    if voice is None:
        return []
    second = partner(parts, played, voice)
    return [_named(part) for part in parts if _is_unseen(part, played, voice) and part is not second]


def _sings(part: Part) -> bool:
    return part.has_lyrics or part.program in _SINGING or bool(_VOICES.search(part.name))


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
