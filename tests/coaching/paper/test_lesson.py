"""Reports: from the journal, on one page, with the bars marked."""

from __future__ import annotations

import io
import pathlib
import re
from collections.abc import Iterator
from datetime import date, datetime, timedelta

import pypdf
import pytest

from tests.coaching.paper.test_sheets import flat, words
from tests.journal.played import play
from tools.studio import names, practise
from trainer.coaching.paper.days import strip
from trainer.coaching.paper.lesson import _in_one_line, lesson, together
from trainer.coaching.paper.lesson import studio as studio_page
from trainer.coaching.paper.pencil import pencil
from trainer.coaching.paper.students import students
from trainer.coaching.path.cells import learn
from trainer.coaching.progress.worth import slips
from trainer.coaching.work.assignments import Assignment
from trainer.following.marks import AS_WRITTEN, BRUSHED, CAUSES, DISPLACED, MISSED, RIGHT, SIGNATURE, STEP
from trainer.journal.handover import hand_over, take_in
from trainer.journal.store import Journal
from trainer.journal.values import TakeRow
from trainer.listening.press import Press
from trainer.music.transpose import plan, transposed
from trainer.scores import reading
from trainer.scores.engraving.systems import Place
from trainer.scores.paper.papers import PAPERS
from trainer.scores.paper.printing import (
    Block,
    Document,
    Heading,
    Music,
    NewPage,
    Table,
    Text,
    page_count,
    to_html,
    to_pdf,
)
from trainer.scores.shelf import library
from trainer.session import Session

NOW = datetime.now().astimezone()
PIECE = reading.read(library.find("aura-lee"))


@pytest.fixture
def journal(tmp_path: pathlib.Path) -> Iterator[Journal]:
    with Journal(tmp_path / "j.sqlite") as made:
        for ago in (5, 4, 3, 1):
            when = NOW - timedelta(days=ago)
            some = {4: SIGNATURE, **({} if ago == 1 else {9: AS_WRITTEN})}
            play(made, "F#", piece=PIECE, player="Ada Winter", slips=some, began=when)
        play(made, "Eb", piece=PIECE, player="Ada Winter", slips={30: STEP}, began=NOW - timedelta(days=2))
        play(made, "A", piece=PIECE, player="Ada Winter", slips={1: STEP}, began=NOW - timedelta(days=40))
        play(made, "Eb", piece=PIECE, player="Ben Frost", began=NOW - timedelta(days=12))
        yield made


def rows(journal: Journal, player: str = "Ada Winter", days: int = 7) -> list[TakeRow]:
    since = (NOW - timedelta(days=days)).date()
    return sorted((t for t in journal.takes(player, 100) if t.began.date() >= since), key=lambda t: t.began)


def test_slips_worth_the_lesson_by_how_often_they_came(journal: Journal) -> None:
    found = slips(journal, rows(journal))
    assert [(s.note, s.cause, s.times, s.takes) for s in found] == [
        (4, SIGNATURE, 4, 4), (9, AS_WRITTEN, 3, 4), (30, STEP, 1, 1),
    ]  # fmt: skip
    assert "is E sharp here" in found[0].words


def test_what_did_not_move_is_not_told(journal: Journal) -> None:
    for ago in (6, 5):
        play(journal, "B", piece=PIECE, player="Ada Winter", slips={30: STEP}, began=NOW - timedelta(days=ago))
    blocks = list(flat(lesson(journal, "Ada Winter", NOW).blocks))
    texts = [block.text for block in blocks if hasattr(block, "text")]
    moved = [text for text in texts if text.endswith("\u00a0takes.") and " right" in text]
    assert any("F♯ major" in text for text in moved)
    assert not any("B major" in text for text in moved)


