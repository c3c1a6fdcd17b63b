"""What the Singer's pages have in common: their names, the instruments, a key in short, a share of one as a line."""

from __future__ import annotations

from pygame import Rect

from trainer.coaching.singers.choirs import CHOIR
from trainer.coaching.singers.instruments import INSTRUMENTS
from trainer.coaching.singers.voices import VOICES
from trainer.music.keys import Key
from trainer.music.pitch import SpelledPitch
from trainer.window.paint import fonts
from trainer.window.paint.canvas import GROUND, Canvas
from trainer.window.paint.canvas import RIGHT as AT_RIGHT
from trainer.window.paint.theme import hexed
from trainer.window.strings import letter_name

KEYS, SET_LIST, WARM_UP, PART = "keys", "setlist", "warmup", "part"
PAGES = (KEYS, SET_LIST, WARM_UP, PART)
# Those whose part does not say what sounds, first; the others follow as they stand in the table.
PLAYERS = sorted(INSTRUMENTS, key=lambda one: one.sounds.fifths == 0)
_LETTERS = {0: "C", 1: "C#", 2: "D", 3: "Eb", 4: "E", 5: "F", 6: "F#", 7: "G", 8: "Ab", 9: "A", 10: "Bb", 11: "B"}


def pitch_of(midi: int) -> SpelledPitch:
    """A key of the piano as a pitch, spelled as singers' ranges usually are."""
    return SpelledPitch.parse(f"{_LETTERS[midi % 12]}{midi // 12 - 1}")


def short_key(key: Key, letters: str) -> str:
    name = letter_name(key.tonic, letters)
    return name[0].lower() + name[1:] if key.is_minor else name


def lay_share(canvas: Canvas, name: str, rect: Rect, share: float) -> None:
    """A share of one as a line on a rule, its figure after it; rounded as `keyfarer suit` rounds it."""
    u = canvas.unit
    figure = canvas.width("100", fonts.ROMAN, 0.92) + round(0.3 * u)
    long = rect.width - figure - round(0.4 * u)
    high = max(4, round(0.42 * u))
    line = Rect(rect.left, rect.centery - high // 2, long, high)
    rule, ink = hexed(canvas.colour("rule")), hexed(canvas.colour("ink"))
    body = (
        f'<path d="M0 {high / 2}H{long}" stroke="{rule}" stroke-width="1.2"/>'
        f'<path d="M0 {high / 2}H{max(1.0, long * share):.1f}" stroke="{ink}" stroke-width="{high * 0.8:.1f}"/>'
    )
    canvas.shape(name, line, body, GROUND)
    place = Rect(rect.right - figure, rect.top, figure, rect.height)
    canvas.words(f"{name}.figure", place, f"{100 * round(share, 2):.0f}", size=0.92, colour="graphite", align=AT_RIGHT)


def voice_named(name: str) -> bool:
    """Whether a name is a voice type's, or a choir's."""
    return name.casefold() in [CHOIR, *(kind.name for kind in VOICES)]
