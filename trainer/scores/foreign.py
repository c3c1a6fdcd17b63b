"""ABC and Humdrum, through music21, to the MusicXML that everything else is read from."""

from __future__ import annotations

import ctypes
import io
import logging
import re
import threading
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout, suppress
from itertools import takewhile
from typing import Any

from trainer.music.pitch import MusicError
from trainer.scores.guarding import ABC

# Letters of ABC, notes and spines of Humdrum: for as many music21 takes nearly two seconds.
_LONGEST_TUNE = 7_000
_MOST_NOTES = 3_000
_MOST_SPINES = 64
_PATIENCE_S = 1.4
_AGAIN_S = 0.1
# Changes of key, meter and unit length within a line (ABC 2.1, 3.2 "Use of fields within the tune body").
_INLINE = re.compile(r"\[([KML]:[^]\n]*)\]")
_FIELD = re.compile(r"[A-Za-z+]:")


def to_musicxml_text(text: str, kind: str, name: str) -> str:
    """Translate ABC or Humdrum text.

    music21 is given the text and the format by name, never a path, so it can neither guess nor unpickle.

    Raises
    ------
    MusicError
        When music21 cannot make sense of the text.
    """
    if kind == ABC:
        text = _one_tune(text)
        if len(text) > _LONGEST_TUNE:
            raise MusicError(f"'{name}' holds a tune of {len(text) // 1000} kB: save one tune alone, or as MusicXML.")
    else:
        _sized(text, name)
    from music21 import converter
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    try:
        hushed = redirect_stderr(io.StringIO()), redirect_stdout(io.StringIO())
        with warnings.catch_warnings(), hushed[0], hushed[1], _tamed(), _limited():
            warnings.simplefilter("ignore")
            logging.getLogger("music21").setLevel(logging.CRITICAL)
            if kind == ABC:
                stream = converter.parseData(_on_lines(text), format="abc")
                for part in stream.recurse().getElementsByClass("Part"):
                    _barred(part)
            else:
                stream = converter.parseData(text, format="humdrum")
            exporter = GeneralObjectExporter(stream)
            exporter.makeNotation = False  # it would fill the short bars around a repeat with rests
            return bytes(exporter.parse()).decode("utf-8")
    except _TooLong:
        raise MusicError(
            f"'{name}' takes too long to read as {kind}: save one piece alone, or export it as MusicXML."
        ) from None
    except Exception as error:  # music21 raises whatever its parsers meet
        if isinstance(error, MusicError):
            raise
        raise MusicError(
            f"'{name}' is {kind} that cannot be read: check it in the program it comes from, or export it as MusicXML."
        ) from None


def _sized(text: str, name: str) -> None:
    """Refuse Humdrum that would take long: MusicXML is read at any length."""
    notes = 0
    for line in text.splitlines():
        if line.count("\t") >= _MOST_SPINES:
            raise MusicError(f"'{name}' has more than {_MOST_SPINES} spines: export the piano part alone.")
        if line[:1] not in ("*", "!", "=", ""):
            notes += sum(token != "." for token in line.split("\t"))
    if notes > _MOST_NOTES:
        raise MusicError(f"'{name}' holds {notes} notes, at most {_MOST_NOTES} as Humdrum: export it as MusicXML.")


class _TooLong(BaseException):
    """Raised in the middle of music21; no `except Exception` of its own may swallow it."""


@contextmanager
def _limited() -> Iterator[None]:
    """Stop what runs inside after `_PATIENCE_S` of processor time: a few strange words can cost music21 minutes."""
    stop = ctypes.pythonapi.PyThreadState_SetAsyncExc
    reader = ctypes.c_ulong(threading.get_ident())
    over, begun, lock = threading.Event(), time.process_time(), threading.Lock()

    def watch() -> None:
        late = _PATIENCE_S
        while not over.wait(0.05):
            if time.process_time() - begun > late:
                # Once more after a while: a finalizer that runs at that moment swallows what is raised in it.
                late += _AGAIN_S
                with lock:
                    if not over.is_set():
                        stop(reader, ctypes.py_object(_TooLong))

    threading.Thread(target=watch, name="patience", daemon=True).start()
    try:
        yield
    finally:
        # Raised in here, it must not keep the watch from ending.
        while not over.is_set():
            with suppress(_TooLong), lock:
                over.set()
                stop(reader, None)


@contextmanager
def _tamed() -> Iterator[None]:
    """music21 with what would spoil a tune changed.

    No beams are drawn: engraving draws its own, and music21 takes seconds to find those of a long tune. A tune has bars
    as soon as it has a barline, and a change of key or meter belongs to the bar it stands in. Nobody is made the
    composer or the title of a tune that names none.
    """
    from music21 import defaults
    from music21.abcFormat import ABCBar, ABCHandler
    from music21.stream import Stream

    changed: list[tuple[Any, str, Any]] = [
        (Stream, "makeBeams", lambda stream, *_, **__: stream),
        (ABCHandler, "definesMeasures", lambda tune: any(isinstance(token, ABCBar) for token in tune.tokens)),
        (ABCHandler, "tokensToBarIndices", _barlines),
        (defaults, "author", ""),
        (defaults, "title", ""),
    ]
    kept = [(owner, name, getattr(owner, name)) for owner, name, _ in changed]
    for owner, name, new in changed:
        setattr(owner, name, new)
    try:
        yield
    finally:
        for owner, name, old in kept:
            setattr(owner, name, old)


def _barlines(tune: Any) -> list[int]:
    """Where the bars of music21's tokens of a tune end, and the head of it before them."""
    from music21.abcFormat import ABCBar, ABCMetadata

    found = [index for index, token in enumerate(tune.tokens) if isinstance(token, ABCBar)]
    head = takewhile(lambda token: isinstance(token, ABCMetadata), tune.tokens)
    return [sum(1 for _ in head) - 1, *found] if isinstance(tune.tokens[0], ABCMetadata) else found


def _barred(part: Any) -> None:
    """Bars where no barline is written, none for what stands between ``||`` and ``|:``; the first full one is bar 1."""
    bars = list(part.getElementsByClass("Measure"))
    if not bars:
        part.makeMeasures(inPlace=True)
        return
    for bar in bars:
        if not bar.duration.quarterLength:
            part.remove(bar)
    bars = list(part.getElementsByClass("Measure"))
    if bars and bars[0].number == 0 and not bars[0].paddingLeft:
        for bar in bars:
            bar.number += 1


def _on_lines(text: str) -> str:
    """A tune with the fields inside its lines on lines of their own, where music21 sees them."""
    lines, body = [], False
    for line in text.split("\n"):
        music, sign, comment = line.partition("%")
        if body and not _FIELD.match(music):
            music = _INLINE.sub(r"\n\1\n", music)
        body = body or line.startswith("K:")
        lines.append(music + sign + comment)
    return "\n".join(lines)


def _one_tune(text: str) -> str:
    """The first tune of an ABC book: a file of many tunes is a book, and a piece is one of them."""
    tunes = text.replace("\r\n", "\n").split("\nX:")
    return tunes[0] if tunes[0].lstrip("\ufeff \n").startswith("X:") or len(tunes) == 1 else "X:" + tunes[1]
