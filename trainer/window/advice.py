"""Three things to do next, in order of weight, each ready to be started. Pure: a finished take in, wishes out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from trainer.following import marks
from trainer.following.words import distance, leading
from trainer.music.keys import MAX_ACCIDENTALS
from trainer.music.piece import BOTH, LEFT, RIGHT
from trainer.music.pitch import MusicError
from trainer.music.transpose import Transposition, plan
from trainer.session import A_TEMPO
from trainer.window import barwords
from trainer.window.finished import Finished
from trainer.window.practice import Wish
from trainer.window.strings import key_name, say

MOST = 3
# A bar or two that hold at least so many slips, and at least this share of all, are worth playing alone (ours).
_CLUSTER, _CLUSTER_SHARE = 2, 0.25
# One hand holding this share of the slips is worth playing alone.
_ONE_HAND = 0.7
_CLEAN = 0.95
# Right presses below which a take says too little to be advised on (ours).
_ENOUGH = 4
_UNSTEADY = 0.88
# Hands apart so often, and at this share of the places where both strike, are worth a word (ours).
_APART, _APART_SHARE = 4, 0.25
# Notes of one hand displaced alike that are worth a word: a run, by its definition.
_RUN = 3
# Notes of one cause that are more than chance, and by cause what they weigh each (ours).
_OFTEN = 3
_OFTEN_WEIGHTS = {marks.STEP: 1.0, marks.BRUSHED: 0.9, marks.MISSED: 0.9}
# Seconds the middle of a take may lie from the click before that is what to practise (ours).
_OFF_CLICK_S = 0.15
# Going back so often is a habit (ours).
_BACK = 2


@dataclass(frozen=True)
class Advice:
    """One sentence, what its button says to play, and how much it matters.

    Parameters
    ----------
    pattern : str
        A kind of pattern to play in the target key first, instead of the wish's piece; empty for none.
    """

    words: str
    wish: Wish
    weight: float
    pattern: str = ""


def often(count: int) -> str:
    """How often, in words: once, twice, 3 times."""
    return say(("copy.once", "copy.twice")[count - 1]) if count <= 2 else say("copy.often", count=count)


def slips(take: Finished) -> list[tuple[int, str]]:
    """Every slip as (note, cause), notes left out included; presses that belong to no note are not among them."""
    found = [
        (mark.note, mark.cause) for mark in take.settled.marks if mark.note is not None and mark.cause != marks.RIGHT
    ]
    return found + [(note, marks.MISSED) for note in take.settled.missed]


def unplaced(take: Finished) -> int:
    """Slips that belong to no note: keys that are not in the piece."""
    return sum(mark.note is None and mark.cause != marks.RIGHT for mark in take.settled.marks)


def advise(take: Finished, letters: str) -> list[Advice]:
    """At most three pieces of advice, the weightiest first; never none."""
    found = sorted(_all(take, letters), key=lambda one: -one.weight)
    return found[:MOST]


def _all(take: Finished, letters: str) -> Iterator[Advice]:
    wish = take.wish
    if take.settled.shift:
        five = "" if take.settled.shift % 12 == 0 else "pentascale"
        yield Advice(of_all(take.settled.findings, take.plan, letters), wish, 1.0, pattern=five)
        return
    if take.right < _ENOUGH:
        yield Advice(say("advice.too-little"), wish, 1.0)
        return
    wrong = slips(take)
    accuracy = take.right / max(1, len(take.settled.marks) + len(take.settled.missed))
    yield from _cluster(take, wish, wrong)
    yield from _hand(take, wish, wrong)
    causes = Counter(cause for _, cause in wrong)
    forgotten = causes[marks.SIGNATURE]
    if forgotten >= 2:
        # C major and A minor have no signature that could be forgotten.
        which = "advice.signature" if take.plan.target.signature else "advice.signature.none"
        keys = {"key": key_name(take.plan.target, letters), "written": key_name(take.plan.written, letters)}
        words = say(which, often=often(forgotten), **keys)
        yield Advice(words, wish, 1.4 * forgotten, pattern="pentascale")
    slower = replace(wish.stepped_tempo(-4), mode=A_TEMPO)
    for cause, weight in _OFTEN_WEIGHTS.items():
        if causes[cause] >= _OFTEN:
            yield Advice(say(f"advice.{cause}", count=causes[cause]), slower, weight * causes[cause])
    yield from _displaced(take, wish)
    yield from _back(take, wish)
    if causes[marks.AS_WRITTEN] >= 2:
        yield Advice(say("advice.as-written", count=causes[marks.AS_WRITTEN]), slower, 1.2 * causes[marks.AS_WRITTEN])
    steady = take.timing.steadiness
    waits = len(take.timing.hesitations)
    if (steady is not None and steady < _UNSTEADY) or waits >= 2:
        pulse = take.timing.pulse_bpm or wish.tempo
        timed = replace(replace(wish, tempo=pulse).stepped_tempo(-2), mode=A_TEMPO)
        yield Advice(say("advice.slower", tempo=f"{timed.tempo:.0f}"), timed, 1.0 + waits)
    apart, met = len(take.timing.hands_apart), take.timing.hands_met
    if apart >= _APART and apart >= _APART_SHARE * met:
        hand = leading(take.timing)
        places = say("advice.places.all" if apart == met else "advice.places", count=apart, met=met)
        yield Advice(say(f"advice.apart.{hand or 'either'}", count=places), slower, 0.3 * apart)
    off = take.timing.against_click_s or 0.0
    if abs(off) >= _OFF_CLICK_S:
        early, seconds = off < 0, f"{abs(off):.1f}"
        timed = wish if early else wish.stepped_tempo(-2)
        words = say(f"advice.click.{'early' if early else 'late'}", seconds=seconds, tempo=f"{timed.tempo:.0f}")
        yield Advice(words, timed, 2.5)
    if not take.is_most and take.reach is not None:
        # However clean a part is, it says nothing of the rest.
        part = say("advice.whole", bars=barwords.reached(take.piece, take.reach))
        yield Advice(part if take.reach.share else say("advice.both"), wish, 2.0)
    elif accuracy >= _CLEAN:
        onward = _next_key(take)
        if onward is not None:
            words = say("advice.next", key=key_name(onward.target, letters))
            yield Advice(words, replace(wish, plan=onward), 2.0)
    yield from _always(take, wish, accuracy)


def of_all(findings: Sequence[marks.Finding], wished: Transposition, letters: str) -> str:
    """What to do where the whole take lies in another octave or key, as nothing else matters then; else empty."""
    shift, target = marks.shift_of(findings), wished.target
    if not shift:
        return ""
    if shift % 12 == 0:
        count, way = abs(shift) // 12, "high" if shift > 0 else "low"
        return say("advice.octave.one" if count == 1 else "advice.octave", count=count, way=way)
    played = plan(target, f"{shift:+d}").target
    if any(one.kind == marks.PIANO_TRANSPOSES for one in findings):
        name = "advice.transposes"
    elif shift == -wished.interval.semitones:
        name, played = "advice.all-written", wished.written
    else:
        name = "advice.other-key"
    keys = {"key": key_name(played, letters), "target": key_name(target, letters)}
    return say(name, semitones=f"{shift:+d}", **keys)


def _always(take: Finished, wish: Wish, accuracy: float) -> Iterator[Advice]:
    """What can be done after any take."""
    pulse = take.timing.pulse_bpm or wish.tempo
    if wish.mode != A_TEMPO:
        timed = replace(replace(wish, tempo=pulse).stepped_tempo(0), mode=A_TEMPO)
        yield Advice(say("advice.in-time", tempo=f"{timed.tempo:.0f}"), timed, 0.8)
    elif accuracy >= _CLEAN and take.is_most and abs(take.timing.against_click_s or 0.0) < _OFF_CLICK_S:
        faster = wish.stepped_tempo(2)
        yield Advice(say("advice.faster", tempo=f"{faster.tempo:.0f}"), faster, 1.5)
    yield Advice(say("advice.again"), wish, 0.5)
    if take.hands == BOTH and len(take.piece.hands) == 2:
        yield Advice(say("advice.left"), replace(wish, hands=LEFT), 0.4)
    slower = wish.stepped_tempo(-4)
    yield Advice(say("advice.calmer", tempo=f"{slower.tempo:.0f}"), replace(slower, mode=A_TEMPO), 0.3)


def _cluster(take: Finished, wish: Wish, wrong: list[tuple[int, str]]) -> Iterator[Advice]:
    piece = take.piece
    by_bar = Counter(piece.bar_index(piece.notes[note].onset) for note, _ in wrong)
    if not by_bar or len(piece.bars) < 3:
        return
    first = max(range(len(piece.bars) - 1), key=lambda bar: (by_bar[bar] + by_bar[bar + 1], by_bar[bar]))
    last = first + 1
    if not by_bar[last]:
        last = first
    elif not by_bar[first]:
        first = last
    total = len(wrong) + unplaced(take)
    count = by_bar[first] + (by_bar[last] if last != first else 0)
    if count < max(_CLUSTER, _CLUSTER_SHARE * total):
        return
    here = [note for note, _ in wrong if first <= piece.bar_index(piece.notes[note].onset) <= last]
    hands = {piece.notes[note].hand for note in here}
    hand = hands.pop() if len(hands) == 1 and len(piece.hands) > 1 else take.hands
    where = barwords.bars(piece, first, last)
    words = say(
        f"advice.{'most' if 2 * count > total else 'some'}{'.bar' if first == last else '.bars'}",
        where=where[0].upper() + where[1:], count=count, all=total, hand=say(f"hand.alone.{hand}"),
    )  # fmt: skip
    yield Advice(words, replace(wish, loop=(first, last), hands=hand), 1.5 * count)


def _hand(take: Finished, wish: Wish, wrong: list[tuple[int, str]]) -> Iterator[Advice]:
    if take.hands != BOTH or len(take.piece.hands) < 2 or len(wrong) < 3:
        return
    by_hand = Counter(take.piece.notes[note].hand for note, _ in wrong)
    hand, count = by_hand.most_common(1)[0]
    total = len(wrong) + unplaced(take)
    if count >= _ONE_HAND * total and hand in (LEFT, RIGHT):
        words = say("advice.hand", hand=say(f"hand.{hand}"), count=count, all=total)
        yield Advice(words, replace(wish, hands=hand), 0.9 * count)


def _displaced(take: Finished, wish: Wish) -> Iterator[Advice]:
    piece = take.piece
    lay = Counter(
        (piece.notes[mark.note].hand, mark.offset)
        for mark in take.settled.marks
        if mark.note is not None and mark.cause == marks.DISPLACED
    )
    for (hand, offset), count in lay.most_common(1):
        if count >= _RUN:
            away = {"distance": distance(offset), "way": "high" if offset > 0 else "low"}
            words = say("advice.displaced", hand=say(f"hand.{hand}"), count=count, **away)
            yield Advice(words, replace(wish, hands=hand), 1.2 * count, pattern="pentascale")


def _back(take: Finished, wish: Wish) -> Iterator[Advice]:
    """Going back, which every note right does not undo: who plays for others goes on."""
    piece = take.piece
    left = Counter(
        piece.bar_index(piece.notes[move.origin].onset) for move in take.settled.moves if move.kind == marks.WENT_BACK
    )
    count = left.total()
    if count < _BACK:
        return
    bar, here = left.most_common(1)[0]
    first, last = max(0, bar - 1), min(len(piece.bars) - 1, bar + 1)
    if here < max(_BACK, count / 2) or last - first + 1 == len(piece.bars):
        yield Advice(say("advice.back", often=often(count)), wish, 1.1 * count)
        return
    where, across = barwords.bar_of(piece, bar), barwords.bars(piece, first, last)
    yield Advice(say("advice.back.bar", often=often(here), where=where, bars=across), replace(wish, loop=(first, last)),
                 1.1 * count)  # fmt: skip


def _next_key(take: Finished) -> Transposition | None:
    """One step further from the written key round the circle of fifths, the way the player already went."""
    written, target = take.piece.key, take.plan.target
    way = -1 if target.signature < written.signature else 1
    signature = target.signature + way
    if abs(signature) > MAX_ACCIDENTALS - 1:
        signature += -12 * way
    try:
        return plan(written, type(target).from_signature(signature, target.full_mode).short)
    except MusicError:
        return None
