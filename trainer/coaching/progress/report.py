"""The journal in figures, for ``keyfarer journal summary --json`` and whoever reads it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from trainer.coaching.path.cells import cells
from trainer.coaching.progress.habits import habits, trends
from trainer.coaching.sight.sighttest import rating_of
from trainer.coaching.sight.sightwords import reach
from trainer.journal import summary
from trainer.journal.store import Journal


def report(journal: Journal, player: str, now: datetime, days: int) -> dict[str, Any]:
    """Everything the journal says of a player in the last `days` days, as plain values for JSON.

    Every key is listed in DEVELOPERS.md; bands are 95 %.
    """
    since = now.date() - timedelta(days=days)

    def stretch(one: summary.Stretch) -> dict[str, Any]:
        return {
            "takes": one.takes, "minutes": round(one.minutes, 1), "right": one.right, "played": one.played,
            "missed": one.missed, "accuracy": _rounded(one.accuracy), "accuracy_band": _band(one.band),
            "right_per_minute": _rounded(one.per_minute, 1), "pace": _rounded(one.pace, 1),
            "cost": _band(one.cost) if one.cost else None,
        }  # fmt: skip

    def facet(name: str) -> dict[str, Any]:
        return {
            row.value: {
                "n": row.n, "right": row.right, "accuracy": round(row.accuracy, 4),
                "accuracy_band": _band((row.low, row.high)), "late": _rounded(row.late, 3),
            }
            for row in summary.by_facet(journal, player, name, since)
        }  # fmt: skip

    rating = rating_of(journal, player, now)
    return {
        "player": player,
        "since": since.isoformat(),
        "all": stretch(summary.whole(journal, player)),
        "recent": stretch(summary.whole(journal, player, since)),
        "keys": {key: stretch(one) for key, one in summary.by_key(journal, player, since).items()},
        "weeks": {day.isoformat(): stretch(one) for day, one in summary.by_week(journal, player, since).items()},
        **{f"{name}s": facet(name) for name in ("degree", "interval", "hand", "cause")},
        "cost_by_fifths": {str(k): _band(v) for k, v in summary.cost_by_distance(journal, player, since).items()},
        "cost_by_shape": {k: _band(v) for k, v in summary.cost_by_family(journal, player, since).items()},
        "habits": [
            {"words": h.sentence, "slips": h.slips, "n": h.n, "expense": round(h.expense, 1)}
            for h in habits(journal, player, now.date(), days=days)
        ],
        "trends": [
            {"what": t.what, "before": round(t.before, 4), "now": round(t.now, 4),
             "band": _band((t.low, t.high)), "words": t.words}
            for t in trends(journal, player, now.date())
        ],
        "sight": {"rating": rating.points, "give_or_take": rating.give, "words": reach(rating)},
        "cells": [
            {
                "level": c.place.level, "key": c.place.key, "hands": c.place.hands, "state": c.state, "help": c.help,
                "due": c.due.isoformat() if c.due else None,
            }
            for c in cells(journal, player).values()
        ],
    }  # fmt: skip


def _rounded(value: float | None, digits: int = 4) -> float | None:
    return None if value is None else round(value, digits)


def _band(values: tuple[float, ...]) -> list[float]:
    return [round(value, 4) for value in values]
