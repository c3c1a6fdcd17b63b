"""Files made to do harm or to cost much, by what they attack; each is small to make and never kept."""

from __future__ import annotations

import io
import json
import os
import pickle
import sqlite3
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

from tools.fault import seeds
from trainer.journal.handover import sealed

# A trap: its kind of file, and how it is made: bytes, or a function that fills a path (for files without real size).
Trap = tuple[str, bytes | Callable[[Path], None]]
_HEAD = '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>P</part-name></score-part></part-list>'


def score(bars: str, doctype: str = "") -> bytes:
    """A MusicXML document of one part."""
    return f'<?xml version="1.0"?>{doctype}{_HEAD}<part id="P1">{bars}</part></score-partwise>'.encode()


def _bar(number: int, notes: str, attributes: str = "") -> str:
    return f'<measure number="{number}">{attributes}{notes}</measure>'


_ATTRIBUTES = (
    "<attributes><divisions>4</divisions><key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type>"
    "</time></attributes>"
)


def _note(step: str, octave: int, duration: int, more: str = "", before: str = "") -> str:
    return (
        f"<note>{before}<pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>{duration}</duration>"
        f"{more}</note>"
    )


def _bars(count: int, notes: int = 4) -> bytes:
    one = "".join(_note("CDEFGAB"[at % 7], 4, 16 // notes) for at in range(notes))
    return score("".join(_bar(n, one, _ATTRIBUTES if n == 1 else "") for n in range(1, count + 1)))


def _chord(count: int) -> bytes:
    tones = [(letter, octave) for octave in range(9) for letter in "CDEFGAB"]
    tones = (tones * 3)[:count]
    notes = "".join(_note(s, o, 16, before="<chord/>" if at else "") for at, (s, o) in enumerate(tones))
    return score("".join(_bar(n, notes, _ATTRIBUTES if n == 1 else "") for n in range(1, 9)))


def _tempo(words: str) -> bytes:
    sound = f'<direction><sound tempo="{words}"/></direction>'
    return score(_bar(1, sound + _note("C", 4, 16), _ATTRIBUTES))


def _track(events: bytes, division: int = 96) -> bytes:
    return b"MThd\0\0\0\6\0\0\0\1" + struct.pack(">H", division) + b"MTrk" + struct.pack(">I", len(events)) + events


def _entities(depth: int) -> bytes:
    lines = "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, depth))
    return score(_bar(1, "<note>&a9;</note>"), f'<!DOCTYPE score-partwise [<!ENTITY a0 "ha">{lines}]>')


def _zip(entries: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries.items():
            archive.writestr(name, data)
    return out.getvalue()


def _lying_zip() -> bytes:
    """Sixty megabytes behind a header that says a hundred bytes."""
    data = bytearray(_zip({"a.musicxml": b"<score-partwise>" + b" " * 60_000_000}))
    for mark, at in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        place = data.find(mark) + at
        data[place : place + 4] = struct.pack("<I", 100)
    return bytes(data)


def _sparse(head: bytes, size: int) -> Callable[[Path], None]:
    def make(place: Path) -> None:
        place.write_bytes(head)
        os.truncate(place, size)

    return make


def _endless(place: Path) -> None:
    """A link to a device that never ends."""
    place.symlink_to("/dev/zero")


def _pipe(place: Path) -> None:
    os.mkfifo(place)


class Spring:
    """What a pickle would do if anything ever loaded it: leave a file where the run looks for it."""

    def __reduce__(self) -> tuple[object, tuple[str]]:
        return os.mkdir, (os.path.join(os.environ.get("KEYFARER_SPRUNG", tempfile.gettempdir()), "sprung"),)


def _hand_over(head: dict[str, object], inner: bytes) -> bytes:
    return sealed(json.dumps(head).encode() + b"\n" + zlib.compress(inner, 9))


def _inner() -> tuple[dict[str, object], bytes]:
    content = seeds.of_kind(seeds.HAND_OVER)[0].split(b"\n", 2)[2]
    head, packed = content.split(b"\n", 1)
    return json.loads(head), zlib.decompress(packed)


def _changed(*statements: str) -> bytes:
    """A hand-over whose journal went through some SQL, sealed as if nothing had happened."""
    head, inner = _inner()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "inner.sqlite"
        place.write_bytes(inner)
        db = sqlite3.connect(place, isolation_level=None)
        for statement in statements:
            db.execute(statement)
        db.close()
        return _hand_over(head, place.read_bytes())


def _journal(*statements: str) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "inner.sqlite"
        place.write_bytes(seeds.of_kind(seeds.JOURNAL)[0])
        db = sqlite3.connect(place, isolation_level=None)
        db.execute("PRAGMA journal_mode = DELETE")
        for statement in statements:
            db.execute(statement)
        db.close()
        return place.read_bytes()


_ENDLESS_VIEW = (
    "ALTER TABLE cell RENAME TO was",
    "CREATE VIEW cell AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) "
    "SELECT x AS player, 'a' AS level, "
    "'C' AS key, 'both' AS hands, '' AS state, 0 AS since, '' AS help, '' AS card, 0 AS due, '' AS recent FROM n",
)
_COLUMN = ("""ALTER TABLE player RENAME COLUMN held TO "held) VALUES (1, 2, 3) --" """,)
_TRIGGER = ("CREATE TRIGGER spy AFTER UPDATE ON player BEGIN DELETE FROM take; END",)
_FAT = ("ALTER TABLE take ADD COLUMN fat GENERATED ALWAYS AS (zeroblob(900000000))",)


def all_traps() -> Iterator[tuple[str, Trap]]:
    """Every trap by name, those that cost nothing to make first."""
    pickled = [pickle.dumps(Spring(), protocol) for protocol in range(6)]
    for kind in (seeds.MUSICXML, seeds.MIDI, seeds.ABC, seeds.HUMDRUM, seeds.MXL, seeds.TAKE, seeds.TOML,
                 seeds.HAND_OVER,
                 seeds.JOURNAL, seeds.SETTINGS):  # fmt: skip
        for protocol, data in enumerate(pickled):
            yield f"a pickle of protocol {protocol} as {kind}", (kind, data)
        yield f"gigabytes of nothing as {kind}", (kind, _sparse(b"", 3_000_000_000))
        yield f"a link to /dev/zero as {kind}", (kind, _endless)
        yield f"a named pipe as {kind}", (kind, _pipe)
    yield "gigabytes after a MIDI head", (seeds.TAKE, _sparse(_track(b"\0\x90\x40\x40"), 3_000_000_000))
    yield "gigabytes after a score's head", (seeds.MUSICXML, _sparse(_HEAD.encode(), 3_000_000_000))
    yield "gigabytes after a hand-over's head", (seeds.HAND_OVER, _sparse(b"keyfarer hand-over 1\n", 3_000_000_000))
    yield "gigabytes after a journal's head", (seeds.JOURNAL, _sparse(b"SQLite format 3\0", 3_000_000_000))
    yield "an entity bomb", (seeds.MUSICXML, _entities(12))
    yield "an entity bomb in UTF-16", (seeds.MUSICXML, _entities(12).decode().encode("utf-16"))
    yield "an entity bomb in a zip", (seeds.MXL, seeds.packed(_entities(12)))
    outside = '<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    yield "letters of a domain name", (
        seeds.MUSICXML, b'<?xml version="1.0" encoding="punycode"?>-' + b"ba" * 10_000_000
    )  # fmt: skip
    yield "an entity from outside", (seeds.MUSICXML, score(_bar(1, "<note>&x;</note>"), outside))
    away = '<!DOCTYPE score-partwise SYSTEM "http://127.0.0.1:9/never.dtd">'
    yield "a document type from the network", (seeds.MUSICXML, score(_bar(1, _note("C", 4, 16), _ATTRIBUTES), away))
    yield "a zip bomb", (seeds.MXL, _zip({"a.musicxml": b"<score-partwise>" + b" " * 400_000_000}))
    yield "a zip bomb whose header lies", (seeds.MXL, _lying_zip())
    yield "a zip in a zip in a zip", (seeds.MXL, seeds.packed(seeds.packed(seeds.packed(b"a"))))
    open_tags = {"META-INF/container.xml": b"<rootfile " * 2_000_000, "a.xml": b"<x/>"}
    yield "a zip whose container is all opening tags", (seeds.MXL, _zip(open_tags))
    yield "a zip of ten thousand files", (seeds.MXL, _zip({f"{n}.xml": b"" for n in range(10_000)}))
    for name in ("../../outside.musicxml", "/outside.musicxml", "C:\\outside.musicxml", "a/../../outside.musicxml"):
        yield f"a zip with the path {name!r}", (seeds.MXL, seeds.packed(seeds.of_kind(seeds.MUSICXML)[0], name))
    yield "10,000 bars", (seeds.MUSICXML, _bars(10_000))
    yield "10,000 bars of one note", (seeds.MUSICXML, _bars(10_000, 1))
    yield "a million tags", (seeds.MUSICXML, score(_bar(1, "<a/>" * 1_100_000)))
    yield "a deep well of tags", (seeds.MUSICXML, score("<a>" * 500_000 + "</a>" * 500_000))
    yield "128 simultaneous notes", (seeds.MUSICXML, _chord(128))
    yield "notes of no length", (seeds.MUSICXML, score(_bar(1, _note("C", 4, 0) * 4000, _ATTRIBUTES)))
    yield "one bar of 20,000 notes", (seeds.MUSICXML, score(_bar(1, _note("C", 4, 1) * 20_000, _ATTRIBUTES)))
    for words in ("0", "-120", "1e308", "nan", "inf", "0.0000001", "fast", "999999999"):
        yield f"a tempo of {words}", (seeds.MUSICXML, _tempo(words))
    repeats = "".join(
        _bar(n, '<barline location="left"><repeat direction="forward"/></barline>' + _note("C", 4, 16)
             + '<barline><repeat direction="backward" times="999999"/></barline>', _ATTRIBUTES if n == 1 else "")
        for n in range(1, 3000)
    )  # fmt: skip
    yield "repeats without end", (seeds.MUSICXML, score(repeats))
    jumps = _bar(1, _note("C", 4, 16), _ATTRIBUTES) + _bar(
        2, '<direction><sound dacapo="yes" dalsegno="x"/></direction>'
    )
    yield "da capo without fine", (seeds.MUSICXML, score(jumps * 200))
    yield "MIDI notes of no length", (seeds.MIDI, _track(b"\0\x90\x40\x40\0\x80\x40\0" * 2000 + b"\0\xff\x2f\0"))
    yield "MIDI of 128 notes at once", (
        seeds.MIDI, _track((b"".join(bytes([0, 0x90, n, 64]) for n in range(128)) + b"\x60\xb0\x7b\0") * 40
                           + b"\0\xff\x2f\0")
    )  # fmt: skip
    yield "MIDI of 50,000 notes at one moment", (seeds.MIDI, _track(b"\0\x90\x40\x40\0\x80\x40\0" * 50_000))
    turns = b"".join(
        b"\x18" + bytes([0x90, 40 + n % 40, 64]) + b"\x18" + bytes([0x80, 40 + n % 40, 0]) for n in range(20_000)
    )
    yield "MIDI of 20,000 notes in turn", (seeds.MIDI, _track(turns))
    few = b"".join(bytes([0, 0x90, n % 128, 64, 0, 0x80, n % 128, 0]) for n in range(256))
    yield "MIDI of 256 notes at each of 70 moments", (seeds.MIDI, _track((few + b"\x60\xc0\x00") * 70))
    yield "MIDI at tempo nought", (seeds.MIDI, _track(b"\0\xff\x51\x03\0\0\0\0\x90\x40\x40\x60\x80\x40\0\0\xff\x2f\0"))
    yield "MIDI in meter 255/2^255", (seeds.MIDI, _track(b"\0\xff\x58\x04\xff\xff\x18\x08\0\x90\x40\x40\x60\x80\x40\0"))
    yield "MIDI of as many notes as fit", (seeds.MIDI, _track(b"\0\x90\x40\x40\x01\x40\x00" * 80_000))
    yield "a take of as many notes as fit", (seeds.TAKE, _track(b"\0\x90\x40\x40\x01\x40\x00" * 300_000))
    yield "a take of 65,535 tracks", (seeds.TAKE, b"MThd\0\0\0\6\0\1\xff\xff\0\x60" + b"MTrk\0\0\0\0" * 65_535)
    yield (
        "a take of ten years",
        (seeds.TAKE, _track((b"\xff\xff\xff\x7f\x90\x40\x40" + b"\xff\xff\xff\x7f\x80\x40\0") * 9)),
    )
    yield "a system-exclusive message of gigabytes", (seeds.TAKE, _track(b"\0\xf0\x8f\xff\xff\x7f" + b"\x41" * 40))
    yield "ABC of brackets", (seeds.ABC, b"X:1\nT:x\nM:4/4\nK:C\n" + b"[[[[((((|||zzz9999999999/" * 1000)
    yield "ABC of one length without end", (seeds.ABC, b"X:1\nT:x\nM:4/4\nL:1/4\nK:C\nC99999999999999 D/99999999 |]\n")
    yield "ABC of as many notes as fit", (seeds.ABC, b"X:1\nT:x\nM:4/4\nL:1/8\nK:C\n" + b"CDEF GABc|" * 2900)
    yield "ABC of broken repeats", (seeds.ABC, b"X:1\nT:x\nM:4/4\nL:1/8\nK:C\n" + b"|:" * 3000 + b"CDEF:|" * 900)
    yield "ABC of tuplets", (seeds.ABC, b"X:1\nT:x\nM:4/4\nL:1/8\nK:C\n" + b"(9:1:9CDE" * 2000)
    yield (
        "Humdrum of many spines",
        (seeds.HUMDRUM, b"\t".join([b"**kern"] * 2000) + b"\n" + b"\t".join([b"4c"] * 2000) + b"\n"),
    )
    yield "Humdrum that splits without end", (seeds.HUMDRUM, b"**kern\n" + b"".join(
        b"\t".join([b"*^"] * 2**n) + b"\n" for n in range(12)) + b"*-\n")  # fmt: skip
    yield (
        "Humdrum of a length of nought",
        (seeds.HUMDRUM, b"**kern\n*M4/4\n" + b"0c\n000c\n99999999999c\n1%0c\n" * 50 + b"*-\n"),
    )
    yield "Humdrum of as many notes as fit", (seeds.HUMDRUM, b"**kern\n*M4/4\n" + b"4c\n" * 130_000 + b"*-\n")
    yield "TOML of brackets", (seeds.TOML, b"a = " + b"[" * 400_000)
    yield "TOML of tables in tables", (seeds.TOML, b"a = " + b"{a=" * 100_000)
    yield "TOML of dots", (seeds.TOML, b"a" + b".a" * 200_000 + b" = 1")
    yield "TOML of as many entries as fit", (seeds.TOML, b'[[assignment]]\npiece = "a"\nkeys = ["C"]\n' * 24_000)
    yield "TOML of one number", (seeds.TOML, b'[[assignment]]\npiece = "a"\nkeys = ["C"]\ntempo = ' + b"9" * 900_000)
    yield "settings of brackets", (seeds.SETTINGS, b"[" * 5_000_000)
    yield "settings of one number", (seeds.SETTINGS, b'{"scale": ' + b"9" * 1_000_000 + b"}")
    head, inner = _inner()
    yield (
        "a hand-over that unpacks to gigabytes",
        (seeds.HAND_OVER, sealed(json.dumps(head).encode() + b"\n" + _zeros())),
    )
    yield (
        "a hand-over with a name that is a path",
        (seeds.HAND_OVER, _hand_over({**head, "player": "../../outside"}, inner)),
    )
    yield (
        "a hand-over with a head of brackets",
        (seeds.HAND_OVER, sealed(b"[" * 100_000 + b"\n" + zlib.compress(inner))),
    )
    yield "a hand-over of nothing", (seeds.HAND_OVER, _hand_over(head, b""))
    yield "a hand-over of another number of takes", (seeds.HAND_OVER, _hand_over({**head, "takes": 10**30}, inner))
    yield "a hand-over with a trigger", (seeds.HAND_OVER, _changed(*_TRIGGER))
    yield "a hand-over with a view that never ends", (seeds.HAND_OVER, _changed(*_ENDLESS_VIEW))
    yield "a hand-over with SQL for a column's name", (seeds.HAND_OVER, _changed(*_COLUMN))
    yield "a hand-over with a column made of gigabytes", (seeds.HAND_OVER, _changed(*_FAT))
    yield "a journal with a trigger", (seeds.JOURNAL, _journal(*_TRIGGER))
    yield "a journal with a view that never ends", (seeds.JOURNAL, _journal(*_ENDLESS_VIEW))
    yield "a journal with SQL for a column's name", (seeds.JOURNAL, _journal(*_COLUMN))
    yield "a journal with a column made of gigabytes", (seeds.JOURNAL, _journal(*_FAT))
    bomb = "x'" + zlib.compress(b"[" * 300_000_000, 9).hex() + "'"
    yield "a journal whose take unpacks to much", (seeds.JOURNAL, _journal(f"UPDATE playing SET verdicts = {bomb}"))
    yield "a hand-over whose take unpacks to much", (seeds.HAND_OVER, _changed(f"UPDATE playing SET events = {bomb}"))
    yield "a hand-over whose piece unpacks to much", (seeds.HAND_OVER, _changed(f"UPDATE piece SET body = {bomb}"))


def _zeros() -> bytes:
    packer = zlib.compressobj(9)
    return b"".join(packer.compress(bytes(10_000_000)) for _ in range(300)) + packer.flush()
