"""A take heard again on the Marked copy: as it was played and as it was meant, from any bar, one against the other."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.music.pitch import MusicError
from trainer.sounding.takes import as_meant, as_played, from_bar
from trainer.sounding.voice import Schedule
from trainer.window import barwords
from trainer.window.page.music import Score
from trainer.window.paint import fonts
from trainer.window.paint.canvas import OVER, Canvas
from trainer.window.paint.controls import Control, Controls
from trainer.window.paint.theme import hexed
from trainer.window.strings import say

if TYPE_CHECKING:
    from trainer.window.copy.finished import Finished
    from trainer.window.house.house import House

PLAYED, MEANT = "played", "meant"
# Quarters a minute between which a take's own pulse is kept.
_SLOWEST, _FASTEST = 20.0, 240.0
# Of a system, the air above and below it where no bar is clicked on (ours).
_EDGES = 0.06


class Playback:
    """Both ways to hear a take, and the bar they begin with.

    Parameters
    ----------
    house : House
    take : Finished
    """

    def __init__(self, house: House, take: Finished) -> None:
        self.house = house
        self.take = take
        # Of a take that went through some bars alone the others cannot be heard.
        went = take.reach
        reached = (0, len(take.piece.bars) - 1) if went is None else (went.first, went.last)
        self.first, self.last = take.loop or reached
        self.bar = self.first
        self.what = ""
        # What was said of a bar that cannot be heard.
        self._told = ""

    @property
    def place(self) -> Fraction | None:
        """The onset that is heard now."""
        return self.house.sound.player.place if self.house.sound.player.playing else None

    def step(self, by: int) -> None:
        """Begin with another bar."""
        self.choose(self.bar + by)

    def choose(self, bar: int) -> None:
        """Begin with the bar at this index of the piece; what sounds goes on from there."""
        self._hush()
        self.bar = max(self.first, min(self.last, bar))
        if self.house.sound.player.playing:
            self._play(self.what, self.bar)

    def hear(self, what: str) -> None:
        """Hear the take as it was played or as it was meant; the same again to stop, the other to compare.

        The other takes over at the bar that has been reached.
        """
        player = self.house.sound.player
        if not player.playing:
            self._play(what, self.bar)
        elif self.what == what:
            player.stop()
        else:
            reached = player.place
            self._play(what, self.bar if reached is None else self.take.piece.bar_index(reached))

    def schedule(self, what: str, bar: int) -> Schedule:
        """What sounds from a bar on.

        Raises
        ------
        MusicError
            When that bar was not played.
        """
        whole = self._whole(what)
        if bar == self.first:
            return whole
        return from_bar(whole, self.take.piece, bar)

    def _whole(self, what: str) -> Schedule:
        take = self.take
        if what == PLAYED:
            return as_played(take.events, take.piece, take.settled.marks)
        beat = float(take.piece.bars[0].beat_quarters) if take.piece.bars else 1.0
        pulse = (take.timing.pulse_bpm or take.tempo or 72.0) * beat
        return as_meant(take.expected, take.hands, max(_SLOWEST, min(_FASTEST, pulse)), (self.first, self.last))

    def _hush(self) -> None:
        """Take the line of a bar that cannot be heard away: it is true no more."""
        if self.house.notice is not None and self.house.notice.words == self._told:
            self.house.notice = None
        self._told = ""

    def _play(self, what: str, bar: int) -> None:
        self._hush()
        try:
            schedule = self.schedule(what, bar)
        except MusicError as nothing:
            self.house.sound.player.stop()
            self._told = str(nothing)
            self.house.say(self._told)
            return
        self.what = what
        self.house.sound.player.play(schedule, ended=self.house.wake)

    # How it looks

    def lay(self, canvas: Canvas, controls: Controls, rect: Rect) -> int:
        """Lay the orders in a line; returns where they end."""
        bar = barwords.bar_of(self.take.piece, self.bar)
        orders = [
            ("hear.played", say("copy.hear"), "h", lambda: self.hear(PLAYED)),
            ("hear.meant", say("copy.meant"), "j", lambda: self.hear(MEANT)),
            ("hear.from", say("copy.from", bar=bar), "down", lambda: self.step(1)),
        ]
        x = rect.left
        for name, label, key, act in orders:
            wide = canvas.width(label, fonts.ROMAN, 0.95) + controls.key_width(key) + 4
            if x + wide > rect.right:
                controls.order(name, key, act)
                continue
            controls.link(name, Rect(x, rect.top, wide, rect.height), label, act, key=key)
            x += wide + round(0.9 * canvas.unit)
        controls.order("hear.back", "up", lambda: self.step(-1))
        return x

    def lay_bar(self, canvas: Canvas, controls: Controls, at: int, score: Score, corner: tuple[int, int]) -> None:
        """A small brass flag over the bar to begin with; a click on another bar moves it there."""
        system = score.systems[at]

        def clicked(point: tuple[int, int]) -> bool:
            x = point[0] - corner[0]
            bar = next((bar for bar, left, right in system.bars if left <= x < right), None)
            if bar is not None:
                self.choose(bar)
            return True

        # Systems set close share the air at their edges, which belongs to neither.
        place = Rect(corner, system.size).inflate(0, -round(_EDGES * system.size[1]))
        controls.add(Control(f"bars.{at}", place, lambda: None, at=clicked))
        for bar, left, _ in system.bars:
            if bar == self.bar and self.bar > self.first:
                start = max(left, system.music_left) if bar == system.bars[0][0] else left
                s = system.space
                rect = Rect(round(corner[0] + start), round(corner[1] + system.staves[0].top - 1.6 * s), round(1.3 * s),
                            round(system.staves[-1].bottom - system.staves[0].top + 1.6 * s))  # fmt: skip
                brass = hexed(canvas.colour("brass"))
                body = (
                    f'<path d="M1 {rect.height}V1L{1.25 * s:.1f} {0.6 * s:.1f}L1 {1.2 * s:.1f}" fill="{brass}" '
                    f'stroke="{brass}" stroke-width="1.4" stroke-linejoin="round"/>'
                )
                canvas.shape("hear.flag", rect, body, OVER)
