"""How handing over looks: what can be handed over, and beside it what has come, or the question whose it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.music.counted import many
from trainer.window import masthead
from trainer.window.days import day_words
from trainer.window.paint import fonts, layout
from trainer.window.paint.canvas import RIGHT as AT_RIGHT
from trainer.window.paint.canvas import TOP, Canvas
from trainer.window.paint.controls import Controls
from trainer.window.places import home
from trainer.window.strings import say
from trainer.window.studio.workprinting import print_work

if TYPE_CHECKING:
    from trainer.coaching.work.handing import Come, Taken
    from trainer.window.studio.handingpage import HandingPage, Row
    from trainer.window.workroom.errands import Out

PARTS = ("handing.in", "handing.out")
# In units: a row of what has come, a block of what goes out (its heading, what there is, its choice and its button).
_ROW, _HEAD, _SAID, _WAYS, _NOTE = 3.5, 1.9, 1.7, 2.7, 4.6


def lay(page: HandingPage, canvas: Canvas, controls: Controls) -> None:
    """Lay both sides, or one at a time where there is no room."""
    places = masthead.lay(page.house, canvas, controls, "handing")
    u, body = canvas.unit, places.body
    if masthead.is_tight(body, canvas):
        body = masthead.parts(canvas, controls, body, PARTS, page.part, partial(setattr, page, "part"))
        (_lay_in if PARTS[page.part] == "handing.in" else _lay_out)(page, canvas, controls, body)
    else:
        left, right = layout.columns(body, [round(body.width * 0.4), 0], round(2.6 * u))
        _lay_out(page, canvas, controls, _headed(canvas, "handing.out", left))
        _lay_in(page, canvas, controls, _headed(canvas, "handing.in", right))
    links = [masthead.Link("folder", say("handing.folder"), "e", page.show_folder)]
    if len(page.here) > 1:
        links.append(masthead.Link("player", say("keys.player"), "y", page.next_player))
    masthead.lay_foot(page.house, canvas, controls, places, [say("handing.quiet"), ""], links)


def _headed(canvas: Canvas, name: str, rect: Rect) -> Rect:
    """A heading over a thin line; returns the room under it."""
    u = canvas.unit
    head = Rect(rect.left, rect.top, rect.width, round(1.5 * u))
    canvas.words(f"{name}.head", head, say(name), style=fonts.ITALIC, size=1.15, colour="brass")
    canvas.rule(f"{name}.rule", Rect(rect.left, head.bottom, rect.width, 1))
    top = head.bottom + round(0.8 * u)
    return Rect(rect.left, top, rect.width, rect.bottom - top)


# What goes out


def _lay_out(page: HandingPage, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    block = _HEAD + _SAID + _WAYS
    with canvas.smaller(min(1.0, rect.height / ((2 * block + _NOTE + 2.6) * u))):
        u = canvas.unit
        played, _, work, _, note = layout.rows(rect, [block * u, 1.4 * u, block * u, 1.2 * u, 0])
        house = page.house
        since, every = page.played
        words = {"all": many(every, "take"), "since": many(since, "take")}
        name = "none" if not every else "all" if since == every else "since" if since else "old"
        choice = (
            "takes", "x", [say("handing.takes.since"), say("handing.takes.all")], page.everything,
            lambda at: setattr(page, "everything", bool(at)),
        )  # fmt: skip
        _lay_block(canvas, controls, played, "played", say("handing.played", player=house.player),
                   say(f"handing.played.{name}", **words), choice if 0 < since < every else None,
                   ("o", page.give_played if every else None))  # fmt: skip
        pieces, back = page.set
        said = say("handing.work.none")
        if pieces or back:
            said = say("handing.work.back" if back else "handing.work.set", pieces=many(pieces, "piece"), back=back)
        whom = (
            "whose", "b", [house.player, say("handing.everyone")], page.everyone,
            lambda at: setattr(page, "everyone", bool(at)),
        )  # fmt: skip
        several = len(page.here) > 1
        title = say("handing.work.everyone") if several and page.everyone else say("handing.work", player=house.player)
        _lay_block(canvas, controls, work, "work", title, said, whom if several else None,
                   ("s", page.give_work if pieces or back else None),
                   ("p", partial(print_work, page)) if pieces else None)  # fmt: skip
        canvas.words("handing.where", note, say("handing.where", path=page.place), style=fonts.ITALIC, size=1.0,
                     colour="graphite", lines=5, stand=TOP, least=0.7)  # fmt: skip


def _lay_block(
    canvas: Canvas, controls: Controls, rect: Rect, name: str, title: str, said: str,
    choice: tuple[str, str, list[str], bool, Callable[[int], None]] | None, give: tuple[str, Callable[[], None] | None],
    paper: tuple[str, Callable[[], None]] | None = None,
) -> None:  # fmt: skip
    """One thing to hand over: whose it is, how much, which of it, and the button where there is anything; and one that
    puts it on paper.
    """
    u = canvas.unit
    head, about, ways = layout.rows(rect, [_HEAD * u, _SAID * u, 0])
    if paper is not None:
        letter, print_it = paper
        wide = controls.button_width(say("handing.paper"), letter)
        place = Rect(about.right - wide, about.top - round(0.2 * u), wide, round(1.5 * u))
        controls.button(f"paper.{name}", place, say("handing.paper"), print_it, key=letter)
        about = Rect(about.left, about.top, place.left - round(0.6 * u) - about.left, about.height)
    canvas.words(f"{name}.head", head, title, size=1.35)
    canvas.words(f"{name}.said", about, said, size=1.1, colour="graphite", lines=2, stand=TOP, least=0.7)
    key, act = give
    label = say(f"handing.give.{name}")
    wide = controls.button_width(label, key, 1.1) + round(0.4 * u)
    button = Rect(ways.left, ways.bottom - round(2.0 * u), wide, round(2.0 * u))
    if act is not None:
        controls.button(f"give.{name}", button, label, act, key=key, size=1.1)
    if choice is not None:
        field, letter, values, at, choose = choice
        left = button.right + round(1.4 * u) if act is not None else ways.left
        place = Rect(left, ways.bottom - round(2.7 * u), rect.right - left, round(2.7 * u))
        controls.choice(field, place, say(f"handing.{field}"), values, int(at), choose, key=letter, size=1.1)


# What comes in


def _lay_in(page: HandingPage, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    from trainer.coaching.work.handing import PLAYED

    u = canvas.unit
    if page.asked is not None:
        _lay_question(page, page.asked, canvas, controls, rect)
        return
    if not page.rows:
        said = say("handing.looking") if page.looking else say("handing.none", path=page.place)
        canvas.words("come.none", rect, said, size=1.15, colour="graphite", lines=8, stand=TOP)
        return
    listed, _, foot = layout.rows(rect, [0, round(0.5 * u), round(2.0 * u)])

    def draw(at: int, row: Rect) -> None:
        _lay_row(canvas, at, row, page.rows[at])

    controls.rows("come", listed, len(page.rows), page.chosen, round(_ROW * u), draw, partial(setattr, page, "chosen"),
                  page.take)  # fmt: skip
    chosen = page.row
    take = Rect(foot.left - round(u), foot.top, 0, foot.height)
    if chosen is not None and not chosen.come.trouble:
        label = say("handing.show" if chosen.taken is not None else "handing.take")
        wide = controls.button_width(label, "return", 1.1) + round(0.4 * u)
        take = Rect(foot.left, foot.top, wide, foot.height)
        controls.button("take", take, label, page.take, key="return", main=True, size=1.1)
    if chosen is not None and chosen.taken is not None and chosen.come.kind == PLAYED:
        label = say("handing.change")
        wide = controls.button_width(label, "c", 1.1) + round(0.4 * u)
        place = Rect(take.right + round(u), foot.top, wide, foot.height)
        take = place
        controls.button("change", place, label, page.change, key="c", size=1.1)
    if sum(row.taken is None and not row.come.trouble for row in page.rows) > 1:
        label = say("handing.all")
        wide = controls.button_width(label, "a", 1.1) + round(0.4 * u)
        place = Rect(take.right + round(u), foot.top, wide, foot.height)
        controls.button("all", place, label, page.take_all, key="a", size=1.1)


def _lay_row(canvas: Canvas, at: int, rect: Rect, row: Row) -> None:
    u = canvas.unit
    inner = rect.inflate(-round(1.1 * u), -round(0.4 * u))
    above, below = layout.rows(inner, [inner.height * 0.54, 0])
    when = day_words(row.come.day)
    wide = canvas.width(when, fonts.ITALIC, 0.95) + 4
    canvas.words(f"come.{at}.when", Rect(above.right - wide, above.top, wide, above.height), when, style=fonts.ITALIC,
                 size=0.95, colour="graphite", align=AT_RIGHT)  # fmt: skip
    place = Rect(above.left, above.top, above.width - wide - round(0.5 * u), above.height)
    canvas.words(f"come.{at}.title", place, _title(row.come), size=1.2, least=0.7)
    canvas.words(f"come.{at}.said", below, _said(row), style=fonts.ITALIC, size=1.0,
                 colour="graphite", lines=2, least=0.6)  # fmt: skip


def _title(come: Come) -> str:
    from trainer.coaching.work.handing import PLAYED

    if come.trouble:
        return come.path.name
    if come.kind == PLAYED:
        return say("handing.row.played", player=come.names[0], takes=many(come.count, "take"))
    name = "handing.row.work" if come.names else "handing.row.work.all"
    return say(name, player=", ".join(come.names), pieces=many(come.count, "piece"))


def _said(row: Row) -> str:
    if row.taken is not None:
        return result(row.taken)
    if row.come.trouble:
        return row.come.trouble
    if row.come.ask:
        return say("handing.row.ask")
    return say("handing.row.where", name=row.come.path.name, folder=home(row.come.path.parent))


def result(taken: Taken, brief: bool = False) -> str:
    """What came of a file, in a sentence; a `brief` one does not say what enter does."""
    from trainer.coaching.work.handing import PLAYED

    if taken.kind == PLAYED:
        name = "moved" if taken.moved else "none" if not taken.fresh else "known" if taken.known else ""
        known = taken.known if taken.fresh else many(taken.known, "take")
        takes = many(taken.moved or taken.fresh, "take")
        words = say(f"handing.row.taken{f'.{name}' if name else ''}", takes=takes, known=known,
                    player=taken.player)  # fmt: skip
        return f"{taken.player}: {words.split('. ')[0]}." if brief else words
    said = say("handing.row.up", pieces=many(taken.fresh, "piece"))
    for name, what in (("known", taken.known), ("back", taken.back), ("music", ", ".join(taken.music)),
                       ("fingers", many(taken.fingers, "finger") if taken.fingers else ""),
                       ("missing", ", ".join(taken.missing))):  # fmt: skip
        if what:
            said = say(f"handing.row.up.{name}", said=said, **{name: what, "names": what})
    return f"{said}." if brief else say("handing.row.up.enter", said=said)


def troubled(come: Come, why: str) -> Come:
    """A file that was refused when it was to be taken in."""
    return replace(come, trouble=why)


# Whose it is


def _lay_question(page: HandingPage, row: Row, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    from trainer.coaching.work.handing import PLAYED

    u = canvas.unit
    is_played = row.come.kind == PLAYED
    kind = "change" if row.taken is not None else "played" if is_played else "work"
    asks = say(f"handing.ask.{kind}", name=row.come.names[0])
    first = 1.9 if canvas.width(asks, fonts.ROMAN, 1.4) <= rect.width else 3.4
    high = first + 1.6 + 3.0 + 2.2 + 3.0 + 2.0 + 5 * 0.7
    with canvas.smaller(min(1.0, rect.height / (high * u))):
        u = canvas.unit
        gap = round(0.7 * u)
        head, file, who, name, sure, foot, _ = layout.rows(
            rect, [first * u, 1.6 * u, 3.0 * u, 2.2 * u, 3.0 * u, 2.0 * u, 0], gap
        )
        canvas.words("ask.head", head, asks, size=1.4, lines=2, stand=TOP)
        where = say("handing.row.where", name=row.come.path.name, folder=home(row.come.path.parent))
        canvas.words("ask.file", file, where, style=fonts.ITALIC, size=1.0, colour="graphite", least=0.6)
        names = [say("handing.ask.here", player=one) for one in page.may_be]
        if is_played:
            names.append(say("handing.ask.new"))
        controls.choice("who", who, say("handing.ask.who"), names, min(page.who, len(names) - 1),
                        partial(setattr, page, "who"), key="w", size=1.2)  # fmt: skip
        if page.is_new and is_played:
            controls.entry("fresh", name, page.fresh, partial(_type, page), key="n", hint=say("handing.ask.name"))
        once = "handing.ask.again" if row.taken is not None else "handing.ask.once"
        said = say(once) if is_played else ""
        if is_played and not page.is_new:
            takes = many(row.come.count, "take")
            said = f"{say('handing.ask.sure', takes=takes, player=page.may_be[page.who])} {said}"
        canvas.words("ask.once", sure, said, style=fonts.ITALIC, size=1.0, colour="graphite", lines=3, stand=TOP,
                     least=0.7)  # fmt: skip
        yes, no = say("handing.ask.yes"), say("handing.ask.no")
        wide = controls.button_width(yes, "return", 1.1) + round(0.4 * u)
        answer = Rect(foot.left, foot.top, wide, foot.height)
        controls.button("yes", answer, yes, page.answer, key="return", main=True, size=1.1)
        wide = controls.button_width(no, "escape", 1.1)
        controls.button("no", Rect(answer.right + round(u), foot.top, wide, foot.height), no, page.leave, key="escape",
                        size=1.1)  # fmt: skip


def _type(page: HandingPage, text: str) -> None:
    page.fresh = text[:40]


def told(made: Out, what: str, player: str) -> dict[str, str]:
    """What a file that was written holds, whose it is and where it lies."""
    lie = say("handing.lies" if made.count == 1 else "handing.lie")
    return {f"{what}s": many(made.count, what), "player": player, "path": home(made.files[0]), "lie": lie}
