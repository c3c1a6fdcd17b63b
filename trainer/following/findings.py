"""What is true of a whole take: another octave, another key, a piano that transposes by itself, one hand alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from trainer.following.ground import Ground
from trainer.following.marks import ONE_HAND, OTHER_KEY, OTHER_OCTAVE, PIANO_TRANSPOSES, Finding, shift_of
from trainer.following.story import HIT, Step
from trainer.following.texts import in_key
from trainer.listening.press import Press
from trainer.music.piece import Piece
from trainer.music.transpose import plan

# Our own thresholds, no source: presses needed to speak of a whole take, and the share that must agree.
ENOUGH = 8
SHARE = 0.75
MOSTLY = 0.5  # and of all presses since the first of them
FIRST_NOTES = 8  # presses at the start that, all but one, lie at the interval when the piano's transpose is on


def whole_shift(steps: Sequence[Step]) -> int:
    """The interval in semitones at which (nearly) the whole take lies from the notes asked for; 0 when at none."""
    hits = [step for step in steps if step.note >= 0 and step.kind == HIT]
    if len(hits) < ENOUGH:
        return 0
    shift, count = Counter(step.shift for step in hits).most_common(1)[0]
    # Other music fits here and there as well.
    since = next(at for at, step in enumerate(steps) if step.kind == HIT and step.shift == shift)
    return shift if count >= max(SHARE * len(hits), MOSTLY * (len(steps) - since)) else 0


def key_shift(found: Iterable[Finding]) -> int:
    """Semitones to the key in which a take that lay elsewhere as a whole was meant.

    In another octave, or on a piano that moves what is played, that is the key asked for.
    """
    found = tuple(found)
    shift = shift_of(found)
    return 0 if shift % 12 == 0 or any(one.kind == PIANO_TRANSPOSES for one in found) else shift


def meant(expected: Piece, found: Iterable[Finding]) -> Piece:
    """What the keys of a take were meant to be: in another key the piece in that key."""
    shift = key_shift(found)
    return in_key(expected, shift) if shift else expected


def findings(ground: Ground, presses: Sequence[Press], steps: Sequence[Step]) -> tuple[Finding, ...]:
    """All that is true of the whole take, the likeliest explanation first."""
    found: list[Finding] = []
    shift = whole_shift(steps)
    if shift % 12 == 0 and shift:
        count = abs(shift) // 12
        octaves = "an octave" if count == 1 else f"{count} octaves"
        way = "higher" if shift > 0 else "lower"
        found.append(Finding(OTHER_OCTAVE, f"All of it was played {octaves} {way} than asked for.", shift))
    elif shift:
        found += _other_key(ground, presses, steps, shift)
    found += _one_hand(ground, steps)
    return tuple(found)


def _other_key(ground: Ground, presses: Sequence[Press], steps: Sequence[Step], shift: int) -> list[Finding]:
    """A whole take in another key, and whether the piano's own transpose explains it.

    A piano that transposes moves every key alike from the first note on, and nobody plays as written by setting it;
    so a take as written, or one whose first notes waver (one slip among them is none), was played so by hand.
    Otherwise both are told: what was heard alone cannot settle it. Who went the interval the other way from the page is
    told so.
    """
    target = ground.expected.key
    played = plan(target, f"{shift:+d}").target
    if shift == ground.shift:
        words = f"All of it was played as written, in {played.words}; the key to play in is {target.words}."
        return [Finding(OTHER_KEY, words, shift)]
    far = "a semitone" if abs(shift) == 1 else f"{abs(shift)} semitones"
    size = f"{far} {'above' if shift > 0 else 'below'}"
    words = f"All of it was played in {played.words}, {size} {target.words}."
    turned = ""
    if shift == 2 * ground.shift:
        way, asked = ("up", "down") if shift > 0 else ("down", "up")
        turned = f" From the page it went as far {way} as it should have gone {asked}."
    opening = [step for step in steps if step.note >= 0][:FIRST_NOTES]
    away = Counter(presses[step.press].pitch - ground.pitch[step.note] for step in opening)
    if away[0] or away[shift] < len(opening) - 1:
        return [Finding(OTHER_KEY, words + turned, shift)]
    piano = (
        f"Every key has sounded {size} the one expected from the very first note: the piano's own transpose seems to "
        f"be on ({shift:+d}). Set it to 0 and play again."
    )
    return [Finding(PIANO_TRANSPOSES, piano + turned, shift), Finding(OTHER_KEY, words, shift)]


def only_hand(ground: Ground, steps: Sequence[Step]) -> int | None:
    """The one hand that played where the other was asked for, too, or alone, and has notes; None when it played.

    A few presses that were thought the other hand's do not make it play.
    """
    tied = [step.note for step in steps if step.note >= 0]
    if len(tied) < ENOUGH:
        return None
    played = Counter(ground.hand[note] for note in tied)
    low, high = ground.moment[min(tied)], ground.moment[max(tied)] + 1
    for hand, other in ((0, 1), (1, 0)):
        due = ground.skipped(other, low, high)
        if played[hand] >= 0.9 * len(tied) and due >= ENOUGH and played[other] < 0.1 * due:
            return hand
    return None


def _one_hand(ground: Ground, steps: Sequence[Step]) -> list[Finding]:
    hand = only_hand(ground, steps)
    if hand is None:
        return []
    played, other = (("right", "left"), ("left", "right"))[hand]
    words = f"Only the {played} hand played" + ("." if ground.asked[hand] else f", where the {other} was asked for.")
    return [Finding(ONE_HAND, words, 0)]
