"""What a teacher would say of a mark: bar, hand, degree and both letters, in one line."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

from trainer.following.diagnosis import spelled_for
from trainer.following.marks import (
    ACCIDENTAL,
    AS_WRITTEN,
    BRUSHED,
    DISPLACED,
    EXTRA,
    HESITATED,
    OCTAVE,
    REPEATED,
    RIGHT,
    SIGNATURE,
    STEP,
    WENT_BACK,
    WRONG,
    Mark,
    Move,
)
from trainer.following.stretches import Stretch
from trainer.following.timing import Timing
from trainer.music import names
from trainer.music.counted import many
from trainer.music.names import ENGLISH, GERMAN, key_name
from trainer.music.piece import BOTH, LEFT, Note, Piece
from trainer.music.piece import RIGHT as RIGHT_HAND
from trainer.music.pitch import SpelledPitch
from trainer.music.solfege import LA_BASED, syllable
from trainer.music.transpose import by_semitones

# Semitones in words, 1 to 12.
_DISTANCES = ("", "a semitone", "a whole tone", "a minor third", "a major third", "a fourth", "a tritone", "a fifth",
              "a minor sixth", "a major sixth", "a minor seventh", "a major seventh", "an octave")  # fmt: skip


def letter_name(pitch: SpelledPitch, language: str = ENGLISH, *, natural: bool = False) -> str:
    """A pitch's name without octave: ``B flat``, ``B`` (``B natural`` when `natural`), in German ``B``, ``H``."""
    if language == GERMAN:
        return names.letter_name(pitch, language)
    return pitch.words if pitch.alteration or natural else pitch.letter


def say_bar(piece: Piece, onset: Fraction) -> str:
    """``bar 3``, and where a repeat plays it again ``bar 3 (second time)``."""
    return piece.bar_at(onset).words + piece.time_words(piece.bar_index(onset))


def say_bars(piece: Piece, notes: Sequence[int]) -> str:
    """From the bar of the first to the bar of the last of these notes: ``bars 9 to 16``, ``bar 3``."""
    first, last = (piece.bar_index(piece.notes[end].onset) for end in (min(notes), max(notes)))
    names_ = [say_bar(piece, piece.notes[end].onset) for end in (min(notes), max(notes))]
    if names_[0] == names_[1]:
        return names_[0]
    plain = piece.bars[first].number and not piece.time_words(first) and not piece.time_words(last)
    return f"bars {piece.bars[first].number} to {piece.bars[last].number}" if plain else " to ".join(names_)


def say_place(piece: Piece, note: int) -> str:
    """Where a note stands: ``bar 3`` or, where two hands play, ``bar 3, left hand``."""
    written = piece.notes[note]
    bar = say_bar(piece, written.onset)
    return f"{bar}, {written.hand} hand" if len(piece.hands) > 1 else bar


def say(
    mark: Mark,
    written: Piece,
    expected: Piece,
    *,
    minor: str = LA_BASED,
    language: str = ENGLISH,
    pressed: int | None = None,
) -> str:
    """One line about one mark; empty for a right key. `pressed` is the MIDI note that sounded, to name it.

    >>> from tests.music.tunes import tune
    >>> say(Mark(0, 2, "signature", offset=1), tune("G", "B4 G4 C5"), tune("F", "A4 F4 Bb4"))
    'bar 1: fa is B flat here; you played B natural'
    """
    if mark.cause == RIGHT:
        return ""
    if mark.note is None or mark.cause == EXTRA:
        if pressed is None:
            return "a key that is not written here"
        struck = spelled_for(expected.key.tonic, pressed - expected.key.tonic.midi, WRONG, expected.key)
        return f"no {letter_name(struck, language)} is written here"
    note = expected.notes[mark.note]
    key = expected.key_at(note.onset)
    sung = syllable(note.pitch, key, minor)
    cause = mark.cause
    played = played_for(mark, expected)

    def name(pitch: SpelledPitch, natural: bool = False) -> str:
        return letter_name(pitch, language, natural=natural)

    right = name(note.pitch)
    # B beside B flat is told as B natural, so that nobody hears the same key twice.
    beside = played.letter == note.pitch.letter
    high = "high" if mark.offset > 0 else "low"
    if cause == OCTAVE:
        what = f"{sung}, {right}: the right note {distance(mark.offset)} too {high}"
    elif cause == AS_WRITTEN:
        what = f"{sung} played as written: {name(written.notes[mark.note].pitch)} for {right}"
    elif cause == SIGNATURE:
        what = f"{sung} is {name(note.pitch, True)} here; {_whose(written, played, note, name)}"
    elif cause == ACCIDENTAL:
        what = f"{sung} is {name(note.pitch, True)} here: the accidental moves along; you played {name(played, True)}"
    elif cause == STEP:
        what = f"{sung}, {right}: a step too {high}, {name(played)}"
    elif cause == DISPLACED:
        what = f"{sung}, {right}: the hand lay {distance(mark.offset)} too {high}"
    elif cause == BRUSHED:
        what = f"the neighbouring key {name(played, beside)} brushed beside {sung}, {right}"
    elif cause == REPEATED:
        what = f"{sung}, {right}: struck again"
    else:
        what = f"{sung} is {right} here; you played {name(played, beside)}"
    return f"{say_place(expected, mark.note)}: {what}"


def say_doubled(note: int, written: Piece, expected: Piece, *, minor: str = LA_BASED, language: str = ENGLISH) -> str:
    """One line about a key that doubles a right one struck with it."""
    meant = expected.notes[note]
    sung = syllable(meant.pitch, expected.key_at(meant.onset), minor)
    return f"{say_place(written, note)}: {sung}, {letter_name(meant.pitch, language)}: doubled at the octave"


