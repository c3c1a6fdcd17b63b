"""A book of ABC tunes: one file, a head that goes for all of them, and tune after tune.

Source: the ABC music standard 2.1 (2011), chapters 2.2 and 3, from memory: a tune begins with ``X:``; what stands at
the top of the file up to its first empty line is the file header, whose fields each tune has unless it says otherwise;
between tunes there may be free text.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from trainer.scores.abc.abcfields import plain

# The fields a file header may hold; the others belong to a tune.
_FOR_ALL = "ABCDFGHILMmNORrSUZ"
_SAID = re.compile(rf"[{_FOR_ALL}]:|%%")
_UNNAMEABLE = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]+')
_LONGEST_NAME = 60


class Book(NamedTuple):
    """The tunes of a file in their order.

    Parameters
    ----------
    head : str
        What goes for all of them, a field a line; empty where there is none.
    tunes : tuple of str
        Each from its ``X:`` to the next one; what bears no ``X:`` is one tune.
    """

    head: str
    tunes: tuple[str, ...]

    def alone(self, at: int, name: str) -> str:
        """The tune at an index as a file of its own, with what goes for all; without a title it is called as the book
        `name` and numbered.
        """
        tune = self.tunes[at].rstrip() + "\n"
        if not title_of(tune):
            number, _, rest = tune.partition("\n")
            tune = f"{number}\nT:{name} {at + 1}\n{rest}"
        return f"{self.head}\n\n{tune}" if self.head else tune


def split(text: str) -> Book:
    """The head and the tunes of a file.

    >>> split("M:3/4\\n\\nFree text\\n\\nX:1\\nK:C\\nC3|\\n\\nX:2\\nK:G\\nG3|\\n")
    Book(head='M:3/4', tunes=('X:1\\nK:C\\nC3|\\n\\n', 'X:2\\nK:G\\nG3|\\n\\n'))
    """
    text = text.lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    before, *tunes = f"\n{text}".split("\nX:")
    if not tunes:
        return Book("", (text,))
    return Book(_head(before), tuple(f"X:{tune}\n" for tune in tunes))


def _head(before: str) -> str:
    """The fields of the first lines that stand together, the version of the format and remarks left out."""
    said: list[str] = []
    for line in before.split("\n"):
        if _SAID.match(line):
            said.append(line.rstrip())
        elif said and not line.strip():
            break
    return "\n".join(said)


def title_of(tune: str) -> str:
    """The first title of a tune, empty where it has none."""
    found = re.search(r"^T:(.*)", tune, re.MULTILINE)
    return plain(re.sub(r"(?<!\\)%.*", "", found[1])) if found else ""


def number_of(tune: str) -> str:
    """The number a tune bears in its book, as written there."""
    return re.sub(r"%.*", "", tune.partition("\n")[0].partition(":")[2]).strip()


def file_name(at: int, of: int, title: str) -> str:
    """The name of a file for a tune of a book, so that names stand in the order of the tunes on any system.

    >>> file_name(6, 120, 'Who\\'s there?'), file_name(0, 9, "A/B: ")
    ("007 Who's there.abc", '1 A B.abc')
    """
    name = " ".join(_UNNAMEABLE.sub(" ", title).split())[:_LONGEST_NAME].rstrip(" .")
    return f"{at + 1:0{len(str(of))}} {name}".rstrip() + ".abc"


def named_alike(name: str) -> str:
    """Of such a name what does not change when tunes before it come or go."""
    return re.sub(r"^\d+ ", "", name)
