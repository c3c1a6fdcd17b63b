"""ABC and Humdrum, through music21, to the MusicXML that everything else is read from."""

from __future__ import annotations

import io
import logging
import warnings
from contextlib import redirect_stderr, redirect_stdout

from trainer.music.pitch import MusicError
from trainer.scores.guarding import ABC

# Letters of ABC; music21 takes seconds for as many.
_LONGEST_TUNE = 30_000


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
            raise MusicError(f"'{name}' holds a tune of {len(text) // 1000} kB: save one tune alone.")
    from music21 import converter
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    try:
        with warnings.catch_warnings(), redirect_stderr(io.StringIO()), redirect_stdout(io.StringIO()):
            warnings.simplefilter("ignore")
            logging.getLogger("music21").setLevel(logging.CRITICAL)
            if kind == ABC:
                stream = converter.parseData(text, format="abc")
                for measure in list(stream.recurse().getElementsByClass("Measure")):
                    if not measure.duration.quarterLength and measure.activeSite is not None:
                        measure.activeSite.remove(measure)  # what stands between || and |:
            else:
                stream = converter.parseData(text, format="humdrum")
            exporter = GeneralObjectExporter(stream)
            exporter.makeNotation = False  # it would fill the short bars around a repeat with rests
            return bytes(exporter.parse()).decode("utf-8")
    except Exception as error:  # music21 raises whatever its parsers meet
        if isinstance(error, MusicError):
            raise
        raise MusicError(
            f"'{name}' is {kind} that cannot be read: check it in the program it comes from, or export it as MusicXML."
        ) from None


def _one_tune(text: str) -> str:
    """The first tune of an ABC book: a file of many tunes is a book, and a piece is one of them."""
    tunes = text.replace("\r\n", "\n").split("\nX:")
    return tunes[0] if tunes[0].lstrip("\ufeff \n").startswith("X:") or len(tunes) == 1 else "X:" + tunes[1]