def test_a_part_or_a_take_in_another_key_is_not_what_moved_or_the_best(journal: Journal) -> None:
    for key, shift, count in (("Eb", 3, len(PIECE.notes)), ("Bb", 0, 6), ("Bb", 0, 5)):
        wish = plan(PIECE.key, key)
        session = Session(PIECE, wish, record=journal.begin(PIECE, wish, player="Ada Winter", began=NOW))
        for note in transposed(PIECE, wish.interval).notes[:count]:
            session.hear(Press(float(note.onset) * 0.7, note.midi + shift, 64))
        session.finish()
    blocks = list(flat(lesson(journal, "Ada Winter", NOW).blocks))
    texts = [block.text for block in blocks if hasattr(block, "text")]
    moved = [text for text in texts if text.endswith("\u00a0takes.") and " right" in text]
    assert not any("E♭ major" in text or "B♭ major" in text for text in moved)
    (table,) = [block for block in blocks if isinstance(block, Table) and "best" in block.head]
    best = {row[1]: row[4] for row in table.rows}
    assert best["B♭ major"] == "a part"
    assert best["E♭ major"].endswith("%")
    assert best["E♭ major"] != "0%"


def test_a_damaged_take_that_went_badly_does_not_cost_the_report(journal: Journal) -> None:
    bad = dict.fromkeys(range(len(PIECE.notes)), STEP)
    take = play(journal, "B", piece=PIECE, player="Ada Winter", slips=bad, began=NOW)
    assert take.id is not None
    row = journal.row(take.id)
    assert row.accuracy is not None
    assert row.accuracy < 0.5
    assert row.is_most
    with journal.changing() as db:
        db.execute("UPDATE playing SET verdicts = x'00' WHERE take = ?", (take.id,))
    assert "F♯ major" in words(lesson(journal, "Ada Winter", NOW))


def test_a_take_an_octave_off_is_no_heap_of_slips(journal: Journal) -> None:
    before = [(s.note, s.cause) for s in slips(journal, rows(journal))]
    wish = plan(PIECE.key, "Eb")
    for ago in (3, 2, 1, 0):
        record = journal.begin(PIECE, wish, player="Ada Winter", began=NOW - timedelta(days=ago, hours=1))
        session = Session(PIECE, wish, record=record)
        for note in transposed(PIECE, wish.interval).notes:
            session.hear(Press(float(note.onset) * 0.7, note.midi - 12, 64))
        assert session.finish().shift == -12
    assert [(s.note, s.cause) for s in slips(journal, rows(journal))] == before


def test_the_same_slip_in_many_bars_is_spoken_of_once(journal: Journal) -> None:
    """Every ti (F sharp, so D in E flat) a semitone low: one row, and room for the rest."""
    low = [at for at, note in enumerate(PIECE.notes) if note.pitch.letter == "F" and note.hand == "right"]
    wish = plan(PIECE.key, "Eb")
    session = Session(PIECE, wish, record=journal.begin(PIECE, wish, player="Cleo Marsh", began=NOW))
    for at, note in enumerate(transposed(PIECE, wish.interval).notes):
        session.hear(Press(float(note.onset) * 0.7, note.midi + (-1 if at in low else 6 if at == 20 else 0), 64))
    session.finish()
    found = slips(journal, rows(journal, "Cleo Marsh"))
    bars = {PIECE.bar_index(PIECE.notes[at].onset) for at in low}
    assert len(bars) > 3
    assert [slip.others for slip in found] == [len(bars) - 1, 0]
    assert f"and so in {len(bars) - 1} other bars." in words(lesson(journal, "Cleo Marsh", NOW))


def test_a_hand_that_lay_a_step_off_in_many_bars_is_spoken_of_once(journal: Journal) -> None:
    """On which notes it did so says nothing; a wrong note of another letter is another slip."""
    firsts = {
        PIECE.bar_index(note.onset): at for at, note in reversed([*enumerate(PIECE.notes)]) if note.hand == "right"
    }
    three = [firsts[bar] for bar in (1, 3, 5)]
    assert len({PIECE.notes[at].pitch.letter for at in three}) == 2
    for cause, told in ((DISPLACED, [2]), (STEP, [1, 0])):
        play(journal, "Eb", piece=PIECE, player=cause, slips=dict.fromkeys(three, cause), began=NOW)
        assert [slip.others for slip in slips(journal, rows(journal, cause))] == told


