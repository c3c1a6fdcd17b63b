"""Files made up from the parts of their kinds, as hypothesis draws them: mostly in order, now and then not."""

from __future__ import annotations

import json
import struct
import zlib
from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st

from tools.fault import mutate, seeds
from trainer.journal.handover import sealed

_NUMBER = st.one_of(st.integers(-2, 20).map(str), st.sampled_from(mutate.NUMBERS), st.integers().map(str))
_WORD = st.one_of(st.sampled_from(mutate.WORDS), st.text(max_size=12))
# Beyond these a file is not stranger, only longer.
_PARTS, _BARS, _ITEMS = 3, 6, 12

# MusicXML: elements as music notation software writes them, each with what it may hold.
_TAGS: dict[str, tuple[str, ...]] = {
    "measure": ("note", "attributes", "direction", "barline", "backup", "forward", "harmony"),
    "note": ("pitch", "rest", "chord", "grace", "duration", "tie", "voice", "type", "dot", "time-modification", "staff",
             "notations", "lyric", "unpitched", "cue", "instrument"),
    "pitch": ("step", "alter", "octave"), "rest": ("display-step", "display-octave"),
    "attributes": ("divisions", "key", "time", "staves", "clef", "transpose", "measure-style"),
    "key": ("fifths", "mode", "cancel"), "time": ("beats", "beat-type", "senza-misura"),
    "clef": ("sign", "line", "clef-octave-change"), "transpose": ("diatonic", "chromatic", "octave-change"),
    "time-modification": ("actual-notes", "normal-notes"), "notations": ("tied", "slur", "fermata", "ornaments"),
    "ornaments": ("trill-mark", "mordent"), "direction": ("direction-type", "sound"),
    "direction-type": ("words", "metronome", "coda", "segno"), "metronome": ("beat-unit", "per-minute"),
    "barline": ("repeat", "ending", "bar-style"), "backup": ("duration",), "forward": ("duration",),
    "harmony": ("root", "kind"), "root": ("root-step", "root-alter"), "lyric": ("syllabic", "text"),
}  # fmt: skip
_TEXTS = ("C", "G", "H", "major", "minor", "quarter", "whole", "begin", "up", "light-heavy", "F", "percussion", "none")
_TEXT = st.one_of(st.integers(0, 9).map(str), st.sampled_from(_TEXTS), _NUMBER, _WORD)
_ATTRIBUTES = ("type", "number", "direction", "times", "tempo", "dacapo", "dalsegno", "fine", "measure", "print-object")
_VALUES = ("start", "stop", "backward", "forward", "yes", "no", "1", "1, 2", "discontinue", "0")
_NAMED = st.lists(st.tuples(st.sampled_from(_ATTRIBUTES), st.sampled_from(_VALUES)), max_size=2)
_ABC = (
    *"CDEFGABcdefgab|[](){}<>~-zxZ\"!,'_^=/:&.+*",
    *"|: :| :: |1 :|2 (3 (9:1:9 C99999 [CEG] z4 A/ A3/2 [K: [M: [V:1] G Dm 4/4 1/8 C| none clef=bass".split(),
    *'"Am7" !trill! %% \\ P:'.split(), " ", "\n", "\nK:", "\nM:", "\nL:", "\nQ:", "\nV:", "\nw:",
)  # fmt: skip
_KERN_NOTES = "4c 8d# 16ee- 2.G 4r [4a 4a] 12b 4.ff; 4cT".split()
_KERN = (
    *_KERN_NOTES, "4c 4e 4g",
    *"_4a 8LL 0c 000c 4 . = =1 == =2:|! *^ *v *- *+ *x * *clefG2 *clefF4 *k[b-] *k[f#c#] *G: *g: *M3/4 *M0/0".split(),
    *"*met(c) *MM96 ! !! **kern **text 1%0c 4..c q8c 8qqd @4c".split(),
)  # fmt: skip
_TOML_KEYS = (
    "name voice tessitura piece key keys player tempo goal times set by note bar beat numeral singer date title hands "
    "help stage level song"
).split()
_TABLES = ("singer", "occasion", "occasion.song", "assignment", "chord", "stage", "", "a.b.c")
_SOUND = (
    '"Ada Winter"', '["Eb", "F#"]', '"""\na"""', '"2 1/2"',
    *'"Eb" "aura-lee" "A3-D5" 60 0.9 2027-02-06 "both" [] {} true 1e400 -1 2027-02-30 0x [[1]] "V7/V"'.split(),
)  # fmt: skip


