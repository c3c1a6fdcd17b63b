"""The work that is set for a player on paper: what is to be practised, in order, then the page of every piece."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from trainer.coaching.paper.sheets import FOOT, Wishes, sheet
from trainer.coaching.work.assignments import DONE, Progress
from trainer.coaching.work.work import in_order
from trainer.music.names import ENGLISH
from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.music.transpose import plan
from trainer.scores.paper.printing import Block, Boxes, Document, Heading, NewPage, Text, Together
from trainer.scores.reading import read
from trainer.scores.shelf.library import find

# Boxes beside each piece, at least so many: it is played on more days than it is asked for.
_BOXES = 6


def workbook(
    player: str,
    work: Sequence[Progress],
    day: date,
    wishes: Callable[[Piece], Wishes] = lambda piece: Wishes(),
    letters: str = ENGLISH,
) -> Document:
    """What of a player's work is not done, what is wanted first first.

    Parameters
    ----------
    work : sequence of Progress
        As `coaching.work.work.work_of` has it.
    wishes : callable
        What is to stand on the sheet of a piece.

    Raises
    ------
    MusicError
        When nothing is left to be played.
    """
    undone = in_order(one for one in work if one.state != DONE and one.wanted)
    if not undone:
        raise MusicError(f"Nothing is set for {player} that is not done: set a piece at the Desk first.")
    said = f"{day.day} {day:%B %Y}"
    front: list[Block] = [Heading(f"Work for {player}", 1, said)]
    sheets: list[Block] = []
    for number, found in enumerate(undone, start=1):
        one, lines = found.assignment, []
        try:
            piece = read(find(one.piece))
        except MusicError:
            lines.append(Text("Its music is not on the shelf here.", "small"))
        else:
            moves = [plan(piece.key, key.key.short) for key in found.wanted]
            sheets += [NewPage(), *sheet(piece, moves, wishes(piece)).blocks]
        terms = one.said(letters).removeprefix(f"{one.title}: ")
        note = [Text(one.note, "italic")] if one.note else []
        boxes = Boxes("played on", max(_BOXES, one.times))
        front.append(Together((Heading(f"{number}. {one.title}", 2), Text(f"{terms}."), *note, *lines, boxes)))
    return Document(f"Work for {player}", (*front, *sheets), FOOT)