def test_a_key_brushed_three_times_is_worth_less_than_one_misread_and_three_are_told(journal: Journal) -> None:
    bars = [
        next(at for at, note in enumerate(PIECE.notes) if PIECE.bar_index(note.onset) == bar) for bar in range(1, 6)
    ]
    brushed, *steps = bars
    for some in ({brushed: BRUSHED}, {brushed: BRUSHED}, {brushed: BRUSHED, **dict.fromkeys(steps, STEP)}):
        play(journal, "Eb", piece=PIECE, player="Cleo Marsh", slips=some, began=NOW)
    found = slips(journal, rows(journal, "Cleo Marsh"))
    assert len(found) == 3
    assert {slip.cause for slip in found} == {STEP}
    (fourth, last) = slips(journal, rows(journal, "Cleo Marsh"), most=10)[-2:]
    assert (fourth.cause, last.cause, last.times) == (STEP, BRUSHED, 3)


def test_notes_gone_past_in_a_skip_are_no_slips(journal: Journal) -> None:
    wish = plan(PIECE.key, "Eb")
    session = Session(PIECE, wish, record=journal.begin(PIECE, wish, player="Cleo Marsh", began=NOW))
    for note in transposed(PIECE, wish.interval).notes:
        bar = PIECE.bar_index(note.onset)
        if not 4 <= bar < 10:
            session.hear(Press(float(note.onset - (24 if bar >= 10 else 0)) * 0.7, note.midi, 64))
    assert session.finish().missed
    assert slips(journal, rows(journal, "Cleo Marsh")) == []


def test_the_best_of_takes_that_lay_elsewhere_is_no_figure(journal: Journal) -> None:
    wish = plan(PIECE.key, "Bb")
    session = Session(PIECE, wish, record=journal.begin(PIECE, wish, player="Cleo Marsh", began=NOW))
    for note in transposed(PIECE, wish.interval).notes:
        session.hear(Press(float(note.onset) * 0.7, note.midi + 12, 64))
    session.finish()
    (table,) = [block for block in flat(lesson(journal, "Cleo Marsh", NOW).blocks) if isinstance(block, Table)]
    assert [row[4] for row in table.rows] == ["elsewhere"]
    # Nor does it pull the studio's figure down, as nought of a hundred right.
    assert students(journal, ["Cleo Marsh"], NOW)[0].right is None
    play(journal, "Bb", piece=PIECE, player="Cleo Marsh", began=NOW)
    assert students(journal, ["Cleo Marsh"], NOW)[0].right == 1.0


def test_no_two_slips_from_one_bar(journal: Journal) -> None:
    play(journal, "F#", piece=PIECE, player="Ada Winter", slips={3: STEP, 4: SIGNATURE}, began=NOW)
    found = slips(journal, rows(journal), most=10)
    bars = [(s.piece.title, s.piece.bar_index(s.piece.notes[s.note].onset)) for s in found]
    assert len(bars) == len(set(bars))


def test_the_page_tells_what_was_practised_what_moved_and_what_to_do(journal: Journal) -> None:
    work = (Assignment("aura-lee", "Aura Lee", ("F#", "Bb"), ("Ada Winter",), times=2),)
    page = lesson(journal, "Ada Winter", NOW, assignments=work)
    text = words(page)
    for part in ("Ada Winter", "5 takes on 5 days", "Worth the lesson", "in 4 of 4 takes", "For the week",
                 "Aura Lee in F♯ major, both hands:", "hand alone, slowly", "still to come in B♭ major"):  # fmt: skip
        assert part in text
    tables = [block for block in flat(page.blocks) if isinstance(block, Table)]
    assert [row[:4] for row in tables[0].rows] == [
        ("Aura Lee", "F♯ major", "both", "4"), ("Aura Lee", "E♭ major", "both", "1"),
    ]  # fmt: skip
    assert tables[1].rows == ((work[0].words, "1 of 2 keys done, under way"),)


def test_the_bars_are_engraved_with_the_pencil_on_them(journal: Journal) -> None:
    page = lesson(journal, "Ada Winter", NOW)
    drawn = [svg for block in flat(page.blocks) if isinstance(block, Music) for svg in block.systems]
    assert len(drawn) == 3
    assert ">♯</text>" in drawn[0]
    assert "<ellipse" in drawn[1]
    assert all("#2C5A8C" in svg for svg in drawn)


