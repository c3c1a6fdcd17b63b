"""How the notes of a page are to be played: slurs, articulations, fermatas, dynamics, words; from MusicXML and back.

A note's own are `Note.signs`: an articulation by its name in MusicXML 4.0, ``fermata``, ``(`` where a slur begins and
``)`` with the id of the note it began at where it ends, ``cue`` of a small or hidden note, and what
`ornaments` says of an ornament. What stands at a place of the music is in `Piece.directions`:
dynamics (``mf``), hairpins (``<`` and ``>``, ended by ``!``), the pedal (``Ped.`` and ``*``), and words (``rit.``).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from trainer.music.piece import LEFT, Note, Piece, Word
from trainer.scores.notation.notating import Chord
from trainer.scores.notation.notevalues import VALUES, Value
from trainer.scores.notation.written import LEFT_VOICES, Written

# What sounds in a bar by voice: index, onset and end of each note.
Held = Mapping[int, Sequence[tuple[int, Fraction, Fraction]]]
# Texts at their onsets, each with its `Word.place`.
Said = Sequence[tuple[Fraction, tuple[str, str]]]

FERMATA = "fermata"
CUE = "cue"
VOICE = "voice"
BREATHS = ("breath-mark", "caesura")
# Where the pedal goes down, and where it is lifted.
PEDAL, LIFTED = "Ped.", "*"
_PEDALS = {"start": PEDAL, "resume": PEDAL, "change": PEDAL, "stop": LIFTED, "discontinue": LIFTED}
ARTICULATIONS = ("accent", "strong-accent", "staccato", "tenuto", "detached-legato", "staccatissimo", "spiccato")
# As MusicXML 4.0 names them.
DYNAMICS = frozenset(
    "p pp ppp pppp ppppp pppppp f ff fff ffff fffff ffffff mp mf sf sfp sfpp fp rf rfz sfz sffz fz n pf sfzp".split()
)
# Those that are an accent within what a hairpin says.
_ACCENTS = frozenset("sf sfp sfpp fp rf rfz sfz sffz fz pf sfzp".split())
_HAIRPINS = {"crescendo": "<", "diminuendo": ">", "stop": "!"}
_KINDS = {sign: kind for kind, sign in _HAIRPINS.items()}
# Words that say how fast, which stand over the staff, and how loud or in what manner, which stand under it. Others
# (names, cues, page numbers) are no business of the player's in another key.
_HOW_FAST = re.compile(
    r"(poco a poco |un poco |poco |molto |sempre )?"
    r"(rit\b|ritard|riten|rall|accel|string(?!s)|allarg|a tempo|tempo|meno mosso|pi[uù] mosso|senza misura"
    r"|ad lib)", re.I
)  # fmt: skip
_HOW = re.compile(
    r"(poco a poco |un poco |poco |molto |sempre |subito |pi[uù] )?"
    r"(cresc|decresc|dim\b|dimin|dolc|espr|cantabile|legato|stacc|legg|marc(?!h)|sost|calando|morendo|smorz|perdendo"
    r"|sotto voce|mezza voce|una corda|tre corde|con |(?-i:m?[pf]|p{2,4}|f{2,4})(?![^\s.,]))", re.I
)  # fmt: skip
_DOUBLE = dict(pairwise(reversed(VALUES)))
_LONGEST = 32
# In quarters.
_AT_ONCE = Fraction(1, 2)
_ASIDE = Fraction(1, 4)
_AGAIN = 4
_MOST_SLURS = 16


class Slurs:
    """The slurs of a part that are open while it is read."""

    def __init__(self) -> None:
        self._open: dict[tuple[str, str], str] = {}
        self._unbegun: dict[str, Written] = {}
        self._before: dict[str, str] = {}  # the endings of a repeat
        self._later = False

    def ending(self, first: bool) -> None:
        """An ending of a repeat begins: what is open before the first may end in each of them."""
        self._later = not first
        if first:
            self._before = {number: note for (number, _), note in self._open.items()}

    def ended(self) -> None:
        """An ending is over: what ends from here on is none of its slurs."""
        self._later = False

    def new_bar(self) -> None:
        self._unbegun = {}

    def add(self, slur: ET.Element, note: Written) -> None:
        """Say a slur's end or beginning in the signs of a note.

        A slur that crosses to a staff which the file writes first in the bar meets its end before its beginning.
        """
        number = slur.get("number", "1")
        if slur.get("type") == "start":
            note.signs.append("(")
            end = self._unbegun.get(number)
            if end and end.onset > note.onset:
                del self._unbegun[number]
                end.signs.append(f"){note.id}")
            else:
                self._open[number, note.voice] = note.id
        elif slur.get("type") == "stop":
            places = [(number, note.voice), *(place for place in self._open if place[0] == number)]
            place = next((one for one in places if one in self._open), None)
            if place:
                note.signs.append(f"){self._open.pop(place)}")
            elif self._later and number in self._before:
                note.signs.append(f"){self._before.pop(number)}")
            else:
                self._unbegun[number] = note


def signs_of(notations: ET.Element) -> list[str]:
    """Articulations, breaths and fermatas."""
    kept = (*ARTICULATIONS, *BREATHS)
    found = [sign.tag for group in notations.iterfind("articulations") for sign in group if sign.tag in kept]
    return found + [FERMATA] * (notations.find(FERMATA) is not None)


def direction_of(sign: ET.Element) -> str:
    """What one sign of a direction says, empty where it says nothing that is kept."""
    if sign.tag == "dynamics":
        text = "".join(one.tag if one.tag != "other-dynamics" else (one.text or "").strip() for one in sign)
        return text if text in DYNAMICS else ""
    if sign.tag == "wedge":
        return _HAIRPINS.get(sign.get("type", ""), "")
    if sign.tag == "pedal":
        return _PEDALS.get(sign.get("type", ""), "")
    return words_of(sign.text or "") if sign.tag == "words" else ""


def words_of(written: str) -> str:
    """What words over or under the music say of how it is played; empty where they say anything else."""
    text = " ".join(written.split())
    return text if len(text) <= _LONGEST and (_HOW_FAST.match(text) or _HOW.match(text)) else ""


def of_one_hand(parts: Sequence[Said]) -> Said:
    """What the parts that one hand plays say together: a further part what the ones before leave unsaid.

    It tells no other dynamic where they tell one, and no hairpin that crosses one of theirs.
    """
    kept: list[tuple[Fraction, tuple[str, str]]] = []
    told: set[tuple[Fraction, tuple[str, str]]] = set()
    for part in parts:
        levels = sorted(onset for onset, (text, _) in kept if text in DYNAMICS)
        taken = list(_spans(kept))
        crossing = [span for span in _spans(part) if any(span[0] < end and begin < span[1] for begin, end in taken)]
        lost = {*((begin, True) for begin, _ in crossing), *((end, False) for _, end in crossing)}
        for onset, (text, place) in part:
            hairpin = text in _KINDS
            if (hairpin and (onset, text != "!") in lost) or (text in DYNAMICS and _is_near(onset, levels)):
                continue
            if hairpin or (onset, (text, place)) not in told:
                kept.append((onset, (text, place)))
                told.add((onset, (text, place)))
    return sorted(kept, key=lambda one: (one[0], one[1][0] in ("<", ">")))


def _is_near(onset: Fraction, levels: Sequence[Fraction]) -> bool:
    """Whether one of some sorted onsets is the same place on the page: programs set a sign a little aside."""
    at = bisect_left(levels, onset)
    return any(abs(onset - level) < _ASIDE for level in levels[max(at - 1, 0) : at + 1])


def unsaid(told: Said, more: Said) -> list[tuple[Fraction, tuple[str, str]]]:
    """Of what a further voice of a staff is told in a bar, what the others are not; but for hairpins."""
    levels = {(onset, place) for onset, (text, place) in told if text in DYNAMICS}
    return [
        (onset, (text, place))
        for onset, (text, place) in more
        if text not in _KINDS and (onset, (text, place)) not in told
        and not (text in DYNAMICS and (onset, place) in levels)
    ]  # fmt: skip


def _spans(said: Said) -> Iterator[tuple[Fraction, Fraction]]:
    """From where to where hairpins go."""
    opened: Fraction | None = None
    for onset, (text, _) in sorted(said, key=lambda one: (one[0], one[1][0] != "!")):
        if text == "!" and opened is not None:
            yield opened, onset
        if text in _KINDS:
            opened = None if text == "!" else onset


def directions_of(upper: Said, lower: Said, sung: Said) -> tuple[Word, ...]:
    """What is said of a piece that is played, and of the voice over it; `lower` in a part of the left hand's own.

    How fast it goes is for both, whoever's staff it stands over; what is said to both hands is said once.
    """
    own = ((onset, (text, LEFT if upper else place)) for onset, (text, place) in lower)
    said = [*upper, *own, *((onset, (text, VOICE)) for onset, (text, _) in sung)]
    words = [Word(onset, text, _place_of(text, place)) for onset, (text, place) in said]
    words = _said_once(words)
    # But each hairpin has an end of its own.
    both = {(word.onset, word.text) for word in words if not word.place and word.text != "!"}
    return hairpins_closed(
        [word for word in dict.fromkeys(words) if word.place != LEFT or (word.onset, word.text) not in both]
    )


def _place_of(text: str, place: str) -> str:
    if _HOW_FAST.match(text):
        return ""
    return LEFT if text in (PEDAL, LIFTED) else place


def _said_once(words: Sequence[Word]) -> list[Word]:
    """Words without those on how fast it goes that another staff or part has just before: each has them over its own
    next note.
    """
    latest: dict[str, Fraction] = {}
    again = set()
    for onset, text in sorted((word.onset, word.text.lower()) for word in words if _HOW_FAST.match(word.text)):
        if 0 < onset - latest.get(text, onset) < _AGAIN:
            again.add((onset, text))
        else:
            latest[text] = onset
    return [word for word in words if (word.onset, word.text.lower()) not in again]


def hairpins_closed(directions: Sequence[Word]) -> tuple[Word, ...]:
    """The directions without hairpins that have lost an end, as in a repeat that leaves before it, or a passage.

    A hairpin that follows a dynamic at once begins with it, where the engraver sets it free of the letters; one that
    would go through a dynamic ends there. Where the pedal goes down anew nothing more is said of its being lifted.
    """
    again = {word.onset for word in directions if word.text == PEDAL}
    directions = [word for word in directions if word.text != LIFTED or word.onset not in again]
    places = dict.fromkeys(word.place for word in directions)
    found = [word for place in places for word in _closed([one for one in directions if one.place == place])]
    return tuple(sorted(found, key=lambda word: word.onset))


def _closed(directions: Sequence[Word]) -> list[Word]:
    kept: list[Word] = []
    opened: Word | None = None
    level: Word | None = None
    # At one place a hairpin ends before the next begins, in whichever order they are written.
    for word in sorted(directions, key=lambda word: (word.onset, word.text != "!")):
        if word.text == "!" and opened is None:
            continue
        if word.text in ("<", ">"):
            if opened:
                kept.remove(opened)
            close = level is not None and word.onset - level.onset < _AT_ONCE
            word = opened = replace(word, onset=level.onset) if level and close else word
        elif word.text == "!":
            opened = None
        elif word.text in DYNAMICS:
            level = word
            if opened and word.onset - opened.onset < _AT_ONCE:
                kept.remove(opened)
                opened = replace(opened, onset=word.onset)
                kept += [word, opened]
                continue
            if opened and word.text not in _ACCENTS:
                kept.append(replace(word, text="!"))
                opened = None
        kept.append(word)
    return [word for word in kept if word is not opened]


def slurs_of(piece: Piece) -> dict[int, list[tuple[str, int]]]:
    """By note, the slurs that begin and end there (``start``, ``stop``) with their numbers.

    No two slurs that share a bar have one number.
    """
    begun: dict[str, int] = {}
    pairs: list[tuple[int, int]] = []
    ended: set[tuple[int, str]] = set()
    for index, note in enumerate(piece.notes):
        for first in [begun[sign[1:]] for sign in note.signs if sign[0] == ")" and sign[1:] in begun]:
            if (first, note.id) not in ended:  # in a repeat that comes back after the beginning
                ended.add((first, note.id))
                pairs.append((first, index))
        if "(" in note.signs:
            begun[note.id] = index
    found: dict[int, list[tuple[str, int]]] = {}
    until: dict[int, int] = {}
    for first, last in sorted(pairs):
        here, there = (piece.bar_index(piece.notes[at].onset) if piece.bars else 0 for at in (first, last))
        number = next((at for at in range(1, _MOST_SLURS + 1) if until.get(at, -1) < here), None)
        if number is not None:
            until[number] = there
            found.setdefault(first, []).append(("start", number))
            found.setdefault(last, []).append(("stop", number))
    return found


def is_fermata_under(notes: Sequence[Note], bar: Held, chord: Chord, voice: int) -> bool:
    """Whether the fermata of a chord, if it has one, stands under its staff: where a voice above it on the staff sounds
    over it; and the left hand's, with none of its voices below, where the right has one at that time.
    """
    if not any(FERMATA in notes[at].signs for at in chord.notes):
        return False
    left = voice > LEFT_VOICES
    first = 1 + LEFT_VOICES * left
    starts = [one for other in range(first, voice) for one in bar.get(other, ())]
    over = [notes[at].midi for at, start, end in starts if start <= chord.onset < end]
    if over and min(over) > max(notes[at].midi for at in chord.notes):
        return True
    last = chord.onset + chord.length
    beside = {other: [notes[at] for at, start, end in held if start < last and chord.onset < end]
              for other, held in bar.items()}  # fmt: skip
    upper = any(FERMATA in note.signs for other in beside if other < first for note in beside[other])
    crossed = any(notes[at].staff == 1 for at in chord.notes)
    return left and upper and not crossed and not any(beside[other] for other in beside if other > voice)


def write_playing(
    notations: ET.Element,
    notes: Sequence[Note],
    slurs: Sequence[tuple[str, int]],
    begins: bool = True,
    ends: bool = True,
    below: bool = False,
) -> None:
    """What a head says of how it is played.

    Parameters
    ----------
    notes : sequence of Note
        Those whose articulations and fermatas it says: all of a chord at its first head, else none.
    slurs : sequence of (``start`` or ``stop``, number)
    begins, ends : bool
        Whether it is the first of tied heads, and the last.
    below : bool
        Its fermata stands under its staff.
    """
    for kind, number in slurs:
        if begins if kind == "start" else ends:
            ET.SubElement(notations, "slur", type=kind, number=str(number))
    said = dict.fromkeys(sign for note in notes for sign in note.signs)
    played = [sign for sign in said if (begins and sign in ARTICULATIONS) or (ends and sign in BREATHS)]
    if played:
        group = ET.SubElement(notations, "articulations")
        for sign in played:
            ET.SubElement(group, sign)
    if ends and FERMATA in said:
        ET.SubElement(notations, FERMATA, type="inverted" if below else "upright")


def join_tremolos(chords: Sequence[Chord], notes: Sequence[Note]) -> None:
    """Make tremolos between two chords of one voice in a bar what is written: both with the value of the whole."""
    for first, last in pairwise(chords):
        begins = any("tremolo-start" in notes[at].signs for at in first.notes)
        if not (begins and any("tremolo-stop" in notes[at].signs for at in last.notes)):
            continue
        tied = any(any(ties) for chord in (first, last) for ties in chord.ties)
        alone = [chord.beams[:1] for chord in (first, last)] in ([[], []], [["begin"], ["end"]])
        name = _DOUBLE.get(first.value.name)
        if first.value == last.value and name and alone and not tied:
            actual, normal = first.value.tuplet
            value = Value(name, first.value.dots, (2 * actual, normal))
            for chord, end in ((first, "start"), (last, "stop")):
                chord.value, chord.beams, chord.tremolo = value, [], end


def write_direction(measure: ET.Element, text: str, offset: int, staff: int | None, above: bool = False) -> None:
    """`above` the staff stands what is said to a singer, whose words are under it, and how fast the music goes."""
    above = above or bool(_HOW_FAST.match(text))
    direction = ET.SubElement(measure, "direction", placement="above" if above else "below")
    kind = ET.SubElement(direction, "direction-type")
    if text in _KINDS:
        ET.SubElement(kind, "wedge", type=_KINDS[text])
    elif text in (PEDAL, LIFTED):
        ET.SubElement(kind, "pedal", type="start" if text == PEDAL else "stop", sign="yes", line="no")
    elif text in DYNAMICS:
        ET.SubElement(ET.SubElement(kind, "dynamics"), text)
    else:
        ET.SubElement(kind, "words", {"font-style": "italic"}).text = text
    if offset:
        ET.SubElement(direction, "offset").text = str(offset)
    if staff:
        ET.SubElement(direction, "staff").text = str(staff)
