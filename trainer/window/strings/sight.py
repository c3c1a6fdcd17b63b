"""Prima vista, before and after a test."""

from __future__ import annotations

WORDS: dict[str, str] = {
    "sight.about": (
        "A test at sight. Each piece is fresh and has never been seen: thirty seconds to look at it, hands off the "
        "keys; then a count-in and one take, in time, without any help.\nThe first reading is in its written key, the "
        "others are matched to it and played in another: so it can be told what transposing costs you. At the end "
        "stand notes right a minute, accuracy, the cost, and how far your reading reaches, with how sure that is.\n"
        "esc leaves the test; what was played is kept."
    ),
    "sight.two": "Two minutes",
    "sight.five": "Five minutes",
    "sight.minute": "notes right a minute",
    "sight.right": "right",
    "sight.cost": "against the written key",
    "sight.baseline": "Reading {number}, as written: look it through.",
    "sight.reading": "Reading {number}, in {key}: look it through.",
    "sight.silent": "Nothing was played, so that reading does not count.",
    "sight.unkept": "The journal could not keep that take, so the reading does not count.",
    "sight.fixed": "In the test a reading is played as it is given, once.",
    "sight.left": "The test was left; what was played is kept.",
    "sight.failed": "No reading could be composed: begin the test again.",
    "sight.no-journal": "The test needs the journal, which is not open: look in Setup where it lies.",
}