@pytest.mark.parametrize(("name", "bar", "shown"), [("three-bells", 1, (1, 5)), ("greensleeves", 10, (10, 12))])
def test_bars_of_a_slip_fill_their_line_and_are_two_at_least(name: str, bar: int, shown: tuple[int, int]) -> None:
    first, stop, engraved = _in_one_line(reading.read(library.find(name)), bar)
    assert (first, stop) == shown
    assert len(engraved.systems) == 1


def test_at_the_end_of_a_piece_the_bars_before_a_slip_are_shown() -> None:
    piece = reading.read(library.find("three-bells"))
    first, stop, _ = _in_one_line(piece, len(piece.bars) - 1)
    assert stop == len(piece.bars)
    assert stop - first >= 3


def test_it_is_one_page_and_opens_anywhere(journal: Journal) -> None:
    page = lesson(journal, "Ada Winter", NOW)
    assert len(pypdf.PdfReader(io.BytesIO(to_pdf(page))).pages) == 1
    # Three slips, and the minutes of every day.
    assert to_html(page).count("data:image/svg+xml") == 4


@pytest.mark.parametrize("paper", PAPERS)
def test_much_to_tell_still_is_one_page(journal: Journal, paper: str) -> None:
    work = tuple(Assignment("x", f"Song {at}", ("e", "Bb"), tempo=60, times=3, help="none") for at in range(12))
    for key in ("C", "D", "E", "F", "G", "B", "Ab", "Db"):
        for ago in (6, 4, 2):
            play(journal, key, piece=PIECE, player="Ada Winter", slips={ago: STEP}, began=NOW - timedelta(days=ago))
    page = lesson(journal, "Ada Winter", NOW, assignments=work, paper=paper)
    assert page_count(page, paper) == 1
    text = words(page)
    for head in ("What was practised", "What moved", "Worth the lesson", "Set", "For the week"):
        assert head in text
    assert "more pieces of work" in text


def test_the_teacher_reads_why_no_new_key_comes(tmp_path: pathlib.Path) -> None:
    with Journal(tmp_path / "j.sqlite") as made:
        for ago in range(12, 0, -1):
            for key in ("D", "Eb", "F"):
                when = NOW - timedelta(days=ago)
                take = play(made, key, player="Ada", slips=dict.fromkeys(range(4), SIGNATURE), began=when)
                assert take.id is not None
                learn(made, take.id, when)
        said = words(lesson(made, "Ada", NOW))
    assert "No new key while 3 are opening: D major (pentachord), E♭ major (pentachord), F major (pentachord)." in said


def test_minutes_of_every_day_are_drawn() -> None:
    start = date(2026, 11, 16)
    drawn = strip({start: 10.0, date(2026, 11, 18): 20.0}, start, date(2026, 11, 23))
    heights = [float(one) for one in re.findall(r'<rect[^>]* height="([0-9.]+)"', drawn)]
    assert heights == [45.0, 90.0]
    assert "20 min" in drawn
    assert re.findall(r">([A-Z][a-z]+ \d+)</text>", drawn)[0] == "Mon 16"
    assert len(re.findall("<rect", strip({start: 1.0}, date(2026, 1, 1), date(2026, 11, 23)))) == 1


@pytest.mark.parametrize("most", [7.3, 22.1, 12.345, 24.7, 31.9])
def test_the_longest_day_is_labelled_whatever_its_minutes(most: float) -> None:
    start = date(2026, 11, 16)
    assert f"{most:.0f} min" in strip({start: 1.0, date(2026, 11, 18): most}, start, date(2026, 11, 23))


@pytest.mark.parametrize("days", range(2, 16))
def test_the_days_stand_clear_of_one_another(days: int) -> None:
    """A letter of the printed face is at most as wide as W, on the average half as wide as it is high."""
    start = date(2026, 11, 16)
    drawn = strip({start: 1.0}, start, start + timedelta(days=days - 1))
    found = re.findall(r'<text x="([0-9.]+)" y="142.0" font-size="(\d+)"[^>]*>([^<]+)</text>', drawn)
    assert len(found) == days
    step = float(found[1][0]) - float(found[0][0])
    for _, size, said in found:
        assert int(size) * (0.53 * len(said)) < step


