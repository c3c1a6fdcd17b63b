"""How the Marked copy looks beside its music: title, figures, slips counted, and what to do next."""

from __future__ import annotations

from collections import Counter
from functools import partial
from typing import TYPE_CHECKING

from pygame import Rect

from trainer.following import marks
from trainer.following.reach import hands_played
from trainer.following.words import distance
from trainer.music.solfege import DO_BASED, LA_BASED, degree_label, syllable
from trainer.window import barwords
from trainer.window.copy import legend
from trainer.window.copy.advice import slips, unplaced
from trainer.window.copy.advised import often
from trainer.window.paint import fonts, layout, titled
from trainer.window.paint.canvas import GROUND, RIGHT, TOP, Canvas
from trainer.window.paint.controls import Action, Controls
from trainer.window.paint.theme import hexed
from trainer.window.strings import key_name, say

if TYPE_CHECKING:
    from trainer.window.copy.copy import Copy
    from trainer.window.copy.finished import Finished

# The parts of the screen, where there is no room for all.
PARTS = ("copy.music", "copy.pulse", "copy.slips", "copy.side")

# Text size of the buttons at the foot.
_WAYS = 0.86
# The least and the most height of a line in the counts, in units.
_TALLY_ROW = 0.95, 1.3
# Their heading, in units.
_TALLY_HEAD = 1.25
# In units: the heading and the ways on of the panel of advice, each piece of advice, and the least for all of them.
_ADVICE_ENDS, _ADVICE_EACH, _ADVICE_LEAST = 4.3, 3.1, 4.0


def lay_head(take: Finished, canvas: Canvas, rect: Rect, letters: str) -> None:
    """Title, key and interval; where both do not fit, the title goes without what stands in brackets."""
    said = f"{key_name(take.plan.target, letters)}, {take.plan.words}"
    if take.reach is not None and not take.reach.is_whole:
        said += f" · {barwords.reached(take.piece, take.reach)}"
    wide = min(round(rect.width * 0.58), canvas.width(said, fonts.ITALIC, 1.1) + 4)
    room = Rect(rect.left, rect.top, rect.width - wide - round(canvas.unit), rect.height)
    titled.lay(canvas, "copy.title", room, take.piece.title, style=fonts.BOLD, size=1.35)
    place = Rect(rect.right - wide, rect.top, wide, rect.height)
    canvas.words("copy.key", place, said, style=fonts.ITALIC, size=1.1, colour="graphite", align=RIGHT, least=0.6)


def lay_throughout(take: Finished, canvas: Canvas, rect: Rect) -> None:
    """Over the music, as far as it goes, what is true of every note of it: where the whole take lay."""
    place = Rect(rect.left, rect.top, round(rect.width * 0.9), rect.height)
    said = canvas.words("copy.throughout", place, throughout(take), style=fonts.ITALIC, size=1.15, colour="blue")
    begin, end, u = said.right + round(0.5 * canvas.unit), rect.right - 2, canvas.unit
    line = Rect(begin, rect.centery, end - begin, round(0.5 * u))
    thick = max(2.0, 0.09 * u)
    body = (
        f'<path d="M0 {thick / 2}H{line.width - thick / 2}V{line.height}" fill="none" '
        f'stroke="{hexed(canvas.colour("blue"))}" stroke-width="{thick:.1f}" stroke-linejoin="round"/>'
    )
    canvas.shape("copy.throughout.line", line, body)


def throughout(take: Finished) -> str:
    """Where a whole take lay: as written, or how far from what was asked for and which way."""
    shift = take.settled.shift
    if shift == -take.plan.interval.semitones:
        return say("copy.all.as-written")
    return say("copy.all.high" if shift > 0 else "copy.all.low", far=distance(shift))


