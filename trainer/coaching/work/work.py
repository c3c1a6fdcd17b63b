"""Work set for a player and how far it is, from the journal; and the same work on its way from teacher to student."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

from trainer.coaching.work import along, fingersalong
from trainer.coaching.work.assignments import (
    FILE,
    LARGEST,
    Assignment,
    Progress,
    add,
    as_table,
    everything,
    load,
    progress,
    read_entry,
)
from trainer.coaching.work.reached import InKey
from trainer.journal.reading import TITLE
from trainer.journal.store import Journal
from trainer.journal.take import EPOCH_ORDINAL
from trainer.journal.values import FINISHED, TakeRow
from trainer.music.keys import Key
from trainer.music.pitch import MusicError
from trainer.scores.plain import Entry, blocks, read_plain, write_plain

# In bytes: what a file of work may hold, with the music that goes along.
GIVEN_LARGEST = 2_000_000


def work_of(journal: Journal, player: str, assignments: Sequence[Assignment], day: date) -> list[Progress]:
    """How far each assignment of a player is."""
    mine = [one for one in assignments if one.is_for(player)]
    if not mine:
        return []
    played = _played(journal, player)
    theirs = [[piece for piece in played if one.is_of(piece.title)] for one in mine]
    asked_for = sorted({piece.number for pieces in theirs for piece in pieces})
    # Of a journal of years only what was played since then, of these pieces.
    since = min((one.given for one in mine if one.given is not None), default=None)
    if since is None or any(one.given is None for one in mine):
        since = date.min
    these = f"t.piece IN ({', '.join('?' * len(asked_for))})"
    takes = journal.rows(
        f"p.name = ? AND {these} AND t.day >= ? AND t.state = ? ORDER BY t.began",
        (player, *asked_for, since.toordinal() - EPOCH_ORDINAL, FINISHED),
    )
    # Of a year's work each looks through the takes of its own piece alone.
    by_title: dict[str, list[TakeRow]] = {}
    for take in takes:
        by_title.setdefault(take.title.casefold(), []).append(take)
    return [
        progress(
            one,
            [take for title in {piece.title.casefold() for piece in pieces} for take in by_title.get(title, ())],
            day,
            Key.parse(pieces[0].written) if pieces else one.written,
        )
        for one, pieces in zip(mine, theirs, strict=True)
    ]


class _Piece(NamedTuple):
    """A piece of a player's finished takes: its number in the journal, a title it was played under, its key."""

    number: int
    title: str
    written: str


def _played(journal: Journal, player: str) -> list[_Piece]:
    """What a player has played, under each of its titles, what was begun first first."""
    rows = journal.ask(
        f"SELECT m.id, {TITLE}, t.written, min(t.began) FROM take t JOIN piece m ON m.id = t.piece "
        "WHERE t.player = (SELECT id FROM player WHERE name = ?) AND t.state = ? GROUP BY 1, 2 ORDER BY 4",
        (player, FINISHED),
    )
    return [_Piece(int(number), str(title), str(written)) for number, title, written, _ in rows]


def in_order(work: Iterable[Progress]) -> list[Progress]:
    """What is wanted first before the rest; what is wanted on one day, or any day, as it was set."""
    return sorted(work, key=lambda one: one.assignment.by or date.max)


def asked(found: Progress, in_key: InKey, today: date) -> str:
    """``set: 90% right, 1 of 2 times, by Friday 20 February; left hand alone first``."""
    one = found.assignment
    said = [f"{one.goal:.0%} right"]
    if one.tempo:
        said.append(f"at {one.tempo:g} or faster")
    if one.times > 1:
        said.append(f"{in_key.reached} of {one.times} times")
    if one.by is not None:
        said.append(_until((one.by - today).days, one.by))
    if in_key.held:
        said.append(f"last {in_key.held}")
    note = f". {one.note}" if one.note else ""
    return f"set: {', '.join(said)}{note}"