def test_a_column_of_costs_is_there_only_where_one_is_known(journal: Journal) -> None:
    table = next(block for block in flat(lesson(journal, "Ada Winter", NOW).blocks) if isinstance(block, Table))
    assert table.head == ("piece", "key", "hands", "takes", "best")
    play(journal, "+0", piece=PIECE, player="Ada Winter", began=NOW - timedelta(days=2))
    play(journal, "B", piece=PIECE, player="Ada Winter", began=NOW - timedelta(days=1))
    table = next(block for block in flat(lesson(journal, "Ada Winter", NOW).blocks) if isinstance(block, Table))
    assert table.head[-1] == "cost of transposing"
    assert any(row[-1] for row in table.rows)


def test_a_slip_on_the_upbeat_is_no_bar_nought_and_a_note_of_the_teachers_is_printed(journal: Journal) -> None:
    song = reading.read(library.find("greensleeves"))
    for ago in (2, 1):
        play(journal, "e", piece=song, player="Cleo Reed", slips={0: STEP}, began=NOW - timedelta(days=ago))
    work = (Assignment("x", "Lantern Song", ("e",), ("Cleo Reed",), note="Sing it first."),)
    page = lesson(journal, "Cleo Reed", NOW, assignments=work)
    text = words(page)
    assert "Greensleeves, upbeat in E minor: right hand alone" in text
    assert "bar 0" not in text
    *_, given = (block for block in flat(page.blocks) if isinstance(block, Table))
    assert given.rows[0][0].endswith(". Sing it first.")


def test_minor_is_sung_as_the_teacher_wishes(journal: Journal) -> None:
    song = reading.read(library.find("greensleeves"))
    play(journal, "e", piece=song, player="Cleo Reed", slips={0: STEP}, began=NOW - timedelta(days=1))
    assert "la, E: a step too high" in words(lesson(journal, "Cleo Reed", NOW)).replace("La", "la")
    assert "do, E: a step too high" in words(lesson(journal, "Cleo Reed", NOW, minor="do"))


def test_a_lesson_that_is_still_to_come_was_today(journal: Journal) -> None:
    """The computer's clock was ahead as something was played, and the last lesson is given by a slip of the pen."""
    play(journal, "F#", piece=PIECE, player="Ada Winter", began=NOW + timedelta(days=30))
    text = to_html(lesson(journal, "Ada Winter", NOW, since=(NOW + timedelta(days=9)).date()))
    assert "1 take on 1 day" in text


def test_nor_does_the_studio_page_look_back_to_a_day_still_to_come(journal: Journal) -> None:
    play(journal, "F#", piece=PIECE, player="Ada Winter", began=NOW + timedelta(minutes=5))
    page = studio_page(journal, NOW, since=(NOW + timedelta(days=9)).date())
    assert f"since {NOW.day} {NOW:%B %Y}" in words(page)
    table = next(b for b in flat(page.blocks) if isinstance(b, Table))
    assert table.rows[0][:2] == ("Ada Winter", "today")
    assert table.rows[0][4] == "1"


def test_a_week_without_playing_is_said(journal: Journal) -> None:
    assert "Nothing was played since then." in words(lesson(journal, "Ben Frost", NOW))


def test_the_studio_page_shows_who_is_late_and_who_did_not_play(journal: Journal) -> None:
    work = (Assignment("x", "Lantern Song", ("e",), by=NOW.date() - timedelta(days=1)),)
    table = next(b for b in flat(studio_page(journal, NOW, assignments=work).blocks) if isinstance(b, Table))
    ada, ben = table.rows
    assert (ada[0], ada[1], ada[4], ada[6]) == ("Ada Winter", "yesterday", "5", "0 of 1")
    assert (ben[0], ben[1], ben[4]) == ("Ben Frost", "12 days ago", "0")
    assert "late: Lantern Song" in ben[7]


def test_of_much_that_is_late_the_first_is_named_with_how_far_it_is(journal: Journal) -> None:
    by = NOW.date() - timedelta(days=1)
    work = [Assignment("aura-lee", PIECE.title, ("F#",), help="none", goal=0.5, by=by)]
    work += [Assignment("x", f"Song {at} (evening)", ("e",), by=by) for at in range(4)]
    (ada,) = students(journal, ["Ada Winter"], NOW, assignments=work)
    assert ada.look.startswith("late: Aura Lee (9")
    assert ada.look.endswith("% right, but with all syllables shown), Song 0, Song 1 and 2 more")


