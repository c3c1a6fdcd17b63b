"""The beam: the likeliest stories of what the player has done so far, carried from press to press.

A story (`Line`) knows its place (the latest moment begun), how far each hand is displaced, which notes near the place
have sounded, when the place was begun and the tempo. Each press extends every story by what the press may have been:
the right key, a late or repeated one, a slip for a note, a key of an ornament, or nothing of the piece.
"""

from __future__ import annotations

from math import inf
from operator import attrgetter

from trainer.following.ground import Ground
from trainer.following.guessing import Guesser, score_of
from trainer.following.model import DISPLACED_AS_WRITTEN, DISPLACEMENTS, LIVE, MODEL, Search
from trainer.following.story import AGAIN, BRUSH, HIT, NEITHER, ORNAMENT, UNKNOWN, Guess, Line, Step, tempo_after


class Beam(Guesser):
    """The stories and how a press extends them."""

    def __init__(self, ground: Ground, tempo: float, search: Search = LIVE) -> None:
        super().__init__(ground, search)
        self.lines = self._beginnings(tempo)
        self.quickest = tempo / MODEL.quickest
        self.last = 0.0

    def _beginnings(self, tempo: float) -> list[Line]:
        """Stories before the first press: both hands play or one is silent, in place or wholly displaced."""
        ground = self.ground
        silent = NEITHER if all(ground.asked) else ground.asked.index(False)
        chances = [(0.0, 0, silent)]
        if silent == NEITHER and len(set(ground.hand)) == 2:
            chances += [(MODEL.one_hand, 0, 0), (MODEL.one_hand, 0, 1)]
        for shift, share in DISPLACEMENTS.items():
            if abs(shift) <= 12 or shift == ground.shift:
                share = DISPLACED_AS_WRITTEN if shift == ground.shift else share
                chances.append((MODEL.displace_start + share, shift, silent))
        lines = [
            Line(score, -1, (shift, shift), 0, 0, 0, UNKNOWN, tempo, None, silent=silent)
            for score, shift, silent in sorted(chances, reverse=True)
        ]
        if not ground.begins:
            return lines
        # Where the page lies in the middle, from there; it may be from the start all the same.
        return [self.leap(line, line.shifts[0], ground.begins) for line in lines] + [
            line.scored(line.score + MODEL.goal_start) for line in lines
        ]

    def begin_at(self, line: Line) -> None:
        """Begin in the middle of a take, from one story."""
        self.lines = [line]
        self.heard = MODEL.early

    def hear(self, press: int, pitch: int, at: float) -> None:
        """Extend all stories by one press, join equal ones, keep the best."""
        self.heard += 1
        self.waited = at - self.last
        self.last = at
        early = self.heard <= MODEL.early
        search = self.search
        width = search.early_width if early else search.width
        reach = search.early_reach if early else search.reach
        best = self.lines[0].score
        floor = -inf
        guesses: list[Guess] = []
        for rank, line in enumerate(self.lines):
            if line.score < floor:
                break
            doubted = rank < search.doubted and line.score > best - search.fresh
            self.guess(line, pitch, at, (2 if rank < 3 else 1) if doubted else 0, guesses)
            if rank < 3:
                floor = max(guesses, key=score_of)[0] - reach
        guesses.sort(reverse=True, key=score_of)
        kept: dict[tuple[int, tuple[int, int, int], int, int], Line] = {}
        floor = guesses[0][0] - reach
        for guess in guesses:
            if guess[0] < floor or len(kept) >= width:
                break
            line = self._follow(guess, press, pitch, at)
            kept.setdefault(self._sameness(line), line)
        self.lines = list(kept.values())

    def _sameness(self, line: Line) -> tuple[int, tuple[int, int, int], int, int]:
        """Stories that agree in this will go on alike: only the better is kept."""
        if line.place < 0:
            return line.place, (*line.shifts, line.silent), 0, 0
        first = self.ground.first
        return (
            line.place,
            (*line.shifts, line.silent),
            line.sounded >> max(first[max(line.place - 1, 0)] - line.base, 0),
            line.tried >> max(first[line.place] - line.base, 0),
        )

    def admit(self, rival: Line) -> None:
        """Let in a story that jumped, in its place by likelihood, and once."""
        place, same = rival.place, None
        for at, line in enumerate(self.lines):
            if line.place == place:
                same = same or self._sameness(rival)
                if self._sameness(line) == same:
                    if rival.score <= line.score:
                        return
                    del self.lines[at]
                    break
        self.lines.append(rival)
        self.lines.sort(reverse=True, key=_score)
        del self.lines[self.search.width + 6 :]

    def leap(self, jump: Line, shift: int, goal: int, silent: int | None = None) -> Line:
        """A story about to go on at another place.

        Parameters
        ----------
        jump : Line
            The story before the jump, its score already holding the jump's probability.
        shift : int
            Displacement of both hands after the jump.
        goal : int
            The moment jumped to.
        silent : int, optional
            The hand that does not play after the jump; the one that did not before where none is given.
        """
        first = self.ground.first
        place = goal - 1
        base = first[max(place - MODEL.behind, 0)]
        # Nothing before the goal is owed: it counts as sounded.
        sounded = (1 << (first[goal] - base)) - 1
        silent = jump.silent if silent is None else silent
        return Line(jump.score, place, (shift, shift), base, sounded, 0, UNKNOWN, jump.tempo, jump.step, silent=silent)

    def retell(self, lines: list[Line], heard: list[tuple[int, int, float]], since: int) -> list[Line]:
        """One story told on through some presses (press, pitch, time) in its likeliest ways, best first.

        `since` is the press of its jump.
        """
        for press, pitch, at in heard:
            guesses: list[Guess] = []
            for line in lines:
                self.guess(line, pitch, at, 0, guesses)
            if max(guesses, key=score_of)[0] < lines[0].score - MODEL.plain:
                for line in lines:
                    self.slips(line, pitch, at, 1, guesses)
            guesses.sort(reverse=True, key=score_of)
            told: dict[tuple[int, tuple[int, int, int], int, int], Line] = {}
            floor = guesses[0][0] - MODEL.ways_apart
            for guess in guesses:
                if guess[0] < floor or len(told) >= self.search.ways:
                    break
                line = self._follow(guess, press, pitch, at, press == since)
                told.setdefault(self._sameness(line), line)
            lines = list(told.values())
        return lines

    def _follow(self, guess: Guess, press: int, pitch: int, at: float, jumped: bool = False) -> Line:
        score, line, note, kind, shifts, shift = guess
        ground = self.ground
        if note < 0 or kind in (AGAIN, BRUSH, ORNAMENT):
            step = Step(line.step, press, note, kind, shift, line.place, jumped)
            latest = at if kind == AGAIN and ground.moment[note] == line.place else line.latest
            return Line(
                score,
                line.place,
                shifts,
                line.base,
                line.sounded,
                line.tried,
                line.begun,
                line.tempo,
                step,
                line.slipped,
                line.silent,
                latest,
                line.idle,
            )
        moment = ground.moment[note]
        place, base, sounded, tried = line.place, line.base, line.sounded, line.tried
        begun, tempo, latest, idle = line.begun, line.tempo, line.latest, line.idle
        if moment > place:
            if place >= 0 and begun != UNKNOWN:
                since = line.latest if line.latest > begun + MODEL.held_up else begun
                tempo = tempo_after(tempo, at - since, ground.onset[moment] - ground.onset[place])
                tempo = max(tempo, self.quickest)
            idle = self.idle(line) if idle or self.unanswered(line) else 0
            base = ground.first[max(moment - MODEL.behind, 0)]
            sounded >>= base - line.base
            tried >>= base - line.base
            place, begun, latest = moment, at, at
        elif moment == place:
            latest = at
        off = 0
        if kind == HIT:
            sounded |= 1 << (note - base)
        else:
            tried |= 1 << (note - base)
            off = pitch - ground.pitch[note]
        slipped = (line.slipped[0], off) if ground.hand[note] else (off, line.slipped[1])
        step = Step(line.step, press, note, kind, shift, place, jumped)
        silent = NEITHER if ground.hand[note] == line.silent else line.silent
        return Line(score, place, shifts, base, sounded, tried, begun, tempo, step, slipped, silent, latest, idle)


_score = attrgetter("score")
