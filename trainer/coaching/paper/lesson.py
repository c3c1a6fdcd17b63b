"""Reports for a lesson: one page a student, and a studio page over all.

What was practised, what moved, the three slips worth the lesson with their bars engraved and marked, what is set, and
a suggestion for the week. Everything from the journal; a teacher's eye and ear stand above it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from contextlib import suppress
from datetime import date, datetime, timedelta
from statistics import fmean

from trainer.coaching.paper.days import strip
from trainer.coaching.paper.pencil import pencil
from trainer.coaching.paper.students import last_lesson, minutes_of, students, takes_since
from trainer.coaching.progress.habits import habits, trends
from trainer.coaching.progress.sides import SIDES_DAYS, Side, sides
from trainer.coaching.progress.worth import Slip, slips
from trainer.coaching.singers.warmup import some_bars
from trainer.coaching.today.schedule import DUE, NEW_KEY, today
from trainer.coaching.today.waiting import for_the_lesson
from trainer.coaching.work.assignments import DONE, Assignment, Progress
from trainer.coaching.work.work import work_of
from trainer.following.words import say_bar
from trainer.journal.errors import JournalError
from trainer.journal.store import Journal
from trainer.journal.summary import minutes_by_day
from trainer.journal.values import PATTERN, TakeRow
from trainer.music.counted import many
from trainer.music.keys import Key
from trainer.music.names import ENGLISH, key_in, key_name, keys_in
from trainer.music.piece import BOTH, Piece, hands_named
from trainer.music.pitch import MusicError
from trainer.music.solfege import LA_BASED
from trainer.music.transpose import transposed
from trainer.scores.engraving.drawing import laid_over
from trainer.scores.engraving.engraving import Engraved, Look, engrave
from trainer.scores.paper.printing import (
    GUTTER_MM,
    Block,
    Columns,
    Document,
    Heading,
    Music,
    NewPage,
    Picture,
    Table,
    Text,
    Together,
    page_count,
    text_width_mm,
)

FOOT = "Keyfarer · from the journal; the teacher's ear stands above it"
# Lines of what was practised, of what moved, of what is harder and of what is set: as many as leave it one page.
_ROOMS = ((6, 4, 4, 8), (5, 3, 4, 6), (4, 2, 3, 5), (3, 1, 2, 3), (2, 1, 1, 2))
# Bars shown of a slip: as many as fill the line at the usual size, and two however small.
_SPOT_BARS = (4, 3, 2)
_STAFF_PX = 40
_DAYS_MM = 82.0
# Music and words of a slip side by side, the music smaller than on a stand.
_WIDTHS = (0.75, 1.0)
_SLIP_STAVES_MM = (5.8, 5.2, 4.7)
_WEEK_MINUTES = 30.0


def lesson(
    journal: Journal,
    player: str,
    now: datetime,
    since: date | None = None,
    assignments: Sequence[Assignment] = (),
    paper: str = "a4",
    minor: str = LA_BASED,
    letters: str = ENGLISH,
) -> Document:
    """One page for the lesson of one student.

    Parameters
    ----------
    now : datetime
        With its time zone.
    since : date, optional
        The last lesson; a week ago when not given.
    paper : str
        What it is to be one page of.
    minor, letters : str
        Syllables in minor, ``la`` or ``do`` based; names of notes and keys, ``english`` or ``german``.
    """
    start = last_lesson(now.date(), since)
    rows = takes_since(journal, player, start)
    found = slips(journal, rows, minor=minor, letters=letters)
    shown: list[Block] = [_shown(slip, letters) for slip in found]
    if shown:
        shown.insert(0, Heading("Worth the lesson", 2, "the bars as they are written, the pencil as they were played"))
    work = work_of(journal, player, assignments, now.date())
    days = Picture(strip(minutes_by_day(journal, player, start), start, now.date()), _DAYS_MM) if rows else None
    moved = _moved(journal, player, now, rows, letters)
    lately = min(start, now.date() - timedelta(days=SIDES_DAYS))
    weaker = sides(journal, player, lately)
    harder = _harder(journal, player, now.date(), weaker, lately, minor)
    hands = {row.hands for row in rows if row.kind != PATTERN}
    alone = bool(hands) and BOTH not in hands
    week = _suggested(
        journal, player, now, found, work, letters, [side.work_alone if alone else side.work for side in weaker[:1]]
    )
    beside = f"{_day(now.date())} {now.year}, since {_day(start)}"
    for pieces, lines, hard, works in _ROOMS:
        blocks: list[Block] = [
            Heading(player, 1, beside),
            *_practised(journal, rows, days, pieces, letters),
            *moved[: lines + 1],
            *harder[: hard + 1],
        ]
        blocks += [*shown, *_set(work, works, letters), *week]
        document = Document(f"{player}, {now:%Y-%m-%d}", tuple(blocks), FOOT)
        if page_count(document, paper) == 1:
            break
    return document


def studio(
    journal: Journal,
    now: datetime,
    since: date | None = None,
    assignments: Sequence[Assignment] = (),
    minor: str = LA_BASED,
) -> Document:
    """One page over all students: who practised, what is done, where to look."""
    start = last_lesson(now.date(), since)
    lines = [
        (
            one.player, _ago((now.date() - one.last).days) if one.last else "never", str(one.days),
            f"{one.minutes:.0f}", str(one.takes), f"{one.right:.0%}" if one.right is not None else "",
            f"{one.done} of {one.work}" if one.work else "", one.look,
        )
        for one in students(journal, journal.players(), now, start, assignments, minor)
    ]  # fmt: skip
    head = ("student", "last", "days", "min", "takes", "right", "set", "look at")
    blocks: list[Block] = [Heading("The studio", 1, f"since {start.day} {start:%B %Y}")]
    if lines:
        blocks.append(Table(head, tuple(lines), (2, 3, 4, 5)))
    else:
        blocks.append(Text("No student has played yet: take in a hand-over, or let somebody play."))
    return Document(f"Studio, {now:%Y-%m-%d}", tuple(blocks), FOOT)


def _ago(days: int) -> str:
    return "today" if days <= 0 else "yesterday" if days == 1 else f"{days} days ago"


def everybody(
    journal: Journal, now: datetime, since: date | None, assignments: Sequence[Assignment], paper: str, minor: str,
    letters: str,
) -> Document:  # fmt: skip
    """The studio's page and everybody's after it, each beginning a page with its own title and count at the foot."""
    front = studio(journal, now, since, assignments, minor)
    pages = [lesson(journal, player, now, since, assignments, paper, minor, letters) for player in journal.players()]
    return together([front, *pages], front.title)


def together(documents: Iterable[Document], title: str) -> Document:
    """Several documents as one, each beginning a page; at the foot each has its own title and count of pages."""
    blocks: list[Block] = []
    for document in documents:
        blocks += [NewPage(document.title), *document.blocks] if blocks else document.blocks
    return Document(title, tuple(blocks), FOOT)


def _day(day: date) -> str:
    return f"{day.day} {day:%B}"


def _best(journal: Journal, rows: Sequence[TakeRow]) -> str:
    """The best figure of takes of a piece in a key: not of a part, nor of what lay in another key or octave."""
    whole = [row for row in rows if row.is_most]
    elsewhere = journal.elsewhere(whole)
    here = [row.accuracy or 0.0 for row in whole if row.id not in elsewhere]
    return f"{max(here):.0%}" if here else "elsewhere" if whole else "a part"


def _practised(
    journal: Journal, rows: Sequence[TakeRow], drawn: Picture | None, most_pieces: int, letters: str
) -> list[Block]:
    if not rows:
        return [Text("Nothing was played since then.")]
    days = len({row.began.date() for row in rows})
    said = f"{many(len(rows), 'take')} on {many(days, 'day')}, {many(round(minutes_of(rows)), 'minute')} of playing."
    groups: dict[tuple[str, str, str], list[TakeRow]] = defaultdict(list)
    for row in rows:
        groups[row.title, row.target, row.hands].append(row)
    most = sorted(groups.items(), key=lambda item: -minutes_of(item[1]))
    lines = []
    for (title, target, hands), mine in most[:most_pieces]:
        costs = [row.cost for row in mine if row.cost]
        best, cost = _best(journal, mine), f"{fmean(costs):.2f}" if costs else ""
        lines.append((title, key_name(Key.parse(target), letters), hands, str(len(mine)), best, cost))
    # Nothing is known of what it costs before the written key is played too.
    wide = 6 if any(line[-1] for line in lines) else 5
    head = ("piece", "key", "hands", "takes", "best", "cost of transposing")
    table = Table(head[:wide], tuple(line[:wide] for line in lines), (3, 4, 5)[: wide - 3])
    rest = len(most) - most_pieces
    more: list[Block] = [Text(f"And {many(rest, 'other')}.", "small")] if rest > 0 else []
    above: Block = Columns(((Text(said),), (drawn,)), _WIDTHS) if drawn is not None else Text(said)
    return [Heading("What was practised", 2), above, table, *more]


def _moved(journal: Journal, player: str, now: datetime, rows: Sequence[TakeRow], letters: str) -> list[Block]:
    groups: dict[tuple[str, str, str], list[TakeRow]] = defaultdict(list)
    elsewhere = journal.elsewhere(rows)
    for row in rows:
        # A part says nothing of the rest, and what lay in another key as a whole nothing of this one.
        if row.is_most and row.id not in elsewhere:
            groups[row.title, row.target, row.hands].append(row)
    told = []
    for (title, target, hands), mine in groups.items():
        if len(mine) < 2:
            continue
        first, last = mine[0], mine[-1]
        gain = (last.accuracy or 0.0) - (first.accuracy or 0.0)
        moved = [(f"{first.accuracy:.0%}", f"{last.accuracy:.0%}", "right")]
        if first.cost and last.cost:
            moved.append((f"{first.cost:.2f}", f"{last.cost:.2f}", "times the time of the written key"))
        said = ", ".join(f"{then} to {here} {what}" for then, here, what in moved if then != here)
        if said:
            what = f"{_in_key(title, Key.parse(target), letters)}, {hands_named(hands)}"
            told.append((abs(gain), f"{what}: {said}, {len(mine)}\u00a0takes."))
    lines = [line for _, line in sorted(told, key=lambda pair: -pair[0])]
    lines += [trend.words for trend in trends(journal, player, now.date()) if trend.is_told]
    if not lines:
        return []
    return [Heading("What moved", 2), *(Text(line) for line in lines)]


def _harder(journal: Journal, player: str, day: date, weaker: Sequence[Side], since: date, minor: str) -> list[Block]:
    """Which hand, mode or signs are the harder ones, and the costliest habits."""
    dear = habits(journal, player, day, days=(day - since).days, minor=minor)
    lines = [*(side.sentence for side in weaker), *(habit.sentence for habit in dear)]
    if not lines:
        return []
    said = (Text(f"{line[:1].upper()}{line[1:]}.") for line in lines)
    return [Heading("What is harder", 2, f"since {_day(since)}"), *said]


def _in_key(title: str, key: Key, letters: str = ENGLISH) -> str:
    """A title with the key it was played in; a pattern or a fresh piece names its own key in its title.

    >>> _in_key("Aura Lee", Key.parse("Eb")), _in_key("Cadence in C major", Key.parse("C"))
    ('Aura Lee in E♭ major', 'Cadence in C major')
    >>> _in_key("Fresh piece 7 in C major", Key.parse("B"))
    'Fresh piece 7 in C major, played in B major'
    """
    if title.endswith(f"in {key.name}"):
        return key_in(title, key, letters)
    name = key_name(key, letters)
    return f"{title}, played in {name}" if title.endswith((" major", " minor")) else f"{title} in {name}"


def _shown(slip: Slip, letters: str) -> Block:
    piece = slip.piece
    first, stop, engraved = _in_one_line(piece, piece.bar_index(piece.notes[slip.note].onset))
    start, end = piece.bars[first].onset, piece.bars[stop - 1].onset + piece.bars[stop - 1].length
    kept = [index for index, note in enumerate(piece.notes) if start <= note.onset < end]
    cut = some_bars(piece, first, stop)
    note = kept.index(slip.note)
    expected = transposed(cut, slip.move.interval)
    drawn = []
    for system in engraved.systems:
        places = [place for place in system.notes if place.note == note]
        marks = [pencil(slip.cause, slip.offset, p, cut.notes[note], expected.notes[note]) for p in places]
        drawn.append(laid_over(system, marks))
    often = f"in {slip.times} of {many(slip.takes, 'take')}".replace(" ", "\u00a0")
    head = _in_key(piece.title, slip.move.target, letters)
    more = f", and so in {many(slip.others, 'other bar')}" if slip.others else ""
    words = (Heading(head, 3), Text(f"{slip.words[:1].upper()}{slip.words[1:]}, {often}{more}."))
    return Together((Columns(((Music(tuple(drawn)),), words), _WIDTHS),))


def _in_one_line(piece: Piece, bar: int) -> tuple[int, int, Engraved]:
    """From a bar on as many as fill their column, engraved; the first and the one after the last.

    Fewer where they would take two lines, and what is still too wide smaller.
    """
    width = (text_width_mm("a4") - GUTTER_MM) * _WIDTHS[0] / sum(_WIDTHS)
    tries = [(bars, _SLIP_STAVES_MM[0]) for bars in _SPOT_BARS]
    for bars, staff_mm in (*tries, *((_SPOT_BARS[-1], one) for one in _SLIP_STAVES_MM[1:])):
        stop = min(bar + bars, len(piece.bars))
        first = max(stop - bars, 0)
        ending = stop == len(piece.bars)
        look = Look(round(width / staff_mm * _STAFF_PX), _STAFF_PX, "#000000", ending=ending)
        engraved = engrave(some_bars(piece, first, stop), look)
        if len(engraved.systems) == 1:
            break
    return first, stop, engraved


def _set(found: Sequence[Progress], most: int, letters: str) -> list[Block]:
    """What is set, the done last and left out first."""
    if not found:
        return []
    open_first = sorted(found, key=lambda one: one.state == DONE)
    lines = tuple((_noted(one.assignment, letters), one.told) for one in open_first[:most])
    rest = len(found) - most
    more: list[Block] = [Text(f"And {many(rest, 'more piece')} of work.", "small")] if rest > 0 else []
    return [Heading("Set", 2), Table(("work", "so far"), lines), *more]


def _noted(one: Assignment, letters: str) -> str:
    said = one.said(letters)
    return f"{said}. {one.note}" if one.note else said


def _suggested(
    journal: Journal, player: str, now: datetime, found: Sequence[Slip], work: Sequence[Progress], letters: str,
    lines: list[str],
) -> list[Block]:  # fmt: skip
    if found:
        worst = found[0]
        note = worst.piece.notes[worst.note]
        bar = say_bar(worst.piece, note.onset)
        hand = f"{note.hand} hand alone, " if len(worst.piece.hands) > 1 else ""
        lines.append(
            f"{worst.piece.title}, {bar} in {key_name(worst.move.target, letters)}: {hand}slowly, saying the syllables."
        )
    undone = [one for one in work if one.state != DONE]
    if undone:
        nearest = min(undone, key=lambda one: one.assignment.by or date.max)
        keys = ", ".join(key_name(key.key, letters) for key in nearest.wanted)
        lines.append(f"{nearest.assignment.title}: still to come{f' in {keys}' if keys else ''}.")
    listed = []
    with suppress(JournalError, MusicError):
        listed = today(journal, player, _WEEK_MINUTES, now)
        lines += for_the_lesson(journal, player, letters)
    for kind in (DUE, NEW_KEY):
        lines += [
            f"{key_name(one.key, letters)}, {one.level}, {hands_named(one.hands)}: {keys_in(one.why, letters)}."
            for one in listed
            if one.kind == kind
        ][:1]
    return [Heading("For the week", 2), *map(Text, lines)] if lines else []
