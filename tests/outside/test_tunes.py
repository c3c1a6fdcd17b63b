"""Bundled folk tunes, note by note, against the open collections music21's corpus carries.

Reference: music21's corpus (installed with the package): the Essen folk song collection (H. Schaffrath), W. B. Ryan's
Mammoth Collection (1883) and the Northumbrian Minstrelsy (1882), read by music21's own ABC reader. Compared are the
melody's pitches, in semitones from its first note, and its onsets, up to one factor for the whole tune, so that key
and note values may differ. Hands that take turns are compared by pitch class. Of a song the sung line is compared: the
top one of a choir, both of two who take turns, by pitch class. Where our text departs from the collection's, the place
is listed with the reason; nothing else may differ.

`SECOND_READING` names the tunes that stand in no collection at hand; they were read twice against printed or
typeset texts, as each file's source field says.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from trainer.music.piece import LEFT, RIGHT, Note, Piece
from trainer.scores.reading import read

EXERCISES = Path(__file__).parents[2] / "exercises"


@dataclass(frozen=True)
class Reference:
    """Where a tune stands: book and number; which of its notes; what of ours departs, by note and with a reason."""

    slug: str
    book: str
    number: int | None
    first: int = 0
    last: int | None = None
    departs: dict[int, str] = field(default_factory=dict)
    turns: bool = False
    # Notes of ours that say a note of the collection again, for a further verse has a syllable more there.
    again: frozenset[int] = frozenset()


E = "essenFolksong"
REFERENCES = [
    Reference("air-of-three-notes", f"{E}/boehme20.abc", 227),
    Reference("senter-klos", f"{E}/erk30.abc", 158, turns=True),
    Reference("hop-hop-zehren", f"{E}/erk30.abc", 545),
    Reference("lure-lure-laempken", f"{E}/kinder0.abc", 60),
    Reference("lightly-row", f"{E}/boehme20.abc", 137),
    Reference("winter-ade", f"{E}/boehme20.abc", 135),
    Reference("schlaf-kindlein-schlaf", f"{E}/boehme20.abc", 128),
    Reference("kuckuck", f"{E}/fink0.abc", 422),
    Reference("a-a-a-der-winter", f"{E}/boehme20.abc", 147),
    Reference("hoert-ihr-herrn", f"{E}/erk30.abc", 392),
    Reference("anke-van-tharau", f"{E}/boehme10.abc", 320),
    Reference("nachtfahrt", f"{E}/altdeu10.abc", 69),
    Reference("sichelein-rauschen", f"{E}/altdeu10.abc", 150),
    Reference("susanna-willt-du-mit", f"{E}/altdeu10.abc", 244),
    Reference("vom-galgen-erloest", f"{E}/ballad10.abc", 78),
    Reference("was-fuehr-ich-denn", f"{E}/erk20.abc", 105),
    Reference("die-dienende-schwester", f"{E}/ballad40.abc", 61),
    Reference("luo-shui-tian", f"{E}/han1.abc", 328),
    Reference("geburt-im-walde", f"{E}/ballad10.abc", 14),
    Reference("heer-halewijn", f"{E}/altdeu10.abc", 9),
    Reference("ach-bittrer-winter", f"{E}/altdeu10.abc", 128),
    Reference("o-traurigkeit", f"{E}/altdeu20.abc", 193),
    Reference("herr-von-falkenstein", f"{E}/altdeu10.abc", 32),
    Reference("sankt-michael", f"{E}/altdeu20.abc", 248),
    Reference("koenigskinder", f"{E}/ballad10.abc", 67),
    Reference("von-gott-will-ich-nicht-lassen", f"{E}/altdeu20.abc", 291),
    Reference("heiratslust", f"{E}/altdeu10.abc", 195),
    Reference("wenn-ich-ein-voeglein-waer", f"{E}/zuccal0.abc", 150),
    Reference("kommt-ein-vogerl-geflogen", f"{E}/fink0.abc", 565),
    Reference("innsbruck-ich-muss-dich-lassen", f"{E}/erk20.abc", 162),
    Reference("der-kuckuck-und-der-esel", f"{E}/boehme20.abc", 155),
    Reference("alle-meine-entchen", f"{E}/kinder0.abc", 149),
    Reference("die-gedanken-sind-frei", f"{E}/lux.abc", 34),
    # Bars 9 to 24 of the collection: the first eight are heard twice there.
    Reference("o-du-lieber-augustin", f"{E}/fink0.abc", 76, first=24, last=76),
    Reference("maria-durch-ein-dornwald", f"{E}/erk30.abc", 128),
    Reference("es-ist-ein-schnitter", f"{E}/zuccal0.abc", 101),
    Reference("der-winter-ist-vergangen", f"{E}/erk10.abc", 453,
              departs={42: "the pickup set a fourth below the key note, as the other three pickups of the tune are"}),
    Reference("ade-zur-guten-nacht", f"{E}/erk20.abc", 182),
    Reference("die-loreley", f"{E}/boehme10.abc", 92),
    Reference("swallowtail-jig", "ryansMammoth/SwallowTailJig.abc", None),
    Reference("sah-ein-knab", f"{E}/boehme10.abc", 86),
    Reference("der-mond-ist-aufgegangen", f"{E}/boehme10.abc", 199),
    Reference("schwesterlein", f"{E}/zuccal0.abc", 67, turns=True),
    Reference("the-water-of-tyne", "miscFolk/northumbrianminstrelsyopus.abc", 23, again=frozenset({11, 37})),
    Reference("the-snow-it-melts-the-soonest", "miscFolk/northumbrianminstrelsyopus.abc", 29),
    Reference("the-keel-row", "miscFolk/northumbrianminstrelsyopus.abc", 57, last=50),
]  # fmt: skip
SECOND_READING = {
    "au-clair-de-la-lune-first-strain", "au-clair-de-la-lune", "ode-to-joy", "go-tell-aunt-rhody",
    "mary-had-a-little-lamb", "jingle-bells-refrain", "ah-vous-dirai-je-maman", "aura-lee",
    "this-old-man", "old-macdonald", "greensleeves", "frere-jacques", "petzold-minuet-in-g",
    "petzold-minuet-in-g-minor", "musette-in-d", "arabesque", "wild-rider",
}  # fmt: skip


@cache
def _book(name: str) -> str:
    from music21 import common

    return (Path(common.getCorpusFilePath()) / name).read_text(encoding="utf-8", errors="replace")


def theirs(reference: Reference) -> list[tuple[int, Fraction]]:
    """Pitch and onset of the collection's melody, ties joined, grace notes left out."""
    from music21 import abcFormat, converter

    text = _book(reference.book)
    if reference.number is not None:
        text = abcFormat.ABCFile().extractReferenceNumber(text, reference.number)
    # Told no version, music21 lets an accidental last for its note only; in ABC, as on a staff, it lasts for the bar.
    score = converter.parse(f"%abc-2.1\n{text}", format="abc").stripTies()
    notes = [note for note in score.flatten().notes if not note.duration.isGrace]
    found = [(int(note.pitch.ps), Fraction(note.offset).limit_denominator(64)) for note in notes]
    return found[reference.first : reference.last]


