"""The take in time on the Stand: the look before it, the count-in, the clock, and its end."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.listening.clock import now
from trainer.listening.press import Event, Press
from trainer.music.piece import BOTH
from trainer.session import PRIMA_VISTA, SENZA_MISURA
from trainer.sounding.click import SUBDIVISION, ClickTrack, click
from trainer.sounding.otherhand import in_time
from trainer.sounding.tempo import TempoMap
from trainer.sounding.voice import together
from trainer.window.practice import COUNTING, LOOKING, PLAYING, READY, Practice
from trainer.window.screen import NEVER
from trainer.window.settings import SILENT_BARS
from trainer.window.stand.steering import RINGS_S

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand

# After the last note the take ends by itself once it has been quiet for so long.
QUIET_END_S = 1.6
# A short look before playing at sight.
LOOK_S = 30.0
_MEASURE_S = 0.5
_FRAME_S = 1 / 30
# So long after a key was struck nothing is made ready: the frame belongs to its mark.
_QUIET_S = 0.02
# So long after its mark the margin tells of a press.
_MARGIN_S = 0.012
# Between one system made ready ahead and the next.
_PREPARE_S = 0.03
# In quarters: so far behind the end of the music a player may come to it.
_LAG = 16
# In beats: who strikes the first note so long before its time is early; what comes before that is no part of the take.
_EARLY = 0.5


class Pace:
    """Where the clock is, and what it brings about.

    Parameters
    ----------
    stand : Stand
        Its practice is begun and ended here.
    """

    def __init__(self, stand: Stand) -> None:
        self._stand = stand
        self.house = stand.house
        self.track = ClickTrack((), 0.0, ())
        self.look_until = 0.0
        # A key was just struck: its mark is drawn first, the margin in a frame of its own.
        self.hurried = False
        self._measured = 0.0

    @property
    def _practice(self) -> Practice:
        assert self._stand.practice is not None
        return self._stand.practice

    # Beginning

    def look(self) -> None:
        """A short look at the page, then the count-in comes by itself."""
        self._practice.phase = LOOKING
        self.look_until = now() + LOOK_S

    def count_in(self, ear: bool = True) -> None:
        """Count in and click on; the other hand sounds too where that is wished."""
        wish, settings = self._practice.wish, self.house.settings
        self._practice.phase = COUNTING
        if wish.mode == PRIMA_VISTA:
            # What was said of looking is over.
            self.house.notice = None
        silent = SILENT_BARS[settings.silent]
        self.track = click(wish.piece, wish.bars, wish.quarters, subdivision=settings.subdivision, silent=silent)
        self.course = TempoMap(wish.piece, wish.quarters)
        heard = self.track.schedule
        if settings.other_hand and wish.hands != BOTH:
            other = in_time(wish.expected, wish.hands, wish.bars, wish.quarters)
            heard = together(heard, other.later(self.track.begins))
        self.house.sound.player.play(self._stand.hearing.before_count(wish, heard, ear))

    def leads(self, event: Event) -> bool:
        """In time, whether a press comes before the music and so belongs to no take; at rest it asks for the count-in.

        One note gives no pulse: only the count can say when the second is due.
        """
        practice = self._practice
        if not isinstance(event, Press) or practice.wish.mode == SENZA_MISURA:
            return False
        if practice.phase == READY:
            self._stand.again()
            return True
        clock = self.clock
        early = self.track.begins - _EARLY * 60.0 / practice.wish.tempo
        return practice.phase == COUNTING and (clock is None or clock < early)

    # The clock

    @property
    def clock(self) -> float | None:
        """Seconds since the first stroke of the count-in; None when nothing is counted."""
        practice, started = self._stand.practice, self.house.sound.player.started
        if practice is None or practice.wish.mode == SENZA_MISURA or started is None:
            return None
        return now() - started - self._stand.hearing.lead if practice.phase in (COUNTING, PLAYING) else None

    def music_now(self) -> Fraction | None:
        """In time, the onset the clock has come to (before the start smaller than it); None without a clock."""
        clock = self.clock
        if clock is None:
            return None
        start, _ = self._practice.wish.span
        seconds = clock - self.track.begins + self.course.seconds(start)
        return Fraction(self.course.quarters(seconds)).limit_denominator(960)

    def counting(self) -> int:
        """The beat of the count-in, from 1; 0 when there is none."""
        clock = self.clock
        if clock is None or self._practice.phase != COUNTING:
            return 0
        ahead = [b for b in self.track.beats if b.at < self.track.begins - 1e-6 and b.weight != SUBDIVISION]
        struck = sum(1 for beat in ahead if beat.at <= clock)
        return self.track.counted[struck - 1] if struck else 0

    @property
    def place(self) -> int:
        """The moment that is due: by the clock in time, else what the player is to play next."""
        amending = self._stand.amending
        onset = amending.onset if amending is not None else self._stand.hearing.place
        if onset is None:
            onset = self.music_now()
        if onset is None:
            return self._practice.place
        wish = self._practice.wish
        start = onset if amending is not None else max(onset, wish.span[0])
        return max(0, bisect_right(wish.piece.moments, start, key=lambda moment: moment.onset) - 1)

    # Time passes

    def tick(self, moment: float) -> float:
        """What is due now; returns the seconds until more may be."""
        due = self._due(moment)
        sighting = self.house.rounds.sighting
        if sighting is not None and sighting.due:
            # The next reading is put on the stand in the next frame, whatever else is waited for.
            due = min(due, _FRAME_S)
        if self.hurried:
            self.hurried = moment - (self._practice.last_at or 0.0) < _MARGIN_S
            return min(due, _MARGIN_S)
        return min(due, _PREPARE_S) if self._prepared(moment) else due

    def _prepared(self, moment: float) -> bool:
        """Make ready what will be needed, a little at a time; False when all is."""
        page, practice = self._stand.page, self._practice
        # The take is made ready while the engraver works, and the systems to come before they are turned to.
        if not page.asked or practice.prepare():
            return True
        if page.ready:
            return False
        if moment - (practice.last_at or 0.0) > _QUIET_S:
            page.prepare()
        return True

    def _due(self, moment: float) -> float:
        sighting = self.house.rounds.sighting
        if sighting is not None and sighting.due:
            sighting.go_on()
            return _FRAME_S
        practice = self._practice
        if practice.phase == LOOKING:
            if moment >= self.look_until:
                self.count_in()
            return min(1.0, max(0.05, self.look_until - moment))
        if practice.wish.mode != SENZA_MISURA and practice.phase in (COUNTING, PLAYING):
            onset = self.music_now()
            return self._in_time(onset) if onset is not None else self._clock_lost(practice)
        if practice.phase == PLAYING:
            return self._untimed(moment)
        return _FRAME_S if self._stand.hearing.on else NEVER

    def _clock_lost(self, practice: Practice) -> float:
        """The clock has not started yet, or has run out."""
        if self.house.sound.player.playing or practice.phase == COUNTING:
            return _FRAME_S
        return self._in_time(practice.wish.span[1] + 2)

    def _in_time(self, onset: Fraction) -> float:
        practice = self._practice
        start, end = practice.wish.span
        if practice.phase == COUNTING and onset >= start:
            practice.phase = PLAYING
            self._tell_click(practice)
        if onset >= end + 1:
            if self._lags(onset - end):
                return _FRAME_S
            if practice.presses:
                self.over()
            else:
                practice.phase = READY
                if self.house.rounds.sighting is not None:
                    self.house.rounds.sighting.passed()
            return _FRAME_S
        self._measure(now())
        return _FRAME_S

    def _lags(self, beyond: Fraction) -> bool:
        """Whether who fell behind the click is still at the last notes: they belong to this take."""
        practice = self._practice
        # A test at sight keeps to its minutes.
        if self._stand.tested or practice.finished or practice.last_at is None or beyond >= _LAG:
            return False
        return now() - practice.last_at < QUIET_END_S

    def _tell_click(self, practice: Practice) -> None:
        """Let the take know when its beats fall, as this player's taps lie to the click."""
        started = self.house.sound.player.started
        if started is not None:
            lead = self._stand.hearing.lead
            begins = started + lead + self.track.begins - self.course.seconds(practice.wish.span[0])
            practice.clicked = begins + self.house.settings.click_offset_ms / 1000

    def _untimed(self, moment: float) -> float:
        practice = self._practice
        self._measure(moment)
        if practice.finished and practice.last_at is not None:
            left = practice.last_at + QUIET_END_S - moment
            if moment >= practice.last_at + RINGS_S:
                self._stand.down.clear()
            if left <= 0 and not self._stand.down:
                self.over()
                return NEVER
            return max(0.05, left)
        return _MEASURE_S if practice.presses else NEVER

    def over(self) -> None:
        """All has been played: a loop goes round again, and says how it went."""
        practice = self._practice
        ended = self._stand.end()
        if practice.wish.loop is None:
            if ended:
                self._stand.say_ended()
            return
        said = self.house.rounds.round_line(practice)
        self._stand.again(ear=False)
        self.house.say(*said)

    def _measure(self, moment: float) -> None:
        practice = self._practice
        if practice.presses and not self.hurried and moment - self._measured > _MEASURE_S:
            self._measured = moment
            practice.measure()