def _until(days: int, by: date) -> str:
    """``by Friday 20 February``, and when that day is over ``was due on 20 February``."""
    if days < 0:
        return f"was due {'yesterday' if days == -1 else f'on {by.day} {by:%B}'}"
    return "by today" if days == 0 else "by tomorrow" if days == 1 else f"by {by:%A} {by.day} {by:%B}"


def unknown_names(journal: Journal, assignments: Iterable[Assignment]) -> list[str]:
    """Whom the assignments name and the journal does not know: a slip of the pen, or a student yet to come."""
    known = set(journal.players())
    return sorted({name for one in assignments for name in one.players} - known)


def read_file(path: Path) -> tuple[Assignment, ...]:
    """The assignments in a file a teacher gave.

    Raises
    ------
    MusicError
        When there is no such file, it holds no assignments, or an entry is wrong.
    """
    document = _given(path)
    found = tuple(read_entry(entry) for entry in Entry.each(document, "assignment", path.name))
    if not found:
        raise MusicError(f"{path.name} sets no work: it needs [[assignment]] entries.")
    return found


def keep_music(path: Path) -> list[str]:
    """Put the pieces of the teacher's own that came in such a file on the shelf; see `along.keep`."""
    return along.keep(_given(path), path.name)


def _given(path: Path) -> Mapping[str, Any]:
    document = read_plain(path, GIVEN_LARGEST)
    if document is None:
        raise MusicError(f"There is no file {path}: name the file your teacher gave you.")
    return document


def fingers_in(path: Path) -> list[fingersalong.Fingers]:
    """The fingers said for the student that came in such a file; see `fingersalong.read`."""
    return fingersalong.read(_given(path), path.name)


def as_file(
    path: Path,
    assignments: Iterable[Assignment],
    music: Iterable[Mapping[str, str]] = (),
    fingers: Iterable[Mapping[str, Any]] = (),
) -> None:
    """Write assignments to a file of their own, and the music and the fingers that go along."""
    import tomlkit

    document = tomlkit.document()
    document.add(
        tomlkit.comment("Work set by your teacher: drop this file on Keyfarer's window, and it is on the Desk.")
    )
    document.add(tomlkit.comment("('keyfarer journal merge' and this file's name take it up, too.)"))
    rows = tomlkit.aot()
    for one in assignments:
        rows.append(as_table(one))
    document["assignment"] = rows
    with_it: dict[str, Iterable[Mapping[str, Any]]] = {fingersalong.BLOCK: fingers, along.BLOCK: music}
    for name, more in with_it.items():
        tables = tomlkit.aot()
        for block in more:
            table = tomlkit.table()
            table.update(block)
            tables.append(table)
        if tables:
            document[name] = tables
    write_plain(path, tomlkit.dumps(document))


def absent(assignments: Iterable[Assignment]) -> list[str]:
    """The pieces that are set and not on the shelf here, by the names they are set by."""
    return sorted({one.piece for one in assignments if one.written is None})


@dataclass(frozen=True)
class Given:
    """What a file of work holds: pieces, those of them withdrawn, pieces of music and fingers that go along; and the
    files of music that had no room.
    """

    pieces: int
    withdrawn: int
    music: int
    fingers: int
    left: tuple[Path, ...]


def give(journal: Journal, path: Path, player: str | None) -> Given:
    """Write the work set for a player (or for all) to a file for the student's own computer.

    What was withdrawn goes too, so that it is withdrawn there; and so do the music, where it is the teacher's own, and
    the fingers said for that player.

    Raises
    ------
    MusicError
        When nothing is set, or the file cannot be written.
    """
    mine = [one for one in everything(journal.path.parent) if player is None or one.is_for(player)]
    if not mine:
        whom = f" for {player}" if player else ""
        raise MusicError(f"Nothing is set{whom}: write it into {journal.path.parent / FILE} first.")
    # A student's copy says nothing of the other students.
    given = [one if player is None or not one.players else replace(one, players=(player,)) for one in mine]
    open_ = [one for one in given if one.withdrawn is None]
    music, left = along.packed(along.own_music(open_))
    fingers = fingersalong.of_student(journal.path.parent, player, open_) if player else []
    as_file(path, [along.named_for_student(one) for one in given], music, fingers)
    count = sum(len(one["notes"]) for one in fingers)
    return Given(len(given), len(given) - len(open_), len(music), count, tuple(left))


