"""Sound files of every kind the program reads, from which the faulty ones are made. Music: our own or the shelf's."""

from __future__ import annotations

import io
import os
import tempfile
import zipfile
from functools import cache
from pathlib import Path

from trainer.journal.handover import hand_over
from trainer.journal.store import Journal
from trainer.listening.press import Press, Release
from trainer.listening.replay import write_take
from trainer.music.piece import Piece
from trainer.music.transpose import plan, transposed
from trainer.scores.reading import read
from trainer.scores.shelf.library import bundled_folder
from trainer.session import Session

MUSICXML, MXL, MIDI, ABC, HUMDRUM = "MusicXML", ".mxl", "MIDI", "ABC", "Humdrum"
TAKE, TOML, HAND_OVER, JOURNAL, SETTINGS = "recorded take", "TOML", "hand-over", "journal to merge", "settings"
KINDS = (MUSICXML, MXL, MIDI, ABC, HUMDRUM, TAKE, TOML, HAND_OVER, JOURNAL, SETTINGS)

_ABC = (
    "X:1\nT:A step\nC:the tools\nM:3/4\nL:1/4\nQ:1/4=96\nK:Gmin\n|: G A B | c2 d | [GBd]3 | "
    "(3ABc d z |1 G3 :|2 g3 |]\n",
    'X:7\nT:Up\nM:6/8\nL:1/8\nK:D\nV:1\n"D"DEF AFD|"A7"E3 A,3|\n'
    "w: up to the top and down\nV:2 clef=bass\nD,3 A,3|E,6|\n",
    "X:2\nT:Down\nM:C|\nL:1/8\nK:Eb\n~e>d c<B {cd}A2 !trill!G2|^F=F _A/2A/2 A- A4||\n[K:C] c8|]\n",
)
_HUMDRUM = (
    "!!!OTL: A step\n**kern\t**kern\n*clefF4\t*clefG2\n*k[b-]\t*k[b-]\n*F:\t*F:\n*M3/4\t*M3/4\n=1\t=1\n2.F\t4f\n.\t4a\n"
    ".\t4cc\n=2\t=2\n4C 4E\t8b-L\n.\t8aJ\n4r\t4g#\n4F\t4.ff;\n==\t==\n*-\t*-\n",
    "**kern\n*M4/4\n*k[f#]\n*G:\n=1-\n4g\n[4a\n4a]\n12b\n12cc\n12dd\n=2\n*^\n2g\t2d\n2r\t2B\n*v\t*v\n=3\n1g\n==\n*-\n",
)
_TOML = (
    '[[singer]]\nname = "Ada Winter"\nvoice = "mezzo-soprano"\ntessitura = "A3-D5"\n\n[[occasion]]\nname = "Evening"\n'
    'date = 2027-03-20\n[[occasion.song]]\npiece = "aura-lee"\ntitle = "Aura Lee"\nkey = "Eb"\nsinger = "Ada Winter"\n',
    '[[assignment]]\nplayer = ["Ada Winter", "Ben Frost"]\npiece = "aura-lee"\nkeys = ["Eb", "F#"]\nhands = "both"\n'
    'tempo = 60\nhelp = "do"\ngoal = 0.9\ntimes = 2\nset = 2027-02-06\nby = 2027-02-20\nnote = "Left hand first."\n',
    '[[chord]]\npiece = "A step"\nbar = 3\nbeat = "2 1/2"\nnumeral = "V7/V"\n',
)
_SETTINGS = (
    b'{"keys": 61, "syllables": "do", "scale": 125, "night": true, "midi_in": "Digital Piano", "click_offset_ms": 12}',
)


def takes(journal: Journal, count: int, *, finish: bool = True, player: str = "Ada Winter") -> None:
    """Play the shelf's pieces into a journal, faultlessly."""
    pieces = shelf()
    for at in range(count):
        piece = pieces[at % len(pieces)]
        wish = plan(piece.key, ("Eb", "G", "A", "F")[at % 4] if not piece.key.is_minor else "+2")
        record = journal.begin(piece, wish, player=player)
        session = Session(piece, wish, record=record)
        for note in session.expected.notes[:24]:
            session.hear(Press(float(note.onset) * 0.5, note.midi))
            session.hear(Release(float(note.onset) * 0.5 + 0.2, note.midi))
        if finish:
            session.finish()


@cache
def shelf() -> tuple[Piece, ...]:
    """Short pieces that come along."""
    paths = sorted(bundled_folder().rglob("*.musicxml"), key=lambda path: path.stat().st_size)
    return tuple(read(path) for path in paths[:12])


@cache
def of_kind(kind: str) -> tuple[bytes, ...]:
    """Sound files of a kind."""
    if kind == MUSICXML:
        paths = sorted(bundled_folder().rglob("*.musicxml"), key=lambda path: path.stat().st_size)
        return tuple(path.read_bytes() for path in paths[:24:2])
    if kind == MXL:
        return tuple(packed(data) for data in of_kind(MUSICXML)[:5])
    if kind == ABC:
        return tuple(text.encode() for text in _ABC)
    if kind == HUMDRUM:
        return tuple(text.encode() for text in _HUMDRUM)
    if kind == TOML:
        from trainer.coaching.path import path

        return (*(text.encode() for text in _TOML), Path(path.__file__).with_name(path.FILE).read_bytes())
    if kind == SETTINGS:
        return _SETTINGS
    if kind in (MIDI, TAKE):
        return (
            *(_midi(piece) for piece in shelf()[:5]),
            *(p.read_bytes() for p in bundled_folder().glob("takes/*.mid")),
        )
    return _journals(kind)


def packed(score: bytes, inner: str = "score.musicxml") -> bytes:
    """A compressed MusicXML file."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "META-INF/container.xml", f'<container><rootfiles><rootfile full-path="{inner}"/></rootfiles></container>'
        )
        archive.writestr(inner, score)
    return out.getvalue()


def _midi(piece: Piece) -> bytes:
    """A piece as a performer without a heart would play it."""
    expected = transposed(piece, plan(piece.key, "+0").interval)
    events: list[Press | Release] = []
    for note in expected.notes:
        events += [Press(float(note.onset) / 2, note.midi), Release(float(note.onset + note.length) / 2, note.midi)]
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "take.mid"
        write_take(events, place, piece.title)
        return place.read_bytes()


def _journals(kind: str) -> tuple[bytes, ...]:
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "journal.sqlite"
        with Journal(place) as journal:
            takes(journal, 6)
            if kind == HAND_OVER:
                made = hand_over(journal, "Ada Winter", Path(folder) / "ada.handover")
                return (made.path.read_bytes(),)
        os.sync()
        return (place.read_bytes(),)
