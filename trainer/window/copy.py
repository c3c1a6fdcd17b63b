"""The Marked copy: the whole piece with pencil marks, pulse over the bars, slips counted, and what to do next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import pygame
from pygame import Rect

from trainer.following import marks
from trainer.listening.press import Event
from trainer.music.solfege import degree_label
from trainer.scores.engraving import Engraved, Look
from trainer.window import curve, fonts, jobs, layout, masthead, music, sheetmusic
from trainer.window.advice import Advice, advise, slips
from trainer.window.canvas import CENTRE, GROUND, RIGHT, TOP, Canvas
from trainer.window.controls import Action, Controls
from trainer.window.inking import Ink
from trainer.window.marking import Marking
from trainer.window.music import Score
from trainer.window.playback import Playback
from trainer.window.practice import Finished, Wish
from trainer.window.screen import NEVER, Screen
from trainer.window.stand import Stand
from trainer.window.steering import AGAIN, NEXT, Steering
from trainer.window.strings import key_name, say
from trainer.window.theme import hexed

# Height of a staff in units of a fortieth of the window's height, and at most where there is room.
_STAFF = 1.42
_LARGE_STAFF = 2.0
_FRAME_S = 1 / 30
# Text size of the buttons at the foot.
_WAYS = 0.86


class Copy(Screen):
    """See `screens`: what a take looked like."""

    key = ""
    name = "copy"

    def entered(self) -> None:
        self.take: Finished | None = self.house.rounds.last
        self.score: Score | None = None
        self.marking: Marking | None = None
        self.page = 0
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
            self._to_stand(Wish(take.piece, take.plan, take.hands, take.mode, take.tempo or 72.0, take.loop, take.name))

    def _to_stand(self, wish: Wish) -> None:
        stand = self.house.screen_of(Stand)
        assert isinstance(stand, Stand)
        stand.play(wish)

    def heard(self, event: Event) -> None:
        wish, _ = self.steering.hear(event)
        if not self.house.settings.steering:
            return
        if wish == AGAIN:
            self.again()
        elif wish == NEXT:
            self.follow(0)

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

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        places = masthead.lay(self.house, canvas, controls, "copy")
        if self.take is None:
            canvas.words("copy.none", places.body, say("copy.none"), size=1.2, lines=4, align=CENTRE)
            return
        if masthead.is_tight(places.body, canvas):
            names = ("copy.music", "copy.side")
            body = masthead.parts(canvas, controls, places.body, names, self.part, partial(setattr, self, "part"))
            (self._lay_page, self._lay_side)[self.part](canvas, controls, body)
            return
        left, right = layout.columns(places.body, [round(places.body.width * 0.635), 0], round(1.8 * canvas.unit))
        self._lay_page(canvas, controls, left)
        self._lay_side(canvas, controls, right)

    def _lay_page(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        """Title, music, pulse."""
        assert self.take is not None
        u = canvas.unit
        high = round(min(6.0 * u, rect.height * 0.24))
        head, _, page, _, pulse = layout.rows(rect, [round(1.9 * u), round(0.3 * u), 0, round(0.5 * u), high])
        self._lay_head(canvas, head)
        self._lay_music(canvas, controls, page)
        curve.lay(canvas, pulse, self.take)

    def _lay_head(self, canvas: Canvas, rect: Rect) -> None:
        take = self.take
        assert take is not None
        letters = self.house.settings.letters
        said = f"{key_name(take.plan.target, letters)}, {take.plan.interval.words}"
        wide = min(round(rect.width * 0.55), canvas.width(said, fonts.ITALIC, 1.1) + 4)
        canvas.words("copy.title", Rect(rect.left, rect.top, rect.width - wide - round(canvas.unit), rect.height),
                     take.piece.title, style=fonts.BOLD, size=1.35, least=0.6)  # fmt: skip
        place = Rect(rect.right - wide, rect.top, wide, rect.height)
        canvas.words("copy.key", place, said, style=fonts.ITALIC, size=1.1, colour="graphite", align=RIGHT, least=0.6)

    def _want(self, canvas: Canvas, rect: Rect) -> None:
        take = self.take
        assert take is not None
        base = canvas.size[1] / 40
        look = Look(rect.width, round(base * _STAFF, 1), ribbon_px=0.0, fingers=False)
        asked = (id(take.piece), look.width_px, look.staff_px, rect.height)
        if asked == self._asked:
            return
        self._asked = asked
        self._engrave(take, look, rect.height, base * _LARGE_STAFF, asked)

    def _engrave(self, take: Finished, look: Look, room: int, largest: float, asked: tuple[object, ...]) -> None:
        """Engrave for the page; a short piece once more, larger."""

        def done(result: tuple[Engraved, list[Ink]]) -> None:
            if self._asked != asked:
                return
            used = sum(system.height for system in result[0].systems)
            # Twice the staff takes about four times the height, for fewer bars stand beside each other.
            larger = min(largest, look.staff_px * (0.86 * room / used) ** 0.5)
            if larger > look.staff_px * 1.12 and self.score is None:
                self.score = music.score_of(take.piece, *result)
                self._engrave(take, replace(look, staff_px=round(larger, 1)), room, look.staff_px, asked)
                return
            self.score = music.score_of(take.piece, *result)
            self.marking = None

        self.house.workroom.ask(
            jobs.engraved, take.piece, look, then=done, failed=lambda trouble: self.house.say(str(trouble))
        )

    def _mark(self, tone: str) -> None:
        take, score = self.take, self.score
        assert take is not None
        assert score is not None
        self.marking = Marking(score, take.expected, tone, self.house.settings.letters, lambda _: ())
        self._tone = tone
        for mark, press in zip(take.settled.marks, take.presses, strict=True):
            self.marking.add(mark, press)
        for move in take.settled.moves:
            self.marking.move(move)
        for note in take.settled.missed:
            self.marking.missed(note)

    _tone = ""

    def _lay_music(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        self._want(canvas, rect)
        score = self.score
        if score is None:
            canvas.words(
                "copy.waiting", rect, say("stand.engraving"), style=fonts.ITALIC, colour="graphite", align=CENTRE
            )
            return
        tone = hexed(canvas.colour("blue"))
        if self.marking is None or self._tone != tone:
            self._mark(tone)
        assert self.marking is not None
        heights = [system.size[1] for system in score.systems]
        pages = paged(heights, rect.height)
        foot = Rect(rect.left, rect.bottom - round(1.4 * canvas.unit), rect.width, round(1.4 * canvas.unit))
        rect = Rect(rect.left, rect.top, rect.width, foot.top - rect.top)
        pages = paged(heights, rect.height)
        self._lay_foot(canvas, controls, foot, len(pages))
        self._follow(pages)
        shown = pages[min(self.page, len(pages) - 1)]
        used = sum(score.systems[at].size[1] for at in shown)
        air = min(canvas.unit * 1.5, max(0.0, (rect.height - used) / max(1, len(shown))))
        y = rect.top + air / 2
        for at in shown:
            system = score.systems[at]
            corner = (rect.left, round(y))
            sheetmusic.lay_system(canvas, at, system, corner)
            sheetmusic.lay_right(canvas, at, system, self.marking.right[at], corner)
            sheetmusic.lay_strokes(canvas, at, self.marking.strokes[at], corner)
            y += system.size[1] + air
            assert self.playback is not None
            self.playback.lay_bar(canvas, controls, at, score, corner)
            self._lay_place(canvas, at, score, corner)

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

    def _lay_side(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        u = canvas.unit
        figures, _, counts, _, next_up = layout.rows(
            rect, [round(3.3 * u), round(0.5 * u), 0, round(0.6 * u), round(min(13.6 * u, rect.height * 0.52))]
        )
        self._lay_figures(canvas, figures)
        if counts.height > 3 * u:
            self._lay_counts(canvas, counts)
        self._lay_advice(canvas, controls, next_up)

    def _lay_figures(self, canvas: Canvas, rect: Rect) -> None:
        take = self.take
        assert take is not None
        pulse = f"{take.timing.pulse_bpm:.0f}" if take.timing.pulse_bpm is not None else "–"
        minutes, seconds = divmod(round(take.seconds), 60)
        values = [
            (say("copy.right"), f"{take.right / max(1, len(take.settled.marks) + len(take.settled.missed)):.0%}"),
            (say("copy.pulse"), pulse),
            (say("copy.time"), f"{minutes}:{seconds:02d}"),
        ]
        for at, (place, (label, value)) in enumerate(
            zip(layout.columns(rect, [0, 0, 0], canvas.unit), values, strict=True)
        ):
            above, below = layout.rows(place, [round(1.2 * canvas.unit), 0])
            canvas.words(f"copy.figure.{at}.label", above, label, style=fonts.ITALIC, size=1.0, colour="graphite")
            canvas.words(f"copy.figure.{at}", below, value, size=1.9, least=0.5)

    def _lay_counts(self, canvas: Canvas, rect: Rect) -> None:
        take = self.take
        assert take is not None
        wrong = slips(take)
        unplaced = sum(1 for mark in take.settled.marks if mark.note is None and mark.cause != marks.RIGHT)
        if not wrong and not unplaced:
            canvas.words("copy.clean", rect, say("copy.clean"), size=1.1, lines=3, stand=TOP)
            return
        causes = Counter(say(f"cause.{cause}") for _, cause in wrong)
        if unplaced:
            causes[say("cause.extra")] += unplaced
        key_at = take.piece.key_at
        degrees = Counter(
            degree_label(take.piece.notes[note].pitch, key_at(take.piece.notes[note].onset)) for note, _ in wrong
        )
        hands = Counter(say(f"hand.{take.piece.notes[note].hand}") for note, _ in wrong)
        u = canvas.unit
        left, right = layout.columns(rect, [round(rect.width * 0.58), 0], round(1.2 * u))
        _tally(canvas, left, say("copy.causes"), causes.most_common())
        upper, lower = layout.rows(right, [0, round(min(right.height * 0.42, 4.0 * u))], round(0.3 * u))
        _tally(canvas, upper, say("copy.degrees"), degrees.most_common())
        _tally(canvas, lower, say("copy.hands"), hands.most_common())

    def _lay_advice(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        u = canvas.unit
        canvas.panel("advice.ground", rect, "faint", "rule", 0.6)
        inner = rect.inflate(-round(1.4 * u), -round(0.9 * u))
        head, body, foot = layout.rows(inner, [round(1.3 * u), 0, round(1.75 * u)], round(0.15 * u))
        canvas.words("advice.head", head, say("copy.advice"), style=fonts.ITALIC, size=1.0, colour="graphite")
        places = layout.rows(body, [0] * max(1, len(self.advice)), round(0.2 * u))
        for at, (place, one) in enumerate(zip(places, self.advice, strict=False)):
            wide = controls.button_width(say("copy.play"), str(at + 1))
            button = Rect(place.right - wide, place.centery - round(0.85 * u), wide, round(1.7 * u))
            words = Rect(place.left, place.top, place.width - wide - round(0.7 * u), place.height)
            canvas.words(f"advice.{at}", words, one.words, size=1.02, lines=3, least=0.78)
            self._go_button(canvas, controls, button, at)
        self._lay_ways(canvas, controls, foot)

    def _go_button(self, canvas: Canvas, controls: Controls, rect: Rect, at: int) -> None:
        controls.button(f"follow.{at}", rect, say("copy.play"), partial(self.follow, at), key=str(at + 1), main=at == 0)

    def _lay_ways(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        u = canvas.unit
        x = rect.left
        orders: list[tuple[str, str, Action]] = [
            ("copy.again", "space", self.again),
            ("copy.desk", "escape", partial(self.house.go, "desk")),
        ]
        for name, key, act in orders:
            label = say(name)
            wide = controls.button_width(label, key, _WAYS) - round(0.6 * u)
            if x + wide > rect.right:
                controls.order(name, key, act)
                continue
            controls.button(name, Rect(x, rect.top, wide, rect.height), label, act, key=key, size=_WAYS)
            x += wide + round(0.4 * u)


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


def _tally(canvas: Canvas, rect: Rect, head: str, counted: list[tuple[str, int]]) -> None:
    """A heading and, under it, words with bars as long as their count."""
    u = canvas.unit
    canvas.words(f"tally.{head}", Rect(rect.left, rect.top, rect.width, round(1.25 * u)), head, style=fonts.ITALIC,
                 size=1.0, colour="graphite")  # fmt: skip
    row = round(1.3 * u)
    room = max(1, (rect.height - row) // row)
    most = max((count for _, count in counted), default=1)
    label_wide = min(
        round(rect.width * 0.6), max((canvas.width(word, fonts.ROMAN, 1.0) for word, _ in counted), default=0) + 6
    )
    for at, (word, count) in enumerate(counted[:room]):
        line = Rect(rect.left, rect.top + row * (at + 1), rect.width, row)
        canvas.words(f"tally.{head}.{at}", Rect(line.left, line.top, label_wide, row), word, least=0.75)
        bar_room = line.width - label_wide - round(2.0 * u)
        long = max(3, round(bar_room * count / most))
        bar = Rect(
            line.left + label_wide + round(0.4 * u), line.centery - round(0.28 * u), long, max(3, round(0.56 * u))
        )
        canvas.fill(f"tally.{head}.{at}.bar", bar, "blue", GROUND)
        after = Rect(bar.right + round(0.35 * u), line.top, round(1.4 * u), row)
        canvas.words(f"tally.{head}.{at}.count", after, str(count), colour="graphite")
