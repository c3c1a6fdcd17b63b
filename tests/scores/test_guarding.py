"""Traps and damage are refused in one sentence, quickly and in little memory; the rest of a folder still loads."""

from __future__ import annotations

import io
import os
import pickle
import struct
import subprocess
import sys
import textwrap
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.scores.making import note, piece, score, xml_note
from trainer.music.pitch import MusicError
from trainer.scores import guarding
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.reading import from_bytes, read
from trainer.scores.shelf.library import Shelf

BILLION = (
    '<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a0 "ha">'
    + "".join(f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 12))
    + "]><score-partwise>&a11;</score-partwise>"
)
OUTSIDE = '<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/passwd">]><score-partwise>&x;</score-partwise>'


def packed(**entries: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries.items():
            archive.writestr(name, data)
    return out.getvalue()


def with_divisions(text: str) -> bytes:
    return score(
        f'<measure number="1"><attributes><divisions>{text}</divisions></attributes>{xml_note("C4", 4)}</measure>'
    )


def track(events: bytes) -> bytes:
    return b"MThd\0\0\0\6\0\0\0\1\0\x60MTrk" + struct.pack(">I", len(events)) + events


GOOD = to_musicxml(piece(note("a", "C4", 0, 4))).encode()
REFUSED = {
    "entities": (BILLION.encode(), "entities"),
    "entities in UTF-16": (BILLION.encode("utf-16"), "entities"),
    "a file from outside": (OUTSIDE.encode(), "entities"),
    "a tune without a key": (b"X:1\nT:Tune\nM:4/4\nCDEF|\n", "names no key: add a line like 'K:C'"),
    "a pickle": (pickle.dumps({"a": 1}), "not music"),
    "an old pickle": (pickle.dumps({"a": 1}, 0), "not music"),
    "a picture": (b"\xff\xd8\xff\xe0" + bytes(range(256)), "not music"),
    "a web page": (b"<html><body>music</body></html>", "not music"),
    "words": (b"Dear diary, K: what?", "not music"),
    "half a score": (GOOD[: len(GOOD) // 2], "damaged"),
    "half a zip": (packed(a=GOOD)[:100], "damaged"),
    "a zip without a score": (packed(a=b"nothing"), "without a score"),
    "a zip of zips": (packed(**{"a.xml": packed(**{"a.xml": GOOD})}), "not music"),
    "a path out of the zip": (
        packed(**{"META-INF/container.xml": b'<rootfile full-path="../../etc/passwd"/>', "../../etc/passwd": b"root"}),
        "not music",
    ),
    "divisions that fill the memory": (with_divisions("1e99999999"), "bar 1"),
    "a bar that never ends": (with_divisions("0.000000001"), "barlines"),
    "no divisions": (with_divisions("0"), "bar 1"),
    "no part": (b"<score-partwise></score-partwise>", "no part"),
    "no notes": (score('<measure number="1"/>'), "no notes"),
    "an impossible step": (score(f'<measure>{xml_note("C4", 4).replace(">C<", ">H<")}</measure>'), "bar"),
    "a way forward that leads back": (
        score(f'<measure number="3"><forward><duration>-9</duration></forward>{xml_note("C4", 4)}</measure>'), "bar 3"
    ),
    "a chord of endless sharps": (
        score(
            '<measure number="2"><harmony><root><root-step>C</root-step><root-alter>99999999999999999999</root-alter>'
            f'</root><kind>major</kind></harmony>{xml_note("C4", 4)}</measure>'
        ),
        "bar 2",
    ),
    "a silent MIDI file": (track(b"\0\xff\x2f\0"), "no notes"),
    "a broken MIDI file": (b"MThd\0\0\0\6\0\1", "damaged MIDI"),
    "MIDI in film frames": (track(b"\0\x90\x40\x40\x10\x80\x40\0").replace(b"\0\x60MT", b"\xe8\x28MT"), "frames"),
    "MIDI of ten years": (track(b"\0\x90\x40\x40" + b"\xff\xff\xff\x7f\x80\x40\0\0\xff\x2f\0"), "too long"),
    "nonsense ABC": (b"X:1\nT:x\nM:4/4\nK:C\n" + b"[[[[((((|||zzz9999999999/" * 50, "ABC"),
    "an endless tune": (b"X:1\nT:x\nM:4/4\nK:C\n" + b"CDEF GABc|" * 10_000, "one tune"),
}  # fmt: skip


@pytest.mark.parametrize("trap", REFUSED)
def test_refused_in_one_sentence(trap: str) -> None:
    data, says = REFUSED[trap]
    with pytest.raises(MusicError, match=says) as refusal:
        from_bytes(data, "file.musicxml")
    text = str(refusal.value)
    assert "\n" not in text
    assert text.endswith(".")
    assert 20 < len(text) < 200


@pytest.mark.parametrize("name", ["missing.xml", ".", "/dev/zero", "a\0b", "x" * 5000])
def test_what_is_no_file_is_refused(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(MusicError):
        read(name)


def test_a_pickle_is_never_loaded(tmp_path: Path) -> None:
    class Trap:
        def __reduce__(self) -> tuple[object, tuple[str]]:
            return os.mkdir, (str(tmp_path / "sprung"),)

    for name in ("piece.musicxml", "piece.p", "piece.mid", "piece.abc", "piece.krn"):
        for protocol in range(6):
            (tmp_path / name).write_bytes(pickle.dumps(Trap(), protocol))
            with pytest.raises(MusicError):
                read(tmp_path / name)
    assert not (tmp_path / "sprung").exists()


# The traps that cost the most, each in a process of its own that may take 500 MB and go through so many lines of Python
# (some have their notes read before they are counted).
HEAVY: dict[str, tuple[int, Callable[[], bytes]]] = {
    "a zip bomb": (10_000, lambda: packed(**{"a.musicxml": b"<score-partwise>" + b" " * 60_000_000})),
    "millions of elements": (50_000, lambda: b"<score-partwise>" + b"<a/>" * 5_000_000 + b"</score-partwise>"),
    "as many as are let in": (50_000, lambda: b"<score-partwise>" + b"<a/>" * 1_150_000 + b"</score-partwise>"),
    "a deep well": (
        50_000,
        lambda: b"<score-partwise>" + b"<a>" * 1_150_000 + b"</a>" * 1_150_000 + b"</score-partwise>",
    ),
    "MIDI of many notes": (20_000_000, lambda: track(b"\0\x90\x40\x40\0\x80\x40\0" * 56_000)),
    "letters of a domain name": (10_000, lambda: b'<?xml version="1.0" encoding="punycode"?>-' + b"ba" * 2_000_000),
    "a container of tags without an end": (
        50_000,
        lambda: packed(**{"META-INF/container.xml": b"<rootfile " * 100_000, "a.xml": b"<x/>"}),
    ),
    "a file of gigabytes": (1_000, lambda: b""),
}


@pytest.mark.skipif(sys.platform != "linux", reason="the peak of memory is read from /proc")
@pytest.mark.parametrize("trap", HEAVY)
def test_a_trap_is_refused_before_it_costs_much(trap: str, tmp_path: Path) -> None:
    place = tmp_path / "trap.musicxml"
    most, made = HEAVY[trap]
    place.write_bytes(made())
    if trap == "a file of gigabytes":
        os.truncate(place, 4_000_000_000)  # sparse: no disk is used
    program = textwrap.dedent(f"""
        import re
        from tests.counting import steps_of
        from trainer.music.pitch import MusicError
        from trainer.scores.reading import read
        refused = []
        def tried():
            try:
                read({str(place)!r})
            except MusicError as why:
                refused.append(why)
        steps = steps_of(tried)
        peak = re.search(r"VmHWM:\\s+(\\d+)", open("/proc/self/status").read())[1]
        print(len(refused), steps, int(peak) / 1000)
    """)
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60)
    refused, steps, megabytes = map(float, done.stdout.split())
    assert refused
    assert megabytes < 500
    assert steps < most


def test_one_bad_file_does_not_take_the_folder_down(tmp_path: Path) -> None:
    (tmp_path / "good.musicxml").write_bytes(GOOD)
    (tmp_path / "bad.musicxml").write_bytes(BILLION.encode())
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "also good.xml").write_bytes(GOOD)
    (tmp_path / "notes.txt").write_text("not looked at")
    shelf = Shelf([tmp_path])
    assert shelf.refresh()
    own = [Path(entry.path).name for entry in shelf.entries if not entry.bundled]
    assert sorted(own) == ["also good.xml", "good.musicxml"]
    assert [(Path(entry.path).name, "entities" in entry.fault) for entry in shelf.faults] == [("bad.musicxml", True)]


def test_kinds_are_told_by_content() -> None:
    assert guarding.recognise(GOOD, "x.mid").kind == guarding.MUSICXML
    assert guarding.recognise(track(b""), "x.musicxml").kind == guarding.MIDI
    assert guarding.recognise(b"RIFF\x20\0\0\0RMIDdata\x10\0\0\0" + track(b""), "x").data.startswith(b"MThd")
    assert guarding.recognise(b"X:1\nK:C\nCDE", "x.xml").kind == guarding.ABC
    assert guarding.recognise(b"!!!COM: Anon\n**kern\n4c\n*-\n", "x.xml").kind == guarding.HUMDRUM


@pytest.mark.parametrize("declared", ["UTF-16LE", "utf16", "UTF_16", "utf-32"])
@pytest.mark.parametrize("after", ["", " "])
def test_a_score_saved_anew_in_utf_8_may_still_say_that_it_is_wider(declared: str, after: str) -> None:
    said = f'<?xml version="1.0" encoding="{declared}"?>{GOOD.decode().partition("?>")[2]}{after}'
    assert guarding.recognise(said.encode(), "x").text == said


def test_a_tune_whose_lines_end_as_on_old_macs_is_read() -> None:
    assert len(from_bytes(b"X:1\rT:x\rM:4/4\rL:1/4\rK:C\rCDEF|\r", "x.abc").notes) == 4


@pytest.mark.parametrize("sign", ["\x01", "\x0b", "\x1b", "\ufffe"])
@pytest.mark.parametrize(("kind", "text"), [
    ("abc", "X:1\nT:Slow{0}ly\nM:4/4\nL:1/4\nK:C\nCDEF|\nw: la{0} le li lo\n"),
    ("krn", "!!!OTL: Slow{0}ly\n**kern\t**text\n*M4/4\t*\n4c\tla{0}\n4d\tle\n4e\tli\n4f\tlo\n*-\t*-\n"),
])  # fmt: skip
def test_signs_no_page_can_say_do_not_keep_a_tune_from_being_engraved(kind: str, text: str, sign: str) -> None:
    made = from_bytes(text.format(sign).encode(), f"x.{kind}")
    assert (made.title, [word.text for word in made.lyrics]) == ("Slow ly", ["la", "le", "li", "lo"])
    assert from_bytes(to_musicxml(made).encode(), "x.musicxml").lyrics == made.lyrics
    assert len(engrave(made, Look(width_px=500, staff_px=28, words=True)).places) == 4
