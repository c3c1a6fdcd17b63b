"""``keyfarer suit`` as it is typed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from trainer.app import main
from trainer.music.pitch import SpelledPitch

EXERCISES = Path(__file__).parents[2] / "exercises"
KEYS = {"key", "interval", "direction", "semitones", "low", "high", "fit", "ease", "why"}
LINE = ["suit", "--line", "F4-F5", "--written", "Bb", "--tessitura", "D4-D5"]


def said(capsys: pytest.CaptureFixture[str], *words: str) -> list[dict[str, Any]]:
    assert main([*words, "--json"]) == 0
    out = json.loads(capsys.readouterr().out)
    assert set(out) == {"keys"}
    assert all(set(row) == KEYS for row in out["keys"])
    return list(out["keys"])


def test_g_down_a_minor_third_first(capsys: pytest.CaptureFixture[str]) -> None:
    first = said(capsys, *LINE)[0]
    assert {name: first[name] for name in ("key", "interval", "direction", "semitones", "low", "high", "fit")} == {
        "key": "G", "interval": "minor third", "direction": "down", "semitones": -3, "low": "D4", "high": "D5",
        "fit": 1.0,
    }  # fmt: skip


def test_ranked_by_fit_and_ease(capsys: pytest.CaptureFixture[str]) -> None:
    rows = said(capsys, *LINE)
    assert len({row["key"] for row in rows}) == len(rows) > 3
    assert all(0 <= row[figure] <= 1 for row in rows for figure in ("fit", "ease"))
    assert rows[0]["fit"] == max(row["fit"] for row in rows)


def test_the_readable_table_carries_the_caution_and_says_concert_pitch(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(LINE) == 0
    out = capsys.readouterr().out
    for part in ("G major", "down a minor third", "concert pitch", "counts alike", "voice teacher's word stands"):
        assert part in out


def test_how_long_is_said_only_where_it_is_known(capsys: pytest.CaptureFixture[str]) -> None:
    for words, timed in ((LINE, False), (["suit", "aura-lee", "--tessitura", "D4-D5"], True)):
        assert main(words) == 0
        out = capsys.readouterr().out
        assert ("of its time" in " ".join(out.split())) == timed
        assert "E♭4" in out
        assert "Eb4" not in out


def test_a_piece_and_a_voice_type(capsys: pytest.CaptureFixture[str]) -> None:
    song = str(EXERCISES / "hexachord" / "aura-lee.musicxml")
    rows = said(capsys, "suit", song, "--voice", "mezzo")
    assert rows[0]["fit"] > 0.8
    shifted = said(capsys, "suit", song, "--tessitura", "A3-F4")
    assert rows[0]["semitones"] != shifted[0]["semitones"]


def test_a_line_too_wide_says_by_how_much(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["suit", "--line", "F4-A5", "--written", "F", "--tessitura", "D4-D5"]) == 0
    assert "four semitones wider than D4–D5" in capsys.readouterr().out


def test_playing_from_a_part(capsys: pytest.CaptureFixture[str]) -> None:
    (row,) = said(capsys, "suit", "--instrument", "clarinet in B flat", "--written", "Bb")
    assert (row["key"], row["interval"], row["direction"], row["semitones"]) == ("Ab", "major second", "down", -2)
    assert "written in B♭ major" in str(row["why"])
    assert "sounds in A♭ major (concert)" in str(row["why"])


def test_a_file_that_says_how_its_part_sounds_is_not_moved_twice(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """MusicXML's `transpose`: the clarinet's G major of the page is read as the F major that sounds."""
    part = tmp_path / "clarinet.musicxml"
    part.write_text(
        "<score-partwise><part-list><score-part id='P1'><part-name>Clarinet in Bb</part-name></score-part></part-list>"
        "<part id='P1'><measure number='1'><attributes><divisions>1</divisions><key><fifths>1</fifths>"
        "<mode>major</mode></key><time><beats>4</beats><beat-type>4</beat-type></time><transpose>"
        "<diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes><note><pitch><step>G</step>"
        "<octave>4</octave></pitch><duration>4</duration><type>whole</type></note><note><pitch><step>D</step>"
        "<octave>5</octave></pitch><duration>4</duration><type>whole</type></note></measure></part></score-partwise>"
    )
    (row,) = said(capsys, "suit", str(part), "--instrument", "clarinet in B flat")
    assert (row["key"], row["semitones"], row["low"], row["high"]) == ("F", 0, "F4", "C5")
    assert "reads G major" in str(row["why"])


def test_the_line_of_a_part_as_written_and_as_it_sounds(capsys: pytest.CaptureFixture[str]) -> None:
    (row,) = said(capsys, "suit", "aura-lee", "--instrument", "clarinet in B flat")
    assert (row["low"], row["high"]) == ("C4", "Bb4")
    assert "D4–C5 (written) sounds C4–B♭4 (concert)" in str(row["why"])
    (row,) = said(capsys, "suit", "--instrument", "piccolo", "--written", "D", "--line", "D4-A5")
    assert (row["low"], row["high"]) == ("D5", "A6")


def test_the_part_for_a_sounding_key(capsys: pytest.CaptureFixture[str]) -> None:
    (row,) = said(capsys, "suit", "--instrument", "horn in F", "--sounding", "Eb")
    assert (row["key"], row["direction"]) == ("Bb", "up")


def test_a_singer_with_an_instrument(capsys: pytest.CaptureFixture[str]) -> None:
    row = said(capsys, *LINE, "--instrument", "A clarinet")[0]
    assert "clarinet in A reads B♭ major (written)" in str(row["why"])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["suit"], "whom"),
        (["suit", "--voice", "mezzo"], "what is sung"),
        (["suit", "--line", "F4-F5", "--voice", "mezzo"], "add --written"),
        (["suit", "--line", "F4", "--written", "C", "--voice", "mezzo"], "not a line"),
        (["suit", "--line", "F4-F5", "--written", "H", "--voice", "mezzo"], "not a key"),
        (["suit", "--line", "F4-F5", "--written", "C", "--voice", "countess"], "not a voice type"),
        (["suit", "--line", "F4-F5", "--written", "C", "--tessitura", "D5-D4"], "not below"),
        (["suit", "--instrument", "kazoo", "--written", "C"], "not in the table"),
        (["suit", "--instrument", "horn"], "what the part is written in"),
        (["suit", "no-such-file.musicxml", "--voice", "mezzo"], "no-such-file"),
    ],
)
def test_refusals_are_one_sentence(capsys: pytest.CaptureFixture[str], words: list[str], says: str) -> None:
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert says in err
    assert not out
    assert err.count("\n") == 1


DUET = (
    "X:1\nT:Duet\nM:3/4\nL:1/4\n%%score V W {R L}\nV:V name=Soprano\nV:W name=Baritone clef=bass\nV:R\n"
    "V:L clef=bass\nK:F\n[V:V]c2A|f3|]\nw: Stay a-while\n[V:W]C,2D,|D3|]\nw: May-be I\n[V:R]F2A|c3|]\n[V:L]F,3|F,3|]\n"
)


@pytest.fixture
def duet(tmp_path: Path) -> str:
    path = tmp_path / "duet.abc"
    path.write_text(DUET)
    return str(path)


def test_a_key_for_two_singers_is_as_good_as_for_whom_it_suits_less(
    duet: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """D, best for the soprano alone, takes the baritone down to A2; a tone up he is at home, and she still is."""
    alone = said(capsys, "suit", duet, "--voice", "soprano")
    assert (alone[0]["key"], alone[0]["low"]) == ("D", "F#4")
    assert main(["suit", duet, "--voice", "soprano", "--second", "D3-E4", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["keys"]
    assert (rows[0]["key"], rows[0]["high"], rows[0]["second"]["low"]) == ("G", "G5", "D3")
    assert all(row["semitones"] == row["second"]["semitones"] for row in rows)
    lesser = [min(row["fit"], row["second"]["fit"]) for row in rows]
    assert lesser[0] == max(lesser)


def test_the_table_for_two_singers_shows_both(duet: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["suit", duet, "--voice", "soprano", "--second", "baritone"]) == 0
    out = capsys.readouterr().out
    for part in ("First singer F4–G5: line A4–F5", "Second singer D3–E4: line C3–D4", "D3–E4", "voice teacher's word"):
        assert part in out
    assert main(["suit", duet, "--voice", "soprano"]) == 0
    assert "--second TYPE finds a key for both" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "says"),
    [(["aura-lee", "--voice", "soprano", "--second", "baritone"], "one singer"),
     (["--voice", "soprano", "--second", "baritone"], "name the PIECE and both singers"),
     (["DUET", "--second", "baritone"], "name the PIECE and both singers"),
     (["DUET", "--voice", "soprano", "--second", "baritone", "--instrument", "horn"], "no instrument"),
     (["DUET", "--voice", "soprano", "--second", "D9"], "not a tessitura"),
     (["DUET", "--voice", "soprano", "--second", "boy"], "not a voice type")],
)  # fmt: skip
def test_what_is_no_duet_is_said_in_a_sentence(
    words: list[str], says: str, duet: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["suit", *(duet if word == "DUET" else word for word in words)]) == 2
    assert says in capsys.readouterr().err


CHOIR = (
    "X:1\nT:Choir\nM:4/4\nL:1/4\n%%score [S A T B] {R L}\nV:S\nV:A\nV:T clef=treble-8\nV:B clef=bass\nV:R\n"
    "V:L clef=bass\nK:F\n[V:S]c2A2|f4|]\nw: Draw the well\n[V:A]F2F2|F4|]\n[V:T]c2c2|d4|]\n[V:B]F,2F,2|B,,4|]\n"
    "[V:R][FAc]4|[FBd]4|]\n[V:L]F,4|B,,4|]\n"
)


@pytest.fixture
def choir(tmp_path: Path) -> str:
    path = tmp_path / "choir.abc"
    path.write_text(CHOIR)
    return str(path)


def test_a_key_for_a_choir_is_as_good_as_for_the_part_that_is_worst_off(
    choir: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """In G the sopranos' F5 is G5, a tone above where they are at ease; in E flat all are."""
    assert main(["suit", choir, "--voice", "choir", "--json"]) == 0
    rows = {row["key"]: row for row in json.loads(capsys.readouterr().out)["keys"]}
    assert [part["name"] for part in rows["F"]["parts"]] == ["soprano", "alto", "tenor", "bass"]
    assert all(row["fit"] == min(part["fit"] for part in row["parts"]) for row in rows.values())
    assert rows["Eb"]["edge"] == ""
    assert rows["G"]["edge"] == "soprano a tone high"
    assert rows["C"]["edge"] == "bass a semitone low"
    assert rows["F"]["parts"][2]["high"] == "D4", "an 8 stands under the clef"
    ranks = [row["fit"] + 0.09 * row["ease"] for row in rows.values()]
    assert ranks == sorted(ranks, reverse=True)


