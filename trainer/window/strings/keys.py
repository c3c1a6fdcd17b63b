"""Keys."""

from __future__ import annotations

WORDS: dict[str, str] = {
    "keys.held": "{held} of 24 hold",
    "keys.none": "24 keys",
    "keys.none.yet": "none played yet",
    "keys.due": "{due} keys due",
    "keys.due.one": "1 key due",
    "keys.level.trichord": "three",
    "keys.level.pentachord": "five",
    "keys.level.hexachord": "six",
    "keys.level.open": "open",
    "keys.state.new": "new",
    "keys.state.opening": "opening",
    "keys.state.holding": "holds",
    "keys.state.free": "free",
    "keys.state.due": "due",
    "keys.view.key": "this key",
    "keys.view.weeks": "over the weeks",
    "keys.new": "not opened yet: its five-finger pattern is the way in",
    "keys.opening": "being opened",
    "keys.reached": "{level} holds",
    "keys.right": "{right} right",
    "keys.speed": "{notes} notes a minute",
    "keys.due.now": "due today",
    "keys.due.in": "due in {days} days",
    "keys.colour.w": "white",
    "keys.colour.b": "black",
    "keys.roomy": "No finger is crowded.",
    "keys.crowding": "Crowding: right hand {right} mm, left hand {left} mm.",
    "keys.history": "right in this key, week by week",
    "keys.history.empty": "Nothing was played in this key yet. After the first take its weeks are drawn here.",
    "keys.sight": "at sight, notes right a minute",
    "keys.sight.empty": "Nothing read at sight yet: choose “prima vista” at the Desk, and the first point stands here.",
    "keys.cost": "time against the written key",
    "keys.cost.empty": "Play a piece in its written key too: then what another key costs in time can be told.",
    "keys.quiet": (
        "← → round the circle · ↑ ↓ major and minor · "
        "bands hold the figure 95 times in 100; at sight: mean of four weeks"
    ),
    "keys.start": "Play {title}",
    "keys.start.pattern": "Play the five fingers",
    "keys.pentascale": "Five fingers",
    "keys.cadence": "Cadence",
}
