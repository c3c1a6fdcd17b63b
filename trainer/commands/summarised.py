"""``keyfarer journal summary`` in words: the figures of `trainer.coaching.progress.report` for the screen."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from trainer.music.counted import many
from trainer.music.pitch import Interval

WIDE = 100
# Values of a facet asked less often than this are not told one by one.
LEAST_ASKED = 20
MOST = 5
# A note is told to come late from this many times the pulse of its take on (see `trainer.coaching.progress.habits`).
NOTICEABLY = 1.025
_FIFTHS = ("none", "one fifth", "two fifths", "three fifths", "four fifths", "five fifths", "six fifths")


def lines(found: Mapping[str, Any]) -> Iterator[str]:
    """The report line by line."""
    recent, all_ = found["recent"], found["all"]
    yield f"{found['player']}: {many(all_['takes'], 'take')}, {time(all_['minutes'])} of playing in all."
    if not recent["takes"]:
        yield f"Nothing since {found['since']}."
        return
    yield f"Since {found['since']}: {many(recent['takes'], 'take')}, {time(recent['minutes'])}, {share(recent)}."
    keys = ((key, *_key(one)) for key, one in found["keys"].items())
    yield from table([("key", "takes", "right", "notes a minute", "cost"), *keys])
    yield from _facets(found)
    yield from _costs(found)
    for title, told in (("Most expensive habits", found["habits"]), ("Lately", found["trends"])):
        if told:
            yield f"{title}:"
            yield from (f"  {line['words']}" for line in told)
    yield from textwrap.wrap(found["sight"]["words"], WIDE)


def _facets(found: Mapping[str, Any]) -> Iterator[str]:
    """Right by hand and degree; the ways into a note, and the causes, that cost most."""
    from trainer.coaching.progress.progress import CAUSE_WORDS

    yield from _listed("Right by hand", [f"{name} {_right(one)}" for name, one in sorted(found["hands"].items())])
    asked = {name: one for name, one in found["degrees"].items() if one["n"] >= LEAST_ASKED}
    yield from _listed("Right by degree", [f"{name} {_right(one)}" for name, one in sorted(asked.items())])
    late = sorted((-one["late"], name) for name, one in asked.items() if (one["late"] or 0) >= NOTICEABLY)
    slow = [f"{name} {-times:.2f} times" for times, name in late[:MOST]]
    yield from _listed("Reached later than the pulse, by degree", slow)
    ways = [(name, one) for name, one in found["intervals"].items() if one["n"] >= LEAST_ASKED]
    hard = sorted((pair for pair in ways if pair[1]["accuracy"] < 1), key=lambda pair: pair[1]["accuracy"])[:MOST]
    yield from _listed(
        "Hardest ways to a note", [f"{way(name)} {_right(one)} of {one['n']} right" for name, one in hard]
    )
    slips = [(CAUSE_WORDS.get(name, name), one["n"]) for name, one in found["causes"].items() if name != "right"]
    yield from _listed("Slips by cause", [f"{name} {n}" for name, n in sorted(slips, key=lambda pair: -pair[1])])


def _costs(found: Mapping[str, Any]) -> Iterator[str]:
    """What transposing costs by distance, and by the shape under the hand, the costliest first."""
    far = [f"{_FIFTHS[int(away)]} {_band(band)}" for away, band in found["cost_by_fifths"].items()]
    yield from _listed("Cost by distance", far)
    shapes = sorted(found["cost_by_shape"].items(), key=lambda pair: -pair[1][0])[:MOST]
    costs = [f"{name} {_band(band)}" for name, band in shapes]
    yield from _listed("Cost by shape of the five fingers, the costliest first", costs)


def _listed(title: str, told: Sequence[str]) -> list[str]:
    """A title and what belongs to it, on as many lines as it takes; nothing when there is nothing."""
    return textwrap.wrap(f"{title}: {', '.join(told)}.", WIDE, subsequent_indent="  ") if told else []


def way(name: str) -> str:
    """An interval as it is said.

    >>> way("-M2"), way("+P1")
    ('down a major second', 'a repeated note')
    """
    interval = Interval.parse(name)
    return interval.words if interval.steps or interval.semitones else "a repeated note"


def time(minutes: float) -> str:
    """Minutes up to an hour, hours from then on.

    >>> time(1), time(34.4), time(90)
    ('1 minute', '34 minutes', '1.5 hours')
    """
    if minutes < 60:
        return many(round(minutes), "minute")
    return f"{minutes / 60:.1f} hours"


def share(one: Mapping[str, Any]) -> str:
    """A share with its band."""
    low, high = one["accuracy_band"]
    return f"{_right(one)} right ({100 * low:.0f} to {100 * high:.0f})"


def _right(one: Mapping[str, Any]) -> str:
    return f"{100 * one['accuracy']:.0f}%"


def _band(values: Sequence[float]) -> str:
    value, low, high = values
    return f"{value:.2f} ({low:.2f} to {high:.2f})"


def _key(one: Mapping[str, Any]) -> tuple[str, ...]:
    cost = f"{one['cost'][0]:.2f}" if one["cost"] else ""
    right = share(one) if one["accuracy"] is not None else ""
    # Of takes that lay in another key or octave nothing is said about this one.
    pace = f"{one['right_per_minute'] or 0:.0f}" if right else ""
    return str(one["takes"]), right, pace, cost


def table(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    """Rows as lines, their columns under each other."""
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    for row in rows:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
