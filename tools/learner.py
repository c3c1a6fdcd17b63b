"""A seeded learner at the piano: plays any piece in any key with labelled slips, timing and moves.

The truth of a take is known because it was made: for every press the note it was meant for and the cause, and every
going back, skipping and waiting. Rates stand in `Profile`; the three `LEVELS` follow the shares named for beginners to
good players (slips in a quarter to a twentieth of the notes). All chance comes from one seed.

    python tools/learner.py PIECE --to KEY --level beginner --seed 1 --out take.mid
"""

from __future__ import annotations

import argparse
import math
import random
import sys
from collections.abc import Iterable
from copy import copy
from dataclasses import dataclass, field, replace
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tools.slips import slip
from trainer.following import marks as m
from trainer.listening.press import Press
from trainer.music.piece import BOTH, LEFT, RIGHT, Piece


@dataclass(frozen=True)
class Profile:
    """How a learner plays. Rates are per note (slips) or per moment (moves) unless said otherwise."""

    slips: float = 0.12  # share of notes struck wrong
    causes: tuple[tuple[str, float], ...] = (
        (m.AS_WRITTEN, 0.24), (m.SIGNATURE, 0.24), (m.STEP, 0.2), (m.ACCIDENTAL, 0.12), (m.OCTAVE, 0.07),
        (m.WRONG, 0.13),
    )  # fmt: skip
    missed: float = 0.02
    extra: float = 0.01
    repeated: float = 0.012
    brushed: float = 0.012
    corrects: float = 0.45  # of slips, those put right at once
    fumbles: float = 0.25  # of corrections, those that take more wrong tries first
    displaced: float = 0.006  # a run begins, per moment
    back: float = 0.012
    skip: float = 0.004
    pause: float = 0.6  # of moves, those with a wait before them
    hesitates: float = 0.02
    wait: tuple[float, float] = (0.6, 3.5)  # seconds
    speed: float = 0.75  # of the written tempo
    drift: float = 0.04  # tempo wander per moment
    jitter: float = 0.06  # share of a gap
    hands_apart: float = 0.02  # seconds, spread
    chord_apart: float = 0.012
    hands: str = BOTH
    start: float = 0.0  # where to begin and end, as parts of the piece
    stop: float = 1.0
    shift: int = 0  # whole take moved by semitones (other octave, wrong key, the piano's own transpose)


BEGINNER = Profile(slips=0.2, missed=0.03, extra=0.02, repeated=0.025, brushed=0.02, displaced=0.012, back=0.025,
                   skip=0.007, hesitates=0.05, speed=0.5, drift=0.07, jitter=0.14, hands_apart=0.04,
                   chord_apart=0.03)  # fmt: skip
INTERMEDIATE = Profile()
GOOD = Profile(slips=0.045, missed=0.01, extra=0.004, repeated=0.004, brushed=0.006, displaced=0.002, back=0.003,
               skip=0.001, hesitates=0.006, speed=0.95, drift=0.02, jitter=0.04)  # fmt: skip
# Seconds before a key struck can be struck again: grand actions repeat up to some fifteen times a second (common
# knowledge among technicians, no source).
RISES_S = 0.05
LEVELS = {"beginner": BEGINNER, "intermediate": INTERMEDIATE, "good": GOOD}
CLEAN = Profile(slips=0, missed=0, extra=0, repeated=0, brushed=0, displaced=0, back=0, skip=0, hesitates=0)


@dataclass(frozen=True)
class Truth:
    """What a press was: the note it was meant for (None: no note) and its cause."""

    note: int | None
    cause: str


@dataclass(frozen=True)
class Moved:
    """A move as it was made: kind, the first press after it, last note before and first note after."""

    kind: str
    press: int
    origin: int
    goal: int


@dataclass(frozen=True)
class Take:
    """Presses in time order and the truth of each."""

    presses: tuple[Press, ...]
    truth: tuple[Truth, ...]
    moves: tuple[Moved, ...] = ()


