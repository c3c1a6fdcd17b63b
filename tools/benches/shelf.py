"""The shelf: how fast a long score is read and engraved, and how fast the shelf opens with many files.

``python tools/bench.py shelf [--files 5000] [--tunes 500] [--bars 300]``. Times are processor time of the
asking thread except where said; each figure is given as median and 95th percentile of its repetitions.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from functools import partial
from pathlib import Path

from trainer.music.keys import Key
from trainer.music.piece import LEFT, RIGHT, Bar, KeyChange, Note, Piece, Word, sorted_notes


def made_up(bars: int, seed: int, title: str) -> Piece:
    """A two-hand piece of running eighths over chords in the left hand, about fifteen notes a bar."""
    rng = random.Random(seed)
    key = Key.from_signature(rng.randint(-4, 4), rng.choice(["major", "minor"]))
    scale = [key.degree(n, octave) for octave in (2, 3, 4, 5) for n in range(1, 8)]
    notes: list[Note] = []
    for bar in range(bars):
        at = 14 + rng.randint(0, 4)
        for eighth in range(8):
            at = min(max(at + rng.choice([-2, -1, 1, 2]), 12), 24)
            notes.append(Note(f"r{bar}-{eighth}", scale[at], Fraction(4 * bar) + Fraction(eighth, 2), Fraction(1, 2)))
        root = rng.randint(0, 5)
        for half in range(2):
            for step in (0, 2, 4):
                onset = Fraction(4 * bar + 2 * half)
                notes.append(Note(f"l{bar}-{half}-{step}", scale[root + step], onset, Fraction(2), LEFT, staff=2))
    assert {note.hand for note in notes} == {RIGHT, LEFT}
    return Piece(title, sorted_notes(notes), tuple(Bar(n + 1, Fraction(4 * n), Fraction(4)) for n in range(bars)),
                 (KeyChange(Fraction(0), key),))  # fmt: skip


def timed(what: Callable[[], object], times: int, clock: Callable[[], float] = time.thread_time) -> list[float]:
    """Milliseconds of each of `times` runs."""
    found = []
    for _ in range(times):
        before = clock()
        what()
        found.append(1000 * (clock() - before))
    return found


def row(name: str, taken: list[float], bound: str = "") -> None:
    spread = statistics.quantiles(taken, n=20)[-1] if len(taken) > 1 else taken[0]
    print(f"{name:<58} {statistics.median(taken):9.1f} ms {spread:9.1f} ms  {bound}")


def run(argv: list[str]) -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(prog="bench.py shelf")
    parser.add_argument("--files", type=int, default=5000)
    parser.add_argument("--tunes", type=int, default=500)
    parser.add_argument("--bars", type=int, default=300)
    args = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as home:
        os.environ["KEYFARER_HOME"] = home
        _long_score(Path(home), args.bars)
        _long_take(args.bars)
        _long_lines()
        _book(args.tunes)
        _many_files(Path(home), args.files)
    return 0


def _long_score(home: Path, bars: int) -> None:
    from music21 import converter

    from trainer import folders
    from trainer.scores.engraving.engraving import Look, engrave
    from trainer.scores.engraving.picturing import picture
    from trainer.scores.engraving.writing import to_musicxml
    from trainer.scores.reading import from_bytes, read

    piece = made_up(bars, 1, "Long")
    place = home / "long.musicxml"
    place.write_text(to_musicxml(piece))
    print(f"{bars} bars, {len(piece.notes)} notes, {place.stat().st_size / 1e6:.1f} MB{'':<30} median       95 %")
    data = place.read_bytes()
    first = timed(lambda: from_bytes(data, place.name), 5)
    row("read the first time", first, "at most 2000 ms")
    theirs = timed(lambda: converter.parse(place, forceSource=True), 1)
    ratio = theirs[0] / statistics.median(first)
    row("the same file through music21", theirs, f"{ratio:.1f} times as long")
    read(place)
    row("read again", timed(lambda: read(place), 20), "at most 50 ms")
    row("write", timed(lambda: to_musicxml(piece), 5))
    looks = [Look(width_px=1100 + number, staff_px=44, ribbon_px=24) for number in range(3)]
    row("engrave the first time, all systems", [timed(partial(engrave, piece, look), 1)[0] for look in looks])
    row("engrave again", timed(lambda: engrave(piece, looks[0]), 5))
    page = engrave(piece, looks[0])
    systems = page.systems[:10]
    for name in ("draw a system", "draw a system again"):
        row(name, [timed(partial(picture, one.svg, one.width), 1)[0] for one in systems])
    print(f"cache on disk: {sum(f.stat().st_size for f in folders.cache().iterdir()) / 1e6:.1f} MB")


def _long_take(bars: int) -> None:
    """A recorded take of some thirty notes a bar, against its bytes alone, which mido reads."""
    import io

    import mido

    from trainer.scores.midi import midi

    dice, file = random.Random(4), mido.MidiFile(ticks_per_beat=480)
    for low in (60, 36):
        track = mido.MidiTrack()
        file.tracks.append(track)
        for _ in range(16 * bars):
            key = dice.randint(low, low + 24)
            track.append(mido.Message("note_on", note=key, velocity=70, time=dice.choice((0, 3, 35, 120))))
            track.append(mido.Message("note_off", note=key, time=dice.choice((40, 110, 200))))
    out = io.BytesIO()
    file.save(file=out)
    data = out.getvalue()
    alone = timed(lambda: mido.MidiFile(file=io.BytesIO(data), clip=True), 5)

    def read() -> None:
        midi._played.cache_clear()
        midi.from_midi(data, "take.mid")

    whole = timed(read, 5)
    ratio = statistics.median(whole) / statistics.median(alone)
    row(f"read a recorded take of {32 * bars} notes", whole, f"{ratio:.1f} times its bytes alone")


def _long_lines() -> None:
    """Documents that a reader may be tempted to go over again for each sign: four times as long, how much slower."""
    from trainer.music.pitch import SpelledPitch
    from trainer.scores.engraving.writing import to_musicxml
    from trainer.scores.reading import from_bytes

    def keys(letters: int) -> bytes:
        return f"X:1\nL:1/8\nK:C\nc4|{'[K:D]c[K:none]d|' * (letters // 16)}\n".encode()

    def words(bars: int) -> bytes:
        notes = (Note(f"n{at}", SpelledPitch.parse("C4"), Fraction(at), Fraction(1)) for at in range(4 * bars))
        said = tuple(Word(Fraction(at), "rit.") for at in range(0, 4 * bars, 2))
        key = (KeyChange(Fraction(0), Key.parse("C")),)
        full = tuple(Bar(n + 1, Fraction(4 * n), Fraction(4)) for n in range(bars))
        return to_musicxml(Piece("Words", sorted_notes(notes), full, key, directions=said)).encode()

    for name, made, size in (("ABC of 38,000 letters", keys, 9500), ("900 bars full of words", words, 225)):
        short, long = (timed(partial(from_bytes, made(count), "long"), 5) for count in (size, 4 * size))
        ratio = statistics.median(long) / statistics.median(short)
        row(f"read {name}", long, f"{ratio:.1f} times a quarter of it")


def _book(count: int) -> None:
    """A book of tunes laid among the player's own pieces."""
    from trainer.scores.shelf.books import folder_of
    from trainer.scores.shelf.library import Shelf, own_folder

    dice = random.Random(5)
    lines = "|".join("".join(dice.choices("DEFGABcdefg", k=8)) for _ in range(16))
    book = own_folder() / "book.abc"
    book.parent.mkdir(parents=True)
    book.write_text("M:4/4\nL:1/8\n\n" + "".join(f"X:{at}\nT:Tune {at}\nK:G\n|:{lines}:|\n\n" for at in range(count)))
    before = time.perf_counter()
    Shelf().refresh()
    print(f"a book of {count} tunes of 256 notes played: read the first time in {time.perf_counter() - before:.0f} s")
    row("look through the shelf after that", timed(lambda: Shelf().refresh(), 20), "at most 50 ms")
    shutil.rmtree(folder_of(book, own_folder()))
    book.unlink()
    book.parent.rmdir()


def _many_files(home: Path, count: int) -> None:
    from trainer.scores.engraving.writing import to_musicxml
    from trainer.scores.shelf.library import Shelf, answers, find, own_folder

    folder = own_folder()
    folder.mkdir(parents=True)
    for number in range(count):
        sub = folder / f"{number % 40:02}"
        sub.mkdir(exist_ok=True)
        (sub / f"piece-{number:05}.musicxml").write_text(to_musicxml(made_up(8, number, f"Piece {number}")))
    shelf = Shelf()
    before = time.perf_counter()
    shelf.refresh(lambda done, total: print(f"\r{done}/{total}", end="", file=sys.stderr))
    print(f"\n{count} files of 8 bars: read the first time in {time.perf_counter() - before:.0f} s")
    row("open the shelf after that", timed(Shelf, 20), "at most 50 ms")
    row("  on the clock on the wall", timed(Shelf, 20, time.perf_counter))
    row("filter by words", timed(lambda: [entry for entry in shelf.entries if answers(entry, "piece 42")], 10))
    row("find a piece by its name", timed(lambda: find(f"piece {count - 1:05}"), 5))
