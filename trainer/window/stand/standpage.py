"""The music on the Stand: asked for in the size there is room for, held, and marked as the player goes."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from trainer.following.marks import Mark
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.music.piece import Piece
from trainer.music.pitch import Interval
from trainer.scores.engraving.engraving import Look
from trainer.session import PRIMA_VISTA
from trainer.window.page import music
from trainer.window.page.chordrow import Chords
from trainer.window.page.copyahead import Ahead
from trainer.window.page.drawing import Drawing
from trainer.window.page.marking import Marking
from trainer.window.page.music import Score
from trainer.window.page.sheetmusic import Ribbons, Setting
from trainer.window.paint import layout
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.theme import hexed
from trainer.window.stand import standsize
from trainer.window.stand.besidepage import BesidePage
from trainer.window.stand.further import Further
from trainer.window.stand.standmarks import Marks
from trainer.window.workroom import jobs
from trainer.window.workroom.fingered import Fingered
from trainer.window.workroom.fitting import Room, Waiting
from trainer.window.workroom.jobs import Drawn
from trainer.window.workroom.workroom import told

if TYPE_CHECKING:
    from trainer.window.stand.stand import Stand

# Systems made ready ahead of the one that is played.
_AHEAD = 3


class Page(BesidePage):
    """The engraved piece on the Stand, with syllables, marks and what stands beside it.

    Attributes
    ----------
    score : Score or None
        None while the engraver is at work on it.
    glimpse : Score or None
        The same in the key to play.
    trouble : str
        Why there will be no score, in a sentence; empty as long as there may be one.
    slots : int
        Systems shown at once, where they stand under each other.
    """

    def __init__(self, stand: Stand) -> None:
        super().__init__(stand)
        self.score: Score | None = None
        self.trouble = ""
        self._ahead = Ahead(self.house)
        self.slots = 2
        # Systems whose syllables and picture are not ready yet.
        self._unready: list[int] = []
        # Which of the verses printed under the same music is shown, from 1.
        self.verse = 1
        # The page as a whole, while a part of it stands there set anew.
        self._whole: Score | None = None
        # What the page was set for: its look, the room it stands in, whether every note bears its finger.
        self._setting: tuple[Look, Room, bool] | None = None
        # The same of a whole page that is being laid out behind what is seen.
        self._under_way: tuple[Look, Room, bool] | None = None
        self._whole_asked: tuple[object, ...] | None = None
        # The fingers it bears, how often the player said another, and what was last said of their file.
        self.fingered = Fingered()
        self._said_anew = 0
        self._told_trouble = ""
        self._further = Further(self, self._join)
        # The page that does not reach where the player has gone.
        self._left: Score | None = None
        # When a fresh piece was put on the stand, until it is engraved.
        self._begun: float | None = None
        self.entered()

    def entered(self) -> None:
        """The Stand comes to the front: the size may be another."""
        self.glimpse: Score | None = None
        self._marks: Marks | None = None
        self.chords = Chords(self._ask_chords)
        # What the engraving was last asked for; None when it must be asked anew.
        self._asked: tuple[object, ...] | None = None
        self._ribbons: Ribbons | None = None

    def fresh(self) -> None:
        """Another piece comes."""
        self.score = self._whole = None
        self._end_under_way()
        self.fingered = Fingered()
        self.verse = 1
        self._begun = now()
        self._asked = None

    # The engraving

    def refinger(self) -> None:
        """The player has said another finger: the page is asked for anew."""
        self._said_anew += 1

    @property
    def asked(self) -> bool:
        """Whether the engraver has been asked for the piece."""
        return self._asked is not None

    def want(self, places: layout.StandPlaces, canvas: Canvas) -> None:
        """See that the piece is engraved for this size; asked again only when something about it changed."""
        assert self._stand.practice is not None
        piece = self._stand.practice.wish.piece
        look = self.look(places, canvas)
        room = standsize.room(places, canvas, self.below(canvas))
        self._tell_verse(piece)
        self._keep_in_sight(room)
        # Where fingers are printed they are those of the key to play.
        every = self._stand.fingering.on
        fingers = every or self.fingered.any_said or any(note.finger for note in piece.notes)
        hands = (self._stand.practice.wish.plan.interval, self.house.settings.hand_size) if fingers else ()
        own = every, self._said_anew, self.house.settings.player
        asked = (
            id(piece),
            look.width_px,
            look.staff_px,
            look.ribbon_px,
            look.words,
            look.verse,
            room.below,
            *own,
            *hands,
        )
        if asked == self._asked:
            if (look, room, every) == self._setting:
                self._further.see_to(piece, self._stand.place, (*self._hand, self._stand.fingering.whose, every))
            return
        self._asked = asked
        self.trouble = ""
        self._engrave(piece, look, room, asked)

    def _tell_verse(self, piece: Piece) -> None:
        """The take says which verse of a song lies on the page."""
        assert self._stand.practice is not None
        record = self._stand.practice.record
        if record is not None and hasattr(record, "set_verse"):
            sung = bool(piece.lyrics) or any(singer.words for singer in piece.singers)
            record.set_verse(self.verse if sung and self.house.settings.voice else None)

    def look(self, places: layout.StandPlaces, canvas: Canvas) -> Look:
        """How large the music is, see `standsize.look`."""
        return standsize.look(places, canvas, self.below(canvas), self.house.settings.voice, self.verse)

    def _engrave(self, piece: Piece, look: Look, room: Room, asked: tuple[object, ...]) -> None:
        setting = look, room, self._stand.fingering.on

        def done(result: Drawn) -> None:
            practice = self._stand.practice
            if self._asked != asked or practice is None or practice.wish.piece is not piece:
                return
            score = music.score_of(piece, result)
            if score.reaches(self._stand.place):
                self._setting = setting
                self._come(score, room, result.fingered)
                self._stand.fingering.come()
            if result.whole:
                self._under_way = self._whole_asked = None
            elif self._whole_asked != asked:
                # The player need not wait for what is not to be seen yet.
                self._under_way, self._whole_asked = setting, asked
                ask(None, behind=True)

        def failed(trouble: Exception) -> None:
            if self._asked == asked:
                self.trouble = told(trouble, "stand.not-engraved")

        fingering = self._stand.fingering

        def ask(waiting: Waiting | None, behind: bool = False) -> None:
            terms = piece, look, room, *self._hand, self._bar(), waiting, fingering.whose, fingering.on
            self.house.workroom.ask(jobs.fitted, *terms, then=done, failed=failed, place="page", behind=behind)

        # What is seen comes first; a page with a few other fingers alone is as well read as it was meanwhile.
        there = self.score is not None and self.score.whole and setting == self._setting
        if setting != self._under_way:
            self._end_under_way()
        # Of a page a part of which stands there with other fingers that part comes as large as it is.
        part = self.score if setting == self._setting else None
        page, slots = part or self._whole, room.slots
        if part is not None:
            slots = part.standing(slots, room.whole, room.below, self._stand.place)
        waiting = Waiting.at(page.engraved if page else None, self._bar(), slots, as_large=part is not None)
        ask(None if there else waiting)

    @property
    def _hand(self) -> tuple[Interval, str]:
        """What fingers depend on: how far the hands play from what is written, and how large they are."""
        assert self._stand.practice is not None
        return self._stand.practice.wish.plan.interval, self.house.settings.hand_size

    def _end_under_way(self) -> None:
        """The whole of another piece or size is not waited for."""
        if self._under_way is not None:
            self.house.workroom.give_up("page")
        self._under_way = self._whole_asked = None

    def _keep_in_sight(self, room: Room) -> None:
        """Who has gone on to where the page is not laid out anew sees it as it was, until it is there, too; where it
        never was, what is seen now is asked for.
        """
        if self.score is None or self.score.reaches(self._stand.place):
            self._left = None
            return
        if self._whole is not None:
            self._come(self._whole, room, self.fingered)
            self._setting = None
        elif self._left is self.score:
            return
        self._left, self._asked = self.score, None

    def _join(self, score: Score, fingered: Fingered) -> None:
        """Further systems of a page that is not whole."""
        if self._setting is not None:
            self._come(score, self._setting[1], fingered, joined=True)

    def _come(self, score: Score, room: Room, fingered: Fingered, joined: bool = False) -> None:
        """The piece is engraved, or those of its systems that are looked at, or more `joined` those that were there."""
        self.score, self.fingered = score, fingered
        if score.whole:
            self._whole = score
        if fingered.trouble and fingered.trouble != self._told_trouble:
            self.house.say(fingered.trouble)
        self._told_trouble = fingered.trouble
        self.glimpse = None
        if self._begun is not None:
            self.house.opened.append(now() - self._begun)
            self._begun = None
        self.slots = (
            score.standing(room.slots, room.whole, room.below, self._stand.place) if score.whole else room.slots
        )
        if joined and self._ribbons is not None:
            # What stands there keeps its syllables.
            self._unready += range(len(self._ribbons.score.systems), len(score.systems))
            self._ribbons = replace(self._ribbons, score=score)
        else:
            self._ribbons = None
        self.mark_afresh()
        if self._stand.glimpsing:
            # Who holds the key for it since before there was a page sees it now.
            self.show_glimpse()
        Drawing(self.house, score, "page.ink", partial(self._near, score), partial(self._drawn, score)).go_on()

    def _bar(self) -> int:
        """The index of the bar that is due."""
        assert self._stand.practice is not None
        piece = self._stand.practice.wish.piece
        moments = piece.moments
        return piece.bar_index(moments[min(self._stand.place, len(moments) - 1)].onset) if moments else 0

    def _near(self, score: Score) -> int | None:
        """The system that is looked at, as long as a score is that of the page or of the glimpse."""
        return score.system_at(self._stand.place) if score in (self.score, self.glimpse) else None

    def _drawn(self, score: Score, these: list[int]) -> None:
        """The ink of some systems has come: marks that were made without it are drawn anew."""
        if score is self.score and self.marking is not None and any(self.marking.strokes[at] for at in these):
            self.mark_afresh()

    def show_glimpse(self) -> None:
        """See that the page in the key to play is there."""
        assert self._stand.practice is not None
        if self.glimpse is not None or self.score is None:
            return
        wish, page = self._stand.practice.wish, self.score
        expected = wish.expected

        def done(result: Drawn) -> None:
            practice = self._stand.practice
            if self.score is not page or practice is None or practice.wish.expected is not expected:
                # Another key, size or piece came meanwhile.
                return
            score = self.glimpse = music.score_of(expected, result)
            Drawing(self.house, score, "glimpse.ink", partial(self._near, score), partial(self._drawn, score)).go_on()

        def failed(trouble: Exception) -> None:
            self.house.say(told(trouble, "stand.not-engraved"))

        look = replace(self.score.engraved.look)
        hand = wish.plan.interval, self.house.settings.hand_size
        given = (wish.piece, look, *hand, self._bar(), self.slots, self._stand.fingering.whose)
        self.house.workroom.ask(jobs.glimpsed, *given, then=done, failed=failed, place="glimpse")

    # The syllables

    def setting(self) -> Setting:
        """How the music is shown now."""
        assert self._stand.practice is not None
        assert self.score is not None
        settings = self.house.settings
        wish = self._stand.practice.wish
        shown = "none" if wish.mode == PRIMA_VISTA else self.house.rounds.helping.shown
        size = self.score.engraved.look.ribbon_px
        return Setting(shown, settings.syllables, settings.letters, wish.hands, wish.loop, size)

    def ribbons(self) -> Ribbons:
        """The syllables for the setting as it is."""
        assert self._stand.practice is not None
        assert self.score is not None
        setting, expected = self.setting(), self._stand.practice.wish.expected
        made = self._ribbons
        if made is None or made.score is not self.score or made.setting != setting or made.expected is not expected:
            self._ribbons = made = Ribbons(self.score, expected, setting)
            self._unready = list(range(len(self.score.systems)))
        return made

    @property
    def _coming(self) -> int | None:
        """The system to make ready next; None when those that come soon are."""
        score = self.score
        if score is None or self._ribbons is None or not self._unready:
            return None
        here = score.system_at(self._stand.place)
        drawn = (one for one in self._unready if score.systems[one].ink is not None)
        return next((at for at in drawn if here <= at <= here + _AHEAD), None)

    @property
    def ready(self) -> bool:
        """Whether the systems that come soon can be shown at once."""
        return self._coming is None

    def prepare(self) -> None:
        """Make the next system ready ahead of its turn, a small step at each call."""
        at = self._coming
        if at is None or self.score is None or self._ribbons is None:
            return
        system = self.score.systems[at]
        if self._ribbons.has(at):
            system.inked(self.house.theme)
            self._unready.remove(at)
        elif not system.unpack():
            self._ribbons.of(at)

    # The marks

    @property
    def marking(self) -> Marking | None:
        """What the pencil draws; None as long as there is nothing to draw it on."""
        return self._marks.marking if self._marks is not None else None

    def mark_afresh(self) -> None:
        """Draw all marks of the take on the engraving as it is now."""
        practice = self._stand.practice
        self._marks = None
        if practice is not None and self.score is not None and self.score.piece is practice.wish.piece:
            self._marks = Marks(self.house, practice, self.score, self.ribbons())

    def mark(self, mark: Mark, press: Press) -> None:
        """Draw what was just said of a press, and where the player has gone."""
        assert self._stand.practice is not None
        self._ahead.played(self._stand.practice, self.verse)
        if self._marks is not None:
            self._marks.mark(mark, press)

    def in_tone(self, canvas: Canvas) -> None:
        """See that the marks have the pencil's colour of this light."""
        if self._marks is not None and not self._marks.in_tone(hexed(canvas.colour("blue"))):
            self.mark_afresh()
