"""Pictures of progress: the circle of keys, reading at sight, cost by key, causes over time.

Drawn with matplotlib's Agg and SVG writers, in the room's colours. Meaning never rests on colour: states have their own
hatching and their word, bands are drawn as bars, lines are labelled where they end.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median
from typing import TYPE_CHECKING, Any

from trainer.journal.bands import SURE
from trainer.journal.summary import Sight, monday, week_of
from trainer.music.keys import CIRCLE_MAJOR, CIRCLE_MINOR, Key

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Colours = Mapping[str, str]
DAY: Colours = {
    "paper": "#FAF6EC", "ink": "#1F1B16", "graphite": "#6B655C", "blue": "#2C5A8C", "brass": "#B07D2B",
    "rule": "#D9D1C0", "wash": "#F1E7CF",
}  # fmt: skip
FORMATS = ("png", "svg")
_DPI = 144
# So many kinds of slips have a line each.
_MOST_CAUSES = 6
# matplotlib brings both; STIX has the look of engraved music's text, DejaVu every sign.
FONTS = ("STIXGeneral", "DejaVu Serif")
# How much of a wedge's ring is filled, and how it is hatched, by the state of the key.
_FILL = {"new": (None, ""), "opening": (None, "...."), "holding": ("wash", ""), "free": ("wash", "////")}
_LEVEL_WORD = {"": "", "trichord": "three", "pentachord": "five", "hexachord": "six", "open": "open"}


@dataclass(frozen=True, slots=True)
class KeyLook:
    """One of the twenty-four keys as the circle shows it.

    Parameters
    ----------
    level : str
        The highest level that holds; empty: none yet.
    state : str
        Of the highest level touched: ``new``, ``opening``, ``holding`` or ``free``.
    due : date or None
        The earliest day a cell of this key is to be played again.
    per_minute : float or None
        Notes right a minute, lately.
    """

    key: str
    level: str = ""
    state: str = "new"
    due: date | None = None
    per_minute: float | None = None
    accuracy: float | None = None
    cost: tuple[float, float, float] | None = None


def circle(looks: Mapping[str, KeyLook], today: date, title: str, colours: Colours = DAY) -> Figure:
    """The circle of twenty-four keys, major outside, minor inside."""
    from matplotlib.patches import Circle, Wedge

    figure = _figure(8.0, 8.6, colours)
    axes: Axes = figure.add_axes((0.03, 0.09, 0.94, 0.875))
    axes.set_aspect("equal")
    axes.set_xlim(-1.06, 1.06)
    axes.set_ylim(-1.06, 1.06)
    axes.axis("off")
    for ring, keys, outer, inner in (("major", CIRCLE_MAJOR, 1.0, 0.67), ("minor", CIRCLE_MINOR, 0.66, 0.35)):
        for at, key in enumerate(keys):
            look = looks.get(key.short, KeyLook(key.short))
            angle = 90 - 30 * at
            face, hatch = _FILL[look.state]
            axes.add_patch(
                Wedge(
                    (0, 0),
                    outer,
                    angle - 14.6,
                    angle + 14.6,
                    width=outer - inner,
                    linewidth=0.8,
                    facecolor=colours[face] if face else colours["paper"],
                    edgecolor=colours["rule"],
                    hatch=hatch,
                )
            )
            x, y = (math.cos(math.radians(angle)), math.sin(math.radians(angle)))
            middle = (outer + inner) / 2
            size = 22 if ring == "major" else 16
            name = key.tonic.sign_name if ring == "major" else _lower(key)
            said = _LEVEL_WORD[look.level] or ("" if look.state == "new" else look.state)
            said += f" · {look.per_minute:.0f}" if look.per_minute else ""
            on_hatch = colours[face] if face and not hatch else colours["paper"]
            _text(axes, x * middle, y * middle + 0.028, name, size, colours["ink"], on_hatch, weight="bold")
            _text(axes, x * middle, y * middle - 0.062, said.removeprefix(" · "), 10, colours["graphite"], on_hatch)
            if look.due and look.due <= today:
                spot = (x * middle - 0.1, y * middle + 0.075)
                axes.add_patch(Circle(spot, 0.02, facecolor=colours["paper"], edgecolor=colours["blue"], lw=2.0))
    _text(axes, 0, 0.06, title, 15, colours["ink"], colours["paper"])
    due = sum(1 for look in looks.values() if look.due and look.due <= today)
    _text(axes, 0, -0.05, f"{due} keys due" if due != 1 else "1 key due", 12, colours["blue"], colours["paper"])
    _legend(figure, colours)
    return figure


def _lower(key: Key) -> str:
    return key.tonic.sign_name[0].lower() + key.tonic.sign_name[1:]


def _text(axes: Axes, x: float, y: float, said: str, size: float, colour: str, behind: str, **more: Any) -> None:
    """A word with enough ground behind it to be read on hatching."""
    halo = {"boxstyle": "round,pad=0.12", "facecolor": behind, "edgecolor": "none"} if said else None
    axes.text(x, y, said, fontsize=size, color=colour, bbox=halo, **{"ha": "center", "va": "center", **more})


def _legend(figure: Figure, colours: Colours) -> None:
    from matplotlib.patches import Rectangle

    x = 0.05
    for state in ("new", "opening", "holding", "free"):
        face, hatch = _FILL[state]
        box = Rectangle(
            (x, 0.047), 0.032, 0.024, facecolor=colours[face] if face else colours["paper"],
            edgecolor=colours["graphite"], linewidth=0.8, hatch=hatch, transform=figure.transFigure,
        )  # fmt: skip
        figure.add_artist(box)
        figure.text(x + 0.04, 0.059, state, fontsize=11, color=colours["graphite"], va="center")
        x += 0.14
    figure.text(x + 0.02, 0.059, "○", fontsize=13, color=colours["blue"], va="center", fontweight="bold")
    figure.text(x + 0.05, 0.059, "due", fontsize=11, color=colours["graphite"], va="center")
    line = "below each key: the level that holds (three, five, six notes, open), and notes right a minute"
    figure.text(0.05, 0.02, line, fontsize=10, color=colours["graphite"], va="center")


def sight(readings: Sequence[Sight], rungs: Mapping[str, float], colours: Colours = DAY) -> Figure:
    """Reading at sight over the weeks: each reading, the week's median, and how far reading reaches, with its band.

    Parameters
    ----------
    rungs : mapping
        Levels of difficulty by name, and the rating (logits) from which each is within reach.
    """
    figure = _figure(9.0, 6.4, colours)
    speed = figure.add_axes((0.14, 0.46, 0.79, 0.40))
    rating = figure.add_axes((0.14, 0.11, 0.79, 0.25))
    under = "notes right a minute; below, where about four notes in five come right, with its 95% band"
    _title(figure, "Reading at sight", under, colours)
    if not readings:
        return _empty(
            figure, (speed, rating), "Nothing read at sight yet: a two-minute test makes the first point.", colours
        )
    days = [reading.day for reading in readings]
    across = _across(days)
    speed.plot(across, [r.per_minute for r in readings], "o", color=colours["graphite"], ms=4, alpha=0.55, mew=0)
    weeks: dict[int, list[float]] = {}
    for reading in readings:
        weeks.setdefault(week_of(reading.day), []).append(reading.per_minute)
    middles = _across(monday(week) + timedelta(days=3) for week in sorted(weeks))
    speed.plot(middles, [median(weeks[week]) for week in sorted(weeks)], color=colours["ink"], lw=1.8)
    speed.set_ylim(bottom=0)
    ratings = [r.rating for r in readings]
    low = [r.rating - SURE * r.spread for r in readings]
    high = [r.rating + SURE * r.spread for r in readings]
    rating.fill_between(across, low, high, color=colours["wash"], lw=0)
    single = "o" if len(set(days)) == 1 else None
    rating.plot(across, ratings, color=colours["brass"], lw=1.8, marker=single)
    first = min(rungs.values())
    rating.set_ylim(min(first - 0.8, *low), max(first + 1.6, *high))
    bottom, top = rating.get_ylim()
    shown = {name: value for name, value in rungs.items() if bottom <= value <= top}
    rating.set_yticks(list(shown.values()), list(shown))
    for value in shown.values():
        rating.axhline(value, color=colours["rule"], lw=0.8, zorder=0)
    speed.set_ylabel("notes right a minute", color=colours["graphite"])
    margin = max(3, (days[-1] - days[0]).days // 30)
    for axes in (speed, rating):
        _plain(axes, colours)
        _dates(axes, days)
        axes.set_xlim(across[0] - margin, across[-1] + margin)
    return figure


def cost(looks: Mapping[str, KeyLook], colours: Colours = DAY) -> Figure:
    """Cost of transposing by target key, with its band, round the circle from C."""
    figure = _figure(9.0, 6.4, colours)
    axes = figure.add_axes((0.08, 0.11, 0.88, 0.76))
    _title(
        figure,
        "Cost of transposing",
        "time taken in the key over time taken in the written key; bars: 95% band",
        colours,
    )
    keys = [key for key in (*CIRCLE_MAJOR, *CIRCLE_MINOR) if key.short in looks and looks[key.short].cost is not None]
    if not keys:
        return _empty(
            figure, (axes,), "Play a piece in its written key too: then its cost in other keys can be told.", colours
        )
    for at, key in enumerate(keys):
        found = looks[key.short].cost
        assert found is not None
        value, low, high = found
        axes.plot([at, at], [low, min(high, 4.0)], color=colours["graphite"], lw=1.4)
        axes.plot([at], [value], "o" if not key.is_minor else "s", color=colours["ink"], ms=7)
        axes.annotate(
            f"{value:.2f}", (at, value), xytext=(7, 7), textcoords="offset points", va="center", fontsize=10,
            color=colours["graphite"],
        )  # fmt: skip
    axes.axhline(1.0, color=colours["brass"], lw=1.2)
    axes.set_xlim(-0.6, max(len(keys) - 0.2, 3))
    axes.set_xticks(range(len(keys)), [key.tonic.sign_name if not key.is_minor else _lower(key) for key in keys])
    axes.tick_params(axis="x", labelsize=14)
    axes.set_ylabel("times the written key's time", color=colours["graphite"])
    _plain(axes, colours)
    return figure


def causes(weeks: Mapping[date, Mapping[str, int]], words: Mapping[str, str], colours: Colours = DAY) -> Figure:
    """Slips of each kind in a hundred presses, week by week: one small line each, all on one scale."""
    figure = _figure(9.0, 6.4, colours)
    _title(
        figure, "Why notes went wrong", "slips of each kind in a hundred presses, by week; one scale for all", colours
    )
    totals: dict[str, int] = {}
    for counts in weeks.values():
        for cause, n in counts.items():
            if cause != "right":
                totals[cause] = totals.get(cause, 0) + n
    chosen = sorted(totals, key=lambda cause: (-totals[cause], cause))[:_MOST_CAUSES]
    if not chosen:
        return _empty(figure, (figure.add_axes((0.08, 0.11, 0.88, 0.76)),), "No slips yet: play something.", colours)
    days = sorted(weeks)
    across = _across(days)
    rates = {
        cause: [100 * weeks[day].get(cause, 0) / max(sum(weeks[day].values()), 1) for day in days] for cause in chosen
    }
    top = max(max(values) for values in rates.values()) * 1.1 or 1.0
    height = 0.78 / len(chosen)
    for at, cause in enumerate(chosen):
        axes = figure.add_axes((0.3, 0.87 - (at + 1) * height, 0.6, height * 0.82))
        axes.fill_between(across, rates[cause], color=colours["wash"], lw=0)
        axes.plot(across, rates[cause], color=colours["ink"], lw=1.4, marker="o" if len(days) < 3 else None)
        axes.set_ylim(-0.02 * top, top)
        axes.annotate(
            f"{rates[cause][-1]:.1f}", (across[-1], rates[cause][-1]), xytext=(6, 3), textcoords="offset points",
            va="center", fontsize=11, color=colours["blue"],
        )  # fmt: skip
        axes.text(-0.04, 0.4, words.get(cause, cause), transform=axes.transAxes, ha="right", va="center", fontsize=12,
                  color=colours["ink"])  # fmt: skip
        _plain(axes, colours)
        axes.set_yticks([])
        if at < len(chosen) - 1:
            axes.set_xticks([])
        else:
            _dates(axes, days)
    return figure


def _figure(width: float, height: float, colours: Colours) -> Figure:
    from matplotlib import rcParams
    from matplotlib.figure import Figure

    rcParams["font.family"] = list(FONTS)
    rcParams["hatch.color"] = colours["brass"]
    rcParams["hatch.linewidth"] = 0.6
    return Figure(figsize=(width, height), facecolor=colours["paper"])


def _title(figure: Figure, title: str, under: str, colours: Colours) -> None:
    figure.text(0.045, 0.955, title, fontsize=18, color=colours["ink"], va="center")
    figure.text(0.045, 0.912, under, fontsize=11, color=colours["graphite"], va="center", style="italic")


def _plain(axes: Axes, colours: Colours) -> None:
    axes.set_facecolor("none")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(colours["rule"])
    axes.tick_params(colors=colours["graphite"], length=0)


def _across(days: Iterable[date]) -> list[float]:
    """Where days stand on an axis of days."""
    from matplotlib.dates import date2num

    return [float(date2num(day)) for day in days]


def _dates(axes: Axes, days: Sequence[date]) -> None:
    """A few days are named one by one; many are left to matplotlib."""
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

    apart = sorted(set(days))
    if len(apart) <= 4:
        axes.set_xticks(_across(apart), [f"{day:%d %b %Y}" for day in apart])
        return
    locator = AutoDateLocator(maxticks=8)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))


def _empty(figure: Figure, all_axes: Sequence[Axes], said: str, colours: Colours) -> Figure:
    """A picture with nothing in it says what to do."""
    for axes in all_axes:
        axes.axis("off")
    figure.text(0.5, 0.5, said, fontsize=13, color=colours["graphite"], ha="center", va="center")
    return figure


def rendered(figure: Figure, form: str) -> bytes:
    """The picture as the bytes of a PNG or SVG file; the same figure gives the same bytes."""
    from matplotlib import rc_context

    out = io.BytesIO()
    kept = {"Date": None} if form == "svg" else {"Software": None}
    with rc_context({"svg.hashsalt": "keyfarer", "svg.fonttype": "path"}):
        figure.savefig(out, format=form, dpi=_DPI, facecolor=figure.get_facecolor(), metadata=kept)
    return out.getvalue()