def played_for(mark: Mark, expected: Piece) -> SpelledPitch:
    """The key that sounded for a note, spelled as the mark's cause has it."""
    assert mark.note is not None
    note = expected.notes[mark.note]
    return spelled_for(note.pitch, mark.offset, mark.cause, expected.key_at(note.onset))


def _whose(written: Piece, played: SpelledPitch, note: Note, name: Callable[[SpelledPitch, bool], str]) -> str:
    """Where a wrong alteration came from: the written key's signature, or forgetting."""
    standing = written.key_at(note.onset).alteration_of(played.letter)
    if standing == played.alteration and standing:
        return f"the {name(played, True)} belongs to the written key"
    return f"you played {name(played, played.letter == note.pitch.letter)}"


def distance(offset: int) -> str:
    """How far a hand lay from its notes: ``a major third``, ``2 octaves``, ``14 semitones``."""
    size = abs(offset)
    if size <= 12:
        return _DISTANCES[size]
    return f"{size} semitones" if size % 12 else f"{size // 12} octaves"


def say_missed(note: int, written: Piece, expected: Piece, *, minor: str = LA_BASED, language: str = ENGLISH) -> str:
    """One line about a note nobody played."""
    meant = expected.notes[note]
    sung = syllable(meant.pitch, expected.key_at(meant.onset), minor)
    return f"{say_place(written, note)}: {sung}, {letter_name(meant.pitch, language)}, left out"


def say_left_out(notes: Sequence[int], expected: Piece, *, minor: str = LA_BASED) -> str:
    """Several notes of one hand in one bar that nobody played, without the place."""
    all_ = [expected.notes[note] for note in notes]
    bar, hand = expected.bar_index(all_[0].onset), all_[0].hand
    there = sum(
        note.hand == hand and not note.optional and expected.bar_index(note.onset) == bar for note in expected.notes
    )
    if len(notes) >= there:
        return f"all {len(notes)} notes left out"
    sung = ", ".join(syllable(note.pitch, expected.key_at(note.onset), minor) for note in all_)
    return f"{len(notes)} notes left out: {sung}"


def say_stretch(stretch: Stretch, written: Piece, expected: Piece, language: str = ENGLISH) -> str:
    """What a stretch that lay elsewhere was, without the place.

    With both hands it lay in another key, with one the hand lay off its keys.
    """
    count = len(stretch.presses)
    start = expected.notes[min(stretch.notes)].onset
    if stretch.cause == AS_WRITTEN:
        return f"{count} notes played as written, in {key_name(written.key_at(start), language)}"
    far = "a step" if stretch.cause == STEP else distance(stretch.offset)
    way = f"{far} too {'high' if stretch.offset > 0 else 'low'}"
    if stretch.hand != BOTH:
        return f"the hand lay {way} for {count} notes"
    if stretch.offset % 12 == 0 or stretch.cause == STEP:
        return f"{count} notes {way}"
    key = by_semitones(expected.key_at(start), stretch.offset).target
    return f"{count} notes {way}, in {key_name(key, language)}"


def say_beat(piece: Piece, note: int) -> str:
    """``bar 3, beat 2``; ``2½`` for the middle of a beat, the beat alone for other parts of it.

    What a piece begins with is ``the upbeat`` where it has one: only notes after its first have a beat to be told.
    """
    onset = piece.notes[note].onset
    if not piece.bar_at(onset).number and not piece.moment_of[note]:
        return "the upbeat"
    beat = piece.beat_at(onset)
    half = "½" if beat % 1 == Fraction(1, 2) else ""
    bar = say_bar(piece, onset) if piece.bar_at(onset).number else "the upbeat"
    return f"{bar}, beat {int(beat)}{half}"


def say_move(move: Move, piece: Piece) -> str:
    """One line about going back, skipping or hesitating, by bar and beat."""
    goal = say_beat(piece, move.goal)
    if move.kind == HESITATED:
        return f"waited {move.seconds:.1f} s before {goal}"
    if piece.moment_of[move.origin] == piece.moment_of[move.goal]:
        return f"began again with {goal}"
    origin = say_beat(piece, move.origin)
    return f"went back from {origin} to {goal}" if move.kind == WENT_BACK else f"skipped from {origin} to {goal}"


def leading(timing: Timing) -> str:
    """Which hand came first where they fell apart: ``left``, ``right``, or empty when now one, now the other."""
    left = sum(apart.seconds > 0 for apart in timing.hands_apart)
    if 3 * left >= 2 * len(timing.hands_apart):
        return LEFT
    return RIGHT_HAND if 3 * left <= len(timing.hands_apart) else ""


def say_together(timing: Timing) -> str:
    """How far the hands were together and chords struck at once, in a sentence; empty where there is nothing to say.

    >>> from trainer.following.timing import Apart, Timing
    >>> say_together(Timing(hands_apart=(Apart(0, 0.12), Apart(8, 0.07)), hands_met=9, rolled=(Apart(3, 0.2),)))
    'Hands apart at 2 of 9 places, the left first; 1 chord rolled.'
    """
    said = []
    if timing.hands_apart:
        hand = leading(timing)
        first = f", the {hand} first" if hand else ", now the one first, now the other"
        said.append(f"hands apart at {len(timing.hands_apart)} of {many(timing.hands_met, 'place')}{first}")
    if timing.rolled:
        said.append(f"{many(len(timing.rolled), 'chord')} rolled")
    words = "; ".join(said)
    return f"{words[0].upper()}{words[1:]}." if words else ""
