"""How Keys looks: the circle with its legend, the chosen key closely, the curves over the weeks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.hands.keyboard import stretch
from trainer.hands.position import five_finger
from trainer.music.compass import LEVELS
from trainer.music.keys import TWENTY_FOUR, Key
from trainer.music.piece import LEFT, RIGHT
from trainer.window import masthead
from trainer.window.keys import circle, growth, keyfigures, keyslegend
from trainer.window.keys.circle import NEW, Wedge
from trainer.window.keys.growth import Growth
from trainer.window.paint import fonts, keyboard, layout, staff
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Control, Controls
from trainer.window.strings import WORDS, key_name, letter_name, say

if TYPE_CHECKING:
    from trainer.window.keys.keys import Keys

CIRCLE, KEY, WEEKS, CAUSES, COSTS, HABITS = "circle", "key", "weeks", "causes", "costs", "habits"
# How everything grew, one at a time; the circle and the key besides, where there is no room for all.
GROWN = (WEEKS, CAUSES, COSTS, HABITS)
VIEWS = (CIRCLE, KEY, *GROWN)
# Words under the names of the keys are left out where they would be smaller than this, in units.
_LEAST_WORDS = 0.4
# How much of a tall window's height the circle takes.
_CIRCLE = 0.48
# In units, how wide the words beside a circle that stands alone are at least, and how high those under it.
_BESIDE, _UNDER = 10.0, 11.0
# The smallest a title is made.
_TITLE = 1.3


def lay(keys: Keys, canvas: Canvas, controls: Controls) -> None:
    """Lay the circle with the key and the weeks beside it, or one of the three where there is no room."""
    places = masthead.lay(keys.house, canvas, controls, "keys", _title(keys, canvas))
    _lay_body(keys, canvas, controls, places.body)
    further = [link for link in keys.links if controls.named(link.name) is None]
    said = [say(f"keys.quiet{much}") for much in ("", ".short", ".brief")]
    masthead.lay_foot(keys.house, canvas, controls, places, said, further)


def _lay_body(keys: Keys, canvas: Canvas, controls: Controls, body: Rect) -> None:
    if masthead.is_tight(body, canvas):
        rest = _lay_views(keys, canvas, controls, body, VIEWS)
        if VIEWS[keys.view] == CIRCLE:
            _lay_round(keys, canvas, controls, rest)
        elif VIEWS[keys.view] == KEY:
            _lay_key(keys, canvas, controls, rest)
        else:
            _lay_growth(keys, canvas, rest, stacked=False)
        return
    u = canvas.unit
    legend = round(1.5 * u)
    if layout.is_tall(canvas):
        _lay_over(keys, canvas, controls, body, legend)
        return
    side = min(body.height - legend - round(0.5 * u), round(body.width * 0.52))
    ring = Rect(body.left, body.top, side, side)
    foot = Rect(body.left, min(ring.bottom + round(0.5 * u), body.bottom - legend), side, legend)
    if body.height - legend - side > 2 * u:
        ring.top = body.top + (body.height - legend - side) // 2
        foot.top = ring.bottom + round(0.5 * u)
    _lay_circle(keys, canvas, controls, ring)
    keyslegend.lay(canvas, foot)
    _lay_side(keys, canvas, controls, Rect(ring.right + round(2.0 * u), body.top,
                                           body.right - ring.right - round(2.0 * u), body.height))  # fmt: skip


def _title(keys: Keys, canvas: Canvas) -> str:
    """Whose keys they are where several play, as far as there is room for it; empty for the name of the screen."""
    if not keys.several:
        return ""
    name, room = keys.house.player, layout.sheet(canvas).name.width
    words = name.split()
    short = [f"{' '.join(words[:count])} …" for count in range(len(words) - 1, 0, -1)]
    told = say("keys.whose", player=name), name, *short
    fits = (one for one in told if canvas.width(one, fonts.ROMAN, _TITLE) <= room)
    return next(fits, "")


def _lay_over(keys: Keys, canvas: Canvas, controls: Controls, body: Rect, legend: int) -> None:
    """In a tall window: the circle above the key and the weeks, each as wide as the window."""
    u = canvas.unit
    side = min(body.width, round(body.height * _CIRCLE))
    upper, foot, _, lower = layout.rows(body, [side, legend, round(1.2 * u), 0])
    _lay_circle(keys, canvas, controls, Rect(body.centerx - side // 2, upper.top, side, side))
    keyslegend.lay(canvas, Rect(body.centerx - side // 2, foot.top, side, legend))
    _lay_side(keys, canvas, controls, lower)


def _middle(keys: Keys, due: int) -> list[str]:
    """How many keys hold, and how many are due."""
    if not keys.found.levels:
        return [say("keys.none"), say("keys.none.yet")]
    held = sum(1 for look in keys.found.looks.values() if look.level)
    return [_counted("keys.held", held, held=held), _counted("keys.due", due, due=due)]


def _lay_views(keys: Keys, canvas: Canvas, controls: Controls, rect: Rect, views: Sequence[str]) -> Rect:
    """The names of the views above the one that is shown; returns its room."""
    at = views.index(VIEWS[keys.view]) if VIEWS[keys.view] in views else 0

    def turn(to: int) -> None:
        keys.turn_to(VIEWS.index(views[to]))

    controls.order("keys.page", "e", keys.show_page)
    return masthead.parts(canvas, controls, rect, [f"keys.view.{one}" for one in views], at, turn, keys.links)


def _lay_side(keys: Keys, canvas: Canvas, controls: Controls, rest: Rect) -> None:
    """Beside the circle: the chosen key over the weeks, or one of them."""
    u = canvas.unit
    if rest.height < 26 * u:
        rest = _lay_views(keys, canvas, controls, rest, VIEWS[1:])
        if VIEWS[keys.view] in GROWN:
            _lay_growth(keys, canvas, rest, stacked=True)
        else:
            _lay_key(keys, canvas, controls, rest)
        return
    upper, _, rule, _, lower = layout.rows(
        rest, [0, round(0.7 * u), 1, round(0.4 * u), round(min(9.4 * u, rest.height * 0.31))]
    )
    _lay_key(keys, canvas, controls, upper)
    canvas.rule("keys.rule", rule)
    lower = _lay_views(keys, canvas, controls, lower, GROWN)
    _lay_growth(keys, canvas, lower, stacked=rest.width < 20 * u)


def _lay_round(keys: Keys, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """The circle alone, as large as it can be; beside it, in a narrow window under it, the chosen key in words and
    what the lines mean.
    """
    u = canvas.unit
    if rect.width - rect.height >= _BESIDE * u:
        ring = Rect(rect.left, rect.top, rect.height, rect.height)
        left = ring.right + round(1.6 * u)
        room = Rect(left, rect.top, rect.right - left, rect.height)
    else:
        side = min(rect.width, rect.height - round(_UNDER * u))
        ring = Rect(rect.centerx - side // 2, rect.top, side, side)
        top = ring.bottom + round(0.8 * u)
        room = Rect(rect.left, top, rect.width, rect.bottom - top)
    _lay_circle(keys, canvas, controls, ring)
    head, said, _, legend = layout.rows(room, [round(2.6 * u), round(3.6 * u), round(0.3 * u), 0])
    _lay_name(keys, canvas, head)
    canvas.words("key.state", said, _state_words(keys), style=fonts.ITALIC, size=1.0, colour="graphite", lines=3,
                 stand=TOP, least=0.6)  # fmt: skip
    names = layout.columns(legend, [0, 0], round(0.8 * u))
    for at, name in enumerate(keyslegend.STATES_AND_DUE):
        high = min(round(1.2 * u), legend.height // 3)
        place = Rect(names[at % 2].left, legend.top + (at // 2) * high, names[at % 2].width, high)
        keyslegend.lay_sample(canvas, place, name, round(1.5 * u), ring.width / 2, 0.92)


def _lay_circle(keys: Keys, canvas: Canvas, controls: Controls, ring: Rect) -> None:
    today = date.today()
    large = ring.width / 2 * circle.WORDS_SIZE["minor"] >= _LEAST_WORDS * canvas.unit
    wedges = {}
    letters = keys.house.settings.letters
    due = 0
    for key in TWENTY_FOUR:
        look = keys.found.looks.get(key.short)
        late = look is not None and look.due is not None and look.due <= today
        due += late
        words = ""
        if large and look is not None and look.state != NEW:
            words = say(f"keys.level.{look.level}") if look.level else say("keys.state.opening")
            if look.level and look.per_minute and not key.is_minor:
                words = f"{words} · {look.per_minute:.0f}"
        wedges[key.short] = Wedge(
            _names(key, letters),
            keys.found.levels.get(key.short, (NEW,) * len(LEVELS)), words, late,
        )  # fmt: skip
    circle.lay(canvas, ring, wedges, keys.chosen, _middle(keys, due)[: 2 if large else 1])

    def clicked(point: tuple[int, int]) -> bool:
        key = circle.key_under(ring, point)
        if key is None or key == keys.chosen:
            return key is None
        keys.choose(key)
        return True

    def turn(by: int) -> Callable[[], None]:
        return lambda: keys.choose(circle.neighbour(keys.chosen, by))

    def other() -> None:
        keys.choose(circle.across(keys.chosen))

    controls.add(Control("circle", ring, keys.start, "", turn(-1), turn(1), other, other, clicked))
    controls.ring("circle", ring)


# The chosen key


def _lay_key(keys: Keys, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    tight = rect.height < 15 * u
    orders = round((1.9 if _orders_width(keys, controls, u) <= rect.width else 3.9) * u)
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
    _lay_name(keys, canvas, head)
    canvas.words("key.state", state, _state_words(keys), style=fonts.ITALIC, size=1.05, colour="graphite",
                 lines=2 if tight else 1, least=0.6)  # fmt: skip
    _lay_card(keys, canvas, card, brief=tight)
    if past.height > 4.6 * u:
        curve = Growth(say("keys.history"), say("keys.history.empty"), keys.history(keys.chosen), growth.percent,
                       floor=0.0, ceiling=1.0, least_span=0.2)  # fmt: skip
        growth.lay(canvas, "past", past, curve)
    _lay_orders(keys, canvas, controls, foot)


def _lay_name(keys: Keys, canvas: Canvas, rect: Rect) -> None:
    u = canvas.unit
    name = key_name(keys.chosen, keys.house.settings.letters)
    size = min(2.2, 0.92 * rect.height / u)
    wide = min(round(rect.width * 0.62), canvas.width(name, fonts.BOLD, size) + 4)
    place = Rect(rect.left, rect.top, wide, rect.height)
    extent = canvas.words("key.name", place, name, style=fonts.BOLD, size=size, least=0.5)
    left = extent.right + round(0.8 * u)
    room = Rect(left, rect.top, min(round(7 * u), rect.right - left), rect.height)
    if room.width > 4 * u:
        staff.lay_signature(canvas, "key.signature", room, keys.chosen)


def _state_words(keys: Keys) -> str:
    look = keys.found.looks.get(keys.chosen.short)
    if look is None or look.state == NEW:
        return say("keys.new")
    words = [say("keys.reached", level=say(f"level.{look.level}")) if look.level else say("keys.opening")]
    if look.accuracy is not None:
        words.append(say("keys.right", right=growth.percent(look.accuracy)))
    if look.per_minute is not None:
        words.append(say("keys.speed", notes=round(look.per_minute)))
    if look.cost is not None:
        words.append(say("keys.cost.here", cost=growth.times(look.cost[0])))
    if look.due is not None:
        days = (look.due - date.today()).days
        near = "now" if days <= 0 else "tomorrow" if days == 1 else "in"
        words.append(say(f"keys.due.{near}", days=days))
    return " · ".join(words)


def _lay_card(keys: Keys, canvas: Canvas, rect: Rect, brief: bool) -> None:
    """The five-finger card: keyboard, and in words what the hand finds there."""
    u = canvas.unit
    left, right = five_finger(keys.chosen, LEFT), five_finger(keys.chosen, RIGHT)
    board = stretch((*left.midi, *right.midi), 1)
    place = keyboard.fitted(Rect(rect.left, rect.top, round(rect.width * 0.62), rect.height), board)
    place.topleft = rect.topleft
    fingers = {midi: finger for one in (left, right) for midi, finger in zip(one.midi, one.fingers, strict=True)}
    do = frozenset((left.midi[0], right.midi[0]))
    shown = keyboard.Shown(fingers, do, keys.down)
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


def _order_words(keys: Keys) -> tuple[str, str, str]:
    """The three buttons: a fitting piece (its title without what stands in brackets), five fingers, cadence."""
    piece = keys.due or keys.entry_for(keys.chosen)
    main = say("keys.start", title=piece.title.split(" (")[0]) if piece else say("keys.start.pattern")
    return main, say("keys.pentascale"), say("keys.cadence")


def _orders_width(keys: Keys, controls: Controls, u: float) -> int:
    words = zip(_order_words(keys), ("return", "p", "c"), strict=True)
    return sum(controls.button_width(word, key) for word, key in words) + round(1.8 * u)


def _lay_orders(keys: Keys, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    main, five, cadence = _order_words(keys)
    rows = layout.rows(rect, [0, 0] if rect.height > 3 * u else [0], round(0.3 * u))
    gap = round(0.6 * u)
    wides = [controls.button_width(five, "p"), controls.button_width(cadence, "c")]
    if len(rows) == 1:
        room = rect.width - sum(wides) - 2 * gap
        places = [Rect(rect.left, rect.top, min(room, controls.button_width(main, "return") + gap), rect.height)]
    else:
        places = [rows[0]]
        wides = [min(wide, (rect.width - gap) // 2) for wide in wides]
    controls.button("start", places[0], main, keys.start, key="return", main=True)
    x = places[0].right + gap if len(rows) == 1 else rect.left
    for name, label, key, wide in (("pentascale", five, "p", wides[0]), ("cadence", cadence, "c", wides[1])):
        place = Rect(x, rows[-1].top, wide, rows[-1].height)
        controls.button(name, place, label, partial(keys.pattern, name), key=key)
        x = place.right + gap


# Over the weeks


def _lay_growth(keys: Keys, canvas: Canvas, rect: Rect, stacked: bool) -> None:
    """How everything grew: one of `GROWN`, the curves when none of them is chosen."""
    view, found = VIEWS[keys.view], keys.found
    if view == CAUSES:
        keyfigures.lay_causes(canvas, rect, found.causes)
    elif view == COSTS:
        costs = {key: look.cost for key, look in found.looks.items() if look.cost is not None}
        keyfigures.lay_costs(canvas, rect, costs, keys.chosen, keys.house.settings.letters)
    elif view == HABITS:
        _lay_habits(keys, canvas, rect)
    else:
        _lay_weeks(keys, canvas, rect, stacked)


def _lay_habits(keys: Keys, canvas: Canvas, rect: Rect) -> None:
    """The costliest habits with their counts, and what changed in the last weeks."""
    found = keys.found
    if not found.habits and not found.trends:
        canvas.words("habits.none", rect, say("keys.habits.none"), size=1.0, lines=4, stand=TOP, least=0.7)
        return
    lines = [(one, fonts.ROMAN, "ink") for one in found.habits]
    lines += [(one, fonts.ITALIC, "graphite") for one in found.trends]
    # All in one size, the one in which the longest fits on its line.
    widest = max(canvas.width(words, style, 1.0) for words, style, _ in lines)
    size = min(1.0, max(0.72, 0.99 * rect.width / widest))
    high = min(rect.height // len(lines), round(2.5 * canvas.unit))
    for at, (words, style, tone) in enumerate(lines):
        row = Rect(rect.left, rect.top + at * high, rect.width, high)
        canvas.words(f"habits.{at}", row, words, style=style, size=size, colour=tone, lines=2, least=0.5)


def _lay_weeks(keys: Keys, canvas: Canvas, rect: Rect, stacked: bool) -> None:
    u = canvas.unit
    curves = (
        Growth(say("keys.sight"), say("keys.sight.empty"), keys.found.sight, growth.whole_number, floor=0.0,
               least_span=10.0),
        Growth(say("keys.cost"), say("keys.cost.empty"), keys.found.cost, growth.times, even=1.0, floor=0.0,
               least_span=0.5),
    )  # fmt: skip
    places = (layout.rows if stacked else layout.columns)(rect, [0, 0], round((0.6 if stacked else 1.8) * u))
    for name, place, curve in zip(("sight", "cost"), places, curves, strict=True):
        growth.lay(canvas, name, place, curve)


def _names(key: Key, letters: str) -> str:
    """The key's letter, small for minor; at the foot of the circle with that of its twin of six accidentals."""
    twins = [key] if abs(key.signature) < 6 else [key, Key.from_signature(-key.signature, key.mode)]
    names = [letter_name(one.tonic, letters) for one in sorted(twins, key=lambda one: -one.signature)]
    return " ".join(name[0].lower() + name[1:] if key.is_minor else name for name in names)


def _counted(words: str, count: int, **values: int) -> str:
    """How many keys, in plain words."""
    which = {0: f"{words}.none", 1: f"{words}.one", len(TWENTY_FOUR): f"{words}.all"}.get(count, words)
    return say(which if which in WORDS else words, **values)