@dataclass
class Struck:
    """A key as it was struck: seconds, MIDI number, the note it was meant for, its cause."""

    at: float
    pitch: int
    note: int | None
    cause: str
    velocity: int = 64


@dataclass
class _Playing:
    """The hand of the simulator: its clock and what it has struck."""

    struck: list[Struck] = field(default_factory=list)
    moves: list[tuple[str, float, int, int]] = field(default_factory=list)
    at: float = 0.0
    tempo: float = 1.0
    wander: float = 0.0
    run: int = 0
    run_shift: int = 0
    run_hands: tuple[str, ...] = ()
    last: int = -1


def simulate(written: Piece, expected: Piece, profile: Profile | str = "intermediate", seed: int = 0) -> Take:
    """One take of a learner.

    Parameters
    ----------
    written, expected : Piece
        The page, and the same notes in the key to be played.
    profile : Profile or str
        A profile, or one of the names of `LEVELS`.
    seed : int
        The same seed gives the same take.
    """
    who = LEVELS[profile] if isinstance(profile, str) else profile
    learner = Learner(written, expected, who, random.Random(f"{seed}/{written.title}/{len(written.notes)}"))
    while learner.playing_on:
        learner.go_on()
    return learner.take


class Learner:
    """A learner in the middle of a piece, who plays it moment by moment."""

    def __init__(self, written: Piece, expected: Piece, who: Profile, chance: random.Random) -> None:
        self.written, self.expected, self.who, self.chance = written, expected, who, chance
        self.at = int(who.start * len(expected.moments))
        self.end = max(self.at + 1, round(who.stop * len(expected.moments)))
        self.playing = _Playing(tempo=60.0 / (expected.tempo * who.speed))
        self.just_moved = 3
        self.begun = False

    def twin(self, chance: random.Random) -> Learner:
        """One who has come to the same place in the same way, has struck nothing yet, and goes on by other chances."""
        twin = copy(self)
        twin.chance = chance
        twin.playing = replace(self.playing, struck=[], moves=[])
        return twin

    @property
    def playing_on(self) -> bool:
        return self.at < self.end

    @property
    def take(self) -> Take:
        return _take(self.playing, self.who)

    @property
    def struck(self) -> list[Struck]:
        """What has been struck so far, in the learner's own time, which does not begin with the take."""
        return possible(sorted(self.playing.struck, key=lambda one: one.at))

    def go_on(self, who: Profile | None = None) -> bool:
        """Play one moment, perhaps after a move; whether there was one. `who` moves as another does, this once."""
        chance, playing, moments = self.chance, self.playing, self.expected.moments
        moves = self.just_moved >= 3 and playing.last >= 0
        goal = _move(self.expected, self.at, self.end, who or self.who, chance, playing) if moves else None
        who = self.who
        if goal is not None:
            self.at, self.just_moved = goal
        elif chance.random() < who.hesitates and self.begun:
            playing.at += chance.uniform(*who.wait)
        self.just_moved += 1
        _displace(self.written, self.expected, who, chance, playing)
        notes = struck_keys(self.expected, moments[self.at].notes, who.hands)
        if notes:
            _strike_moment(self.written, self.expected, notes, who, chance, playing)
        self.begun = self.begun or bool(playing.struck)
        if self.at + 1 < len(moments):
            gap = float(moments[self.at + 1].onset - moments[self.at].onset) * playing.tempo
            playing.wander = 0.95 * playing.wander + chance.gauss(0.0, who.drift)
            playing.at += gap * math.exp(playing.wander) * max(0.3, 1.0 + chance.gauss(0.0, who.jitter))
        self.at += 1
        return goal is not None


def struck_keys(piece: Piece, notes: Iterable[int], hands: str = BOTH) -> list[int]:
    """The notes of a moment that take a key each: two voices on one key are one press."""
    found: dict[tuple[int, bool], int] = {}
    for number in notes:
        note = piece.notes[number]
        if hands in (BOTH, note.hand):
            found.setdefault((note.midi, note.grace), number)
    return list(found.values())


