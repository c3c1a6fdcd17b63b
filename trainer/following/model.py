"""The numbers of the follower's model, one table. All are natural logarithms of probabilities unless said otherwise.

Where a line says *tuned*, the number was set on simulated takes (seeds and pieces other than the reported ones) by
``tools/bench.py follow``; results move little when such a number is halved or doubled.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log


@dataclass(frozen=True)
class Model:
    """Costs and rates of the follower.

    The path of a player is a hidden Markov process over (moment, displacement of each hand, notes already sounded).
    """

    right: float = log(0.9)  # a press that is right where the player is: nine in ten (tuned)
    slips: float = 0.08  # share of presses meant for a note but on another key, before this player is known (tuned)
    slips_learnt: float = 0.03  # weight of the last press in that share
    slips_least: float = 0.03  # and its bounds
    slips_most: float = 0.25
    again: float = log(0.013)  # a key struck again without need (tuned)
    again_learnt: float = 0.002  # weight of the last press in the share of such keys
    again_least: float = 0.005  # and its bounds
    again_most: float = 0.03
    again_at_once: float = -3.0  # and within one gesture, on top: no key rises so soon (tuned)
    again_soon: float = 0.5  # seconds within which a note is struck again without need (our guess)
    again_fades: float = 3.0  # cost (positive) of each second later, up to two (tuned)
    extra: float = log(0.012) - log(28.0)  # a press that answers nothing, any of some thirty keys (tuned)
    doubled: float = log(0.004)  # unless it is the octave of a key struck with it (tuned)
    brushed: float = log(0.01 / 4)  # a neighbouring key caught with the right one (tuned)
    brushed_first: float = log(0.13)  # the right key within that time after a slip on a neighbouring one (tuned)
    ornament: float = log(0.15)  # a key of a written ornament (tuned)
    quick: float = 0.25  # seconds, the longest wait between the keys of an ornament
    late: float = log(0.3)  # a note that comes after the next moment has begun: hands apart (tuned)
    corrected: float = log(0.4)  # after a wrong key the right one is found at once (tuned)
    notices: float = 0.12  # seconds before a slip can be noticed and corrected (our guess)
    too_quick: float = log(0.03)  # after a wrong key the right one sooner than that (tuned)
    fumbled: float = log(0.7)  # after a wrong key another wrong one for the same note, on top of `slip` (tuned)
    uncorrected: float = 0.15  # cost (positive) of going on after a wrong key (tuned)
    displace: float = log(0.008)  # a hand begins to play displaced (tuned)
    displace_start: float = log(0.06)  # or does so from the start: other octave, other key, transposing piano (tuned)
    one_hand: float = log(0.08)  # only one hand plays, each (tuned)
    wakes: float = log(0.04)  # a hand thought silent plays after all (tuned)
    displace_both: float = log(0.5)  # and both hands do so together (tuned)
    displace_too: float = log(0.3)  # the other hand joins the displacement of the first (tuned)
    replace: float = log(0.08)  # a displaced hand finds home again (tuned)
    jump: float = log(0.006)  # a jump without a pause before it (tuned)
    jump_at_once: float = log(0.0003)  # a jump within one gesture: hardly (our guess)
    jump_paused: float = log(0.12)  # a jump after a long pause (tuned)
    calm: float = 0.6  # who plays on and on makes one so much less likely, by the logarithm of the time (tuned)
    calm_presses: float = 150.0  # in presses
    broken_off: float = 0.6  # share of the cost of notes left out that a jump away from them bears (tuned)
    goal_back: float = log(0.7 / 16)  # a place up to eight beats back as the goal of a jump (tuned)
    goal_ahead: float = log(0.2 / 14)  # a place up to eight beats ahead (tuned)
    goal_fades: float = 0.6  # and so much less for each beat further (tuned)
    goal_phase: float = 0.4  # whole beats from where the player was about to go on: more, otherwise less (tuned)
    goal_start: float = log(0.008)  # the start of the piece, from far away (tuned)
    goal_begins: float = log(0.1)  # and where it begins while it has not been begun in earnest (tuned)
    begun: int = 12  # right presses, less those that are not, after which it has (ours)
    goal_mends: float = 1.0  # up to two beats back, a slip having been made: so much likelier (tuned)
    anew: float = 0.05  # share of slips in chords put right by striking all anew, before this player is known (tuned)
    anew_learnt: float = 0.3  # weight of the last such slip in that share (tuned)
    anew_most: float = 3.0  # the most that makes a jump to the very moment likelier (tuned)
    goal_anchor: float = log(0.15 * 0.7 / 24)  # a place near the one left by a far jump not yet proved (tuned)
    anchored: int = 16  # presses after which it is proved
    goal_first: float = log(0.014)  # a take that begins elsewhere than at the start, over all moments (tuned)
    goal_far: float = log(0.05)  # any other place, over all moments (tuned)
    goal_farther: float = 0.1  # and less so by the logarithm of its distance: of passages alike the nearest is meant
    missed: float = 0.03  # share of notes left out, before this player is known (tuned)
    missed_weight: float = 12.0  # how many notes that first guess is worth (tuned)
    missed_too: float = 1.2  # cost (positive) of one more note of a hand that has just left one out (tuned)
    dropped: int = 3  # for so many at once, at the most: then it has dropped out (our guess)
    owed_now: float = 0.8  # share of what a moment owes that counts when its time is up, for first verdicts (tuned)
    optional: float = 0.6  # cost (positive) of leaving out a note that may be left out (tuned)
    near: float = 0.05  # seconds: presses closer than this are one gesture (chord asynchrony of pianists stays
    # mostly under 50 ms: W. Goebl, Melody lead in piano performance, JASA 110 (2001), from memory)
    brush_window: float = 0.06  # seconds, from the vocabulary's definition of `brushed`
    together: float = 0.05  # seconds, spread of the notes of one moment (same source, same memory)
    together_least: float = -4.0  # and the least log weight of one that comes late (tuned)
    searched: float = 0.3  # seconds, at the least, before a note of a chord comes that had to be looked for (our guess)
    joins_late: float = 2.5  # cost (positive) of each second later, up to two (tuned)
    held_up: float = 0.15  # seconds after which a note put right or struck again holds up what follows (tuned)
    regardless: float = 3.0  # cost (positive) of going on in time all the same (tuned)
    stretch: float = 0.25  # spread of an inter-onset time as a share of the expected one (tuned)
    quickest: float = 4.0  # times the piece's own tempo; nobody plays faster, but hands that fall on the keys seem to
    field_below: float = 2.0  # a distant story stays at least this far below the near one (tuned)
    field_slip: float = -7.2  # what each slip right after a jump costs (tuned)
    field_slip_in: float = -3.3  # and a slip as its very first press, on top of the share of that slip (tuned)
    field_jump: float = -8.0  # only after a jump likelier than this (speed)
    field_slips: int = 4  # how many such slips are thought of
    field_steady: int = 12  # presses a displacement must last to be thought the whole take's
    field_misfit: float = -4.5  # what a press that does not fit costs a distant story (tuned)
    field_anew: float = 7.0  # how far below the likeliest a jump just made to where another story is may lie (tuned)
    field_memory: int = 10  # presses a distant story is believed without being told in full
    ways_apart: float = 6.0  # how far below the likeliest way of telling a distant story the others may lie (tuned)
    early: int = 8  # presses at the start of a take, when much is still possible
    plain: float = 3.5  # a press explained at less cost than this needs no slip looked for (distant stories)
    ahead: int = 6  # moments ahead that a press may reach without a jump
    behind: int = 4  # moments back that a late note may belong to


MODEL = Model()


@dataclass(frozen=True)
class Search:
    """How widely stories are looked for; wider is surer and slower (all tuned)."""

    width: int  # stories kept
    reach: float  # stories further than this below the best are dropped
    early_width: int  # the same two for the first presses of a take
    early_reach: float
    doubted: int  # so many of the best stories try slips
    fresh: float  # and only those within this of the best
    retold: int  # distant stories told in full for one press
    promote: float  # how far below the best story a distant one may lie to be told in full
    admit: float  # how far below the worst story kept one told in full may lie
    again: int  # presses heard again, at most, for one press
    ways: int  # ways in which a distant story is told on
    plain: float = 0.0  # a press that is right at less cost than this is not tried as a slip


# While the player plays, once the take has ended, and then for a short take.
LIVE = Search(9, 9.0, 14, 14.0, 4, 5.5, 3, 7.5, 6.0, 16, 2, 1.5)
ANEW = Search(40, 13.0, 60, 16.0, 20, 8.0, 8, 10.0, 3.0, 80, 3)
THOROUGH = Search(80, 16.0, 100, 18.0, 40, 11.0, 8, 10.0, 3.0, 80, 6)


SLIP_FAR = log(0.0005)


def _displacements() -> dict[int, float]:
    """Log share of each displacement: a step, a third, an octave, then the rest (tuned)."""
    share = {1: 0.11, 2: 0.11, 12: 0.09, 3: 0.04, 4: 0.03, 5: 0.025, 7: 0.02}
    return {d: log(share.get(abs(d), 0.012 if abs(d) < 12 else 0.002)) for d in range(-24, 25) if d}


DISPLACEMENTS = _displacements()
DISPLACED_AS_WRITTEN = log(0.3)
