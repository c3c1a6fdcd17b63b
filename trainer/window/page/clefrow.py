"""Reading by clef at the Stand: before each staff the clef and signature to imagine, and in words what changes."""

from __future__ import annotations

from pygame import Rect

from trainer.music.clefs import BASS, TREBLE, Clef, ClefReading, reading
from trainer.music.piece import LEFT, Piece
from trainer.music.transpose import Transposition
from trainer.scores.notation.clefs import clefs as written_clefs
from trainer.window.page.music import Score
from trainer.window.paint.canvas import Canvas
from trainer.window.paint.shapes import sign
from trainer.window.paint.signs import C_CLEF, F_CLEF, G_CLEF, TEXT_SIGNS
from trainer.window.paint.theme import hexed
from trainer.window.strings import say

_SIGNS = {"G": G_CLEF, "C": C_CLEF, "F": F_CLEF}
_WRITTEN = {"G": TREBLE, "F": BASS}
# Staff spaces: from the edge to the clef, from there to the signature, between its accidentals, and to the music.
_BEFORE, _CLEF, _STEP, _AFTER = 0.3, 3.3, 1.0, 0.5
# Places of a signature on the treble staff, in half spaces down from its top line; common practice, no source.
_SHARPS = (0, 3, -1, 2, 5, 1, 4)
_FLATS = (4, 1, 5, 2, 6, 3, 7)


def places(clef: Clef, signature: int) -> tuple[int, ...]:
    """Where the accidentals of a signature stand in a clef: half spaces down from the top line.

    The treble clef's row moves with the letters and folds back by an octave where it would leave the staff.

    >>> from trainer.music.clefs import ALTO, BASS, TENOR
    >>> places(BASS, 3), places(ALTO, -3), places(TENOR, 4)
    ((2, 5, 1), (5, 2, 6), (6, 2, 5, 1))
    """
    row = _SHARPS if signature > 0 else _FLATS
    moved = (clef.bottom.steps - TREBLE.bottom.steps) % 7
    # Two places down for the bass clef, one for the alto's, as E to G and to F; upward where that is nearer.
    down = moved if moved <= 4 else moved - 7
    lowest, highest = 8 if signature < 0 else 7, -1 if down >= 0 else 0
    found = []
    for place in row[: abs(signature)]:
        at = place + down
        found.append(at - 7 if at > lowest else at + 7 if at < highest else at)
    return tuple(found)


def homes(piece: Piece) -> tuple[list[str], ...]:
    """The written clef of each staff at the beginning of every bar, ``G`` or ``F``, as the engraver has it."""
    two = len(piece.hands) == 2 or len({note.staff for note in piece.notes}) == 2
    if not two:
        return (written_clefs(piece.bars, piece.notes, "F" if piece.hands == (LEFT,) else "G"),)
    upper = [note for note in piece.notes if note.staff == 1]
    lower = [note for note in piece.notes if note.staff != 1]
    return written_clefs(piece.bars, upper, "G"), written_clefs(piece.bars, lower, "F")


class Readings:
    """How to read each staff of a piece for a transposition."""

    def __init__(self, piece: Piece, move: Transposition) -> None:
        self.piece, self.move = piece, move
        self._homes = homes(piece)
        self._of = {name: reading(clef, move) for name, clef in _WRITTEN.items()}

    def at(self, staff: int, bar: int) -> ClefReading:
        """For a staff, counted from 0, in a bar."""
        return self._of[self._homes[min(staff, len(self._homes) - 1)][bar]]

    @property
    def short(self) -> tuple[str, str]:
        """The same where there is little room: the letters and which way they read, and the names of the clefs."""
        first = [self.at(staff, 0) for staff in range(len(self._homes))]
        how = first[0]
        changed = [
            say(f"stand.clef.short.{'higher' if by > 0 else 'lower'}.{abs(by)}", letters=", ".join(letters))
            for letters, by in how.groups
        ]
        return ", ".join(changed), ", ".join(dict.fromkeys(one.clef.name for one in first))

    @property
    def words(self) -> tuple[str, list[str]]:
        """What is changed before accidentals, and for each clef written at the beginning what to imagine."""
        first = [self.at(staff, 0) for staff in range(len(self._homes))]
        lines = [
            say("stand.clef.staff", written=how.written_clef.name, clef=_imagined(how)) for how in dict.fromkeys(first)
        ]
        return first[0].accidentals.rstrip("."), lines


def _imagined(how: ClefReading) -> str:
    name = say("stand.clef.name", name=how.clef.name)
    if not how.octaves:
        return name
    many = "octave" if abs(how.octaves) == 1 else "octaves"
    return say(f"stand.clef.{many}.{'higher' if how.octaves > 0 else 'lower'}", clef=name)


def gutter(move: Transposition, space: float) -> int:
    """Pixels before the music that clef and signature need."""
    return round((_BEFORE + _CLEF + abs(move.target.signature) * _STEP + _AFTER) * space)


def lay(canvas: Canvas, at: int, score: Score, corner: tuple[int, int], room: int, readings: Readings) -> None:
    """Lay the clefs to imagine before a system, each in line with its staff; `room` pixels are free there."""
    system = score.systems[at]
    bar = system.bars[0][0] if system.bars else 0
    tone, grey = hexed(canvas.colour("brass")), hexed(canvas.colour("rule"))
    for number, staff in enumerate(system.staves):
        how = readings.at(number, bar)
        space = system.space
        reach = 2.2 * space
        rect = Rect(corner[0] - room, round(corner[1] + staff.top - reach), room, round(4 * space + 2 * reach))
        top = corner[1] + staff.top - rect.top
        body = _staff(how, top, space, room - 0.8 * space, tone, grey)
        canvas.shape(f"clef.{at}.{number}", rect, body)


def _staff(how: ClefReading, top: float, space: float, right: float, tone: str, grey: str) -> str:
    body = "".join(
        f'<path d="M0 {top + line * space:.1f}H{right:.1f}" stroke="{grey}" stroke-width="1"/>' for line in range(5)
    )
    body += sign(_SIGNS[how.clef.sign], _BEFORE * space, top + (5 - how.clef.line) * space, space, tone)
    count = how.key.signature
    code = TEXT_SIGNS["♯" if count > 0 else "♭"]
    for step, place in enumerate(places(how.clef, count)):
        x = (_BEFORE + _CLEF + step * _STEP) * space
        body += sign(code, x, top + place * space / 2, space, tone)
    return body
