"""Advice on time: waiting, wavering, hurrying, another rhythm, hands apart, the click."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from trainer.following.rhythm import drift_in, not_kept
from trainer.following.words import leading
from trainer.session import A_TEMPO
from trainer.window import barwords
from trainer.window.copy.advised import Advice, often, slower
from trainer.window.copy.finished import Finished
from trainer.window.strings import say

_UNSTEADY = 0.88
# Waits that are worth a word, and the share of the bars from which on they are no matter of single places (ours).
_WAITS, _MANY_WAITS, _WAITED_BARS = 2, 4, 0.25
# Hands apart so often, and at this share of the places where both strike, are worth a word (ours).
_APART, _APART_SHARE = 4, 0.25
# Seconds from which on one wait alone is no breath but a place that stopped the music (ours).
_LONG_WAIT_S = 3.0
# Seconds the middle of a take may lie from the click before that is what to practise (ours).
_OFF_CLICK_S = 0.15
# The part of that which waits or a quicker pulse explain where it is them that are to be told (ours).
_CAUSED = 0.5
# Moments in another bar than the click that are no chance (ours).
_ELSEWHERE = 4


def of_pulse(take: Finished) -> Iterator[Advice]:
    """What was amiss with the time of a take: as long as there is anything, it is not to be taken further."""
    wish, timing = take.wish, take.timing
    waits = timing.hesitations
    waited = len(waits) >= _WAITS or any(wait.beyond >= _LONG_WAIT_S for wait in waits)
    if waited:
        yield _waited(take)
    rhythm = not_kept(take.piece, take.presses, take.settled.marks)
    calm = slower(take)
    if rhythm is not None and calm.mode == A_TEMPO:
        kind, proportion = rhythm
        name = f"advice.{kind}.{'long' if proportion > 1 else 'short'}" if kind == "even" else f"advice.{kind}"
        yield Advice(say(name, tempo=f"{calm.tempo:.0f}"), calm, 2.3)
    went = drift_in(take.piece, timing.bars)
    if went is not None:
        first, last = went
        calm = replace(wish, tempo=min(first, last), mode=A_TEMPO).stepped_tempo(0)
        way = "up" if last > first else "down"
        words = say(f"advice.drift.{way}", first=f"{first:.0f}", last=f"{last:.0f}", tempo=f"{calm.tempo:.0f}")
        yield Advice(words, calm, 2.4)
    elif rhythm is None and timing.steadiness is not None and timing.steadiness < _UNSTEADY:
        pulse = timing.pulse_bpm or wish.tempo
        timed = replace(replace(wish, tempo=pulse).stepped_tempo(-2), mode=A_TEMPO)
        if timed.tempo < pulse:
            yield Advice(say("advice.slower", tempo=f"{timed.tempo:.0f}"), timed, 1.0)
    off = timing.against_click_s or 0.0
    if timing.elsewhere >= _ELSEWHERE:
        # Who was elsewhere is neither early nor late: that is said, and nothing else of the click.
        timed = wish.stepped_tempo(-2)
        name = "advice.click.elsewhere" if timing.against_click_s is None else "advice.click.partly"
        yield Advice(say(name, tempo=f"{timed.tempo:.0f}"), timed, 2.5)
    elif abs(off) >= _OFF_CLICK_S and not (waited and sum(wait.beyond for wait in waits) >= _CAUSED * off > 0):
        early, seconds = off < 0, f"{abs(off):.1f}"
        timed = wish if early else wish.stepped_tempo(-2)
        name = "ahead" if early and _hurried(take, off) else "early" if early else "late"
        words = say(f"advice.click.{name}", seconds=seconds, tempo=f"{timed.tempo:.0f}")
        yield Advice(words, timed, 2.5)


def _hurried(take: Finished, off: float) -> bool:
    """Whether most of what a take lay before the click was gained on the way: it did not come in too early."""
    pulse = take.timing.pulse_bpm or take.wish.tempo
    gained_half_way = (pulse / take.wish.tempo - 1) * take.seconds / 2
    return gained_half_way >= _CAUSED * -off


def _waited(take: Finished) -> Advice:
    """Waiting all over is a tempo too quick to read on in; a few times it is a place to play across."""
    piece, timing = take.piece, take.timing
    waits = timing.hesitations
    played = len({bar for bar, _ in timing.bars})
    if len(waits) >= max(_MANY_WAITS, _WAITED_BARS * played) and timing.pulse_bpm is not None and take.seconds > 0:
        lost = sum(wait.beyond for wait in waits)
        tempo = timing.pulse_bpm * max(0.5, 1.0 - lost / take.seconds)
        timed = replace(take.wish, tempo=tempo, mode=A_TEMPO).stepped_tempo(0)
        if timed.tempo < timing.pulse_bpm:
            words = say("advice.waits", often=often(len(waits)), tempo=f"{timed.tempo:.0f}")
            return Advice(words, timed, 1.0 + len(waits))
    longest = max(waits, key=lambda wait: wait.beyond)
    bar = piece.bar_index(piece.notes[longest.note].onset)
    first = max(0, bar - 1)
    at_bar = piece.notes[longest.note].onset == piece.bars[bar].onset
    words = say(
        f"advice.{'wait' if len(waits) == 1 else 'waits'}.{'bar' if at_bar else 'within'}",
        often=often(len(waits)),
        seconds=f"{longest.beyond:.0f}",
        where=barwords.bar_of(piece, bar),
        bars=barwords.bars(piece, first, bar),
    )
    return Advice(words, replace(take.wish, loop=(first, bar)), 1.0 + len(waits))


def of_hands(take: Finished) -> Iterator[Advice]:
    """Hands that did not strike together."""
    apart, met = len(take.timing.hands_apart), take.timing.hands_met
    if apart >= _APART and apart >= _APART_SHARE * met:
        hand = leading(take.timing)
        places = say("advice.places.all" if apart == met else "advice.places", count=apart, met=met)
        yield Advice(say(f"advice.apart.{hand or 'either'}", count=places), slower(take), 0.3 * apart)
