"""``keyfarer mark PIECE TAKE.mid --to KEY``: the teacher's pencil over a recorded take."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from trainer.commands.asking import console, whole
from trainer.commands.sliplines import lines, whole_take
from trainer.commands.wishes import add_letters, keyboard_of, letters_of, piece_of, planned, played_on
from trainer.following.marks import RIGHT, right_of
from trainer.following.rhythm import say_time
from trainer.following.words import say_together
from trainer.hands.keyboard import KEYBOARDS
from trainer.listening.press import Press
from trainer.listening.replay import read_take
from trainer.music.counted import many
from trainer.music.names import ENGLISH, key_name
from trainer.music.piece import HANDS
from trainer.music.solfege import DO_BASED, LA_BASED
from trainer.music.transpose import OCTAVES, plan
from trainer.refusal import CannotDo
from trainer.session import Session

TAKES = (".mid", ".midi")
_WIDE = 160


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("piece", metavar="PIECE", help="a music file, or the name of a piece on the shelf")
    parser.add_argument("take", metavar="TAKE.mid", help="the recorded take, or a folder of them")
    parser.add_argument("--to", required=True, metavar="KEY", help="Eb, f#, 'F# minor'; or -3, +0; or -m3")
    parser.add_argument("--from", dest="written", metavar="KEY", help="the written key, when the file does not say")
    parser.add_argument("--octave", choices=OCTAVES, default=OCTAVES[0], help="which way to the target key")
    parser.add_argument("--hands", choices=HANDS, default=HANDS[0], help="the hands asked for")
    parser.add_argument(
        "--minor", choices=(LA_BASED, DO_BASED), default=LA_BASED, help="what minor begins on, for syllables (la)"
    )
    parser.add_argument(
        "--keyboard",
        type=whole,
        choices=tuple(KEYBOARDS),
        help="how many keys the piano has (as in Setup): notes it has no key for are not left out",
    )
    add_letters(parser)
    parser.add_argument("--json", action="store_true", help="one JSON object")


def run(args: argparse.Namespace) -> int:
    piece = piece_of(args.piece, args.written)
    takes = _takes(Path(args.take))
    wish, letters = planned(piece.key, args.to, args.octave), letters_of(args)
    keyboard = keyboard_of(args.keyboard)

    def marked(take: Path) -> Session:
        events = read_take(take)
        compass = played_on(keyboard, (event for event in events if isinstance(event, Press)))
        session = Session(piece, wish, hands=args.hands, compass=compass, minor=args.minor)
        for event in events:
            session.hear(event)
        if not session.presses:
            raise CannotDo(f"{take.name} holds no key presses: record the piano's own MIDI and try again.")
        session.finish()
        return session

    if Path(args.take).is_dir():
        return _folder(takes, marked, letters, args.json)
    session = marked(takes[0])
    if args.json:
        print(json.dumps(as_json(session), ensure_ascii=False))
    else:
        show(session, letters)
    return 0


def _takes(place: Path) -> list[Path]:
    if place.is_dir():
        found = sorted(path for path in place.iterdir() if path.suffix.lower() in TAKES)
        if not found:
            raise CannotDo(f"There is no MIDI file in {place}: put the recorded takes there as .mid files.")
        return found
    if not place.exists():
        raise CannotDo(f"There is no file {place}: name a recorded take, a Standard MIDI File.")
    return [place]


def as_json(session: Session) -> dict[str, Any]:
    """The take as the one object ``--json`` prints; notes are named by their ids in the file."""
    settled, summary, piece = session.finish(), session.summary, session.written
    assert summary is not None

    def name(note: int | None) -> str | None:
        return None if note is None else piece.notes[note].id

    return {
        "piece": {
            "title": piece.title,
            "written_key": session.plan.written.name,
            "target_key": session.plan.target.name,
            "interval": session.plan.interval.short,
            "semitones": session.plan.interval.semitones,
            "notes": summary.written,
        },
        "played": [
            {
                "index": index,
                "onset_s": round(press.at, 6),
                "pitch": press.pitch,
                "velocity": press.velocity,
                "note": name(final.note),
                "first": {"note": name(first.note), "cause": first.cause},
                "cause": final.cause,
                "probability": round(final.probability, 4),
            }
            for index, (press, first, final) in enumerate(
                zip(session.presses, session.marks, settled.marks, strict=True)
            )
        ],
        "missed": [piece.notes[note].id for note in settled.missed],
        "moves": [
            {"kind": move.kind, "at_s": round(move.at, 6), "from": name(move.origin), "to": name(move.goal)}
            for move in settled.moves
        ],
        "summary": {
            "right": summary.right,
            "played": summary.played,
            "written": summary.written,
            "accuracy": round(summary.accuracy, 4),
            "pulse_bpm": None if summary.pulse_bpm is None else round(summary.pulse_bpm, 1),
            "seconds": round(summary.seconds, 3),
        },
    }


def show(session: Session, letters: str = ENGLISH) -> None:
    """Print a settled take as a readable table."""
    from rich.table import Table

    out = console()
    out.print(_head(session, letters))
    settled = session.finish()
    strange = _is_other_music(session)
    if strange:
        out.print(
            "Next to nothing of this piece is in the take: is it of another one? Its slips are not told one by one."
        )
    for sentence in () if strange else whole_take(settled, letters):
        out.print(sentence)
    words = {"minor": session.minor, "letters": letters}
    found = list(lines(session.written, session.expected, session.presses, settled, **words))
    if found and not strange:
        if settled.shift:
            out.print("Besides that:")
        table = Table(box=None, pad_edge=False, header_style="italic")
        for column in ("place", "mark", "in words"):
            table.add_column(column)
        for row in found:
            table.add_row(*row)
        out.print(table)
    summary = session.summary
    assert summary is not None
    pulse = "" if summary.pulse_bpm is None else f", pulse {summary.pulse_bpm:.0f}"
    missed = len(settled.missed)
    out.print(
        f"{right_of(summary.right, summary.played, missed)} right "
        f"({many(summary.played, 'press', 'presses')}, {many(missed, 'note')} left out), "
        f"accuracy {summary.accuracy:.0%}{pulse}, {summary.seconds:.0f} s."
    )
    if session.beyond:
        out.print(
            f"Not asked for, beyond the piano's keys: {many(session.beyond, 'note')} (--keyboard 88 asks for all)."
        )
    if session.timing is not None and not strange:
        time = say_time(session.written, session.presses[settled.within], settled.counted, session.timing.bars)
        for sentence in (time, say_together(session.timing)):
            if sentence:
                out.print(sentence)


def _is_other_music(session: Session) -> bool:
    """Whether a take has next to nothing of the piece, as a take in the window that would not be kept."""
    from trainer.following.outside import TELLING, is_other_music

    settled, summary = session.finish(), session.summary
    assert summary is not None
    # Of a take a quarter right there is no doubt.
    doubtful = len(session.presses) >= max(TELLING, 4 * summary.right + 1)
    return doubtful and is_other_music(session.written, settled, asked_for=True)


def _head(session: Session, letters: str) -> str:
    plan_ = session.plan
    way = f"played in {key_name(plan_.target, letters)} ({plan_.words})"
    return f"{session.written.title}, written in {key_name(plan_.written, letters)}, {way}"


def _folder(takes: list[Path], marked: Callable[[Path], Session], letters: str, as_objects: bool) -> int:
    """Mark a folder of takes: a progress bar on the way, one summary table at the end. 2 when any was left out."""
    import sys

    from rich.progress import track
    from rich.table import Table

    from trainer.music.pitch import MusicError

    table = Table(box=None, pad_edge=False, header_style="italic")
    for column in ("take", "right", "played", "left out", "accuracy", "pulse", "most often"):
        table.add_column(column, justify="left" if column in ("take", "most often") else "right", no_wrap=True)
    objects: dict[str, Any] = {}
    refused = 0
    errors = console(stderr=True)
    for take in track(takes, description="marking", console=errors, disable=not sys.stderr.isatty()):
        try:
            session = marked(take)
        except (MusicError, CannotDo) as refusal:
            refused += 1
            errors.print(f"keyfarer: {take.name} is left out: {refusal}", highlight=False, soft_wrap=True)
            continue
        if as_objects:
            objects[take.name] = as_json(session)
        else:
            table.add_row(take.name, *_line(session, letters))
    if as_objects:
        print(json.dumps(objects, ensure_ascii=False))
    else:
        # Into a file or another program lines go whole.
        console(width=None if sys.stdout.isatty() else _WIDE).print(table)
        if refused:
            print(f"{len(takes) - refused} of {len(takes)} takes marked.")
    return 2 if refused else 0


def _line(session: Session, letters: str) -> tuple[str, ...]:
    from collections import Counter

    settled, summary = session.finish(), session.summary
    assert summary is not None
    slips = Counter(mark.cause for mark in settled.counted if mark.cause != RIGHT)
    most = "hardly this piece" if _is_other_music(session) else _elsewhere(session, letters)
    most = most or ", ".join(f"{cause} {count}" for cause, count in slips.most_common(2)) or "—"
    pulse = "" if summary.pulse_bpm is None else f"{summary.pulse_bpm:.0f}"
    return (
        str(summary.right), str(summary.played), str(len(settled.missed)), f"{summary.accuracy:.0%}", pulse, most
    )  # fmt: skip


def _elsewhere(session: Session, letters: str) -> str:
    """Where the whole take lay when it lay elsewhere, in few words."""
    shift = session.finish().shift
    if shift % 12:
        return f"all of it in {key_name(plan(session.plan.target, f'{shift:+d}').target, letters)}"
    return f"all of it {many(abs(shift) // 12, 'octave')} {'higher' if shift > 0 else 'lower'}" if shift else ""
