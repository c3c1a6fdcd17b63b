"""The path: in which order keys are opened, and what moves each cell (level, key, hands) on.

The order and every number stand in ``path.toml``; a teacher's own copy in the journal's folder is used instead.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from trainer.journal.tally import canonical
from trainer.music.compass import LEVELS
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import HANDS
from trainer.music.pitch import MusicError, shortened
from trainer.music.solfege import HELPS
from trainer.scores.plain import write_plain

NEW, OPENING, HOLDING, FREE = "new", "opening", "holding", "free"
STATES = (NEW, OPENING, HOLDING, FREE)
FILE = "path.toml"
# In bytes; the path that comes along has some four thousand.
LARGEST = 200_000
# How many takes of a cell are remembered for its moves, where the rules do not look at more; and what they may ask for.
REMEMBERED = 6
_MOST_TAKES = 100
# Nobody plays twice as fast in another key as in the written one (ours).
_LEAST_COST = 0.5


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """A cell of the path: level, key under its one name of twenty-four, hands."""

    level: str
    key: str
    hands: str


@dataclass(frozen=True, slots=True)
class Step:
    """One stretch of the path: what is opened, and why here."""

    level: str
    keys: tuple[str, ...]
    hands: tuple[str, ...]
    reason: str


@dataclass(frozen=True)
class Rules:
    """The numbers of ``path.toml`` that move a cell."""

    least_played: float
    most_opening: int
    holding_takes: int
    holding_accuracy: float
    holding_cost: float
    free_takes: int
    free_days: int
    free_accuracy: float
    free_cost: float
    free_waits: float
    free_help: str
    free_below: float
    holding_below: float
    help_takes: int
    help_accuracy: float
    help_below: float

    @property
    def remembered(self) -> int:
        """How many takes of a cell the rules look at."""
        return max(REMEMBERED, self.holding_takes, self.free_takes, self.help_takes)


@dataclass(frozen=True)
class Route:
    """The path in order, and its rules."""

    steps: tuple[Step, ...]
    rules: Rules

    @property
    def places(self) -> tuple[Place, ...]:
        """Every cell in the order of opening: in each key one hand, the other, then both."""
        return _places(self.steps)

    def reason(self, place: Place) -> str:
        """Why a cell comes where it does; empty when the path does not hold it."""
        return next((s.reason for s in self.steps if s.level == place.level and place.key in s.keys), "")

    def only_hand(self, hands: Sequence[str]) -> str:
        """The one hand that is all path and player ask for; empty where it is more."""
        asked = {one for step in self.steps for one in step.hands if one in hands}
        return asked.pop() if len(asked) == 1 else ""


@cache
def _places(steps: tuple[Step, ...]) -> tuple[Place, ...]:
    found = (Place(step.level, key, hands) for step in steps for key in step.keys for hands in step.hands)
    return tuple(dict.fromkeys(found))


@dataclass(frozen=True, slots=True)
class Played:
    """What a cell remembers of a take.

    Local day (days since 1970), accuracy, share gone through, cost, help, whether the page was glimpsed transposed, and
    how often the player stopped to think, for each bar played.
    """

    day: int
    accuracy: float
    share: float
    cost: float | None
    help: str
    glimpsed: bool
    waits: float = 0.0


def load(folder: Path | None = None) -> Route:
    """The path: a teacher's copy in `folder`, or the one that comes with the program.

    Raises
    ------
    MusicError
        When the teacher's copy cannot be understood, saying which line of thought is wrong.
    """
    own = folder / FILE if folder is not None else None
    if own is not None and own.is_file():
        try:
            if own.stat().st_size > LARGEST:
                raise MusicError("it is too large to be written by hand")
            return read(own.read_text(encoding="utf-8-sig"))
        except RecursionError as why:
            raise MusicError(f"{own} is brackets in brackets: correct it, or remove it for the usual path.") from why
        except (OSError, ValueError, ArithmeticError, KeyError, TypeError, IndexError, AttributeError) as why:
            said = f"'{why.args[0]}' is missing" if isinstance(why, KeyError) else shortened(why, 200).rstrip(".")
            raise MusicError(f"{own} cannot be used ({said}): correct it, or remove it for the usual path.") from why
    return _usual()


def copy(folder: Path) -> Path:
    """Put the usual path's table into a journal's folder, for a teacher to change; one that is there stays.

    Raises
    ------
    MusicError
        When it cannot be written.
    """
    own = folder / FILE
    if not own.is_file():
        write_plain(own, Path(__file__).with_name(FILE).read_text(encoding="utf-8"))
    return own


@cache
def _usual() -> Route:
    return read(Path(__file__).with_name(FILE).read_text(encoding="utf-8"))


def read(text: str) -> Route:
    """A path from the text of a ``path.toml``; `MusicError`, `KeyError` or `TypeError` when it makes no sense."""
    table = tomllib.loads(text)
    steps = tuple(_step(row) for row in table["step"])
    if not steps:
        raise MusicError("it has no step")
    return Route(steps, _rules(table))


def _step(row: Mapping[str, Any]) -> Step:
    if row["level"] not in LEVELS:
        raise MusicError(f"'{shortened(row['level'])}' is no level: {', '.join(LEVELS)}")
    if unknown := [hands for hands in row["hands"] if hands not in HANDS]:
        raise MusicError(f"'{shortened(unknown[0])}' is no choice of hands: {', '.join(HANDS)}")
    keys = tuple(canonical(Key.parse(key)) for key in row["keys"])
    return Step(row["level"], keys, tuple(row["hands"]), str(row["reason"]))


def _rules(table: Mapping[str, Any]) -> Rules:
    def number(section: str, name: str, least: float, most: float = math.inf) -> float:
        """What no take or no number of takes could reach is refused: no key would ever move on."""
        value = float(table[section][name])
        if not least <= value <= most:
            wanted = f"{least:g} or more" if most == math.inf else f"{least:g} to {most:g}"
            raise MusicError(f"{name} under [{section}] is {value:g}, not {wanted}")
        return value

    def share(section: str, name: str) -> float:
        return number(section, name, 0, 1)

    def takes(section: str) -> int:
        return int(number(section, "takes", 1, _MOST_TAKES))

    free = table["free"]
    if free["help"] not in HELPS:
        raise MusicError(f"'{shortened(free['help'])}' is no help: {', '.join(HELPS)}")
    free_takes = takes("free")
    return Rules(
        least_played=share("counts", "least_played"),
        most_opening=int(number("counts", "most_opening", 1)),
        holding_takes=takes("holding"),
        holding_accuracy=share("holding", "accuracy"),
        holding_cost=number("holding", "cost", _LEAST_COST),
        free_takes=free_takes,
        free_days=int(number("free", "days", 0, free_takes)),
        free_accuracy=share("free", "accuracy"),
        free_cost=number("free", "cost", _LEAST_COST),
        # A teacher's copy of an older path has none.
        free_waits=number("free", "waits", 0) if "waits" in free else 1.0,
        free_help=free["help"],
        free_below=share("back", "free_below"),
        holding_below=share("back", "holding_below"),
        help_takes=takes("help"),
        help_accuracy=share("help", "accuracy"),
        help_below=share("help", "below"),
    )


def moved(state: str, recent: Sequence[Played], rules: Rules) -> str:
    """The state of a cell after its takes, the newest last.

    Parameters
    ----------
    state : str
        Before the newest take.
    recent : sequence of Played
        Only takes that count (see `counts`), since the cell last changed its state.
    """
    if not recent:
        return state
    if state == NEW:
        return OPENING
    if state == OPENING and _all(recent, rules.holding_takes, rules.holding_accuracy, rules.holding_cost):
        return HOLDING
    if state == HOLDING:
        if len(recent) >= 2 and all(take.accuracy < rules.holding_below for take in recent[-2:]):
            return OPENING
        last = recent[-rules.free_takes :]
        unaided = all(not t.glimpsed and HELPS.index(t.help) >= HELPS.index(rules.free_help) for t in last)
        days = len({take.day for take in last})
        fluent = _all(recent, rules.free_takes, rules.free_accuracy, rules.free_cost)
        in_time = all(8 * take.waits <= rules.free_waits for take in last)
        if fluent and in_time and unaided and days >= rules.free_days:
            return FREE
    if state == FREE and recent[-1].accuracy < rules.free_below:
        return HOLDING
    return state


def counts(take: Played, rules: Rules) -> bool:
    """Whether enough of the piece was played for the take to say something."""
    return take.share >= rules.least_played


def _all(recent: Sequence[Played], takes: int, accuracy: float, cost: float) -> bool:
    last = recent[-takes:]
    good = all(t.accuracy >= accuracy and (t.cost is None or t.cost <= cost) for t in last)
    return len(last) == takes and good


def faded(shown: str, recent: Sequence[Played], rules: Rules) -> str:
    """How many syllables to show next: one step less after good takes with this help, one more after a bad one."""
    if not recent:
        return shown
    at = HELPS.index(shown)
    if recent[-1].accuracy < rules.help_below:
        return HELPS[max(at - 1, 0)]
    last = recent[-rules.help_takes :]
    # Only takes played with no more than the present help earn the next step.
    earned = len(last) == rules.help_takes and all(
        take.accuracy >= rules.help_accuracy and HELPS.index(take.help) >= at and not take.glimpsed for take in last
    )
    return HELPS[min(at + 1, len(HELPS) - 1)] if earned else shown


def next_places(states: Mapping[Place, str], path: Route, hands: Sequence[str] = HANDS) -> list[Place]:
    """Cells that may be opened now, nearest first; none while too many are still being opened.

    A key's both-hands cell waits until the single hands before it on the path hold.
    """
    opening = sum(state == OPENING for state in states.values())
    if opening >= path.rules.most_opening:
        return []
    found = []
    for place in path.places:
        if states.get(place, NEW) != NEW or place.hands not in hands:
            continue
        alone = [
            p
            for p in path.places
            if p.level == place.level and p.key == place.key and p.hands not in ("both", place.hands)
        ]
        waits = place.hands == "both" and any(
            one.hands in hands and states.get(one, NEW) in (NEW, OPENING) for one in alone
        )
        if not waits:
            found.append(place)
    return found


def level_reached(states: Mapping[Place, str]) -> dict[str, str]:
    """For each of the twenty-four keys, the highest level at which any cell holds or is free; empty: none yet."""
    reached = {key.short: "" for key in TWENTY_FOUR}
    for place, state in states.items():
        if state in (HOLDING, FREE):
            before = reached[place.key]
            reached[place.key] = max(before, place.level, key=lambda name: LEVELS.index(name) if name else -1)
    return reached
