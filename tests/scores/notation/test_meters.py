"""A meter that the page shows as C or as C struck through is shown so again, in every key, on paper and in files."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET

import pytest

from tests.scores.making import score, xml_note
from trainer.music.packed import music, packed, unpacked
from trainer.music.passage import passage
from trainer.music.piece import Piece
from trainer.music.pitch import Interval
from trainer.music.transpose import transposed
from trainer.scores.engraving.engraving import Look, engrave
from trainer.scores.engraving.writing import to_musicxml
from trainer.scores.notation.preparing import Print
from trainer.scores.reading import from_bytes

# As SMuFL numbers their glyphs (https://w3c.github.io/smufl/latest/tables/time-signatures.html).
COMMON, CUT = "E08A", "E08B"


def shown(piece: Piece, printing: Print | None = None) -> list[tuple[str, str]]:
    """Of every printed meter the bar and the symbol."""
    bars = ET.fromstring(to_musicxml(piece, printing)).iter("measure")
    return [(bar.get("number", ""), time.get("symbol", "")) for bar in bars for time in bar.iter("time")]


def tune(meter: str, later: str = "") -> Piece:
    return from_bytes(f"X:1\nT:Tune\nM:{meter}\nL:1/4\nK:G\nG A B c|d4|{later}d c B A|G4|]\n".encode(), "tune.abc")


@pytest.mark.parametrize(
    ("meter", "numbers", "symbol", "glyph"),
    [("C", (4, 4), "common", COMMON), ("C|", (2, 2), "cut", CUT), ("4/4", (4, 4), "", ""), ("2/2", (2, 2), "", "")],
)
def test_a_symbol_stands_where_the_page_has_it(meter: str, numbers: tuple[int, int], symbol: str, glyph: str) -> None:
    piece = tune(meter)
    assert {(bar.meter, bar.symbol) for bar in piece.bars} == {(numbers, symbol)}
    lower = transposed(piece, Interval.parse("-m3"))
    for one in (piece, lower, unpacked(json.loads(json.dumps(packed(piece)))), passage(lower, (2, 3))):
        assert one.bars[0].symbol == symbol
        assert [said for _, said in shown(one)] == [symbol]
        assert [said for _, said in shown(one, Print())] == [symbol]
        drawn = set(re.findall("E08[AB]", engrave(one, Look(900, 40)).systems[0].svg))
        assert drawn == ({glyph} if glyph else set())
    again = from_bytes(to_musicxml(piece).encode(), "x")
    assert again.bars == piece.bars


def test_the_meter_is_shown_anew_where_it_or_its_symbol_changes() -> None:
    assert shown(tune("C", "[M:C|]")) == [("1", "common"), ("3", "cut")]
    assert shown(tune("C", "[M:4/4]")) == [("1", "common"), ("3", "")]
    assert shown(tune("C", "[M:C]")) == [("1", "common")]
    changed = tune("4/4", "[M:C]")
    assert unpacked(packed(changed)).bars == changed.bars


@pytest.mark.parametrize(
    ("symbol", "beats", "unit", "read"),
    [("common", 4, 4, "common"), ("cut", 2, 2, "cut"), ("cut", 4, 4, "cut"), ("common", 3, 4, ""), ("cut", 6, 8, ""),
     ("single-number", 4, 4, ""), ("normal", 4, 4, "")],
)  # fmt: skip
def test_musicxml_says_the_symbol_of_a_meter_it_may_stand_for(symbol: str, beats: int, unit: int, read: str) -> None:
    """MusicXML 4.0, `time-symbol`."""
    meter = f'<time symbol="{symbol}"><beats>{beats}</beats><beat-type>{unit}</beat-type></time>'
    head = f"<attributes><divisions>1</divisions>{meter}</attributes>"
    piece = from_bytes(score(f'<measure number="1">{head}{xml_note("C4", 3)}</measure>'), "x")
    assert (piece.bars[0].meter, piece.bars[0].symbol) == ((beats, unit), read)


def test_the_journal_knows_a_piece_by_its_meter_in_figures() -> None:
    assert music(tune("C")) == music(tune("4/4"))
    assert packed(tune("4/4")).keys() == packed(tune("C")).keys() - {"symbols"}


def bars(*times: str, lengths: tuple[int, ...] = (4, 4, 3)) -> Piece:
    """Bars of quarters, each after what it says of its meter."""
    made = "".join(
        f'<measure number="{at + 1}"><attributes><divisions>1</divisions>{time}</attributes>'
        + "".join(xml_note("C4", 1, "<type>quarter</type>") for _ in range(length)) + "</measure>"
        for at, (time, length) in enumerate(zip(times, lengths, strict=True))
    )  # fmt: skip
    return from_bytes(score(made), "x")


FOUR = "<time><beats>4</beats><beat-type>4</beat-type></time>"
SENZA = "<time><senza-misura/></time>"
HIDDEN = '<time print-object="no"><beats>3</beats><beat-type>4</beat-type></time>'


@pytest.mark.parametrize(
    ("times", "lengths", "meters"),
    [((FOUR, SENZA, ""), (4, 7, 5), [(4, 4, ""), (7, 4, "unshown"), (5, 4, "unshown")]),
     ((SENZA, FOUR, ""), (9, 4, 4), [(9, 4, "unshown"), (4, 4, ""), (4, 4, "")]),
     (("", "", ""), (2, 2, 2), [(2, 4, "unshown")] * 3),
     ((FOUR, HIDDEN, FOUR), (4, 3, 4), [(4, 4, ""), (3, 4, "unshown"), (4, 4, "")])],
    ids=["senza misura", "senza misura first", "none said", "hidden"],
)  # fmt: skip
def test_music_without_a_meter_on_its_page_is_shown_none(
    times: tuple[str, ...], lengths: tuple[int, ...], meters: list[tuple[int, int, str]]
) -> None:
    """MusicXML 4.0: `senza-misura`, and `print-object`; what a page has not the player must not read from it."""
    piece = bars(*times, lengths=lengths)
    assert [(*bar.meter, bar.symbol) for bar in piece.bars] == meters
    assert [bar.number for bar in piece.bars] == [1, 2, 3]
    drawn = engrave(piece, Look(900, 40)).systems[0].svg
    fours = sum(symbol == "" and (at == 0 or meters[at - 1] != (4, 4, "")) for at, (*_, symbol) in enumerate(meters))
    assert drawn.count('class="meterSig"') - drawn.count('class="meterSig" visibility="hidden"') == fours
    assert from_bytes(to_musicxml(piece).encode(), "x").bars == piece.bars
    assert unpacked(json.loads(json.dumps(packed(piece)))).bars == piece.bars
    assert [bar.beat_quarters for bar in piece.bars] == [1, 1, 1]


def test_rests_without_a_meter_are_parted_by_no_beat() -> None:
    free = from_bytes(b"X:1\nT:Tune\nM:none\nL:1/4\nK:G\nG z2 G G z z/2 G/2|G4|]\n", "tune.abc")
    rests = [n for n in ET.fromstring(to_musicxml(free)).iter("note") if n.find("rest") is not None]
    assert [(n.findtext("type"), len(n.findall("dot"))) for n in rests] == [("half", 0), ("quarter", 1)]


def test_a_tune_may_leave_its_meter_and_take_it_up_again() -> None:
    """ABC 2.1, 3.1.6: `M:none` is free meter (from memory)."""
    tune = b"X:1\nT:Tune\nM:3/4\nL:1/4\nK:G\nG A B|[M:none]c d e d c B A|[M:3/4]B A G|G3|]\n"
    assert [(bar.meter, bar.symbol) for bar in from_bytes(tune, "tune.abc").bars] == [
        ((3, 4), ""), ((7, 4), "unshown"), ((3, 4), ""), ((3, 4), ""),
    ]  # fmt: skip
