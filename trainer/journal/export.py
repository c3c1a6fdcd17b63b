"""The journal for other programs: CSV, JSON, MIDI. The columns and keys are listed in DEVELOPERS.md."""

from __future__ import annotations

import csv
import json
import os
import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, TextIO

from trainer.following.marks import Mark
from trainer.journal.errors import JournalError
from trainer.journal.reading import Reading
from trainer.journal.values import KeptTake, TakeRow
from trainer.listening.press import Event, Pedal, Press, Release

FORMAT = "keyfarer-journal"
VERSION = 1
CSV_COLUMNS = (
    "take", "player", "began", "title", "written_key", "target_key", "interval", "hands", "mode", "help", "index",
    "at_s", "pitch", "velocity", "note", "first_note", "first_cause", "cause", "probability", "offset", "shift",
    "verse",
)  # fmt: skip


def written_whole(goal: Path, write: Callable[[TextIO], object], *, folders: bool = False) -> None:
    """A text file written aside, flushed to disk and renamed: whole or not at all, however long it is.

    Parameters
    ----------
    folders : bool
        Make the folders it lies in; a folder named by hand may be a slip.

    Raises
    ------
    JournalError
        When it cannot be written.
    """
    if goal.is_dir():
        raise JournalError(f"{goal} is a folder: name a file in it.")
    part = goal.with_name(f"{goal.name}.part-{os.getpid()}")
    try:
        try:
            if folders:
                goal.parent.mkdir(parents=True, exist_ok=True)
            with open(part, "w", encoding="utf-8", newline="") as out:
                write(out)
                out.flush()
                os.fsync(out.fileno())
            os.replace(part, goal)
        finally:
            part.unlink(missing_ok=True)
    except OSError as why:
        raise JournalError(f"{goal} cannot be written ({why.strerror}): name another file.") from why


def take_numbers(journal: Reading, player: str | None = None) -> list[int]:
    """Every take, oldest first."""
    if player is None:
        return [number for (number,) in journal.ask("SELECT id FROM take ORDER BY id")]
    rows = journal.ask(
        "SELECT t.id FROM take t JOIN player p ON p.id = t.player WHERE p.name = ? ORDER BY t.id", (player,)
    )
    return [number for (number,) in rows]


def readable(journal: Reading, numbers: Iterable[int], damaged: list[int]) -> Iterator[KeptTake]:
    """The takes that can be read; the numbers of the others are put down in `damaged`."""
    for number in numbers:
        try:
            kept = journal.take(number)
        except JournalError:
            damaged.append(number)
        else:
            yield kept


def row_json(row: TakeRow, shift: int) -> dict[str, Any]:
    """One take's line as plain values; `shift`: the semitones by which all of it lay beside what was asked for."""
    return {
        "take": row.id, "player": row.player, "began": row.began.isoformat(timespec="seconds"), "title": row.title,
        "piece": row.piece_key, "written_key": row.written, "target_key": row.target, "interval": row.interval,
        "level": row.level, "hands": row.hands, "mode": row.mode, "tempo": row.tempo, "help": row.help,
        "glimpsed": row.glimpsed, "kind": row.kind, "state": row.state, "right": row.right, "played": row.played,
        "written": row.notes, "missed": row.missed, "accuracy": _rounded(row.accuracy, 4),
        "pulse_bpm": _rounded(row.pulse, 1), "seconds": _rounded(row.seconds, 3), "pace": _rounded(row.pace, 1),
        "cost": _rounded(row.cost, 3), "steadiness": _rounded(row.steadiness, 3), "hesitations": row.hesitations,
        "shift": shift, "verse": row.verse,
    }  # fmt: skip


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def take_json(kept: KeptTake) -> dict[str, Any]:
    """A whole take as plain values: its line, its events, its marks; notes by their ids in the file."""

    def name(note: int | None) -> str | None:
        return None if note is None else kept.piece.notes[note].id

    def mark(one: Mark) -> dict[str, Any]:
        return {
            "note": name(one.note), "cause": one.cause, "probability": round(one.probability, 4), "offset": one.offset,
            "others": [[cause, round(p, 4)] for cause, p in one.others],
        }  # fmt: skip

    settled = kept.settled
    return {
        **row_json(kept.row, settled.shift if settled else 0),
        "events": [_event(event) for event in kept.events],
        "first": [mark(one) for one in kept.first],
        "marks": [mark(one) for one in settled.marks] if settled else None,
        "missed_notes": [name(note) for note in settled.missed] if settled else None,
        "moves": [
            {
                "kind": move.kind, "at_s": round(move.at, 6), "from": name(move.origin), "to": name(move.goal),
                "seconds": round(move.seconds, 3),
            }
            for move in settled.moves
        ]
        if settled
        else None,
        "findings": [finding.words for finding in settled.findings] if settled else None,
    }  # fmt: skip


