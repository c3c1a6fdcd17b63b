"""What stands beside the music on the Stand, where it is wished: chords, and the clefs to imagine."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from trainer.music.piece import Piece
from trainer.session import PRIMA_VISTA
from trainer.window.page.chordrow import Chords, Found
from trainer.window.page.chordrow import height as chords_height
from trainer.window.page.clefrow import Readings
from trainer.window.paint.canvas import Canvas
from trainer.window.workroom import studies
from trainer.window.workroom.workroom import told

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand


class BesidePage:
    """The chords of the piece on the stand, and how to read its staves."""

    def __init__(self, stand: Stand) -> None:
        self._stand = stand
        self.house = stand.house
        self.chords = Chords(self._ask_chords)
        self._readings: Readings | None = None

    def _ask_chords(self, piece: Piece, then: Callable[[Found], None]) -> None:
        folder = str(self.house.journal_file.parent)

        def failed(trouble: Exception) -> None:
            self.house.say(told(trouble, "stand.no-chords"))

        self.house.workroom.ask(studies.chords_found, piece, folder, then=then, failed=failed)

    @property
    def _shows_rows(self) -> bool:
        """Whether help beside the page is allowed: not when playing at sight."""
        practice = self._stand.practice
        return practice is not None and practice.wish.mode != PRIMA_VISTA

    @property
    def readings(self) -> Readings | None:
        """How to read each staff by clef; None where that is not shown."""
        practice = self._stand.practice
        if practice is None or not (self.house.settings.clef and self._shows_rows):
            return None
        wish = practice.wish
        if self._readings is None or self._readings.piece is not wish.piece or self._readings.move != wish.plan:
            self._readings = Readings(wish.piece, wish.plan)
        return self._readings

    def below(self, canvas: Canvas) -> int:
        """Pixels kept free under each system for the row of chords."""
        return chords_height(canvas.size[1]) if self.house.settings.chords and self._shows_rows else 0