def lay_side(copy: Copy, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """Figures, slips and advice under each other."""
    assert copy.take is not None
    u = canvas.unit
    high = round(min(_advice_high(copy, canvas), rect.height * 0.52))
    figures, _, counts, _, next_up = layout.rows(rect, [round(3.3 * u), round(0.5 * u), 0, round(0.6 * u), high])
    lay_figures(copy.take, canvas, figures)
    lay_counts(copy.take, canvas, counts, copy.house.settings.syllables)
    lay_advice(copy, canvas, controls, next_up)


def lay_figures(take: Finished, canvas: Canvas, rect: Rect) -> None:
    """Share right, pulse, time."""
    pulse = f"{take.timing.pulse_bpm:.0f}" if take.timing.pulse_bpm is not None else "–"
    minutes, seconds = divmod(round(take.seconds), 60)
    counted = len(take.settled.counted) + len(take.settled.missed)
    right = say("copy.right.lay" if take.settled.shift else "copy.right")
    values = [
        (right, f"{take.right_as_it_lay / max(1, counted):.0%}"),
        (say("copy.pulse"), pulse),
        (say("copy.time"), f"{minutes}:{seconds:02d}"),
    ]
    places = layout.columns(rect, [0, 0, 0], canvas.unit)
    for at, (place, (label, value)) in enumerate(zip(places, values, strict=True)):
        above, below = layout.rows(place, [round(1.2 * canvas.unit), 0])
        canvas.words(f"copy.figure.{at}.label", above, label, style=fonts.ITALIC, size=1.0, colour="graphite")
        canvas.words(f"copy.figure.{at}", below, value, size=1.9, least=0.5)


def lay_counts(take: Finished, canvas: Canvas, rect: Rect, syllables: str) -> None:
    """Slips by cause, by degree (named as on the page, where that shows syllables), by hand."""
    wrong = slips(take)
    nowhere = unplaced(take)
    if not wrong and not nowhere:
        canvas.words("copy.clean", rect, _clean_words(take), size=1.1, lines=4, stand=TOP)
        return
    causes = Counter(cause for _, cause in wrong)
    if nowhere:
        causes[marks.EXTRA] += nowhere
    key_at = take.piece.key_at
    named = partial(syllable, minor=syllables) if syllables in (LA_BASED, DO_BASED) else degree_label
    degrees = Counter(named(take.piece.notes[note].pitch, key_at(take.piece.notes[note].onset)) for note, _ in wrong)
    hands = Counter(say(f"hand.{take.piece.notes[note].hand}") for note, _ in wrong)
    u = canvas.unit
    if rect.width > 2.2 * rect.height:
        left, upper, lower = layout.columns(rect, [round(rect.width * 0.44), 0, 0], round(1.2 * u))
    else:
        left, right = layout.columns(rect, [round(rect.width * 0.58), 0], round(1.2 * u))
        # Few lines stay together; of very many the hands' keep their place at the foot.
        heads = _TALLY_HEAD * u
        row = min(_TALLY_ROW[1] * u, (right.height - 0.6 * u - 2 * heads) / max(1, len(degrees) + len(hands)))
        together = [heads + row * len(degrees), heads + row * len(hands)]
        apart = [0.0, min(right.height * 0.42, 4.0 * u)]
        upper, lower = layout.rows(right, together if row >= _TALLY_ROW[0] * u else apart, round(0.6 * u))
    counted = [(say(f"cause.{cause}"), count) for cause, count in causes.most_common()]
    # The sign that stands on the page: a flat, a sharp, or a natural where the key has none.
    sign = (take.plan.target.signature > 0) - (take.plan.target.signature < 0)
    _tally(canvas, left, say("copy.causes"), counted, tuple(cause for cause, _ in causes.most_common()), sign)
    _tally(canvas, upper, say("copy.degrees"), degrees.most_common())
    _tally(canvas, lower, say("copy.hands"), hands.most_common())


def _clean_words(take: Finished) -> str:
    """What there is to say where no note is to be marked: how far it went, by what way, and without which hand."""
    counted = Counter(move.kind for move in take.settled.moves)
    besides = [say(f"copy.{kind}", often=often(counted[kind])) for kind in marks.MOVES if counted[kind]]
    if take.reach is not None and not take.reach.share:
        played = hands_played(take.piece, take.settled)
        besides += [say(f"copy.silent.{hand}") for hand in take.piece.hands if hand not in played]
    moves = ", ".join(besides)
    name = "copy.moved" if moves else "copy.clean"
    if take.settled.shift:
        return say(f"{name}.lay", moves=moves)
    if take.reach is not None and not take.reach.is_whole:
        return say(f"{name}.part", bars=barwords.reached(take.piece, take.reach), moves=moves)
    return say(name, moves=moves)


def _advice_high(copy: Copy, canvas: Canvas) -> float:
    """How high the panel of advice is when each sentence has its room and no more."""
    return canvas.unit * (_ADVICE_ENDS + max(_ADVICE_LEAST, _ADVICE_EACH * len(copy.advice)))


def lay_advice(copy: Copy, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    """What to do next, each with a button, and the ways on; the panel is as high as it has something to say."""
    u = canvas.unit
    rect = Rect(rect.left, rect.top, rect.width, min(rect.height, round(_advice_high(copy, canvas))))
    canvas.panel("advice.ground", rect, "faint", "rule", 0.6)
    inner = rect.inflate(-round(1.4 * u), -round(0.9 * u))
    head, body, foot = layout.rows(inner, [round(1.3 * u), 0, round(1.75 * u)], round(0.15 * u))
    canvas.words("advice.head", head, say("copy.advice"), style=fonts.ITALIC, size=1.0, colour="graphite")
    places = layout.rows(body, [0] * max(1, len(copy.advice)), round(0.2 * u))
    for at, (place, one) in enumerate(zip(places, copy.advice, strict=False)):
        wide = controls.button_width(say("copy.play"), str(at + 1))
        button = Rect(place.right - wide, place.centery - round(0.85 * u), wide, round(1.7 * u))
        words = Rect(place.left, place.top, place.width - wide - round(0.7 * u), place.height)
        canvas.words(f"advice.{at}", words, one.words, size=1.02, lines=3, least=0.78)
        _go_button(copy, controls, button, at)
    _lay_ways(copy, canvas, controls, foot)


def order_advice(copy: Copy, controls: Controls) -> None:
    """The keys of the advice and of the ways on, where their buttons are not shown."""
    for at in range(len(copy.advice)):
        controls.order(f"follow.{at}", str(at + 1), partial(copy.follow, at))
    for name, key, act in _ways(copy):
        controls.order(name, key, act)


def _ways(copy: Copy) -> list[tuple[str, str, Action]]:
    ways: list[tuple[str, str, Action]] = [
        ("copy.again", "space", copy.again), ("copy.desk", "escape", partial(copy.house.go, "desk")),
    ]  # fmt: skip
    return [*ways, ("copy.verse", "v", copy.next_verse)] if len(copy.verses) > 1 else ways


def _go_button(copy: Copy, controls: Controls, rect: Rect, at: int) -> None:
    controls.button(f"follow.{at}", rect, say("copy.play"), partial(copy.follow, at), key=str(at + 1), main=at == 0)


def _lay_ways(copy: Copy, canvas: Canvas, controls: Controls, rect: Rect) -> None:
    u = canvas.unit
    x = rect.left
    for name, key, act in _ways(copy):
        label = say(name) if name != "copy.verse" else say(name, number=copy.verses[copy.verse - 1])
        wide = controls.button_width(label, key, _WAYS) - round(0.6 * u)
        if x + wide > rect.right:
            controls.order(name, key, act)
            continue
        controls.button(name, Rect(x, rect.top, wide, rect.height), label, act, key=key, size=_WAYS)
        x += wide + round(0.4 * u)


def _tally(
    canvas: Canvas, rect: Rect, head: str, counted: list[tuple[str, int]], causes: tuple[str, ...] = (), sign: int = 0
) -> None:
    """A heading and, under it, words with bars as long as their count; before a cause stands its mark on the page."""
    u = canvas.unit
    top = Rect(rect.left, rect.top, rect.width, round(_TALLY_HEAD * u))
    canvas.words(f"tally.{head}", top, head, style=fonts.ITALIC, size=1.0, colour="graphite")
    under = rect.height - top.height
    row = int(max(_TALLY_ROW[0] * u, min(_TALLY_ROW[1] * u, under / max(1, len(counted)))))
    room = max(1, under // row)
    if len(counted) > room:
        # What there is no room for is not kept back: the last line counts it.
        rest = sum(count for _, count in counted[room - 1 :])
        counted, causes = [*counted[: room - 1], (say("copy.others"), rest)], causes[: room - 1]
    most = max((count for _, count in counted), default=1)
    before = round(legend.WIDE * u) if causes else 0
    label_wide = min(
        round(rect.width * 0.6),
        max((canvas.width(word, fonts.ROMAN, 1.0) for word, _ in counted), default=0) + 6,
    )
    for at, (word, count) in enumerate(counted):
        line = Rect(rect.left + before, top.bottom + row * at, rect.width - before, row)
        if at < len(causes):
            legend.lay(canvas, f"tally.mark.{at}", Rect(rect.left, line.top, before, row), causes[at], sign)
        canvas.words(f"tally.{head}.{at}", Rect(line.left, line.top, label_wide, row), word, least=0.75)
        bar_room = line.width - label_wide - round(2.0 * u)
        long = max(3, round(bar_room * count / most))
        bar = Rect(
            line.left + label_wide + round(0.4 * u), line.centery - round(0.28 * u), long, max(3, round(0.56 * u))
        )
        canvas.fill(f"tally.{head}.{at}.bar", bar, "blue", GROUND)
        after = Rect(bar.right + round(0.35 * u), line.top, round(1.4 * u), row)
        canvas.words(f"tally.{head}.{at}.count", after, str(count), colour="graphite")