def test_the_table_for_a_choir_names_who_is_at_the_edge(choir: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["suit", choir, "--voice", "Choir"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    for part in ("Soprano D4–F5: line A4–F5.", "Tenor D3–F4: line C4–D4.", "at the edge", "soprano a tone high"):
        assert part in out
    assert main(["suit", choir, "--voice", "soprano"]) == 0
    assert "--voice choir finds a key for all" in capsys.readouterr().out


HYMN = (
    "X:1\nT:Hymn\nM:4/4\nL:1/4\n%%score {R L}\nV:R\nV:L clef=bass\nK:F\n[V:R][Fc]2[FA]2|[Ff]4|]\n"
    "[V:L][F,C]2[F,C]2|[B,,D]4|]\n"
)


@pytest.mark.parametrize(
    "alone",
    [CHOIR.split("[V:R]")[0].replace(" {R L}", "").replace("V:R\nV:L clef=bass\n", ""), HYMN],
    ids=["a staff each", "a hymn in chords"],
)
def test_a_choir_alone_is_weighed_as_it_is_played(
    alone: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "alone.abc"
    path.write_text(alone)
    assert main(["suit", str(path), "--voice", "choir", "--json"]) == 0
    out = capsys.readouterr().out
    parts = json.loads(out)["keys"][0]["parts"]
    assert [part["name"] for part in parts] == ["soprano", "alto", "tenor", "bass"]
    first = json.loads(out)["keys"][0]["semitones"]
    assert SpelledPitch.parse(parts[3]["low"]).midi - first == SpelledPitch.parse("Bb2").midi


@pytest.mark.parametrize(
    ("words", "says"),
    [(["aura-lee", "--voice", "choir"], "does not tell the parts of a choir apart"),
     (["--voice", "choir"], "For a choir name the PIECE"),
     (["CHOIR", "--voice", "choir", "--second", "bass"], "For a choir name the PIECE")],
)  # fmt: skip
def test_what_is_no_choir_is_said_in_a_sentence(
    words: list[str], says: str, choir: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["suit", *(choir if word == "CHOIR" else word for word in words)]) == 2
    assert says in capsys.readouterr().err
