"""Keys: the twenty-four keys round the circle of fifths, one of them closely, and how everything grew over weeks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.hands.keyboard import stretch
from trainer.hands.position import five_finger
from trainer.journal.errors import JournalError
from trainer.music.compass import LEVELS
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import BOTH, LEFT, RIGHT, Piece
from trainer.music.pitch import MusicError
from trainer.music.transpose import plan
from trainer.scores.library import Entry, Shelf
from trainer.window import circle, fonts, growth, jobs, keyboard, layout, masthead, staff
from trainer.window.canvas import SOLID, TOP, Canvas
from trainer.window.circle import FREE, NEW, Wedge
from trainer.window.controls import Control, Controls
from trainer.window.growth import Growth, Point
from trainer.window.keyfacts import STATES, Found, read
from trainer.window.screen import Screen
from trainer.window.strings import WORDS, key_name, letter_name, say

if TYPE_CHECKING:
    from trainer.listening.press import Event
    from trainer.window.house import House

KEY, WEEKS = "key", "weeks"
VIEWS = (KEY, WEEKS)


def _names(key: Key, letters: str) -> str:
    """The key's letter, small for minor; at the foot of the circle with that of its twin of six accidentals."""
    twins = [key] if abs(key.signature) < 6 else [key, Key.from_signature(-key.signature, key.mode)]
    names = [letter_name(one.tonic, letters) for one in sorted(twins, key=lambda one: -one.signature)]
    return " ".join(name[0].lower() + name[1:] if key.is_minor else name for name in names)


def _counted(words: str, count: int, **values: int) -> str:
    """How many keys, in plain words."""
    which = {0: f"{words}.none", 1: f"{words}.one", len(TWENTY_FOUR): f"{words}.all"}.get(count, words)
    return say(which if which in WORDS else words, **values)