def ours(slug: str) -> list[tuple[int, Fraction]]:
    """Pitch and onset of the bundled tune: the right hand's line, the left hand's when it plays alone or in turn."""
    (path,) = EXERCISES.glob(f"*/{slug}.musicxml")
    piece = read(path)
    reference = next(one for one in REFERENCES if one.slug == slug)
    hands = (RIGHT, LEFT) if reference.turns else (RIGHT,) if RIGHT in piece.hands else (LEFT,)
    notes = _sung(piece) if piece.sung else [note for note in piece.notes if note.hand in hands]
    return [(note.midi, note.onset) for at, note in enumerate(notes) if at not in reference.again]


def _sung(piece: Piece) -> list[Note]:
    """The line that is sung; where two take turns, the upper one's as long as they sing."""
    chief = piece.sung_by(0)
    since = chief[0].onset if len(piece.singers) == 2 else Fraction(0)
    return [*(note for note in piece.sung_by(1) if note.onset < since), *chief] if since else list(chief)


@pytest.mark.parametrize("reference", REFERENCES, ids=lambda reference: reference.slug)
def test_the_tune_agrees_with_the_collection(reference: Reference) -> None:
    here, there = ours(reference.slug), theirs(reference)
    assert len(here) == len(there)

    def pitches(notes: list[tuple[int, Fraction]]) -> list[int]:
        from_first = [pitch - notes[0][0] for pitch, _ in notes]
        return [pitch % 12 for pitch in from_first] if reference.turns else from_first

    differing = {at for at, pair in enumerate(zip(pitches(here), pitches(there), strict=True)) if pair[0] != pair[1]}
    assert differing == set(reference.departs)
    span = (there[-1][1] - there[0][1]) / (here[-1][1] - here[0][1])
    assert span in (Fraction(1, 2), Fraction(1), Fraction(2), Fraction(4))
    assert [(onset - here[0][1]) * span for _, onset in here] == [onset - there[0][1] for _, onset in there]


def test_every_piece_not_our_own_is_compared_or_named() -> None:
    inherited = {path.stem for path in EXERCISES.glob("*/*.musicxml") if read(path).composer != "Keyfarer"}
    compared = {reference.slug for reference in REFERENCES}
    assert inherited == compared | SECOND_READING
    assert not compared & SECOND_READING