def given_here(journal: Journal, path: Path, called: str | None = None) -> list[Assignment]:
    """What a teacher's file sets, with the names borne here; the last word on each, where there are several.

    A name the journal does not know is read as its only player, or, before the first take, as whoever will play.

    Parameters
    ----------
    called : str, optional
        The name here of the student the file is for.

    Raises
    ------
    MusicError
        When the file is not such a file, or it is not clear whom it is for.
    """
    players = journal.players()
    found: dict[Assignment, Assignment] = {}
    for one in read_file(path):
        if called is not None:
            one = replace(one, players=(called,))
        elif one.players and not set(one.players) & set(players):
            if len(players) > 1:
                raise MusicError(
                    f"{path.name} is for {' and '.join(one.players)}, whom this journal does not know: say with --as "
                    f"who that is here, {' or '.join(players)}."
                )
            one = replace(one, players=tuple(players))
        found.pop(one, None)
        found[one] = one
    return list(found.values())


def take_up(journal: Journal, given: Iterable[Assignment]) -> tuple[int, int]:
    """Add the work of a teacher's file (`given_here`) to what is set here; (new, known already).

    What the file says is withdrawn is no work: see `withdraw_given`.
    """
    given = [one for one in given if one.withdrawn is None]
    here = load(journal.path.parent)
    fresh = [one for one in given if not any(_covers(known, one) for known in here)]
    for one in fresh:
        add(journal.path.parent, one)
    return len(fresh), len(given) - len(fresh)


def withdraw_given(journal: Journal, given: Iterable[Assignment]) -> int:
    """Withdraw here what a teacher's file (`given_here`) says is withdrawn; how many entries that were."""
    count = 0
    for one in given:
        if one.withdrawn is not None:
            whose = one.players or (None,)
            count += sum(withdraw(journal.path.parent, one, one.withdrawn, player) for player in whose)
    return count


def _covers(known: Assignment, one: Assignment) -> bool:
    """Whether what is set here already asks the same of everybody it is for."""
    for_them = not known.players or (one.players and set(one.players) <= set(known.players))
    return bool(for_them) and replace(known, players=one.players) == one


def withdraw(folder: Path, one: Assignment, day: date, player: str | None = None) -> bool:
    """Take back what is set, for one player or for all it is set for; False when it is not set.

    The entry stays in the file and says so, for the student's own computer to hear of it.

    Raises
    ------
    MusicError
        When the file is wrong or cannot be written.
    """
    import tomlkit

    document = read_plain(folder / FILE, LARGEST)
    if document is None:
        return False
    rows = blocks(document, "assignment")
    for at, entry in enumerate(Entry.each(document, "assignment", FILE)):
        found = read_entry(entry)
        is_theirs = player is None or found.is_for(player)
        if found.withdrawn is not None or not is_theirs or replace(found, players=one.players) != one:
            continue
        if player is not None and len(found.players) > 1:
            rows[at]["player"] = [name for name in found.players if name != player]
            rows.append(as_table(replace(found, players=(player,), withdrawn=day)))
        else:
            rows[at]["withdrawn"] = day
        write_plain(folder / FILE, tomlkit.dumps(document), LARGEST)
        return True
    return False


def forget(folder: Path, player: str) -> int:
    """Take a player's name out of the file, and with it the work set for nobody else; how many entries bore it."""
    import tomlkit

    document = read_plain(folder / FILE, LARGEST)
    if document is None:
        return 0
    rows = blocks(document, "assignment")
    bore = 0
    for at in reversed(range(len(rows))):
        said = rows[at].get("player")
        names = [said] if isinstance(said, str) else list(said or ())
        if player in names:
            bore += 1
            rest = [str(name) for name in names if name != player]
            if rest:
                rows[at]["player"] = rest
            else:
                del rows[at]
    if bore:
        write_plain(folder / FILE, tomlkit.dumps(document), LARGEST)
    return bore
