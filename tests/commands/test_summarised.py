"""The journal's summary in words."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.journal.played import play
from trainer.coaching.progress.report import report
from trainer.commands import summarised
from trainer.journal.store import Journal
from trainer.listening.press import Press
from trainer.music.transpose import plan
from trainer.scores import reading
from trainer.scores.shelf import library
from trainer.session import Session

NOW = datetime(2026, 3, 2, 18, tzinfo=UTC)


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with Journal(tmp_path / "journal.sqlite") as kept:
        for day in range(12):
            began = NOW - timedelta(days=day + 1)
            play(kept, "C", player="Ada", began=began, beat=0.5)
            # The fourth degree is played sharp in E flat, and always after a wait.
            slips, late = {3: "signature", 5: "signature"}, {3: 1.6, 5: 1.6, 11: 1.6, 13: 1.6}
            play(kept, "Eb", player="Ada", began=began, beat=0.75, slips=slips, late=late)
        yield kept


def test_every_figure_is_told_with_what_it_rests_on(journal: Journal) -> None:
    said = "\n".join(summarised.lines(report(journal, "Ada", NOW, 90)))
    assert said.startswith("Ada: 24 takes, ")
    assert "Right by hand: right 94%." in said
    assert "Slips by cause: key signature forgotten 24." in said
    assert "Reached later than the pulse, by degree: 4 1." in said
    assert "Cost by distance: three fifths 1." in said
    assert "Cost by shape of the five fingers, the costliest first: black white white black black 1." in said
    assert "Most expensive habits:" in said
    assert max(len(line) for line in said.splitlines() if not line.startswith("  ")) <= summarised.WIDE


def test_a_journal_silent_for_long_says_so(journal: Journal) -> None:
    later = NOW + timedelta(days=400)
    told = list(summarised.lines(report(journal, "Ada", later, 90)))
    assert told[1:] == [f"Nothing since {later.date() - timedelta(days=90)}."]


def test_a_key_in_which_all_lay_elsewhere_has_no_pace_of_nought(journal: Journal) -> None:
    piece = reading.read(library.find("ode-to-joy"))
    wish = plan(piece.key, "Bb")
    session = Session(piece, wish, record=journal.begin(piece, wish, player="Ada", began=NOW - timedelta(days=1)))
    for note in session.expected.notes:
        session.hear(Press(float(note.onset) * 0.6, note.midi + 12))
    session.finish()
    (line,) = [one for one in summarised.lines(report(journal, "Ada", NOW, 90)) if one.startswith("Bb ")]
    assert line.split() == ["Bb", "1"]