def test_an_empty_studio_says_what_to_do(tmp_path: pathlib.Path) -> None:
    with Journal(tmp_path / "empty.sqlite") as made:
        assert "hand-over" in words(studio_page(made, NOW))


def test_forty_students_handed_over_nothing_lost_or_doubled_and_a_page_for_each(tmp_path: pathlib.Path) -> None:
    played = {}
    with Journal(tmp_path / "home.sqlite") as own, Journal(tmp_path / "teacher.sqlite") as teacher:
        for number, name in enumerate(names(40)):
            practise(own, name, [PIECE], NOW, 2, 1)
            played[name] = {row.began for row in own.takes(name, 99)}
            file = hand_over(own, name, tmp_path / "one.handover").path
            assert take_in(teacher, file).fresh == 2
            if number % 8 == 0:
                assert take_in(teacher, file).fresh == 0
        assert {name: {row.began for row in teacher.takes(name, 99)} for name in teacher.players()} == played
        since = (NOW - timedelta(days=366)).date()
        pages = [lesson(teacher, name, NOW, since) for name in teacher.players()[:4]]
        whole = together([studio_page(teacher, NOW, since), *pages], "Studio")
    heads = [block.text for block in flat(whole.blocks) if isinstance(block, Heading) and block.level == 1]
    assert heads == ["The studio", *names(4)]


@pytest.mark.parametrize("cause", [*CAUSES, MISSED])
def test_every_cause_has_a_shape_of_its_own(cause: str) -> None:
    place = Place(0, 100.0, 50.0, 12.0, 10.0, 20.0, 55.0, 1)
    expected = transposed(PIECE, plan(PIECE.key, "F#").interval)
    drawn = {c: pencil(c, 1, place, PIECE.notes[4], expected.notes[4]) for c in (*CAUSES, MISSED)}
    assert bool(drawn[cause]) == (cause != RIGHT)
    alike = {"wrong", "extra"} if cause in ("wrong", "extra") else {"signature", "accidental"} \
        if cause in ("signature", "accidental") else {cause}  # fmt: skip
    assert {c for c, shape in drawn.items() if shape == drawn[cause]} == alike


def test_a_struck_note_is_struck_well_beyond_its_head() -> None:
    place = Place(0, 100.0, 50.0, 12.0, 10.0, 20.0, 55.0, 1)
    note = PIECE.notes[4]
    drawn = pencil("wrong", 3, place, note, note)
    left, low, right, high = map(float, re.findall(r"-?[0-9.]+", drawn)[:4])
    assert right - left > 2.5 * place.width
    assert low - high > 2.5 * place.height


@pytest.mark.parametrize(("cause", "up", "down"), [("step", 1, -1), ("octave", 12, -12)])
def test_arrows_point_to_where_the_right_note_is(cause: str, up: int, down: int) -> None:
    place = Place(0, 100.0, 50.0, 12.0, 10.0, 20.0, 55.0, 1)
    note = PIECE.notes[0]
    assert pencil(cause, up, place, note, note) != pencil(cause, down, place, note, note)


def test_a_document_of_nothing_is_still_a_document() -> None:
    assert together([], "x") == Document("x", (), together([], "x").foot)


def test_pages_of_one_student_can_be_handed_out_apart() -> None:
    """Each student's pages are counted for themselves and say whose they are, not that they are of the studio."""
    pages = {"Studio": 1, "Ada Winter": 2, "Ben Sommer": 1}
    parts = []
    for name, count in pages.items():
        blocks: list[Block] = [Heading(name, 1)]
        for page in range(1, count):
            blocks += [NewPage(), Text(f"page {page}")]
        parts.append(Document(name, tuple(blocks), "from the journal"))
    whole = together(parts, "Studio")
    said = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(to_pdf(whole))).pages]
    assert len(said) == sum(pages.values())
    feet = [" ".join(text.split()).partition("stands above it")[2].strip() for text in said]
    assert feet == ["", "1 / 2", "Ada Winter · 2 / 2", ""]
