"""Humdrum, through music21, to the MusicXML that everything else is read from."""

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
from typing import Any
from xml.sax.saxutils import escape

from trainer.music.pitch import MusicError

# Notes and spines: for as many music21 takes nearly two seconds.
_MOST_NOTES = 3_000
_MOST_SPINES = 64
_PATIENCE_S = 1.4
_AGAIN_S = 0.1


def to_musicxml_text(text: str, name: str) -> str:
    """Translate Humdrum text.

    music21 is given the text and the format by name, never a path, so it can neither guess nor unpickle.

    Raises
    ------
    MusicError
        When music21 cannot make sense of the text.
    """
    _sized(text, name)
    from music21 import converter
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    try:
        hushed = redirect_stderr(io.StringIO()), redirect_stdout(io.StringIO())
        with warnings.catch_warnings(), hushed[0], hushed[1], _tamed(), _limited():
            warnings.simplefilter("ignore")
            logging.getLogger("music21").setLevel(logging.CRITICAL)
            stream = converter.parseData(_with_staves(text), format="humdrum")
            exporter = GeneralObjectExporter(stream)
            exporter.makeNotation = False  # it would fill the short bars around a repeat with rests
            return _named(bytes(exporter.parse()).decode("utf-8"), _names(text))
    except _TooLong:
        raise MusicError(
            f"'{name}' takes too long to read as Humdrum: save one piece alone, or export it as MusicXML."
        ) from None
    except Exception as error:  # music21 raises whatever its parsers meet
        if isinstance(error, MusicError):
            raise
        raise MusicError(
            f"'{name}' is Humdrum that cannot be read: check it in the program it comes from, or export it as MusicXML."
        ) from None


def _with_staves(text: str) -> str:
    """Text in which every spine of words says under which staff it stands, as music21 wants it: the one to its left."""
    head = re.search(r"^\*\*.*$", text, re.MULTILINE)
    if head is None or "*staff" in text:
        return text
    spines = head[0].split("\t")
    staff, said = spines.count("**kern") + 1, []
    for spine in spines:
        staff -= spine == "**kern"
        said.append(f"*staff{staff}" if spine in ("**kern", "**text") else "*")
    return f"{text[: head.end()]}\n" + "\t".join(said) + text[head.end() :]


def _names(text: str) -> list[str]:
    """What the parts are called (``*I"``), from the top of the page, the last spine: music21 takes only its codes."""
    spines: list[int] = []
    names: dict[int, str] = {}
    for line in text.splitlines():
        cells = line.split("\t")
        if line.startswith("**"):
            spines = [at for at, cell in enumerate(cells) if cell == "**kern"]
        elif line.startswith("="):
            break
        names |= {at: cell[3:].strip() for at, cell in enumerate(cells) if cell.startswith('*I"')}
    return [names.get(at, "") for at in reversed(spines)]


def _named(document: str, names: list[str]) -> str:
    """A document whose parts without a name have these, where they are as many."""
    plain = re.compile(r"<part-name\s*/>|<part-name>[^<]*</part-name>")
    if len(plain.findall(document)) != len(names):
        return document
    given = iter(names)

    def name(found: re.Match[str]) -> str:
        called = next(given)
        return f"<part-name>{escape(called)}</part-name>" if called and found[0].endswith("/>") else found[0]

    return plain.sub(name, document)


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
    """music21 with what would spoil a piece changed.

    No beams are drawn: engraving draws its own, and music21 takes seconds to find those of a long piece. Nobody is made
    the composer or the title of a piece that names none.
    """
    from music21 import defaults
    from music21.stream import Stream

    changed: list[tuple[Any, str, Any]] = [
        (Stream, "makeBeams", lambda stream, *_, **__: stream),
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