_ORDERLY = st.builds(
    "<note><pitch><step>{}</step><octave>{}</octave></pitch><duration>{}</duration>{}</note>".format,
    st.sampled_from("CDEFGAB"), st.integers(2, 6), st.integers(1, 8),
    st.sampled_from(("", "", "<voice>1</voice>", "<voice>2</voice>", '<tie type="start"/>', "<staff>2</staff>")),
)  # fmt: skip


@st.composite
def _bar(draw: st.DrawFn, number: int) -> str:
    """Mostly a bar a program of notation could have written, with something else in it."""
    if draw(st.integers(0, 3)) == 0:
        return draw(_element("measure"))
    items = draw(st.lists(_ORDERLY, min_size=1, max_size=6))
    for strange in draw(st.lists(st.sampled_from(_TAGS["measure"]).flatmap(_element), max_size=2)):
        items.insert(draw(st.integers(0, len(items))), strange)
    start = "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    return f'<measure number="{number}">{start if number == 1 else ""}{"".join(items)}</measure>'


@st.composite
def _element(draw: st.DrawFn, tag: str, depth: int = 0) -> str:
    named = draw(_NAMED)
    attributes = "".join(f' {name}="{value}"' for name, value in dict(named).items())
    children = _TAGS.get(tag, ())
    if not children or depth > 4:
        text = draw(_TEXT)
        return f"<{tag}{attributes}>{text}</{tag}>"
    chosen = draw(st.lists(st.sampled_from(children), max_size=_ITEMS if tag == "measure" else 5))
    return f"<{tag}{attributes}>{''.join(draw(_element(each, depth + 1)) for each in chosen)}</{tag}>"


@st.composite
def _musicxml(draw: st.DrawFn) -> bytes:
    parts = draw(st.integers(1, _PARTS))
    whole = "".join(f'<score-part id="P{at}"><part-name>a</part-name></score-part>' for at in range(parts))
    body = ""
    for at in range(parts):
        bars = [draw(_bar(number)) for number in range(1, draw(st.integers(1, _BARS)) + 1)]
        body += f'<part id="P{at}">{"".join(bars)}</part>'
    text = f'<score-partwise version="4.0"><part-list>{whole}</part-list>{body}</score-partwise>'
    return text.encode("utf-8", "surrogatepass")


_ABC_NOTES = "C D E F G A B c d e f g C2 D2 E2 z2 (CDE) [CEG]2 (3CDE ^F2 _B2".split()
_ABC_BAR = st.lists(st.sampled_from(_ABC_NOTES), min_size=1)
_ABC_LINE = st.lists(_ABC_BAR.map(" ".join), min_size=1, max_size=4).map("|".join)


@st.composite
def _abc(draw: st.DrawFn) -> bytes:
    """Bars of notes, with anything at all in a place or two."""
    lines = draw(st.lists(_ABC_LINE, min_size=1, max_size=4))
    text = "|\n".join(lines) + "|]\n"
    for strange in draw(st.lists(st.one_of(st.sampled_from(_ABC), _NUMBER, _WORD), max_size=3)):
        at = draw(st.integers(0, len(text)))
        text = text[:at] + strange + text[at:]
    head = "X:1\nT:x\nM:{}\nL:1/8\nK:{}\n".format(
        draw(st.sampled_from("4/4 3/4 6/8 C none".split())), draw(st.sampled_from("C G Eb F#m Ddor none".split()))
    )
    return (head + text).encode("utf-8", "surrogatepass")


@st.composite
def _humdrum(draw: st.DrawFn) -> bytes:
    spines = draw(st.integers(1, _PARTS))
    token = st.one_of(st.sampled_from(_KERN), st.sampled_from(_KERN), _WORD)
    rows = ["\t".join(["**kern"] * spines), "\t".join(["*M4/4"] * spines)]
    for _ in range(draw(st.integers(1, 20))):
        if draw(st.integers(0, 9)):
            row = draw(st.lists(st.sampled_from(_KERN_NOTES), min_size=spines, max_size=spines))
        else:
            row = draw(st.lists(token, min_size=max(0, spines - 1), max_size=spines + 1))
        rows.append("\t".join(row))
    return "\n".join([*rows, "\t".join(["*-"] * spines), ""]).encode("utf-8", "surrogatepass")


@st.composite
def _toml(draw: st.DrawFn) -> bytes:
    lines = []
    for _ in range(draw(st.integers(0, 6))):
        table = draw(st.sampled_from(_TABLES))
        lines.append(draw(st.sampled_from((f"[[{table}]]", f"[{table}]"))))
        for _ in range(draw(st.integers(0, 5))):
            value = draw(st.one_of(st.sampled_from(_SOUND), st.sampled_from(_SOUND), _NUMBER, _WORD))
            lines.append(f"{draw(st.sampled_from(_TOML_KEYS))} = {value}")
    return "\n".join(lines).encode("utf-8", "surrogatepass")


