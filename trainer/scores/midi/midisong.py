"""A song as a Standard MIDI File: which tracks are sung over a keyboard's, and the words under their notes.

Source of how syllables are joined: *Recommended Practice 17, SMF Lyric Events Definition* (MIDI Manufacturers
Association, 1998; from memory).
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from fractions import Fraction

from trainer.music.piece import Word
from trainer.scores.notation.parting import names_keyboard, names_soloist, names_voice, voice_kind

# In place of a track's number: all tracks that are played together.
PLAYED = -1
# Signs of a line's and a verse's end in karaoke files.
_BREAKS = "/\\"
_APART = (" ", *_BREAKS)
# So much of a syllable is printed.
_LONGEST = 40


def singers(names: Mapping[int, str], worded: Collection[int], tracks: Collection[int]) -> list[int]:
    """The tracks of a song that are sung: named as voices or holding words, over tracks of a keyboard; else the one
    of a soloist.

    Parameters
    ----------
    names : mapping of track to name
    worded : collection of int
        Tracks that hold words.
    tracks : collection of int
        Those that hold notes.
    """
    keyboards = [at for at in tracks if names_keyboard(names.get(at, "")) and at not in worded]
    if not keyboards:
        return []
    others = sorted(at for at in tracks if at not in keyboards)
    sung = [at for at in others if at in worded or names_voice(names.get(at, ""))]
    alone = len(others) == 1 and names_soloist(names.get(others[0], ""))
    if sung:
        kinds = {at: voice_kind(names.get(at, "")) for at in others}
        return [at for at in others if at in sung or (kinds[at] and any(kinds[one] for one in sung))]
    return others if alone else []


def others(names: Mapping[int, str], worded: Collection[int], tracks: Collection[int]) -> list[int]:
    """The tracks of other instruments than the keyboard and whoever is shown over it, which nobody here plays; given as
    to `singers`.
    """
    keyboard = any(names_keyboard(names.get(at, "")) and at not in worded for at in tracks)
    shown = singers(names, worded, tracks)
    return [at for at in sorted(tracks) if at not in shown and names_soloist(names.get(at, ""))] if keyboard else []


def words_at(onsets: Mapping[int, Fraction], said: Sequence[tuple[int, str]], near: int = 0) -> tuple[Word, ...]:
    """The syllables of a track at the onsets of its notes, each that goes on ending with a hyphen; several at one note
    are sung together.

    Parameters
    ----------
    onsets : mapping of tick to onset
        Where notes begin.
    said : sequence of (tick, text)
    near : int
        Ticks that words may stand off their note.
    """
    said = [(tick, text) for tick, text in said if text]
    # Where words end, or begin, with a space, what ends without one goes on.
    spaced = any(text != text.strip() for _, text in said)
    ticks = sorted(onsets)
    found: dict[Fraction, str] = {}
    for (tick, text), (_, after) in zip(said, [*said[1:], (0, " ")], strict=False):
        syllable = text.strip().strip(_BREAKS)[:_LONGEST].strip()
        place = bisect_left(ticks, tick)
        closest = min(ticks[max(place - 1, 0) : place + 1], key=lambda one: abs(one - tick), default=None)
        # A dash alone says that the syllable before is sung on.
        if closest is None or abs(closest - tick) > near or not syllable.strip("-_ "):
            continue
        hyphened = syllable.endswith("-")
        joined = hyphened or (spaced and not text.endswith(_APART) and not after.startswith(_APART))
        before = found.get(onsets[closest], "")
        together = before.removesuffix("-") + " " * bool(before and not before.endswith("-"))
        found[onsets[closest]] = together + (syllable.rstrip("- ") if hyphened else syllable) + "-" * joined
    return tuple(Word(onset, found[onset]) for onset in sorted(found))


def sung_text(text: str) -> str:
    """As `plain_text`; the end of a line is one, and no space, which would say how the file parts its words.

    >>> sung_text("falls\\r"), sung_text("\\nnow ")
    ('falls/', '/now ')
    """
    return plain_text(re.sub(r"[\r\n]+", "/", text))


def plain_text(text: str) -> str:
    """Text of a file, which may be UTF-8 and is read as Latin-1; what cannot be printed is a space.

    >>> plain_text("Stra\u00c3\u00a7e"), plain_text("f\u00fcr")
    ('Straçe', 'für')
    """
    with suppress(UnicodeError):
        text = text.encode("latin-1").decode("utf-8")
    return "".join(letter if letter.isprintable() else " " for letter in text)
