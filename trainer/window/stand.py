"""The Stand: the piece in its written key, the key to play it in, and the pencil that follows."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pygame
from pygame import Rect

from trainer.following.marks import RIGHT as CAUSE_RIGHT
from trainer.listening.clock import now
from trainer.listening.press import Event, Press, Release
from trainer.music.keys import MAX_ACCIDENTALS
from trainer.music.piece import BOTH, HANDS, Piece
from trainer.music.pitch import MusicError
from trainer.music.transpose import plan
from trainer.scores.engraving import Engraved, Look
from trainer.scores.harmony import Harmony
from trainer.session import A_TEMPO, PRIMA_VISTA, SENZA_MISURA
from trainer.sounding.click import SUBDIVISION, ClickTrack, click
from trainer.sounding.otherhand import Waiting, in_time
from trainer.sounding.tempo import TempoMap
from trainer.sounding.voice import together
from trainer.window import clefrow, jobs, layout, music, standview, studies
from trainer.window.canvas import Canvas
from trainer.window.chordrow import Chords
from trainer.window.chordrow import height as chords_height
from trainer.window.clefrow import Readings
from trainer.window.controls import Controls
from trainer.window.correcting import Correcting
from trainer.window.hearing import Hearing
from trainer.window.inking import Ink
from trainer.window.marking import Marking
from trainer.window.music import Score
from trainer.window.practice import COUNTING, ENDED, LOOKING, LOOPS, PLAYING, READY, Practice, Wish, next_mode
from trainer.window.screen import NEVER, Screen
from trainer.window.settings import SILENT_BARS
from trainer.window.sheetmusic import Ribbons, Setting
from trainer.window.steering import AGAIN, NEXT, STOP, Steering
from trainer.window.strings import say
from trainer.window.theme import hexed

# After the last note the take ends by itself once it has been quiet for so long.
QUIET_END_S = 1.6
# A short look before playing at sight.
LOOK_S = 30.0
_MEASURE_S = 0.5
# The smallest and the largest staff space, in units of a fortieth of the window's height.
_LEAST_SPACE = 0.31
_MOST_SPACE = 0.8
_FRAME_S = 1 / 30


class Stand(Screen):
    """See `screens`: head, music, margin, keyboard."""

    name = "stand"

    practice: Practice | None = None
    score: Score | None = None
    # What the engraving was last asked for; None when it must be asked anew.
    _asked: tuple[object, ...] | None = None
    # When a fresh piece was put on the stand, until it is engraved.
    begun: float | None = None

    def entered(self) -> None:
        self.glimpse: Score | None = None
        self._asked = None
        self.glimpsing = False
        self.down: set[int] = set()
        self.slips: list[tuple[str, str]] = []
        self.track = ClickTrack((), 0.0, ())
        self.look_until = 0.0
        self.measured = 0.0
        self.typing = getattr(self, "typing", True)
        self.hearing = Hearing(self.house)
        self.chords = Chords(self._ask_chords)
        self.correcting = Correcting(self)
        self.tuning = False
        self._ribbons: Ribbons | None = None
        self.marking: Marking | None = None
        self.steering = Steering(*self.house.outer_keys)
        self.house.typed.let_go(now())
        if self.practice is not None and self.practice.phase == ENDED:
            self.practice.again()
            self._clean()

    def opened(self) -> None:
        # From now on takes are kept; what was put on the stand before has no record yet.
        if self.practice is not None and not self.practice.presses:
            self.begin(self.practice.wish)

    def left(self) -> None:
        self.house.rounds.end_demonstration()
        self.house.rounds.leave_sighting()
        self.house.sound.player.stop()
        if self.practice is not None:
            self.practice.finish()

    # What is practised

    def play(self, wish: Wish) -> None:
        """Bring the stand to the front with a piece on it."""
        self.house.rounds.row = []
        self.house.rounds.leave_sighting()
        self.house.show(self)
        self.begin(wish)
        self._set_ear()

    def resume(self, practice: Practice) -> None:
        """Show a take as it is, played here or elsewhere."""
        self.house.show(self)
        self.practice = practice
        self._clean()
        self.slips = [slip for at in range(len(practice.marks)) if (slip := self._slip(at)) is not None]

    def begin(self, wish: Wish) -> None:
        """Put a piece on the stand."""
        fresh = self.practice is None or self.practice.wish.piece is not wish.piece
        if self.practice is not None and self.practice.phase != ENDED:
            self.practice.finish()
        self.house.sound.player.stop()
        self.hearing.stop()
        self.practice = Practice(wish, self.house.settings.minor, self.house.rounds.record_of)
        if fresh:
            self.score = None
            self.begun = now()
        self.glimpse = None
        if fresh:
            self._asked = None
        self._clean()
        if wish.mode == PRIMA_VISTA:
            self.practice.phase = LOOKING
            self.look_until = now() + LOOK_S
        if wish.plan.note:
            self.house.say(wish.plan.note)

    def change(self, wish: Wish) -> None:
        """The same piece, something about it different: a new take."""
        if self.tested:
            self.house.say(say("sight.fixed"))
            return
        self.begin(wish)

    def again(self, ear: bool = True) -> None:
        """From the start; the ear is set first, where that is wished."""
        if self.practice is None:
            return
        if self.tested and (self.practice.presses or self.practice.phase == ENDED):
            # One take each.
            self.house.say(say("sight.fixed"))
            return
        if self.practice.presses or self.practice.phase in (ENDED, COUNTING):
            self.practice.again()
            self._clean()
        mode = self.practice.wish.mode
        if mode in (A_TEMPO, PRIMA_VISTA):
            self._count_in(ear)
        elif ear:
            self._set_ear()

    @property
    def tested(self) -> bool:
        """Whether what is on the stand belongs to a test at sight."""
        return self.house.rounds.sighting is not None

    def _set_ear(self) -> None:
        """What sets the ear before a take without a count-in, where it is wished."""
        wish = self.practice.wish if self.practice is not None else None
        if wish is not None and wish.mode == SENZA_MISURA and not self.house.rounds.demonstrating:
            self.hearing.before_take(wish)

    def stop(self) -> None:
        """End the take; a second time, on to the marked copy."""
        if self.practice is None:
            return
        self.house.sound.player.stop()
        self.hearing.stop()
        if self.waiting is not None:
            self.waiting.stop()
        if self.practice.phase == ENDED or not self.practice.presses:
            if self.practice.settled is not None:
                self.house.notice = None
                self.house.go("copy")
            return
        self.practice.finish()
        self._settle()
        self._say_ended()

    def _say_ended(self) -> None:
        self.house.say(*self.house.rounds.ended_line())

    def _clean(self) -> None:
        self.slips = []
        self._other_hand()
        self.marking = None
        if self.practice is not None:
            self.steering.expected = self.practice.wish.expected
        self._mark_afresh()

    # The other hand in senza misura.
    waiting: Waiting | None = None

    def _other_hand(self) -> None:
        """Let the hand that is not practised wait for the player, where that is wished."""
        wish = self.practice.wish if self.practice is not None else None
        self.waiting = None
        if wish is not None and self.house.settings.other_hand and wish.hands != BOTH and wish.mode == SENZA_MISURA:
            self.waiting = Waiting(wish.expected, wish.hands, self.house.sound.voice, wish.quarters)

    def _count_in(self, ear: bool = True) -> None:
        """Count in and click on; the other hand sounds too where that is wished."""
        assert self.practice is not None
        wish = self.practice.wish
        self.practice.phase = COUNTING
        settings = self.house.settings
        silent = SILENT_BARS[settings.silent]
        self.track = click(wish.piece, wish.numbers, wish.quarters, subdivision=settings.subdivision, silent=silent)
        self.course = TempoMap(wish.piece, wish.quarters)
        heard = self.track.schedule
        if self.house.settings.other_hand and wish.hands != BOTH:
            other = in_time(wish.expected, wish.hands, wish.numbers, wish.quarters)
            heard = together(heard, other.later(self.track.begins))
        self.house.sound.player.play(self.hearing.before_count(wish, heard, ear))

    # Time

    @property
    def clock(self) -> float | None:
        """Seconds since the first stroke of the count-in; None when nothing is counted."""
        started = self.house.sound.player.started
        if self.practice is None or self.practice.wish.mode == SENZA_MISURA or started is None:
            return None
        return now() - started - self.hearing.lead if self.practice.phase in (COUNTING, PLAYING) else None

    def music_now(self) -> Fraction | None:
        """In time, the onset the clock has come to (before the start smaller than it); None without a clock."""
        clock = self.clock
        if clock is None or self.practice is None:
            return None
        start, _ = self.practice.wish.span
        seconds = clock - self.track.begins + self.course.seconds(start)
        return Fraction(self.course.quarters(seconds)).limit_denominator(960)

    def counting(self) -> int:
        """The beat of the count-in, from 1; 0 when there is none."""
        clock = self.clock
        if clock is None or self.practice is None or self.practice.phase != COUNTING:
            return 0
        ahead = [b for b in self.track.beats if b.at < self.track.begins - 1e-6 and b.weight != SUBDIVISION]
        struck = sum(1 for beat in ahead if beat.at <= clock)
        return self.track.counted[struck - 1] if struck else 0

    def tick(self, now: float) -> float:
        sighting = self.house.rounds.sighting
        if sighting is not None and sighting.due:
            sighting.go_on()
            return _FRAME_S
        practice = self.practice
        if practice is None:
            return NEVER
        if practice.phase == LOOKING:
            if now >= self.look_until:
                self._count_in()
            return min(1.0, max(0.05, self.look_until - now))
        if practice.wish.mode != SENZA_MISURA and practice.phase in (COUNTING, PLAYING):
            onset = self.music_now()
            return self._in_time(onset) if onset is not None else self._clock_lost(practice)
        if practice.phase == PLAYING:
            return self._untimed(now)
        return _FRAME_S if self.hearing.on else NEVER

    def _clock_lost(self, practice: Practice) -> float:
        """The clock has not started yet, or has run out."""
        if self.house.sound.player.playing or practice.phase == COUNTING:
            return _FRAME_S
        self._in_time(practice.wish.span[1] + 2)
        return NEVER

    @property
    def place(self) -> int:
        """The moment that is due: by the clock in time, else what the player is to play next."""
        assert self.practice is not None
        onset = self.correcting.onset if self.correcting.on else self.hearing.place
        if onset is None:
            onset = self.music_now()
        if onset is None:
            return self.practice.place
        moments = self.practice.wish.piece.moments
        start = onset if self.correcting.on else max(onset, self.practice.wish.span[0])
        return max(0, bisect_right(moments, start, key=lambda moment: moment.onset) - 1)

    def _in_time(self, onset: Fraction) -> float:
        practice = self.practice
        assert practice is not None
        start, end = practice.wish.span
        if practice.phase == COUNTING and onset >= start:
            practice.phase = PLAYING
            self._tell_click(practice)
        if onset >= end + 1:
            if practice.presses:
                practice.finish()
                self._settle()
                if practice.wish.loop is not None:
                    self.again(ear=False)
                else:
                    self._say_ended()
            else:
                practice.phase = READY
            return _FRAME_S
        self._measure(now())
        return _FRAME_S

    def _tell_click(self, practice: Practice) -> None:
        """Let the take know when its beats fall, as this player's taps lie to the click."""
        started = self.house.sound.player.started
        if started is not None:
            begins = started + self.hearing.lead + self.track.begins - self.course.seconds(practice.wish.span[0])
            practice.clicked = begins + self.house.settings.click_offset_ms / 1000

    def _untimed(self, moment: float) -> float:
        practice = self.practice
        assert practice is not None
        self._measure(moment)
        if practice.finished and practice.last_at is not None:
            left = practice.last_at + QUIET_END_S - moment
            if left <= 0 and not self.down:
                practice.finish()
                self._settle()
                if practice.wish.loop is not None:
                    self.again(ear=False)
                else:
                    self._say_ended()
                return NEVER
            return max(0.05, left)
        return _MEASURE_S if practice.presses else NEVER

    def _measure(self, moment: float) -> None:
        if self.practice is not None and self.practice.presses and moment - self.measured > _MEASURE_S:
            self.measured = moment
            self.practice.measure()

    # What is heard

    def heard(self, event: Event) -> None:
        if isinstance(event, Press):
            self.down.add(event.pitch)
        elif isinstance(event, Release):
            self.down.discard(event.pitch)
        if self.correcting.on:
            self.correcting.heard(event)
            return
        if self.house.settings.steering:
            wish, playing = self.steering.hear(event)
            if wish:
                self._steer(wish)
            if not playing:
                return
        practice = self.practice
        if practice is None or self.glimpsing:
            return
        if practice.phase not in (COUNTING, PLAYING) and self.hearing.pressed(event):
            return
        if practice.phase == LOOKING and isinstance(event, Press):
            practice.phase = PLAYING if practice.wish.mode == SENZA_MISURA else practice.phase
            return
        if practice.phase == ENDED and isinstance(event, Press):
            # Playing on after the end begins the next take.
            self.house.notice = None
            self.again(ear=False)
            if practice.phase in (COUNTING, ENDED):
                return
        mark = practice.hear(event)
        if mark is None:
            return
        if self.marking is not None:
            moves = practice.session.moves
            self.marking.add(mark, practice.presses[-1])
            self._draw_moves(len(moves))
        slip = self._slip(len(practice.marks) - 1)
        if slip is not None:
            self.slips.append(slip)
        elif self.waiting is not None and mark.note is not None:
            self.waiting.reached(practice.wish.piece.notes[mark.note].onset)

    def _slip(self, at: int) -> tuple[str, str] | None:
        """Where and what, of a press that was not right."""
        assert self.practice is not None
        if self.practice.marks[at].cause == CAUSE_RIGHT:
            return None
        where, _, what = self.practice.words(at).partition(": ")
        return (where, what) if what else ("", where)

    def _draw_moves(self, count: int) -> None:
        assert self.practice is not None
        assert self.marking is not None
        moves = self.practice.whole_moves(self.practice.session.moves)
        for move in moves[self._moves_drawn : count]:
            self.marking.move(move)
        self._moves_drawn = count

    def _steer(self, wish: str) -> None:
        if wish == AGAIN:
            self.again()
        elif wish == STOP:
            self.stop()
        elif wish == NEXT and self.house.rounds.row:
            self.next()
        elif wish == NEXT and self.practice is not None:
            if self.practice.phase == ENDED:
                self.house.go("copy")
            else:
                self.stop()

    def next(self) -> None:
        """On to the next step of a warm-up."""
        if self.practice is not None and self.practice.phase != ENDED:
            self.practice.finish()
        self.house.rounds.next_of_row()

    # The engraving and the marks on it

    _moves_drawn = 0

    def want(self, places: layout.StandPlaces, canvas: Canvas) -> None:
        """See that the piece is engraved for this size; asked again only when something about it changed."""
        assert self.practice is not None
        wish = self.practice.wish
        look = self.look(places, canvas)
        below = self.below(canvas)
        asked = (id(wish.piece), look.width_px, look.staff_px, look.ribbon_px, below)
        if asked == self._asked:
            return
        self._asked = asked
        self.wanted_slots = self.slots_for(canvas)
        room = places.music.height - below * self.wanted_slots
        self._engrave(wish.piece, look, room, canvas.size[1] / 40, asked)

    def look(self, places: layout.StandPlaces, canvas: Canvas) -> Look:
        """How large the music is: two systems fill the room there is, one with very large text."""
        slot = places.music.height / self.slots_for(canvas) - self.below(canvas)
        base = canvas.size[1] / 40
        space = max(base * _LEAST_SPACE, min(base * 0.62, slot / 24.5))
        return Look(places.music.width, round(space * 4, 1), ribbon_px=round(max(base * 1.06, space * 2.6), 1))

    # Systems wished for, and shown once their height is known.
    wanted_slots = 2
    slots = 2

    @staticmethod
    def slots_for(canvas: Canvas) -> int:
        return 2 if canvas.scale <= 1.3 else 1

    def _engrave(self, piece: Piece, look: Look, room: int, base: float, asked: tuple[object, ...]) -> None:
        def done(result: tuple[Engraved, list[Ink]]) -> None:
            if self._asked != asked or self.practice is None or self.practice.wish.piece is not piece:
                return
            self.score = music.score_of(piece, *result)
            tallest = max(system.size[1] for system in self.score.systems)
            if self.begun is not None:
                self.house.opened.append(now() - self.begun)
                self.begun = None
            self.slots = self.wanted_slots if tallest * self.wanted_slots <= room * 1.03 else 1
            self._ribbons = None
            self._mark_afresh()

        least, most = base * _LEAST_SPACE * 4, base * _MOST_SPACE * 4
        given = (piece, look, self.wanted_slots, room, least, most)
        self.house.workroom.ask(jobs.fitted, *given, then=done, failed=self._not_engraved)

    def _not_engraved(self, trouble: Exception) -> None:
        self.house.say(str(trouble) if isinstance(trouble, MusicError) else repr(trouble))

    def setting(self) -> Setting:
        """How the music is shown now."""
        assert self.practice is not None
        assert self.score is not None
        settings = self.house.settings
        wish = self.practice.wish
        shown = "none" if wish.mode == PRIMA_VISTA else self.house.rounds.helping.shown
        size = self.score.engraved.look.ribbon_px
        return Setting(shown, settings.syllables, settings.letters, wish.hands, wish.loop, size)

    def ribbons(self) -> Ribbons:
        """The syllables for the setting as it is."""
        assert self.practice is not None
        assert self.score is not None
        setting = self.setting()
        made = self._ribbons
        if (
            made is None
            or made.score is not self.score
            or made.setting != setting
            or made.expected is not self.practice.wish.expected
        ):
            self._ribbons = made = Ribbons(self.score, self.practice.wish.expected, setting)
        return made

    def _mark_afresh(self) -> None:
        """Draw all marks of the take on the engraving as it is now."""
        if self.practice is None or self.score is None or self.score.piece is not self.practice.wish.piece:
            self.marking = None
            return
        ribbons = self.ribbons()
        tone = hexed(self.house.theme["blue"])
        letters = self.house.settings.letters
        self.marking = Marking(
            self.score, self.practice.wish.expected, tone, letters, lambda at: [one.rect for one in ribbons.of(at)]
        )
        self._tone = tone
        settled = self.practice.settled
        said = self.practice.marks
        if settled is not None:
            said = [self.practice.whole(mark) for mark in settled.marks]
        for mark, press in zip(said, self.practice.presses, strict=True):
            self.marking.add(mark, press)
        moves = settled.moves if settled is not None else self.practice.session.moves
        for move in self.practice.whole_moves(moves):
            self.marking.move(move)
        self._moves_drawn = len(moves)
        if settled is not None:
            for note in self.practice.whole_missed(settled):
                self.marking.missed(note)

    _tone = ""

    def _settle(self) -> None:
        assert self.practice is not None
        self.house.rounds.finished(self.practice)
        self._mark_afresh()

    # Laying

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        if self.practice is None:
            self.house.go("desk")
            return
        places = layout.stand(canvas, self.house.settings.keys, self.house.settings.margin)
        if self.readings is not None and not self.tuning:
            # Room before the music for the clefs to imagine.
            aside = clefrow.gutter(self.practice.wish.plan, self.look(places, canvas).staff_px / 4)
            music = places.music
            places = replace(places, music=Rect(music.left + aside, music.top, music.width - aside, music.height))
        self.want(places, canvas)
        if self.marking is not None and self._tone != hexed(canvas.colour("blue")):
            self._mark_afresh()
        standview.lay(self, canvas, controls, places)

    # Keys

    @property
    def plays(self) -> bool:
        return self.typing and not self.correcting.on

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        if self.correcting.on:
            return self.correcting.key(event)
        if name in ("g", "ctrl g"):
            self._glimpse(True)
            return True
        return False

    def key_up(self, name: str) -> None:
        if name == "g" and self.glimpsing:
            self._glimpse(False)

    def _glimpse(self, shown: bool) -> None:
        practice = self.practice
        if practice is None or practice.wish.mode == PRIMA_VISTA:
            return
        self.glimpsing = shown
        if not shown:
            return
        practice.glimpsed = True
        take = practice.record
        if take is not None and hasattr(take, "glimpse"):
            take.glimpse()
        if self.glimpse is None and self.score is not None:
            expected = practice.wish.expected

            def done(result: tuple[Engraved, list[Ink]]) -> None:
                self.glimpse = music.score_of(expected, *result)

            look = replace(self.score.engraved.look)
            self.house.workroom.ask(jobs.engraved, expected, look, then=done, failed=self._not_engraved)

    def key_labels(self) -> str:
        """What goes before a letter that gives orders: ctrl while letters play."""
        return "ctrl " if self.plays else ""

    # Orders, each with its key

    def tempo(self, by: int) -> None:
        assert self.practice is not None
        self.change(self.practice.wish.stepped_tempo(by))

    def rekey(self, by: int) -> None:
        """Play it a semitone (or more) higher or lower than now."""
        assert self.practice is not None
        wish = self.practice.wish
        semitones = wish.plan.interval.semitones + by
        if abs(semitones) > 12:
            return
        moved = plan(wish.piece.key, f"{semitones:+d}")
        if abs(moved.target.signature) > MAX_ACCIDENTALS - 1:
            moved = plan(wish.piece.key, f"{semitones:+d}")
        self.change(replace(wish, plan=moved))

    def mode(self) -> None:
        assert self.practice is not None
        self.change(replace(self.practice.wish, mode=next_mode(self.practice.wish.mode)))

    def hands(self) -> None:
        assert self.practice is not None
        wish = self.practice.wish
        if len(wish.piece.hands) < 2:
            return
        self.change(replace(wish, hands=HANDS[(HANDS.index(wish.hands) + 1) % len(HANDS)]))

    def help(self) -> None:
        """One step through the syllables shown, round and round."""
        if self.practice is None or self.practice.wish.mode == PRIMA_VISTA:
            self.house.say(say("help.none"), 2.5)
            return
        helping = self.house.rounds.helping
        self.house.say(helping.step(), 2.5)
        take = self.practice.record
        if take is not None and hasattr(take, "set_help"):
            take.set_help(helping.shown)
        self._mark_afresh()

    def hold(self) -> None:
        """Keep the help as it is, or let it fade."""
        self.house.say(self.house.rounds.helping.hold())

    def loop(self) -> None:
        """Step through loops of 1, 2, 4 and 8 bars from the place on, then the whole piece again."""
        assert self.practice is not None
        wish = self.practice.wish
        piece = wish.piece
        if wish.loop is None:
            moments = piece.moments
            place = min(self.practice.place, len(moments) - 1)
            first, long = piece.bar_index(moments[place].onset), 0
        else:
            first, long = wish.loop[0], wish.loop[1] - wish.loop[0] + 1
        longer = next((bars for bars in LOOPS if bars > long and first + bars <= len(piece.bars)), 0)
        while longer:
            loop = (first, first + longer - 1)
            tried = replace(wish, loop=loop)
            if tried.part:
                self.change(tried)
                self.house.say(
                    say("stand.loop.on", first=piece.bars[loop[0]].number, last=piece.bars[loop[1]].number), 3
                )
                return
            longer = next((bars for bars in LOOPS if bars > longer and first + bars <= len(piece.bars)), 0)
        self.change(replace(wish, loop=None))
        self.house.say(say("stand.loop.off"), 3)

    def listen(self) -> None:
        """Hear the piece as it should sound; again to stop."""
        if self.practice is not None and not self.tested and self.practice.phase not in (COUNTING, PLAYING):
            self.hearing.model(self.practice.wish)

    def cadence(self) -> None:
        """Set the ear: what was chosen for it, in the target key."""
        if self.practice is not None and self.practice.phase not in (COUNTING, PLAYING):
            self.hearing.ear(self.practice.wish)

    def sing(self) -> None:
        """Be asked for do, sol and the first notes; again to leave it."""
        if self.practice is not None and not self.tested and self.practice.phase not in (COUNTING, PLAYING):
            self.house.notice = None
            self.hearing.sing(self.practice.wish, self.house.settings.minor)

    def tune(self) -> None:
        """The card of ear and time, over the page; again to put it away."""
        self.tuning = not self.tuning
        self.keys_shown = False

    # Rows beside the page

    def _ask_chords(self, piece: Piece, then: Callable[[tuple[Harmony, ...]], None]) -> None:
        folder = str(self.house.journal_file.parent)
        self.house.workroom.ask(studies.chords_of, piece, folder, then=then, failed=self._not_engraved)

    @property
    def shows_rows(self) -> bool:
        """Whether help beside the page is allowed: not when playing at sight."""
        return self.practice is not None and self.practice.wish.mode != PRIMA_VISTA

    @property
    def readings(self) -> Readings | None:
        """How to read each staff by clef; None where that is not shown."""
        if self.practice is None or not (self.house.settings.clef and self.shows_rows):
            return None
        wish = self.practice.wish
        if self._readings is None or self._readings.piece is not wish.piece or self._readings.move != wish.plan:
            self._readings = Readings(wish.piece, wish.plan)
        return self._readings

    _readings: Readings | None = None

    def below(self, canvas: Canvas) -> int:
        """Pixels kept free under each system for the row of chords."""
        return chords_height(canvas.size[1]) if self.house.settings.chords and self.shows_rows else 0

    def degrees(self) -> None:
        """Chords by degree and function under the staff, or not."""
        self.house.change(chords=not self.house.settings.chords)
        self.house.say(say("stand.degrees.on" if self.house.settings.chords else "stand.degrees.off"), 4)

    def clef(self) -> None:
        """The clef to imagine before each staff, or not."""
        self.house.change(clef=not self.house.settings.clef)
        self.house.say(say("stand.clef.wish" if self.house.settings.clef else "stand.clef.off"), 4)

    def other_hand(self) -> None:
        """Let the other hand sound, or be silent."""
        self.house.change(other_hand=not self.house.settings.other_hand)
        self.house.say(say("stand.other.on" if self.house.settings.other_hand else "stand.other.off"), 4)
        self._other_hand()

    def show_keys(self) -> None:
        """Every order with its key, over the page; again to put it away."""
        self.keys_shown = not self.keys_shown
        self.tuning = False

    keys_shown = False

    def margin(self) -> None:
        self.house.change(margin=not self.house.settings.margin)

    def typing_toggle(self) -> None:
        self.typing = not self.typing
        self.house.say(say("stand.typing.on" if self.typing else "stand.typing.off"), 4)
