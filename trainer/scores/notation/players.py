"""What of a score for several players is not read, in words."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.music.counted import listed, many
from trainer.scores.notation.parting import choose, names_keyboard, names_soloist, unread
from trainer.scores.notation.written import Part

# So many parts are named, and so much of a name is said (ours).
_NAMED, _LONGEST = 5, 30
# More parts than this are too many for two hands (common practice, no source).
_MOST_PLAYED = 6


def others_left_out(parts: Sequence[Part], name: str) -> str:
    """Which parts of the file called `name` are read for the hands and which are not, in a sentence; empty where none
    is left out and two hands may play what is read.
    """
    places = {id(part): at for at, part in enumerate(parts)}
    played, rest = ([places[id(part)] for part in some] for some in (choose(parts, "piano")[0], unread(parts)))
    return in_words([part.name for part in parts], played, rest, name)


def in_words(names: Sequence[str], played: Sequence[int], rest: Sequence[int], name: str) -> str:
    """The same of parts of these names, given by their places in the score."""
    keyboard = any(names_keyboard(names[at]) for at in played)
    if not rest:
        if keyboard or len(played) <= _MOST_PLAYED:
            return ""
        return f"'{name}' has no keyboard part, so all its {len(played)} parts are read: look for a piano reduction."
    called = _called(names, played)
    are = "is" if len(rest) == 1 else "are"
    left = f"{_called(names, rest)} {are} left out: keep the score at hand."
    if not keyboard and names_soloist(names[played[0]]):
        return f"'{name}' has no keyboard part, so {called}, on two staves, is read, and {left}"
    return f"Of '{name}' {called} {'is' if len(played) == 1 else 'are'} read, and {left}"


def _called(called: Sequence[str], some: Sequence[int]) -> str:
    """Some of the names, each once; a part without one is called by its place in the score."""
    names = [" ".join(called[at].split())[:_LONGEST].rstrip() or f"part {at + 1}" for at in some]
    shown = list(dict.fromkeys(names))[:_NAMED]
    beyond = sum(one not in shown for one in names)
    if beyond:
        shown.append(many(beyond, "other"))
    return listed(shown)
