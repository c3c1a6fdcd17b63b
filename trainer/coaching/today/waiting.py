"""What holds a player up on the path, and how it is said: keys that stay open long, keys that fell back."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from trainer.coaching.path.cells import Cell, cells
from trainer.coaching.path.path import OPENING, Place, Rules, load
from trainer.coaching.today.repertoire import STUCK_TAKES
from trainer.journal.store import Journal
from trainer.music.compass import TRICHORD
from trainer.music.counted import many
from trainer.music.keys import Key
from trainer.music.names import ENGLISH, key_name


def is_stuck(cell: Cell) -> bool:
    """Whether a key has been opening for long: something else is wanted than the same once more."""
    return cell.state == OPENING and cell.since >= STUCK_TAKES


def longest_stuck(places: Iterable[Place], known: Mapping[Place, Cell]) -> Key | None:
    """Of the keys of some places the one that has been opening for longest, if one has for long: the five fingers of it
    are the warm-up that serves most.
    """
    stuck = [known[place] for place in places if place in known and is_stuck(known[place])]
    return Key.parse(max(stuck, key=lambda cell: cell.since).place.key) if stuck else None


def fell_back(cell: Cell) -> bool:
    """Whether a key held before, and has to be opened again."""
    return cell.state == OPENING and len(cell.recent) > cell.since


def state_of(cell: Cell) -> str:
    """``opening``, ``holding``, ``free``, and ``opening again``."""
    return f"{cell.state} again" if fell_back(cell) else cell.state


def slower(rules: Rules) -> str:
    """What is asked of a key that has been opening for long: ``slower, for 3 takes running at 90%``."""
    return f"slower, {_running(rules)}"


def in_parts(why: str, rules: Rules) -> str:
    """A reason that asks for slower, where it cannot go slower still."""
    return why.replace(slower(rules), f"two bars at a time, then all, {_running(rules)}")


def _running(rules: Rules) -> str:
    return f"for {many(rules.holding_takes, 'take')} running at {rules.holding_accuracy:.0%}"


class Wanted(NamedTuple):
    """What a key that does not come to hold is asked for, in words, and how fast beside its last pace: -1 slower,
    0 as it was, 1 as any other.
    """

    words: str = ""
    faster: int = 1


def asked_of(cell: Cell, rules: Rules) -> Wanted:
    """What would let a key hold: where its notes are right that is not to go slower still."""
    last = cell.recent[-1] if cell.recent else None
    if cell.state != OPENING or last is None:
        return Wanted()
    is_right = last.accuracy >= rules.holding_accuracy
    if is_right and last.cost is not None and last.cost > rules.holding_cost:
        times = math.ceil(10 * last.cost) / 10
        said = f"more fluently: {times:g} times the time of the written key, {rules.holding_cost:g} at most"
        return Wanted(said)
    if not is_stuck(cell):
        return Wanted()
    return Wanted(f"so once more, {_running(rules)}", 0) if is_right else Wanted(slower(rules), -1)


def held_up(known: Iterable[Cell], rules: Rules) -> str:
    """Why no new key comes, where it is not the usual course: ``no new key while 5 are opening``; else empty."""
    opening = [cell for cell in known if cell.state == OPENING]
    if len(opening) < rules.most_opening or not any(is_stuck(cell) or fell_back(cell) for cell in opening):
        return ""
    return f"no new key while {len(opening)} {'is' if len(opening) == 1 else 'are'} opening"


def for_the_lesson(journal: Journal, player: str, letters: str = ENGLISH) -> list[str]:
    """The same for the teacher, with the keys and what may help; nothing where nothing is out of the usual.

    Raises
    ------
    MusicError
        When the teacher's own path cannot be understood.
    """
    known, rules = cells(journal, player).values(), load(journal.path.parent).rules
    said = held_up(known, rules)
    held = sorted((cell for cell in known if is_stuck(cell) or fell_back(cell)), key=lambda cell: cell.place)
    keys = ", ".join(
        dict.fromkeys(f"{key_name(Key.parse(one.place.key), letters)} ({one.place.level})" for one in held)
    )
    # Where every note is right, slower is what keeps a key from holding.
    is_right = all(one.recent and one.recent[-1].accuracy >= rules.holding_accuracy for one in held)
    # Three notes are played by a hand alone already.
    part = "two bars at a time" if all(one.place.level == TRICHORD for one in held) else "one hand"
    work = f"{part[0].upper()}{part[1:]}" if is_right else f"Slower, {part}"
    return [f"{said[:1].upper()}{said[1:]}: {keys}. {work}, or an easier tune there first."] if said else []
