"""The Marked copy: the whole piece with pencil marks, pulse over the bars, slips counted, and what to do next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import pygame
from pygame import Rect

from trainer.listening.clock import now
from trainer.listening.press import Event
from trainer.scores.engraving.engraving import Look
from trainer.scores.notation.verses import verses_in
from trainer.window import masthead
from trainer.window.copy import copyview, curve
from trainer.window.copy.advice import advise
from trainer.window.copy.advised import Advice
from trainer.window.copy.finished import Finished
from trainer.window.copy.playback import Playback
from trainer.window.copy.spacing import gaps
from trainer.window.page import copyahead, music, sheetmusic
from trainer.window.page.drawing import Drawing
from trainer.window.page.marking import Marking, of_notes
from trainer.window.page.music import Score
from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import CENTRE, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.paint.theme import hexed
from trainer.window.screen import NEVER, Screen
from trainer.window.stand.stand import Stand
from trainer.window.stand.steering import AGAIN, NEXT, Steering
from trainer.window.strings import key_name, say
from trainer.window.wish import Wish
from trainer.window.workroom import jobs
from trainer.window.workroom.jobs import Drawn
from trainer.window.workroom.workroom import told

# Height of a staff where there is room, at most, in units of `copyahead.base_of`.
_LARGE_STAFF = 2.0
# Pixels by which a short piece set larger is set smaller again when it leaves its page: the engraver knows no size
# between (`Look.staff_px`).
_STEP = 4
# By so much systems may exceed their page: they move into the air that each has above and below it (ours).
_OVER = 1.06
# Units of air between systems, at most.
_MOST_AIR = 3.0
# Systems drawn before the page is shown: about as many as stand on one; the others come after them.
_FIRST = 6
_FRAME_S = 1 / 30
# Who presses enter twice at the end of a take wants to see it: so long it starts no practice here (ours).
_UNSEEN_S = 1.0


class Copy(Screen):
    """See `screens`: what a take looked like."""

    key = ""
    name = "copy"

    def entered(self) -> None:
        self.take: Finished | None = self.house.rounds.last
        self._came = now()
        self.score: Score | None = None
        # The systems on the page that is shown.
        self._shown: list[int] = [0]
        # Why there will be none.
        self.trouble = ""
        self.marking: Marking | None = None
        self.page = 0
        # Which verse of a song stands there, from 1.
        self.verse = self._verse_played()
        # The part shown where there is no room for both.
        self.part = 0
        self._asked: tuple[object, ...] | None = None
        self.advice: list[Advice] = []
        self.playback: Playback | None = None
        if self.take is not None:
            self.playback = Playback(self.house, self.take)
            self.advice = advise(self.take, self.house.settings.letters)
        self._followed = 0
        self.steering = Steering(*self.house.outer_keys)

    # What is done

    def follow(self, at: int) -> None:
        """Start the practice a piece of advice asks for."""
        if at >= len(self.advice):
            return
        one = self.advice[at]
        if one.pattern:
            self.house.rounds.play_pattern(one.pattern, one.wish.plan.target, one.wish.hands)
            return
        self._to_stand(one.wish)

    def again(self) -> None:
        """The same once more."""
        take = self.take
        if take is not None:
            self._to_stand(replace(take.wish, loop=take.loop, start=take.start))

    def _to_stand(self, wish: Wish) -> None:
        self.house.screen_of(Stand).play(wish)

    def heard(self, event: Event) -> None:
        wish, _ = self.steering.hear(event)
        if not self.house.settings.steering:
            return
        if wish == AGAIN:
            self.again()
        elif wish == NEXT:
            self.follow(0)

    def heeds_enter(self) -> bool:
        if now() - self._came >= _UNSEEN_S or not self.advice:
            return True
        self.house.say(say("copy.enter"))
        return False

    def left(self) -> None:
        self.house.sound.player.stop()

    def tick(self, now: float) -> float:
        return _FRAME_S if self.house.sound.player.playing else NEVER

    def turn(self, by: int) -> None:
        """Another page of a long piece."""
        self.page = max(0, self.page + by)

    def key_down(self, name: str, event: pygame.event.Event) -> bool:
        if name in ("page down", "right", "page up", "left"):
            self.turn(1 if name in ("page down", "right") else -1)
            return True
        return False

    # How it looks

    @property
    def caption(self) -> str:
        if self.take is None:
            return super().caption
        key = key_name(self.take.plan.target, self.house.settings.letters)
        return f"{super().caption}: {self.take.piece.title}, {key}"

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        places = masthead.lay(self.house, canvas, controls, "copy")
        if self.take is None:
            canvas.words("copy.none", places.body, say("copy.none"), size=1.2, lines=4, align=CENTRE)
            return
        if masthead.is_tight(places.body, canvas):
            body = masthead.parts(
                canvas, controls, places.body, copyview.PARTS, self.part, partial(setattr, self, "part")
            )
            self._lay_part(canvas, controls, body)
            return
        left, right = copyahead.beside(canvas)
        curve_high = round(min(6.0 * canvas.unit, left.height * 0.24))
        page, _, pulse = layout.rows(left, [0, round(0.5 * canvas.unit), curve_high])
        self._lay_page(canvas, controls, page)
        curve.lay(canvas, pulse, self.take)
        copyview.lay_side(self, canvas, controls, right)

    def _lay_part(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        """One part alone, where there is no room for all."""
        assert self.take is not None
        part = copyview.PARTS[self.part]
        if part == "copy.music":
            self._lay_page(canvas, controls, rect)
        elif part == "copy.pulse":
            figures, pulse = layout.rows(rect, [round(3.3 * canvas.unit), 0], round(0.4 * canvas.unit))
            copyview.lay_figures(self.take, canvas, figures)
            curve.lay(canvas, pulse, self.take)
        elif part == "copy.slips":
            copyview.lay_counts(self.take, canvas, rect, self.house.settings.syllables)
        else:
            copyview.lay_advice(self, canvas, controls, rect)
        if part != "copy.side":
            copyview.order_advice(self, controls)

    def _lay_page(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        """Title and music."""
        assert self.take is not None
        head, _, page = layout.rows(rect, [round(1.9 * canvas.unit), round(0.3 * canvas.unit), 0])
        copyview.lay_head(self.take, canvas, head, self.house.settings.letters)
        if self.take.settled.shift:
            over, page = layout.rows(page, [round(1.5 * canvas.unit), 0])
            copyview.lay_throughout(self.take, canvas, over)
        self._lay_music(canvas, controls, page)

    def _want(self, canvas: Canvas, rect: Rect) -> None:
        take = self.take
        assert take is not None
        voice = self.house.settings.voice
        look = copyahead.look_of(canvas, rect.width, voice, self.verse)
        asked = (id(take.piece), look.width_px, look.staff_px, rect.height, voice, look.verse)
        if asked == self._asked:
            return
        self._asked = asked
        self.trouble = ""
        self._engrave(take, look, rect.height - _foot_height(canvas), copyahead.base_of(canvas) * _LARGE_STAFF, asked)

    def _verse_played(self) -> int:
        """The verse that lay on the page; where that is not known the one on the Stand while the piece of the take lies
        there, else the first.
        """
        if self.take is not None and self.take.verse is not None:
            return max(1, min(self.take.verse, len(verses_in(self.take.piece))))
        stand = self.house.screen_of(Stand)
        there = stand.practice is not None and self.take is not None and stand.practice.wish.piece is self.take.piece
        return stand.page.verse if there else 1

    @property
    def verses(self) -> tuple[int, ...]:
        """The numbers of the verses that can be turned to; none where no words are shown."""
        return tuple(verses_in(self.take.piece)) if self.take is not None and self.house.settings.voice else ()

    def next_verse(self) -> None:
        """Turn to the next verse, and from the last to the first."""
        self.verse = self.verse % len(self.verses) + 1

    def _engrave(
        self, take: Finished, look: Look, room: int, largest: float, asked: tuple[object, ...], plain: float = 0.0
    ) -> None:
        """Engrave for the page; a short piece once more, larger than its `plain` size, if it stays on one page."""

        def done(result: Drawn) -> None:
            if self._asked != asked:
                return
            score = music.score_of(take.piece, result)
            used = sum(system.size[1] for system in score.systems)
            fits = used <= room * _OVER
            if fits or not plain:
                self.score, self._own = score, frozenset(result.fingered.said)
                self.marking = None
                Drawing(self.house, score, "copy.ink", partial(self._near, score), lambda _: None).go_on()
            if plain and fits:
                return
            # Twice the staff takes about four times the height, for fewer bars stand beside each other.
            grown = min(largest, look.staff_px * (room * _OVER / used) ** 0.5)
            again = look.staff_px - _STEP if plain else float(_STEP * round(grown / _STEP))
            if again >= (plain or look.staff_px) + _STEP / 2:
                self._engrave(take, replace(look, staff_px=again), room, largest, asked, plain or look.staff_px)

        def failed(trouble: Exception) -> None:
            if self._asked == asked:
                self.trouble = told(trouble, "stand.not-engraved")

        house = self.house
        given = take.piece, look, take.plan.interval, copyahead.whose(house), 0, _FIRST
        house.workroom.ask(jobs.copied, *given, then=done, failed=failed, place="copy")

    def _near(self, score: Score) -> int | None:
        """The first system of the page that is looked at, as long as a score is that of the take."""
        return self._shown[0] if score is self.score else None

    def _mark(self, tone: str) -> None:
        take, score = self.take, self.score
        assert take is not None
        assert score is not None
        self.marking = Marking(score, take.expected, tone, self.house.settings.letters, lambda _: (), take.hands)
        self._tone = tone
        for mark, press in of_notes(take.piece, take.presses, take.settled):
            self.marking.add(mark, press)
        for move in take.settled.moves:
            self.marking.move(move)
        for note in take.settled.missed:
            self.marking.missed(note)
        self._blind = frozenset(at for at, system in enumerate(score.systems) if system.ink is None)

    _tone = ""
    # Notes whose finger is the player's own.
    _own: frozenset[int] = frozenset()
    # Systems that were marked before they were drawn.
    _blind: frozenset[int] = frozenset()

    def _lay_music(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        self._want(canvas, rect)
        score = self.score
        if score is None:
            canvas.words("copy.waiting", rect, self.trouble or say("stand.engraving"), style=fonts.ITALIC,
                         colour="graphite", align=CENTRE, lines=4)  # fmt: skip
            return
        heights = [system.size[1] for system in score.systems]
        high = _foot_height(canvas)
        foot = Rect(rect.left, rect.bottom - high, rect.width, high)
        rect = Rect(rect.left, rect.top, rect.width, foot.top - rect.top)
        pages = paged(heights, round(rect.height * _OVER))
        self._lay_foot(canvas, controls, foot, len(pages))
        self._follow(pages)
        shown = self._shown = pages[min(self.page, len(pages) - 1)]
        if sheetmusic.lay_reduced(canvas, score, shown, rect):
            return
        tone = hexed(canvas.colour("blue"))
        drawn = (at for at in shown if score.systems[at].ink is not None)
        if self.marking is None or self._tone != tone or not self._blind.isdisjoint(drawn):
            self._mark(tone)
        assert self.marking is not None
        airs = self._airs(canvas, shown, heights, rect.height)
        y = rect.top + airs[0]
        for at, air in zip(shown, airs[1:], strict=True):
            system = score.systems[at]
            corner = (rect.left, round(y))
            sheetmusic.lay_system(canvas, at, system, corner)
            sheetmusic.lay_own(canvas, at, system, self._own, corner)
            if system.ink is not None:
                sheetmusic.lay_right(canvas, at, system, self.marking.right[at], corner)
                sheetmusic.lay_strokes(canvas, at, self.marking.strokes[at], corner)
            y += system.size[1] + air
            assert self.playback is not None
            self.playback.lay_bar(canvas, controls, at, score, corner)
            self._lay_place(canvas, at, score, corner)

    def _airs(self, canvas: Canvas, shown: Sequence[int], heights: Sequence[int], room: int) -> list[float]:
        """The air over, between and under the systems of a page, as far as there is any: what is written over the
        first keeps clear of the head, what is written under the last of the foot.
        """
        assert self.marking is not None
        reach = []
        for at in shown:
            strokes = self.marking.strokes[at]
            over = max((-stroke.rect.top for stroke in strokes), default=0)
            under = max((stroke.rect.bottom for stroke in strokes), default=0) - heights[at]
            reach.append((max(0.0, over), max(0.0, under)))
        spare = room - sum(heights[at] for at in shown)
        least = (1.0 - _OVER) * min(heights[at] for at in shown)
        return gaps(reach, spare, canvas.unit * _MOST_AIR, least)

    def _lay_place(self, canvas: Canvas, at: int, score: Score, corner: tuple[int, int]) -> None:
        """The hairline where the play-back is."""
        onset = self.playback.place if self.playback is not None else None
        if onset is None:
            return
        system, x = score.engraved.place_at(score.piece, onset)
        if system == at:
            sheetmusic.lay_hairline(canvas, score.systems[at], x - score.systems[at].space * 1.15, corner)

    def _follow(self, pages: list[list[int]]) -> None:
        """Turn to the page that is heard, or on which hearing would begin."""
        assert self.playback is not None
        assert self.take is not None
        assert self.score is not None
        onset = self.playback.place
        bar = self.playback.bar if onset is None else self.take.piece.bar_index(onset)
        if bar == self._followed:
            return
        self._followed = bar
        system = self.score.engraved.system_of_bar(bar)
        self.page = next((at for at, page in enumerate(pages) if system in page), self.page)

    _followed = 0

    def _lay_foot(self, canvas: Canvas, controls: Controls, rect: Rect, pages: int) -> None:
        """Under the music: hearing the take again, and turning its pages."""
        assert self.playback is not None
        if pages > 1:
            rect = Rect(rect.left, rect.top, self._lay_turner(canvas, controls, rect, pages) - rect.left, rect.height)
        self.playback.lay(canvas, controls, rect)

    def _lay_turner(self, canvas: Canvas, controls: Controls, rect: Rect, count: int) -> int:
        """Lay the page's number with its key at the right; returns its left edge."""
        at = min(self.page, count - 1)
        words = say("copy.page", page=at + 1, pages=count)
        wide = canvas.width(words, fonts.ITALIC, 0.95) + controls.key_width("pg dn") + round(canvas.unit)
        place = Rect(rect.right - wide, rect.top, wide, rect.height)
        controls.link("turn", place, words, lambda: setattr(self, "page", (at + 1) % count), key="page down")
        return place.left


def _foot_height(canvas: Canvas) -> int:
    """Pixels of the row under the music."""
    return round(1.4 * canvas.unit)


def paged(heights: Sequence[int], room: int) -> list[list[int]]:
    """Systems shared out over pages, in order; every page holds at least one."""
    pages: list[list[int]] = [[]]
    used = 0
    for at, high in enumerate(heights):
        if pages[-1] and used + high > room:
            pages.append([])
            used = 0
        pages[-1].append(at)
        used += high
    return pages
