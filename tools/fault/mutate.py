"""Sound files made unsound: by chance, and with some knowledge of what they hold."""

from __future__ import annotations

import io
import random
import re
import struct
import zipfile
import zlib

from tools.fault import seeds
from trainer.journal.handover import sealed

NUMBERS = (
    "0", "-1", "1", "127", "128", "255", "256", "32767", "65536", "2147483648", "-2147483649", "99999999999999999999",
    "1e308", "1e999", "-0.0", "nan", "inf", "1/0", "0.000000001", "", " ", "½", "٣", "१२", "1_000",
)  # fmt: skip
WORDS = (
    "", "\x00", "\ufeff", "\u202e", "é" * 40, "../" * 8 + "etc/passwd", "<![CDATA[", "]]>", "&#0;", "&#xFFFFFF;",
    "&lol;",
    "%n%s", "'; DROP TABLE take; --", "${x}", "{{7*7}}", "A" * 5000, "🎹", "\ud7ff", "-->", "<!--", "\r", "\n\n\n",
    "[", "]",
    '"', "C##", "Bbb", "H", "**kern", "*-", "X:1", "K:none", "V:99", "[[", "{", "}", "!!", "*^", "*v",
)  # fmt: skip
_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")


def mutated(data: bytes, kind: str, dice: random.Random, depth: int | None = None) -> bytes:
    """One unsound file; `depth` is how many wounds it gets, 1 to 6 by default."""
    wounds = dice.choice((1, 1, 1, 2, 2, 3, 6)) if depth is None else depth
    if kind == seeds.MXL and dice.random() < 0.6:
        return _inside_zip(data, dice, wounds)
    if kind == seeds.HAND_OVER and dice.random() < 0.7:
        return _inside_hand_over(data, dice, wounds)
    by_kind = {
        seeds.MUSICXML: (_element, _element, _element, _number, _number, _number, _word, _lines, *_BYTES),
        seeds.ABC: (_number, _word, _lines, _letter, *_BYTES),
        seeds.HUMDRUM: (_number, _word, _lines, _letter, *_BYTES),
        seeds.TOML: (_number, _word, _lines, _letter, *_BYTES),
        seeds.SETTINGS: (_number, _word, _letter, *_BYTES),
        seeds.MIDI: (_event, _event, _event, _length, *_BYTES),
        seeds.TAKE: (_event, _event, _event, _length, *_BYTES),
    }
    ways = by_kind.get(kind, _BYTES)
    for _ in range(wounds):
        data = dice.choice(ways)(data, dice)
    return data


def flipped(data: bytes, dice: random.Random) -> bytes:
    """One bit the other way round."""
    if not data:
        return data
    out = bytearray(data)
    out[dice.randrange(len(out))] ^= 1 << dice.randrange(8)
    return bytes(out)


def cut(data: bytes, dice: random.Random) -> bytes:
    """The end, or the start, missing."""
    at = dice.randrange(len(data) + 1)
    return data[:at] if dice.random() < 0.8 else data[at:]


def _hole(data: bytes, dice: random.Random) -> bytes:
    at = dice.randrange(len(data) + 1)
    return data[:at] + data[at + dice.choice((1, 2, 4, 16, 200)) :]


def _noise(data: bytes, dice: random.Random) -> bytes:
    at = dice.randrange(len(data) + 1)
    return data[:at] + dice.randbytes(dice.choice((1, 2, 4, 32))) + data[at:]


def _block(data: bytes, dice: random.Random) -> bytes:
    """A piece of the file a second time, or many times, somewhere else."""
    start = dice.randrange(len(data) + 1)
    piece = data[start : start + dice.choice((8, 60, 400))] * dice.choice((1, 1, 2, 40))
    at = dice.randrange(len(data) + 1)
    return data[:at] + piece + data[at:]


_BYTES = (flipped, flipped, cut, _hole, _noise, _block)


def _swap(data: bytes, span: tuple[int, int], fresh: str) -> bytes:
    return data[: span[0]] + fresh.encode("utf-8", "surrogatepass") + data[span[1] :]


def _number(data: bytes, dice: random.Random) -> bytes:
    found = [match.span() for match in _NUMBER.finditer(data)]
    return _swap(data, dice.choice(found), dice.choice(NUMBERS)) if found else data


def _word(data: bytes, dice: random.Random) -> bytes:
    at = dice.randrange(len(data) + 1)
    return _swap(data, (at, at), dice.choice(WORDS))


def _letter(data: bytes, dice: random.Random) -> bytes:
    if not data:
        return data
    at = dice.randrange(len(data))
    return _swap(data, (at, at + 1), chr(dice.randrange(1, 128)))