def _quantity(value: int) -> bytes:
    """A variable-length quantity (Standard MIDI Files 1.0)."""
    out = [value & 0x7F]
    while value := value >> 7:
        out.append(0x80 | value & 0x7F)
    return bytes(reversed(out))


_DELTA = st.one_of(*[st.integers(0, 200)] * 4, st.integers(0, 2**28 - 1)).map(_quantity)
_TWO = st.tuples(st.integers(0, 127), st.integers(0, 127)).map(bytes)
_KEY = st.builds(lambda key, hard: bytes([0x90, key, hard]), st.integers(21, 108), st.sampled_from((0, 64, 64)))
_EVENT = st.one_of(
    st.tuples(st.sampled_from((0x80, 0x90, 0x90, 0xA0, 0xB0, 0xE0)), st.integers(0, 15), _TWO)
    .map(lambda it: bytes([it[0] | it[1]]) + it[2]),
    _TWO,
    st.tuples(st.sampled_from((0x01, 0x03, 0x20, 0x2F, 0x51, 0x54, 0x58, 0x59, 0x7F)), st.binary(max_size=6))
    .map(lambda it: bytes([0xFF, it[0], len(it[1])]) + it[1]),
    st.binary(max_size=6).map(lambda data: b"\xf0" + bytes([len(data)]) + data),
)  # fmt: skip


@st.composite
def _midi(draw: st.DrawFn) -> bytes:
    tracks = draw(st.lists(st.lists(st.tuples(_DELTA, _KEY), min_size=1, max_size=30), max_size=_PARTS))
    for strange in draw(st.lists(st.tuples(_DELTA, _EVENT), max_size=2)) if tracks else ():
        track = draw(st.sampled_from(tracks))
        track.insert(draw(st.integers(0, len(track))), strange)
    form = draw(st.sampled_from((0, 1, 1, 1, 1, 1, 2, 9)))
    count = draw(st.sampled_from((*[len(tracks)] * 8, len(tracks) + 1, 65535)))
    division = draw(st.sampled_from((*[96] * 4, *[480] * 4, 1, 0, 0xE728, 65535)))
    out = b"MThd" + struct.pack(">IHHH", 6, form, count, division)
    for track in tracks:
        body = b"".join(delta + event for delta, event in track) + draw(st.sampled_from((b"\0\xff\x2f\0", b"")))
        out += b"MTrk" + struct.pack(">I", len(body) + draw(st.sampled_from((0, 0, 0, 5)))) + body
    return out


_JSON: st.SearchStrategy[Any] = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20)),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4), max_leaves=12,
)  # fmt: skip


@st.composite
def _hand_over(draw: st.DrawFn) -> bytes:
    """A sealed head of every shape before the journal of a true one, or before anything."""
    head, packed = seeds.of_kind(seeds.HAND_OVER)[0].split(b"\n", 2)[2].split(b"\n", 1)
    known = json.loads(head)
    known |= draw(st.dictionaries(st.sampled_from((*known, "more")), _JSON, max_size=3))
    said = json.dumps(draw(st.one_of(st.just(known), _JSON))).encode()
    inner = draw(st.one_of(st.just(packed), st.binary(max_size=40), st.binary(max_size=200).map(zlib.compress)))
    return sealed(said + b"\n" + inner)


_MADE: dict[str, Callable[[], st.SearchStrategy[bytes]]] = {
    seeds.MUSICXML: _musicxml, seeds.MXL: lambda: _musicxml().map(seeds.packed), seeds.MIDI: _midi, seeds.TAKE: _midi,
    seeds.ABC: _abc, seeds.HUMDRUM: _humdrum,
    seeds.TOML: _toml, seeds.HAND_OVER: _hand_over,
    seeds.SETTINGS: lambda: _JSON.map(lambda value: json.dumps(value).encode()),
}  # fmt: skip


def wounded(kind: str) -> st.SearchStrategy[bytes]:
    """A sound file of a kind with wounds where hypothesis wants them."""
    return st.tuples(st.sampled_from(seeds.of_kind(kind)), st.randoms(use_true_random=False)).map(
        lambda drawn: mutate.mutated(drawn[0], kind, drawn[1])
    )


def files(kind: str) -> st.SearchStrategy[bytes]:
    """Files of a kind: made up from its parts, or sound ones wounded."""
    return st.one_of(_MADE[kind](), wounded(kind)) if kind in _MADE else wounded(kind)