class Keys(Screen):
    """See `screens`: the circle, the chosen key, sight speed and cost of transposing."""

    key = "f2"
    name = "keys"

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.chosen = Key.parse("C")
        self.view = 0
        self.found = Found()
        self.entries: list[Entry] = []
        self.down: frozenset[int] = frozenset()

    def entered(self) -> None:
        self.entries = Shelf().entries
        self.found = Found()
        self.down = frozenset()
        journal = self.house.journal
        if journal is not None:
            try:
                self.found = read(journal, self.house.player, datetime.now().astimezone())
            except (JournalError, MusicError) as trouble:
                self.house.say(str(trouble))
        if not self.entries:
            self.house.workroom.ask(
                jobs.shelved, then=self._shelved, failed=lambda trouble: self.house.say(str(trouble))
            )
        self.house.focus("circle")

    def _shelved(self, entries: list[Entry]) -> None:
        self.entries = entries

    def opened(self) -> None:
        self.entered()

    def heard(self, event: Event) -> None:
        from trainer.listening.press import Press, Release

        if isinstance(event, Press):
            self.down |= {event.pitch}
        elif isinstance(event, Release):
            self.down -= {event.pitch}

    # What is known

    def history(self, key: Key) -> list[Point]:
        """Share of notes right in a key, week by week, with its band."""
        journal = self.house.journal
        if journal is None:
            return []
        if key.short not in self.found.history:
            from trainer.journal.summary import by_week

            points = []
            try:
                for day, week in by_week(journal, self.house.player, key=key.short).items():
                    if week.accuracy is not None:
                        points.append(Point(day, week.accuracy, week.band))
            except JournalError as trouble:
                self.house.say(str(trouble))
            self.found.history[key.short] = points
        return self.found.history[key.short]

    def entry_for(self, key: Key) -> Entry | None:
        """A piece for a key: of the lowest level not yet free in it, played least in it so far."""
        below = [at for at in range(len(LEVELS)) if self.found.state(key.short, at) != FREE]
        for at in below:
            fits = [
                entry for entry in self.entries
                if entry.level == LEVELS[at] and entry.mode == key.mode
                and Key.parse(entry.key).tonic.pitch_class != key.tonic.pitch_class
            ]  # fmt: skip
            if fits:
                return min(fits, key=lambda one: (self.found.played[one.title, key.short], one.hands != BOTH))
        return None

    # What is done

    def choose(self, key: Key) -> None:
        self.chosen = key

    def start(self) -> None:
        """A fitting piece in the chosen key on the stand, or its five-finger pattern when no piece fits."""
        entry, key = self.entry_for(self.chosen), self.chosen
        if entry is None:
            self.pattern("pentascale")
            return

        def made(piece: Piece) -> None:
            from trainer.window.practice import Wish, written_tempo
            from trainer.window.stand import Stand

            stand = self.house.screen_of(Stand)
            assert isinstance(stand, Stand)
            stand.play(Wish(piece, plan(piece.key, key.short), tempo=written_tempo(piece), name=entry.path))

        self.house.workroom.ask(jobs.piece_at, entry.path, then=made, failed=self._failed)

    def _failed(self, trouble: Exception) -> None:
        self.house.say(str(trouble))

    def pattern(self, kind: str) -> None:
        self.house.rounds.play_pattern(kind, self.chosen, BOTH)

    def turn_to(self, at: int) -> None:
        self.view = at

    # How it looks

    def lay(self, canvas: Canvas, controls: Controls) -> None:
        places = masthead.lay(self.house, canvas, controls, "keys")
        u = canvas.unit
        body = places.body
        legend = round(1.5 * u)
        side = min(body.height - legend - round(0.5 * u), round(body.width * 0.52))
        ring = Rect(body.left, body.top, side, side)
        foot = Rect(body.left, min(ring.bottom + round(0.5 * u), body.bottom - legend), side, legend)
        if body.height - legend - side > 2 * u:
            ring.top = body.top + (body.height - legend - side) // 2
            foot.top = ring.bottom + round(0.5 * u)
        self._lay_circle(canvas, controls, ring)
        _lay_legend(canvas, foot)
        if not self.house.notice:
            masthead.lay_quiet(canvas, places, say("keys.quiet"))
        rest = Rect(ring.right + round(2.0 * u), body.top, body.right - ring.right - round(2.0 * u), body.height)
        small = rest.height < 26 * u
        if small:
            rest = masthead.parts(
                canvas, controls, rest, [f"keys.view.{one}" for one in VIEWS], self.view, self.turn_to
            )
        if small and VIEWS[self.view] == WEEKS:
            self._lay_weeks(canvas, rest, stacked=True)
        elif small:
            self._lay_key(canvas, controls, rest)
        else:
            upper, _, rule, _, lower = layout.rows(
                rest, [0, round(0.8 * u), 1, round(0.7 * u), round(min(9.4 * u, rest.height * 0.3))]
            )
            self._lay_key(canvas, controls, upper)
            canvas.rule("keys.rule", rule)
            self._lay_weeks(canvas, lower, stacked=rest.width < 20 * u)

    def _lay_circle(self, canvas: Canvas, controls: Controls, ring: Rect) -> None:
        today = date.today()
        wedges = {}
        letters = self.house.settings.letters
        due = 0
        for key in TWENTY_FOUR:
            look = self.found.looks.get(key.short)
            late = look is not None and look.due is not None and look.due <= today
            due += late
            words = ""
            if look is not None and look.state != NEW:
                words = say(f"keys.level.{look.level}") if look.level else say("keys.state.opening")
                if look.level and look.per_minute and not key.is_minor:
                    words = f"{words} · {look.per_minute:.0f}"
            wedges[key.short] = Wedge(
                _names(key, letters),
                self.found.levels.get(key.short, (NEW,) * len(LEVELS)), words, late,
            )  # fmt: skip
        held = sum(1 for look in self.found.looks.values() if look.level)
        middle = [_counted("keys.held", held, held=held), _counted("keys.due", due, due=due)]
        if not self.found.levels:
            middle = [say("keys.none"), say("keys.none.yet")]
        circle.lay(canvas, ring, wedges, self.chosen, middle)

        def clicked(point: tuple[int, int]) -> bool:
            key = circle.key_under(ring, point)
            if key is None or key == self.chosen:
                return key is None
            self.choose(key)
            return True

        def turn(by: int) -> Callable[[], None]:
            return lambda: self.choose(circle.neighbour(self.chosen, by))

        def other() -> None:
            self.choose(circle.across(self.chosen))

        controls.add(Control("circle", ring, self.start, "", turn(-1), turn(1), other, other, clicked))
        controls.ring("circle", ring)

    # The chosen key

    def _lay_key(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        u = canvas.unit
        tight = rect.height < 15 * u
        orders = round((1.9 if self._orders_width(controls, u) <= rect.width else 3.9) * u)
        top, said = round(min(3.0 * u, rect.height * 0.16)), round((1.7 if tight else 1.35) * u)
        if tight:
            head, state, _, card, _, foot = layout.rows(
                rect, [top, said, round(0.3 * u), 0, round(0.3 * u), min(orders, round(rect.height * 0.32))]
            )
            past = Rect(card.left, card.bottom, card.width, 0)
        else:
            keys_high = round(min(7.4 * u, rect.height * 0.36))
            head, state, _, card, _, past, _, foot = layout.rows(
                rect, [top, said, round(0.35 * u), keys_high, round(0.5 * u), 0, round(0.5 * u), orders]
            )
        self._lay_name(canvas, head)
        canvas.words("key.state", state, self._state_words(), style=fonts.ITALIC, size=1.05, colour="graphite",
                     lines=2 if tight else 1, least=0.6)  # fmt: skip
        self._lay_card(canvas, card, brief=tight)
        if past.height > 3.6 * u:
            curve = Growth(say("keys.history"), say("keys.history.empty"), self.history(self.chosen), growth.percent,
                           floor=0.0, ceiling=1.0, least_span=0.2)  # fmt: skip
            growth.lay(canvas, "past", past, curve)
        self._lay_orders(canvas, controls, foot)

    def _lay_name(self, canvas: Canvas, rect: Rect) -> None:
        u = canvas.unit
        name = key_name(self.chosen, self.house.settings.letters)
        size = min(2.2, 0.92 * rect.height / u)
        wide = min(round(rect.width * 0.62), canvas.width(name, fonts.BOLD, size) + 4)
        place = Rect(rect.left, rect.top, wide, rect.height)
        extent = canvas.words("key.name", place, name, style=fonts.BOLD, size=size, least=0.5)
        left = extent.right + round(0.8 * u)
        room = Rect(left, rect.top, min(round(7 * u), rect.right - left), rect.height)
        if room.width > 4 * u:
            staff.lay_signature(canvas, "key.signature", room, self.chosen)

    def _state_words(self) -> str:
        look = self.found.looks.get(self.chosen.short)
        if look is None or look.state == NEW:
            return say("keys.new")
        words = [say("keys.reached", level=say(f"level.{look.level}")) if look.level else say("keys.opening")]
        if look.accuracy is not None:
            words.append(say("keys.right", right=growth.percent(look.accuracy)))
        if look.per_minute is not None:
            words.append(say("keys.speed", notes=round(look.per_minute)))
        if look.due is not None:
            days = (look.due - date.today()).days
            words.append(say("keys.due.now") if days <= 0 else say("keys.due.in", days=days))
        return " · ".join(words)

    def _lay_card(self, canvas: Canvas, rect: Rect, brief: bool) -> None:
        """The five-finger card: keyboard, and in words what the hand finds there."""
        u = canvas.unit
        left, right = five_finger(self.chosen, LEFT), five_finger(self.chosen, RIGHT)
        board = stretch((*left.midi, *right.midi), 1)
        place = keyboard.fitted(Rect(rect.left, rect.top, round(rect.width * 0.62), rect.height), board)
        place.topleft = rect.topleft
        fingers = {midi: finger for one in (left, right) for midi, finger in zip(one.midi, one.fingers, strict=True)}
        do = frozenset((left.midi[0], right.midi[0]))
        shown = keyboard.Shown(fingers, do, self.down)
        keyboard.lay(canvas, place, board, shown)
        room = Rect(place.right + round(1.0 * u), rect.top, rect.right - place.right - round(1.0 * u), place.height)
        shape, _, words = layout.rows(room, [min(room.height * (0.42 if brief else 0.30), 2.3 * u), round(0.2 * u), 0])
        colours = ", ".join(say(f"keys.colour.{one}") for one in right.shape)
        canvas.words("card.shape", shape, colours, size=1.0, lines=2, stand=TOP, least=0.6)
        crowd = (say("keys.roomy") if right.crowding == left.crowding == 0
                 else say("keys.crowding", right=f"{right.crowding:.0f}", left=f"{left.crowding:.0f}"))  # fmt: skip
        said = right.words if brief else f"{right.words}. {crowd}"
        canvas.words("card.words", words, said[0].upper() + said[1:], style=fonts.ITALIC, size=1.0, colour="graphite",
                     lines=8, stand=TOP, least=0.5)  # fmt: skip

    def _order_words(self) -> tuple[str, str, str]:
        """The three buttons: a fitting piece (its title without what stands in brackets), five fingers, cadence."""
        entry = self.entry_for(self.chosen)
        main = say("keys.start", title=entry.title.split(" (")[0]) if entry else say("keys.start.pattern")
        return main, say("keys.pentascale"), say("keys.cadence")

    def _orders_width(self, controls: Controls, u: float) -> int:
        words = zip(self._order_words(), ("return", "p", "c"), strict=True)
        return sum(controls.button_width(word, key) for word, key in words) + round(1.8 * u)

    def _lay_orders(self, canvas: Canvas, controls: Controls, rect: Rect) -> None:
        u = canvas.unit
        main, five, cadence = self._order_words()
        rows = layout.rows(rect, [0, 0] if rect.height > 3 * u else [0], round(0.3 * u))
        gap = round(0.6 * u)
        wides = [controls.button_width(five, "p"), controls.button_width(cadence, "c")]
        if len(rows) == 1:
            room = rect.width - sum(wides) - 2 * gap
            places = [Rect(rect.left, rect.top, min(room, controls.button_width(main, "return") + gap), rect.height)]
        else:
            places = [rows[0]]
            wides = [min(wide, (rect.width - gap) // 2) for wide in wides]
        controls.button("start", places[0], main, self.start, key="return", main=True)
        x = places[0].right + gap if len(rows) == 1 else rect.left
        for name, label, key, wide in (("pentascale", five, "p", wides[0]), ("cadence", cadence, "c", wides[1])):
            place = Rect(x, rows[-1].top, wide, rows[-1].height)
            controls.button(name, place, label, partial(self.pattern, name), key=key)
            x = place.right + gap

    # Over the weeks

    def _lay_weeks(self, canvas: Canvas, rect: Rect, stacked: bool) -> None:
        u = canvas.unit
        curves = (
            Growth(say("keys.sight"), say("keys.sight.empty"), self.found.sight, growth.whole_number, floor=0.0,
                   least_span=10.0),
            Growth(say("keys.cost"), say("keys.cost.empty"), self.found.cost, growth.times, even=1.0, floor=0.0,
                   least_span=0.5),
        )  # fmt: skip
        places = (layout.rows if stacked else layout.columns)(rect, [0, 0], round((0.6 if stacked else 1.8) * u))
        for name, place, curve in zip(("sight", "cost"), places, curves, strict=True):
            growth.lay(canvas, name, place, curve)


def _lay_legend(canvas: Canvas, rect: Rect) -> None:
    """What the lines mean, and the pencil's ring."""
    u = canvas.unit
    names = (*STATES, "due")
    words = [say(f"keys.state.{name}") for name in names]
    sample = round(min(1.5 * u, rect.width * 0.055))
    size = 0.92
    gap = round(0.35 * u)
    while True:
        wides = [canvas.width(word, fonts.ITALIC, size) + 4 for word in words]
        need = sum(wides) + len(names) * (sample + gap)
        if need <= rect.width or size < 0.5:
            break
        size -= 0.04
    air = min(round(1.2 * u), max(2, (rect.width - need) // (len(names) - 1)))
    x = rect.left + max(0, (rect.width - need - air * (len(names) - 1)) // 2)
    for name, word, wide in zip(names, words, wides, strict=True):
        place = Rect(x, rect.top, sample, rect.height)
        if name == "due":
            tall = min(round(1.0 * u), round(sample * 0.66))
            ring = Rect(place.left, place.centery - tall // 2, sample, tall)
            canvas.shape("legend.due", ring, circle.due_ring(canvas, ring.width, ring.height), SOLID)
        else:
            line = circle.level_line(canvas, name, rect.width / 2)
            body = f'<path d="M2 {place.height / 2}H{sample - 2}" {line}/>'
            canvas.shape(f"legend.{name}", place, body, SOLID)
        said = Rect(place.right + gap, rect.top, wide, rect.height)
        canvas.words(f"legend.{name}.word", said, word, style=fonts.ITALIC, size=size, colour="graphite")
        x = said.right + air
