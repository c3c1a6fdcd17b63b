"""Three things to do next, in order of weight, each ready to be started. Pure: a finished take in, wishes out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice, takewhile

from trainer.following import marks
from trainer.following.stretches import Stretch, doubled, gone_past, stretches
from trainer.following.words import distance
from trainer.music.keys import MAX_ACCIDENTALS
from trainer.music.piece import BOTH, LEFT
from trainer.music.pitch import MusicError
from trainer.music.transpose import Transposition, by_semitones, plan
from trainer.session import A_TEMPO
from trainer.window import barwords
from trainer.window.copy.advised import OFTEN, Advice, often, slower
from trainer.window.copy.finished import Finished, in_earnest
from trainer.window.copy.keywise import of_same, of_signs
from trainer.window.copy.pacing import of_hands, of_pulse
from trainer.window.copy.takenfor import added, wrong_alike
from trainer.window.strings import key_name, say
from trainer.window.wish import Wish

MOST = 3
# A bar or two that hold at least so many slips, and at least this share of all, are worth playing alone (ours).
_CLUSTER, _CLUSTER_SHARE = 2, 0.25
# One hand holding this share of the slips is worth playing alone.
_ONE_HAND = 0.7
_CLEAN = 0.95
# Right presses, and their share, below which a take says too little to be advised on (ours).
_ENOUGH, _ENOUGH_SHARE = 4, 1 / 3
# Notes of one hand displaced alike that are worth a word: a run, by its definition.
_RUN = 3
# Notes of one cause that are more than chance weigh each, by cause (ours).
_OFTEN_WEIGHTS = {marks.STEP: 1.0, marks.BRUSHED: 0.9, marks.REPEATED: 0.8, marks.OCTAVE: 0.7}
# Causes that have advice of their own, and the share of a hand's slips from which on one of them tells enough (ours).
_TOLD = (marks.SIGNATURE, marks.ACCIDENTAL, marks.AS_WRITTEN, marks.DISPLACED, marks.MISSED, *_OFTEN_WEIGHTS)
_ONE_CAUSE = 0.8
# Notes from which on a hand was simplified rather than a note missed here and there (ours).
_DROPPED = 12
# Going back so often is a habit (ours).
_BACK = 2
# Bars that are a part of the form rather than a place one stumbled at, and how far from in time a repeat may begin.
_REPEATED, _IN_TIME = 4, 1.25
# Times the pulse of a take without a click that a click for it may have: metronome steps lie so far apart (ours).
_AS_FAST = 1.1
# Bars after the one a skip left that are played across.
_ACROSS = 5


def slips(take: Finished) -> list[tuple[int, str]]:
    """Every slip as (note, cause), notes left out included; presses that belong to no note are not among them.

    Where the whole take lay elsewhere that is said once, and is no slip at every note.
    """
    settled = take.settled
    found = [
        (mark.note, mark.cause)
        for mark in settled.counted
        if mark.note is not None and mark.cause != marks.RIGHT and not settled.is_of_all(mark)
    ]
    return found + [(note, marks.MISSED) for note in settled.missed]


def unplaced(take: Finished) -> int:
    """Slips that belong to no note: keys that are not in the piece."""
    return sum(mark.note is None and mark.cause != marks.RIGHT for mark in take.settled.counted)


def advise(take: Finished, letters: str) -> list[Advice]:
    """At most three pieces of advice, the weightiest first; never none."""
    found = sorted(_all(in_earnest(take), letters), key=lambda one: -one.weight)
    return found[:MOST]


def _all(take: Finished, letters: str) -> Iterator[Advice]:
    wish = take.wish
    if take.settled.shift:
        five = "" if take.settled.shift % 12 == 0 else "pentascale"
        yield Advice(of_all(take.settled.findings, take.plan, letters), wish, 1.0, pattern=five)
        return
    counted = len(take.settled.marks) + len(take.settled.missed)
    runs = stretches(take.piece, take.settled)
    if not runs and take.right < max(_ENOUGH, _ENOUGH_SHARE * counted):
        yield Advice(say("advice.too-little"), wish, 1.0)
        return
    wrong = slips(take)
    # Going on within a bar is a matter of the notes left out.
    past = [one for one in gone_past(take.piece, take.settled) if len(set(_bars_of(take, one[0]))) > 1]
    # What is one thing is said once, and is no matter of two bars, of a hand, of notes left out.
    said = {note for _, notes in past for note in notes}.union(*(run.notes for run in runs))
    more = added(take)
    rest = [(note, marks.WRONG if note in more else cause) for note, cause in wrong if note not in said]
    yield from _stretches(take, wish, runs, letters)
    yield from _skipped(take, wish, past)
    yield from _cluster(take, wish, rest)
    yield from _lone(take, wish, rest)
    yield from _causes(take, wish, rest, letters)
    yield from _displaced(take, wish, runs)
    back = list(_back(take, wish))
    yield from back
    hand = list(_hand(take, wish, rest, max(wrong_alike(take, rest, letters).values(), default=0)))
    yield from hand
    left_out = [note for note, cause in rest if cause == marks.MISSED]
    if len(left_out) >= OFTEN and not hand:
        yield Advice(say("advice.missed", count=len(left_out)), slower(take), 0.9 * len(left_out))
    in_time = [*of_pulse(take), *of_hands(take)]
    yield from in_time
    amiss = [*back, *in_time]
    rolled = len(take.timing.rolled)
    if rolled >= OFTEN:
        yield Advice(say("advice.rolled", count=rolled), slower(take), 0.2 * rolled)
    accuracy = take.right / max(1, counted)
    if take.reach is not None and not take.is_whole:
        # However clean a part is, it says nothing of the rest.
        part = say("advice.whole", bars=barwords.reached(take.piece, take.reach))
        silent = say("advice.both") if take.hands == BOTH else say("advice.asked", hand=say(f"hand.{take.hands}"))
        yield Advice(part if take.reach.share else silent, wish, 2.0)
    elif accuracy >= _CLEAN and not amiss:
        onward = _next_key(take)
        if onward is not None:
            words = say("advice.next", key=key_name(onward.target, letters))
            yield Advice(words, replace(wish, plan=onward), 2.0)
    yield from _always(take, wish, accuracy, amiss)


def _causes(take: Finished, wish: Wish, rest: list[tuple[int, str]], letters: str) -> Iterator[Advice]:
    """What was done again and again, wherever it was."""
    causes = Counter(cause for _, cause in rest)
    keys = {"key": key_name(take.plan.target, letters), "written": key_name(take.plan.written, letters)}
    yield from of_signs(take, wish, rest, letters)
    if causes[marks.ACCIDENTAL] >= 2:
        words = say("advice.accidental", often=often(causes[marks.ACCIDENTAL]), **keys)
        yield Advice(words, slower(take), 1.4 * causes[marks.ACCIDENTAL])
    if causes[marks.AS_WRITTEN] >= 2:
        count = causes[marks.AS_WRITTEN]
        yield Advice(say("advice.as-written", count=count), slower(take), 1.2 * count)
    for cause, weight in _OFTEN_WEIGHTS.items():
        if causes[cause] >= OFTEN:
            name = "octave-off" if cause == marks.OCTAVE else cause
            yield Advice(say(f"advice.{name}", count=causes[cause]), slower(take), weight * causes[cause])
    yield from of_same(take, wish, rest, letters)
    twice = len(doubled(take.presses, take.settled))
    nowhere = unplaced(take) - twice
    if twice >= OFTEN:
        yield Advice(say("advice.doubled", count=twice), wish, 0.8 * twice)
    if nowhere >= OFTEN:
        yield Advice(say("advice.extra", count=nowhere), slower(take), 0.8 * nowhere)


def _stretches(take: Finished, wish: Wish, runs: Sequence[Stretch], letters: str) -> Iterator[Advice]:
    """Bars that lay in another key, or one hand of them as written; a hand displaced is told by itself."""
    piece = take.piece
    told = [run for run in runs if run.cause == marks.AS_WRITTEN or (run.hand == BOTH and run.cause != marks.STEP)]
    for run in sorted(told, key=lambda one: -len(one.presses))[:1]:
        ends = (min(run.notes), max(run.notes))
        first, last = (piece.bar_index(piece.notes[end].onset) for end in ends)
        count, where = len(run.presses), barwords.bars(piece, first, last)
        there = where[0].upper() + where[1:]
        if run.cause == marks.AS_WRITTEN:
            one = run.hand != BOTH and take.hands == BOTH and len(piece.hands) > 1
            several = "both" if last > first and piece.bars[first].number else "bar"
            name, hands = f"advice.stretch.written.{'one' if one else several}", run.hand if one else take.hands
            words = say(name, where=there, bars=where, count=count, hand=say(f"hand.{run.hand}"))
            yield Advice(words, replace(slower(take), loop=(first, last), hands=hands), 1.6 * count)
        else:
            played = by_semitones(take.plan.target, run.offset).target
            name = "advice.stretch.octave" if run.offset % 12 == 0 else "advice.stretch.key"
            # What began elsewhere changed where it came home.
            begun = piece.moment_of[ends[0]] == 0
            change = last if begun else first
            across = (max(0, change - 1), min(change + 1, len(piece.bars) - 1))
            words = say(name, where=there, key=key_name(played, letters), bars=barwords.bars(piece, *across))
            yield Advice(words, replace(wish, loop=across), 1.6 * count)


def _skipped(take: Finished, wish: Wish, past: Sequence[tuple[marks.Move, tuple[int, ...]]]) -> Iterator[Advice]:
    """Going on further ahead, which is no leaving out of notes."""
    piece = take.piece
    for move, notes in sorted(past, key=lambda one: -len(one[1]))[:1]:
        came, went = _bars_of(take, move)
        if len(notes) >= OFTEN:
            loop = (came, min(went, came + _ACROSS))
            where = {"origin": barwords.bar_of(piece, came), "goal": barwords.bar_of(piece, went)}
            words = say("advice.skipped", bars=barwords.bars(piece, *loop), **where)
            yield Advice(words, replace(wish, loop=loop), 1.0 * len(notes))


def _bars_of(take: Finished, move: marks.Move) -> tuple[int, int]:
    """The bars a move left and came to."""
    came, went = (take.piece.bar_index(take.piece.notes[note].onset) for note in (move.origin, move.goal))
    return came, went


def of_all(findings: Sequence[marks.Finding], wished: Transposition, letters: str) -> str:
    """What to do where the whole take lies in another octave or key, as nothing else matters then; else empty."""
    shift, target = marks.shift_of(findings), wished.target
    if not shift:
        return ""
    if shift % 12 == 0:
        count, way = abs(shift) // 12, "high" if shift > 0 else "low"
        return say("advice.octave.one" if count == 1 else "advice.octave", count=count, way=way)
    played = by_semitones(target, shift).target
    if shift == -2 * wished.interval.semitones:
        # A piano is hardly ever set to just twice the interval: the other way was taken.
        name = "advice.other-way.up" if shift < 0 else "advice.other-way.down"
    elif any(one.kind == marks.PIANO_TRANSPOSES for one in findings):
        name = "advice.transposes"
    elif shift == -wished.interval.semitones:
        name, played = "advice.all-written", wished.written
    else:
        name = "advice.other-key"
    keys = {"key": key_name(played, letters), "target": key_name(target, letters)}
    return say(name, semitones=f"{shift:+d}", **keys)


def _always(take: Finished, wish: Wish, accuracy: float, amiss: list[Advice]) -> Iterator[Advice]:
    """What can be done after any take."""
    pulse = take.timing.pulse_bpm or wish.tempo
    offered = any(one.wish.mode == A_TEMPO for one in amiss)
    if wish.mode != A_TEMPO:
        # Who hurried is not asked to do so with a click; and the slowest click may be far quicker than it was played.
        timed = replace(replace(wish, tempo=min(pulse, wish.tempo)).stepped_tempo(0), mode=A_TEMPO)
        if not offered and timed.tempo <= _AS_FAST * pulse:
            offered = True
            yield Advice(say("advice.in-time", tempo=f"{timed.tempo:.0f}"), timed, 0.8)
    elif accuracy >= _CLEAN and take.is_whole and not amiss:
        faster = wish.stepped_tempo(2)
        yield Advice(say("advice.faster", tempo=f"{faster.tempo:.0f}"), faster, 1.5)
    yield Advice(say("advice.again"), wish, 0.5)
    if take.hands == BOTH and len(take.piece.hands) == 2:
        yield Advice(say("advice.left"), replace(wish, hands=LEFT), 0.4)
    calm = slower(take)
    # In time is asked for once.
    if calm.mode == A_TEMPO and (wish.mode == A_TEMPO or not offered):
        yield Advice(say("advice.calmer", tempo=f"{calm.tempo:.0f}"), calm, 0.3)


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
    total = len(slips(take)) + unplaced(take)
    count = by_bar[first] + (by_bar[last] if last != first else 0)
    if count < max(_CLUSTER, _CLUSTER_SHARE * total):
        return
    here = [note for note, _ in wrong if first <= piece.bar_index(piece.notes[note].onset) <= last]
    hands = {piece.notes[note].hand for note in here}
    hand = hands.pop() if len(hands) == 1 and len(piece.hands) > 1 else take.hands
    if (first, last, hand) == (*(take.loop or (-1, -1)), take.hands):
        # That is what was played just now.
        return
    where = barwords.bars(piece, first, last)
    whole = "both" if total == _CLUSTER else "all"
    share = whole if count == total else "most" if 2 * count > total else "some"
    words = say(
        f"advice.{share}{'.bar' if first == last else '.bars'}",
        where=where, count=count, all=total, hand=say(f"hand.alone.{hand}"),
    )  # fmt: skip
    yield Advice(words, replace(wish, loop=(first, last), hands=hand), 1.5 * count)


def _lone(take: Finished, wish: Wish, wrong: list[tuple[int, str]]) -> Iterator[Advice]:
    """The only slip of a take: whoever plays the piece once more should not wait for it in vain."""
    piece = take.piece
    if len(wrong) != 1 or len(slips(take)) + unplaced(take) != 1 or take.loop is not None:
        return
    bar = piece.bar_index(piece.notes[wrong[0][0]].onset)
    first, last = max(0, bar - 1), min(len(piece.bars) - 1, bar + 1)
    if last - first + 1 < len(piece.bars):
        where, across = barwords.bar_of(piece, bar), barwords.bars(piece, first, last)
        yield Advice(say("advice.lone", where=where, bars=across), replace(wish, loop=(first, last)), 0.9)


def _hand(take: Finished, wish: Wish, wrong: list[tuple[int, str]], alike: int) -> Iterator[Advice]:
    """One hand that held most of the slips, unless why it did says more; `alike` of them are one note taken wrongly."""
    silent = take.reach is not None and not take.reach.share
    if take.hands != BOTH or len(take.piece.hands) < 2 or len(wrong) < 3 or silent:
        return
    by_hand = Counter(take.piece.notes[note].hand for note, _ in wrong)
    hand, count = by_hand.most_common(1)[0]
    total = len(slips(take)) + unplaced(take)
    if count < _ONE_HAND * total:
        return
    cause, most = Counter(cause for note, cause in wrong if take.piece.notes[note].hand == hand).most_common(1)[0]
    if most >= _ONE_CAUSE * count and cause == marks.MISSED and most >= _DROPPED:
        words = say("advice.hand.missed", hand=say(f"hand.{hand}"), count=most)
    elif (most >= _ONE_CAUSE * count and cause in _TOLD) or alike >= _ONE_CAUSE * count:
        return
    else:
        share = "advice.hand.all" if count == total else "advice.hand"
        words = say(share, hand=say(f"hand.{hand}"), count=count, all=total)
    yield Advice(words, replace(wish, hands=hand), 0.9 * count)


def _displaced(take: Finished, wish: Wish, runs: Sequence[Stretch]) -> Iterator[Advice]:
    """One hand that lay off its keys, in long runs and short ones; where both did, the music lay in another key."""
    piece = take.piece
    said = {note for run in runs for note in run.notes}
    lay = Counter(
        (piece.notes[mark.note].hand, distance(mark.offset), mark.offset > 0)
        for mark in take.settled.marks
        if mark.note is not None and mark.note not in said and mark.cause == marks.DISPLACED
    )
    for run in runs:
        far = say("advice.displaced.step") if run.cause == marks.STEP else distance(run.offset)
        for hand in {piece.notes[note].hand for note in run.notes} if run.cause == marks.STEP else {run.hand} - {BOTH}:
            if run.cause != marks.AS_WRITTEN:
                lay[hand, far, run.offset > 0] += sum(piece.notes[note].hand == hand for note in run.notes)
    for (hand, far, high), count in lay.most_common(1):
        if count >= _RUN:
            away = {"distance": far, "way": "high" if high else "low"}
            words = say("advice.displaced", hand=say(f"hand.{hand}"), count=count, **away)
            yield Advice(words, replace(wish, hands=hand), 1.2 * count, pattern="pentascale")


def _back(take: Finished, wish: Wish) -> Iterator[Advice]:
    """Going back, which every note right does not undo: who plays for others goes on."""
    piece = take.piece
    left = Counter(
        piece.bar_index(piece.notes[move.origin].onset)
        for move in take.settled.moves
        if move.kind == marks.WENT_BACK and not _meant_again(take, move)
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


def _meant_again(take: Finished, move: marks.Move) -> bool:
    """Whether going back is no stumble: the piece from its end once more, or bars repeated without losing the time."""
    piece, pulse = take.piece, take.timing.pulse_bpm
    origin, goal = piece.notes[move.origin], piece.notes[move.goal]
    came, went = _bars_of(take, move)
    bar = piece.bars[came]
    within = takewhile(lambda note: note.onset < bar.onset + bar.length, islice(piece.notes, move.origin + 1, None))
    ends_bar = not any(note.hand == origin.hand and note.onset > origin.onset for note in within)
    if ends_bar and came == len(piece.bars) - 1:
        return True
    before = piece.moments[max(piece.moment_of[move.goal] - 1, 0)].onset
    begins_bar = not piece.bars[went].onset <= before < goal.onset
    if pulse is None or not ends_bar or not begins_bar or came - went + 1 < _REPEATED:
        return False
    due = float((bar.onset + bar.length - origin.onset) / bar.beat_quarters) * 60.0 / pulse
    return 1 / _IN_TIME < move.seconds / due < _IN_TIME


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
