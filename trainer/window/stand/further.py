"""Who plays beyond the systems of a long piece that were laid out first finds the next ones there, before the whole is.

They are laid out as large as those that stand there, and join them: nothing that is looked at moves.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from trainer.music.piece import Piece
from trainer.scores.engraving.engraving import Engraved
from trainer.window.page import music
from trainer.window.page.music import Score
from trainer.window.workroom import jobs
from trainer.window.workroom.fingered import Fingered
from trainer.window.workroom.jobs import Drawn

if TYPE_CHECKING:
    from trainer.window.stand.standpage import Page


class Further:
    """Asks for the systems to come, one job at a time.

    Parameters
    ----------
    page : Page
    come : callable
        Called with the page that reaches further, and its fingers.
    """

    def __init__(self, page: Page, come: Callable[[Score, Fingered], None]) -> None:
        self._page = page
        self._come = come
        # The page that was asked for more, so that it is asked once.
        self._asked: Score | None = None

    def see_to(self, piece: Piece, place: int, terms: tuple[object, ...]) -> None:
        """Ask for what follows when it is to be seen soon; `terms` are those the page was asked for with."""
        page, score = self._page, self._page.score
        if score is None or score.whole or score.piece is not piece or score is self._asked:
            return
        last = score.engraved.systems[-1].bars
        if last[-1].bar + 1 >= len(piece.bars) or not score.reaches(place):
            return
        # What comes when the page turns is there before.
        if score.system_at(place) + page.slots + 1 < len(score.systems):
            return
        self._asked = score

        def done(result: Drawn) -> None:
            if page.score is score:
                more = music.score_of(piece, result)
                engraved = Engraved((*score.engraved.systems, *more.engraved.systems), score.engraved.look)
                self._come(Score(piece, (*score.systems, *more.systems), engraved, whole=False), result.fingered)

        look, span = score.engraved.look, (last[0].bar, last[-1].bar)
        # Where it fails the whole is waited for, which says what is the matter.
        self._page.house.workroom.ask(
            jobs.gone_on, piece, look, span, page.slots, *terms, then=done, failed=lambda _: None, place="page.further"
        )