def _take(playing: _Playing, who: Profile) -> Take:
    struck = possible(sorted(playing.struck, key=lambda one: one.at))
    start = struck[0].at - 0.5 if struck else 0.0
    presses = tuple(Press(round(s.at - start, 4), min(max(s.pitch + who.shift, 0), 127), s.velocity) for s in struck)
    truth = tuple(Truth(s.note, s.cause) for s in struck)
    moves = []
    for kind, at, origin, goal in playing.moves:
        first = next((i for i, s in enumerate(struck) if s.at >= at - 0.001 and s.note is not None), None)
        if first is not None:
            moves.append(Moved(kind, first, origin, goal))
    return Take(presses, truth, tuple(moves))


def possible(struck: list[Struck]) -> list[Struck]:
    """What a keyboard can tell: a key that is down is not struck again at once; the right press of the two stays."""
    kept: list[Struck] = []
    for one in struck:
        down = (at for at in range(len(kept) - 1, max(len(kept) - 13, -1), -1) if kept[at].pitch == one.pitch)
        twin = next((at for at in down if one.at - kept[at].at < RISES_S), None)
        if twin is None:
            kept.append(one)
        elif one.cause == m.RIGHT != kept[twin].cause:
            kept[twin] = replace(one, at=kept[twin].at)
    return kept


def _move(
    piece: Piece, at: int, end: int, who: Profile, chance: random.Random, playing: _Playing
) -> tuple[int, int] | None:
    """Where to go instead of on, with the count of moments since a move (0); None to go on."""
    draw = chance.random()
    if draw >= who.back + who.skip:
        return None
    back = draw < who.back
    beat = piece.bar_at(piece.moments[at].onset).beat_quarters
    beats = chance.randint(1, 8)
    aim = piece.moments[at].onset + beat * (-beats if back else min(beats, 6))
    starts = range(at) if back else range(at + 2, end)
    near = [i for i in starts if abs(piece.moments[i].onset - aim) <= beat]
    near = [i for i in near if _heard(piece, i, who)]
    if not near:
        return None
    goal = min(near, key=lambda i: (abs(piece.moments[i].onset - aim), i))
    if chance.random() < who.pause:
        playing.at += chance.uniform(*who.wait)
    playing.moves.append(
        (m.WENT_BACK if back else m.SKIPPED, playing.at - 0.09, playing.last, piece.moments[goal].notes[0])
    )
    playing.run = 0
    return goal, 0


def _heard(piece: Piece, moment: int, who: Profile) -> bool:
    return any(who.hands in (BOTH, piece.notes[n].hand) for n in piece.moments[moment].notes)


def _displace(written: Piece, expected: Piece, who: Profile, chance: random.Random, playing: _Playing) -> None:
    """Begin, carry on or end a run of one or both hands at a constant interval."""
    if playing.run:
        playing.run -= 1
        return
    playing.run_shift = 0
    if chance.random() < who.displaced:
        playing.run = chance.randint(3, 9)
        playing.run_shift = chance.choice([-5, -4, -3, -2, -2, -1, -1, 1, 1, 2, 2, 3, 4, 5, 12, -12])
        playing.run_hands = chance.choice([(RIGHT,), (LEFT,), (RIGHT, LEFT)])


def _strike_moment(
    written: Piece, expected: Piece, notes: list[int], who: Profile, chance: random.Random, playing: _Playing
) -> None:
    """All notes of a moment; corrections hold up what follows."""
    hand_at = {hand: playing.at + abs(chance.gauss(0.0, who.hands_apart)) for hand in (RIGHT, LEFT)}
    latest = playing.at
    for note in notes:
        there = expected.notes[note]
        if chance.random() < (0.5 if there.optional or there.grace else who.missed):
            continue
        at = hand_at[there.hand] - (0.09 if there.grace else 0.0) + abs(chance.gauss(0.0, who.chord_apart))
        latest = max(latest, _strike(written, expected, note, at, who, chance, playing))
        playing.last = note
    if chance.random() < who.extra:
        near = expected.notes[chance.choice(notes)].midi
        gap = chance.uniform(0.05, 0.25) * playing.tempo
        away = chance.choice([d for d in range(-14, 15) if abs(d) > 2])
        playing.struck.append(Struck(latest + gap, near + away, None, m.EXTRA, 50))
    if latest > playing.at + 0.15:
        playing.at = latest


