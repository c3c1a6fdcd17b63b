"""The parts of a choir as singers: their voices by name or place, and who is at the edge."""

from __future__ import annotations

import pytest

from tests.scores.notation.test_choir import ALTO, BASS, SOPRANO, TENOR, abc
from trainer.coaching.singers.accompany import suit_all
from trainer.coaching.singers.choirs import at_the_edge, choir_of
from trainer.coaching.singers.voices import CHORAL, VOICES
from trainer.music.pitch import MusicError
from trainer.scores.reading import from_bytes


def second(line: tuple[str, str, str], name: str) -> tuple[str, str, str]:
    return (line[0].replace(line[0].split()[0], name, 1), *line[1:])


@pytest.mark.parametrize(
    ("lines", "voices"),
    [((SOPRANO, ALTO, TENOR, BASS), ["soprano", "alto", "tenor", "bass"]),
     ((second(SOPRANO, "S1"), second(SOPRANO, "S2"), ALTO), ["first soprano", "second soprano", "alto"]),
     ((SOPRANO, ALTO, BASS, second(SOPRANO, 'V name="Solo Voice"')), ["soprano", "alto", "bass", "solo"]),
     ((SOPRANO, ALTO, BASS, second(TENOR, "X")), ["soprano", "alto", "bass", "tenor"]),
     ((second(SOPRANO, "X1"), second(ALTO, "X2"), second(BASS, "X3")), ["soprano", "alto", "baritone"]),
     ((second(SOPRANO, "X1"), second(ALTO, "X2"), second(TENOR, "X3"), second(BASS, "X4")),
      ["soprano", "alto", "tenor", "bass"])],
    ids=["named", "two of a voice", "a solo", "one unnamed", "unnamed SAB", "unnamed SATB"],
)  # fmt: skip
def test_a_part_has_the_voice_of_its_name_or_of_its_place(
    lines: tuple[tuple[str, str, str], ...], voices: list[str]
) -> None:
    assert [member.name for member in choir_of(from_bytes(abc(*lines), "choir.abc"))] == voices


def test_the_worst_off_stands_first_at_the_edge() -> None:
    """A third higher the sopranos' D5 is F sharp 5, and the tenors' E4 G sharp 4: they are at ease up to F."""
    tenor = ("T clef=treble-8", "c2 e2 | d2 c2 |]", TENOR[2])
    choir = choir_of(from_bytes(abc(SOPRANO, ALTO, tenor, BASS), "choir.abc"))
    rows = {row[0].key.short: row for row in suit_all([member.part for member in choir])}
    assert at_the_edge(choir, rows["F"]) == ""
    assert at_the_edge(choir, rows["A"]) == "tenor three semitones high, soprano a semitone high"
    assert min(one.fit for one in rows["A"]) == rows["A"][2].fit


def test_one_line_is_no_choir() -> None:
    with pytest.raises(MusicError, match="does not tell the parts of a choir apart"):
        choir_of(from_bytes(abc(SOPRANO), "song.abc"))


def test_where_a_choir_is_at_ease_lies_within_what_its_voices_have() -> None:
    for kind in VOICES:
        span = CHORAL[kind.name]
        assert kind.range.low.midi <= span.low.midi < span.high.midi <= kind.range.high.midi