def _lines(data: bytes, dice: random.Random) -> bytes:
    lines = data.split(b"\n")
    one, other = dice.randrange(len(lines)), dice.randrange(len(lines))
    way = dice.randrange(3)
    if way == 0:
        lines[one], lines[other] = lines[other], lines[one]
    elif way == 1:
        lines.insert(one, lines[other])
    else:
        del lines[one]
    return b"\n".join(lines)


def _element(data: bytes, dice: random.Random) -> bytes:
    """An element emptied, doubled, dropped or put elsewhere; an attribute changed."""
    found = list(re.finditer(rb"<(\w[\w-]*)[^<>]*>[^<>]*</\1>|<\w[^<>]*/>", data))
    if not found:
        return data
    one, other = dice.choice(found), dice.choice(found)
    way = dice.randrange(5)
    if way == 0:
        return data[: one.start()] + data[one.end() :]
    if way == 1:
        return data[: one.end()] + one[0] * dice.choice((1, 2, 130)) + data[one.end() :]
    if way == 2:
        return data[: other.start()] + one[0] + data[other.start() :]
    if way == 3:
        return (
            data[: one.start()]
            + re.sub(rb">[^<>]*<", lambda _: b">" + dice.choice(NUMBERS).encode() + b"<", one[0])
            + (data[one.end() :])
        )
    return (
        data[: one.start()]
        + re.sub(rb'"[^"]*"', lambda _: b'"' + dice.choice(WORDS).encode("utf-8", "surrogatepass") + b'"', one[0])
        + data[one.end() :]
    )


def _event(data: bytes, dice: random.Random) -> bytes:
    """A MIDI event put into a track."""
    events = (
        b"\x00\xff\x51\x03\x00\x00\x00", b"\x00\xff\x51\x03\xff\xff\xff", b"\x00\xff\x51\x01\x05",
        b"\x00\xff\x58\x04\x00\x00\x18\x08", b"\x00\xff\x58\x04\x04\x40\x18\x08", b"\x00\xff\x58\x02\x04\x02",
        b"\x00\xff\x59\x02\x09\x05", b"\x00\xff\x59\x01\x00", b"\x00\xff\x2f\x00", b"\x00\xff\x03\x81\x80\x00abc",
        b"\xff\xff\xff\x7f\x90\x40\x40", b"\x00\xf0\xff\xff\xff\x7f\x41", b"\x00\xf0\x02\x41\xf7", b"\x00\xf7\x00",
        b"\x00\xf8", b"\x00\xff\x7f\x00", b"\x00\x90\xff\xff", b"\x00\x90\x40\x00",
        b"\x00\xff\x54\x05\xff\xff\xff\xff\xff",
        b"\x00\xff\x21\x00", b"\x00\xff\x20\x01\x10", b"\x00\xff\x00\x00",
    )  # fmt: skip
    at = dice.randrange(len(data) + 1)
    return data[:at] + dice.choice(events) + data[at:]


def _length(data: bytes, dice: random.Random) -> bytes:
    """A chunk that says it is longer or shorter than it is; or a strange head."""
    places = [match.end() for match in re.finditer(b"MTrk|MThd", data)]
    if not places:
        return data
    at = dice.choice(places)
    if dice.random() < 0.4:
        head = struct.pack(">HHH", dice.choice((0, 1, 2, 9, 65535)), dice.choice((0, 1, 65535)), dice.randrange(65536))
        return data[:8] + head + data[14:]
    return data[:at] + struct.pack(">I", dice.choice((0, 1, 7, 65535, 2**31, 2**32 - 1))) + data[at + 4 :]


def _inside_zip(data: bytes, dice: random.Random, wounds: int) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        score = archive.read("score.musicxml")
    inner = dice.choice(("score.musicxml", "../../score.musicxml", "/score.xml", "a" * 300 + ".xml", "C:\\score.xml"))
    return seeds.packed(mutated(score, seeds.MUSICXML, dice, wounds), inner)


def _inside_hand_over(data: bytes, dice: random.Random, wounds: int) -> bytes:
    """The journal inside made unsound and sealed anew, so that the seal does not catch it."""
    content = data.split(b"\n", 2)[2]
    head, packed = content.split(b"\n", 1)
    if dice.random() < 0.3:
        head = mutated(head, seeds.SETTINGS, dice, wounds)
    else:
        inner = zlib.decompress(packed)
        for _ in range(wounds):
            inner = dice.choice((flipped, flipped, flipped, cut, _word, _hole))(inner, dice)
        packed = zlib.compress(inner, 1)
    return sealed(head.replace(b"\n", b" ") + b"\n" + packed)