def _strike(
    written: Piece, expected: Piece, note: int, at: float, who: Profile, chance: random.Random, playing: _Playing
) -> float:
    """One note with all that may go wrong; the time of the last press."""
    pitch = expected.notes[note].midi
    add = playing.struck.append
    velocity = min(127, max(20, round(chance.gauss(64, 10))))
    if playing.run and playing.run_shift and expected.notes[note].hand in playing.run_hands:
        away = playing.run_shift
        cause = m.AS_WRITTEN if written.notes[note].midi == pitch + away else m.DISPLACED
        add(Struck(at, pitch + away, note, cause, velocity))
        return at
    if chance.random() < who.slips:
        cause, wrong = slip(written, expected, note, who.causes, chance)
        add(Struck(at, wrong, note, cause, velocity))
        if chance.random() >= who.corrects:
            return at
        while chance.random() < who.fumbles:
            at += chance.uniform(0.25, 0.8)
            cause, wrong = slip(written, expected, note, who.causes, chance)
            add(Struck(at, wrong, note, cause, velocity))
        at += chance.uniform(0.25, 1.0)
    add(Struck(at, pitch, note, m.RIGHT, velocity))
    if chance.random() < who.brushed:
        white = [d for d in (-2, -1, 1, 2) if abs(d) == 1 or (pitch + d) % 12 in (0, 2, 4, 5, 7, 9, 11)]
        add(Struck(max(at + chance.uniform(-0.03, 0.055), 0.0), pitch + chance.choice(white), note, m.BRUSHED, 30))
    if chance.random() < who.repeated:
        at += chance.uniform(0.15, 0.6)
        add(Struck(at, pitch, note, m.REPEATED, velocity))
    return at


def write_midi(take: Take, path: str | Path) -> None:
    """Write a take as a Standard MIDI File, 480 ticks a quarter at 120 quarters a minute."""
    import mido

    ticks = 960.0
    events: list[tuple[float, int, mido.Message]] = []
    for i, press in enumerate(take.presses):
        again = next((p.at for p in take.presses[i + 1 : i + 40] if p.pitch == press.pitch), press.at + 0.4)
        release = min(press.at + 0.3, again - 0.002)
        events.append((press.at, 1, mido.Message("note_on", note=press.pitch, velocity=press.velocity)))
        events.append((max(release, press.at + 0.001), 0, mido.Message("note_off", note=press.pitch)))
    events.sort(key=lambda e: (e[0], e[1]))
    track = mido.MidiTrack()
    now = 0
    for at, _, message in events:
        tick = round(at * ticks)
        track.append(message.copy(time=tick - now))
        now = tick
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(track)
    file.save(str(path))


def main(argv: list[str] | None = None) -> int:
    from trainer.music.transpose import plan, transposed
    from trainer.scores import reading
    from trainer.scores.shelf import library

    parser = argparse.ArgumentParser(description="Make a learner's take of a piece.")
    parser.add_argument("piece")
    parser.add_argument("--to", required=True, metavar="KEY")
    parser.add_argument("--level", choices=sorted(LEVELS), default="intermediate")
    parser.add_argument("--hands", choices=(BOTH, RIGHT, LEFT), default=BOTH)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--out", required=True, metavar="TAKE.mid")
    args = parser.parse_args(argv)
    written = reading.read(library.find(args.piece))
    expected = transposed(written, plan(written.key, args.to).interval)
    take = simulate(written, expected, replace(LEVELS[args.level], hands=args.hands), args.seed)
    write_midi(take, args.out)
    slips = sum(t.cause != m.RIGHT for t in take.truth)
    print(f"{args.out}: {len(take.presses)} presses, {slips} of them slips, {len(take.moves)} moves.")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