def _event(event: Event) -> list[Any]:
    if isinstance(event, Press):
        return [round(event.at, 6), "press", event.pitch, event.velocity]
    if isinstance(event, Release):
        return [round(event.at, 6), "release", event.pitch, 0]
    return [round(event.at, 6), event.pedal, 0, event.value] if isinstance(event, Pedal) else []


class _Lines:
    """Takes lines that end with both signs and ends them with a line feed alone."""

    def __init__(self, out: TextIO) -> None:
        self._out = out

    def write(self, line: str) -> int:
        return self._out.write(f"{line.removesuffix(chr(13) + chr(10))}\n")


def write_csv(takes: Iterable[KeptTake], out: TextIO) -> int:
    """One line a key press, all takes one after the other; returns the number of presses."""
    # Python 3.11 quotes a carriage return only where the line ends with one.
    writer = csv.writer(_Lines(out), lineterminator="\r\n")
    writer.writerow(CSV_COLUMNS)
    written = 0
    for kept in takes:
        for line in _csv_lines(kept):
            writer.writerow([_plain(value) for value in line])
            written += 1
    return written


def _plain(value: object) -> object:
    """Text that a spreadsheet would take for a formula is written with an apostrophe before it."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "@", "\t", "\r") else value


def _csv_lines(kept: KeptTake) -> Iterator[tuple[Any, ...]]:
    row, notes = kept.row, kept.piece.notes
    about = (
        row.id, row.player, row.began.isoformat(timespec="seconds"), row.title, row.written, row.target, row.interval,
        row.hands, row.mode, row.help,
    )  # fmt: skip
    final, shift = (kept.settled.marks, kept.settled.shift) if kept.settled else (kept.first, 0)
    for index, (press, first, mark) in enumerate(zip(kept.presses, kept.first, final, strict=False)):
        note = "" if mark.note is None else notes[mark.note].id
        first_note = "" if first.note is None else notes[first.note].id
        yield (
            *about, index, round(press.at, 6), press.pitch, press.velocity, note, first_note, first.cause, mark.cause,
            round(mark.probability, 4), mark.offset, shift, row.verse,
        )  # fmt: skip


def write_json(takes: Iterable[KeptTake], out: TextIO) -> int:
    """One object: ``format``, ``version``, ``takes``; written take by take, so that ten years need no memory."""
    out.write(json.dumps({"format": FORMAT, "version": VERSION})[:-1] + ', "takes": [')
    written = 0
    for kept in takes:
        out.write(("," if written else "") + "\n" + json.dumps(take_json(kept), ensure_ascii=False))
        written += 1
    out.write("\n]}\n")
    return written


def write_midi(takes: Iterable[KeptTake], folder: Path) -> int:
    """Each take as ``take-000012-eb-title.mid`` and its piece, as written, beside it as MusicXML.

    ``keyfarer mark`` on the two gives the marks of the journal again.

    Raises
    ------
    JournalError
        When the folder cannot be written.
    """
    written = 0
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for kept in takes:
            _write_one_midi(kept, folder)
            written += 1
    except OSError as why:
        raise JournalError(f"{folder} cannot be written ({why.strerror}): name another folder.") from why
    return written


def _write_one_midi(kept: KeptTake, folder: Path) -> None:
    from trainer.listening.replay import write_take
    from trainer.scores.engraving.writing import to_musicxml

    stem = f"take-{kept.row.id:06d}-{_plain_name(kept.row.target)}-{_plain_name(kept.row.title)}"
    part = folder / f"{stem}.part"
    try:
        write_take(kept.events, part, title=f"{kept.row.title} in {kept.target.name}")
        os.replace(part, folder / f"{stem}.mid")
    finally:
        part.unlink(missing_ok=True)
    score = folder / f"{_plain_name(kept.row.title)}-{kept.row.piece_key[:8]}.musicxml"
    if not score.exists():
        written_whole(score, lambda out: out.write(to_musicxml(kept.piece)))


def _plain_name(text: str) -> str:
    return re.sub(r"[^\w#]+", "-", text.replace("#", "-sharp")).strip("-").lower()[:40] or "piece"
