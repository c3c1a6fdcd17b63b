"""Which parts of a score are played, by which hand, and which are sung."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from trainer.music.piece import LEFT, RIGHT, Note
from trainer.scores.notation.written import LEFT_VOICES, Part, Written, WrittenBar

Verses = dict[int, list[tuple[Fraction, str]]]

_KEYBOARDS = re.compile(
    r"piano|klavier|clavier|keyboard|harpsichord|cembalo|clavecin|organ|orgel|orgue|pno|celesta|clavichord", re.I
)
_VOICES = re.compile(
    r"voice|vocal|singstimme|gesang|chant\b|canto|soprano|alto\b|tenor|bar[iy]tone?|mezzo|sung|\bvoz\b|"
    r"\bchoir|\bchor(us)?\b|\bch(œ|oe)ur\b|\bcoro\b|\b(wo)?men\b",
    re.I,
)
_INSTRUMENTS = re.compile(
    r"flute|fl[öo]te|flauto|oboe|hautbois|clarinet|klarinette|bassoon|fagott|\bhorn\b|\bcorno\b|trumpet|trompete|cornet|"
    r"trombone|posaune|sax|recorder|violin|geige|viola|bratsche|cello|guitar|"
    r"double.bass|contrabass|string|drum|\bharps?\b|harfe|\barp[ae]\b|marimba|vibra(ph|f)on|xylo(ph|f)on|accordion|"
    r"akkordeon|bandone[oó]n|timpani|pauken|percussion",
    re.I,
)
# A keyboard of the orchestra, which is nobody's piano while there is another.
_CELESTA = re.compile(r"celest", re.I)
# Choir Aahs, Voice Oohs, Synth Voice (General MIDI level 1 sound set, counted from 1 as MusicXML does).
_SINGING = (53, 54, 55)
# Basses of a band, and the double bass.
_BASSES = (*range(33, 41), 44)
# A letter stands for a voice, with a number or without.
_LETTER = r"|^{}\.?\s?(\d|i+)?\.?(\s|$)"
_KINDS = {
    kind: re.compile(called, re.I)
    for kind, called in {
        "soprano": r"sopran|descant" + _LETTER.format("s"),
        "mezzo-soprano": r"mezzo",
        "contralto": r"alto?\b|\balti\b|contralto" + _LETTER.format("a"),
        "tenor": r"t[eé]nor" + _LETTER.format("t"),
        "baritone": r"bar[iy]t",
        "bass": r"\bbas(s|se|ses|so|si|ß)\b" + _LETTER.format("b"),
    }.items()
}
_LEFT_NAME = re.compile(r"\b(left|links?|linke|l\.?h|m\.?s|m\.?g|gauche|sinistra)\b", re.I)
_RIGHT_NAME = re.compile(r"\b(right|rechts?|rechte|r\.?h|m\.?d|droite|destra)\b", re.I)


def choose(parts: Sequence[Part], wish: str) -> tuple[list[Part], list[Part]]:
    """The parts to be played, and those that are sung if any are recognised: one of them alone where it is played."""
    sounding = [part for part in parts if any(bar.notes for bar in part.bars)] or list(parts)
    keyboards = _keyboards(sounding)
    others = [part for part in sounding if part not in keyboards]
    singers = [part for part in others if _sings(part)]
    if singers:
        choir = any(voice_kind(part.name) for part in singers)
        singers = [part for part in others if _sings(part) or _sings_along(part, choir)]
    elif len(sounding) > 1:
        singers = [part for part in sounding if part.has_lyrics and part.staves == 1][:1]
    if wish == "all":
        return sounding, singers[:1]
    if wish == "voice":
        line = (singers or others or sounding)[:1]
        return line, line
    if keyboards and others:
        played = keyboards if keyboards[0].staves == 1 else [
            keyboards[0], *(part for part in others if _is_piano(part) and part not in singers)
        ]  # fmt: skip
        return played, singers or (others if len(others) == 1 else [])
    if len(keyboards) > 1 and keyboards[0].staves > 1:
        return keyboards[:1], singers
    return sounding, singers[:1]


def unread(parts: Sequence[Part]) -> list[Part]:
    """The sounding parts that `choose`, asked for the piano, gives to no hand and to nobody who sings over it."""
    kept = {id(part) for found in choose(parts, "piano") for part in found}
    return [part for part in parts if any(bar.notes for bar in part.bars) and id(part) not in kept]


def _keyboards(parts: Sequence[Part]) -> list[Part]:
    """The keyboards among the parts: those called so, on two staves before those on one; else what stands on two
    staves and has no other name, not a choir in short score; else another instrument on two staves, such as a harp.
    """
    pairs = [part for part in parts if part.staves > 1]
    named = [part for part in pairs if names_keyboard(part.name)]
    if not named and len(parts) > 1 and all(names_soloist(part.name) for part in pairs):
        named = [part for part in parts if names_keyboard(part.name) and not part.has_lyrics]
    if named:
        return [part for part in named if _is_piano(part)] or named
    players = [part for part in pairs if not _sings(part)]
    return [part for part in players if not names_soloist(part.name)] or players or pairs


def _is_piano(part: Part) -> bool:
    return names_keyboard(part.name) and not _CELESTA.search(part.name)


def lines_of(singers: Sequence[Part]) -> list[Part]:
    """A part for each line that is sung: staves of a choir in short score by themselves, and two voices of a staff
    where they sing other words at once, or are two parts of a choir, which may be written as chords.
    """
    choir = len(singers) > 1 or any(part.staves > 1 for part in singers)
    staves = [staff for part in singers for staff in _staves_of(part)]
    return [line for staff in staves for line in _voices_of(staff, choir)]


def _staves_of(part: Part) -> list[Part]:
    if part.staves == 1:
        return [part]
    found = []
    for number in range(1, part.staves + 1):
        notes = [[note for note in bar.notes if note.staff == number] for bar in part.bars]
        found.append(replace(_with_notes(part, notes), staves=1, clefs={1: part.clefs.get(number, "G")}))
    return found


def _voices_of(part: Part, choir: bool) -> list[Part]:
    said = sorted({voice for bar in part.bars for voice in bar.said})
    apart = len(said) == 2 and any(_differ(*map(bar.said.get, said)) for bar in part.bars)
    bars = [Counter(note.voice for note in bar.notes) for bar in part.bars if bar.notes]
    held = Counter(voice for bar in bars for voice in bar)
    # A voice that is there for a few bars only is a part that divides.
    voices = said if apart else sorted(voice for voice, count in held.items() if choir and 2 * count > len(bars))
    if len(voices) > 1:
        # Notes of a voice that is none of them are the first one's.
        others = set(voices[1:])
        upper = [[note for note in bar.notes if note.voice not in others] for bar in part.bars]
        lower = [[[note for note in bar.notes if note.voice == voice] for bar in part.bars] for voice in voices[1:]]
        return [_with_notes(part, notes) for notes in (upper, *lower)]
    struck = [(at, note.onset) for at, bar in enumerate(part.bars) for note in bar.notes]
    if choir and len(struck) > 1.5 * len(set(struck)):
        # Two parts as chords: whoever has a note alone sings it with the other.
        return [_with_notes(part, [_chords_parted(bar.notes)[at] for bar in part.bars]) for at in (0, 1)]
    return [part]


def _chords_parted(notes: Sequence[Written]) -> tuple[list[Written], list[Written]]:
    """Of notes struck together all but the lowest, and the lowest; a note alone is in both."""
    onsets: dict[Fraction, list[Written]] = defaultdict(list)
    for note in sorted(notes, key=lambda note: -note.pitch.midi):
        onsets[note.onset].append(note)
    chords = onsets.values()
    return [note for chord in chords for note in chord[:-1] or chord], [chord[-1] for chord in chords]


def _with_notes(part: Part, notes: Sequence[list[Written]]) -> Part:
    """A part with some of the notes of each bar; it has no name of its own."""
    return replace(part, name="", bars=[_only(*pair) for pair in zip(part.bars, notes, strict=True)])


def _only(bar: WrittenBar, notes: list[Written]) -> WrittenBar:
    """A bar with some of its notes, and the words that stand under them."""
    places = {(note.voice, note.onset) for note in notes}
    said: dict[str, Verses] = {}
    lyrics: Verses = defaultdict(list)
    # Some formats tell the voices of a staff apart and not their words.
    for voice, verses in (bar.said or {note.voice: bar.lyrics for note in notes[:1]}).items():
        own = {verse: [word for word in words if (voice, word[0]) in places] for verse, words in verses.items()}
        said[voice] = {verse: words for verse, words in own.items() if words}
        for verse, words in said[voice].items():
            lyrics[verse] += [word for word in words if word not in lyrics[verse]]
    return replace(bar, notes=notes, lyrics=dict(lyrics), said={voice: own for voice, own in said.items() if own})


def _differ(one: Verses | None, other: Verses | None) -> bool:
    """Whether two voices have another syllable of one verse at one onset."""
    spots = {(verse, onset): text for verse, words in (one or {}).items() for onset, text in words}
    return any(
        spots.get((verse, onset), text) != text for verse, words in (other or {}).items() for onset, text in words
    )


def voice_kind(name: str) -> str:
    """Which voice of a choir a part is called: a name of `coaching.singers.voices.VOICES`, or empty.

    >>> [voice_kind(name) for name in ("Sopran", "A2", "T. 1", "Bassi", "Bassoon", "Alto saxophone")]
    ['soprano', 'contralto', 'tenor', 'bass', '', '']
    """
    if _INSTRUMENTS.search(name):
        return ""
    return next((kind for kind, called in _KINDS.items() if called.search(name)), "")


def names_voice(name: str) -> bool:
    """Whether a part is called as singers are."""
    return bool(_VOICES.search(name)) and not _INSTRUMENTS.search(name)


def names_keyboard(name: str) -> bool:
    """Whether a part is called as a keyboard is."""
    return bool(_KEYBOARDS.search(name))


def names_soloist(name: str) -> bool:
    """Whether a part is called as an instrument is that a keyboard accompanies."""
    return bool(_INSTRUMENTS.search(name) or re.search(r"\bsolo\b", name, re.I))


def _sings(part: Part) -> bool:
    return part.has_lyrics or part.program in _SINGING or names_voice(part.name)


def _sings_along(part: Part, choir: bool) -> bool:
    """Whether a part without words that stands beside singers is one of them, as its name alone would not say: the bass
    of a choir, and nobody's bass guitar.
    """
    return ((choir and bool(voice_kind(part.name))) or not part.name) and part.program not in _BASSES


def hands_of(parts: Sequence[Part]) -> list[Callable[[int], str]]:
    """For each part, a function from a written note's home staff to the hand that plays it."""
    if len(parts) == 1 and parts[0].staves == 1:
        return [_always(_named_hand(parts[0]) or (LEFT if parts[0].clefs.get(1) == "F" else RIGHT))]
    found: list[Callable[[int], str]] = []
    upper = (len(parts) + 1) // 2
    for at, part in enumerate(parts):
        if part.staves > 1:
            # Of three staves (organ, or a piano piece on three) the lowest alone is the left hand's.
            found.append(_by_staff(part.staves))
        else:
            found.append(_always(_named_hand(part) or (RIGHT if at < upper else LEFT)))
    return found


def _named_hand(part: Part) -> str:
    """The hand a part is called by, empty for none."""
    return LEFT if _LEFT_NAME.search(part.name) else RIGHT if _RIGHT_NAME.search(part.name) else ""


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
