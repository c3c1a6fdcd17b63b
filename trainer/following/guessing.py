"""What a press may have been in one story, and at what cost.

The right key of a note at the place or coming, a late or repeated one, a slip for a note, a key of an ornament, or
nothing of the piece. How often this player leaves notes out and slips is learnt as the take goes on.
"""

from __future__ import annotations

from math import exp, log
from operator import itemgetter

from trainer.following.ground import Ground
from trainer.following.model import DISPLACED_AS_WRITTEN, DISPLACEMENTS, MODEL, SLIP_FAR, Search
from trainer.following.story import (
    AGAIN,
    BRUSH,
    HIT,
    NEITHER,
    NOTHING,
    ORNAMENT,
    SLIP,
    UNKNOWN,
    Guess,
    Line,
    pace,
)

score_of = itemgetter(0)


class Guesser:
    """Knows the piece and the player, and says what a press may have been."""

    def __init__(self, ground: Ground, search: Search) -> None:
        self.ground = ground
        self.search = search
        self.heard = 0
        self.waited = 0.0
        self.hits = [0.0, 0.0]
        self.misses = [0.0, 0.0]
        self.miss_cost = [0.0, 0.0]
        self._weigh_misses()
        self.slip = log(MODEL.slips)
        self.slip_rate = MODEL.slips
        self.again = MODEL.again
        self.again_rate = exp(MODEL.again)

    def know(self, known: Guesser) -> None:
        """Take over what another beam has learnt of the player."""
        self.hits, self.misses = list(known.hits), list(known.misses)
        self.slip_rate, self.slip = known.slip_rate, known.slip
        self.again_rate, self.again = known.again_rate, known.again
        self._weigh_misses()

    def _weigh_misses(self) -> None:
        for hand in (0, 1):
            known = self.hits[hand] + self.misses[hand] + MODEL.missed_weight
            self.miss_cost[hand] = -log((self.misses[hand] + MODEL.missed * MODEL.missed_weight) / known)

    def learn_misses(self, hand: int, hits: int, misses: int) -> None:
        """Tell the beam how the likeliest story left a moment, so that a silent hand costs less and less."""
        self.hits[hand] = self.hits[hand] * 0.93 + hits
        self.misses[hand] = self.misses[hand] * 0.93 + misses
        self._weigh_misses()

    def learn_slips(self, slipped: bool) -> None:
        """Tell the beam whether the last press was a slip, so that it learns how often this player slips."""
        self.slip_rate += MODEL.slips_learnt * (slipped - self.slip_rate)
        self.slip = log(min(max(self.slip_rate, MODEL.slips_least), MODEL.slips_most))

    def learn_again(self, again: bool) -> None:
        """Tell the beam whether the last press was a key struck again without need."""
        self.again_rate += MODEL.again_learnt * (again - self.again_rate)
        self.again = log(min(max(self.again_rate, MODEL.again_least), MODEL.again_most))

    # What leaving notes out costs.

    def unanswered(self, line: Line) -> float:
        """Cost of leaving the line's place now: its notes neither sounded nor tried."""
        if line.left < 0.0:
            cost = 0.0
            if line.place >= 0:
                ground = self.ground
                sounded, tried = line.sounded, line.tried
                owed = line.idle
                for note in ground.own[line.place]:
                    hand = ground.hand[note]
                    if sounded >> (note - line.base) & 1 or hand == line.silent:
                        continue
                    if tried >> (note - line.base) & 1:
                        cost += MODEL.uncorrected
                    elif not ground.needed[note]:
                        cost += MODEL.optional
                    elif owed >> hand & 1:
                        cost += min(MODEL.missed_too, self.miss_cost[hand])
                    else:
                        cost += self.miss_cost[hand]
                        owed |= 1 << hand
            line.left = cost
        return line.left

    def idle(self, line: Line) -> int:
        """The hands, as bits, that have left out all their notes of late while the other hand went on."""
        if line.resting < 0:
            asked = played = 0
            if line.place >= 0:
                ground = self.ground
                needed, hands, base = ground.needed, ground.hand, line.base
                done = line.sounded | line.tried
                for note in ground.own[line.place]:
                    if needed[note]:
                        asked |= 1 << hands[note]
                    if done >> (note - base) & 1:
                        played |= 1 << hands[note]
            line.resting = ((line.idle | asked) if played else line.idle) & ~played if line.place >= 0 else 0
        return line.resting

    def leaving(self, line: Line, moment: int) -> float:
        """Cost of going from the line's place to a later moment."""
        ground = self.ground
        after = line.place + 1
        cost = self.unanswered(line)
        if moment > after:
            idle = self.idle(line) if cost else line.idle
            for hand in (0, 1):
                if hand != line.silent:
                    each, count = self.miss_cost[hand], ground.skipped(hand, after, moment)
                    if idle >> hand & 1:
                        each, count = min(each, MODEL.missed_too), min(count, MODEL.dropped)
                    cost += count * each
        return cost

    def arriving(self, line: Line, moment: int, at: float) -> float:
        """Log weight of the time taken to reach a later moment."""
        if line.begun == UNKNOWN:
            return 0.0
        ground = self.ground
        due = (ground.onset[moment] - ground.onset[line.place]) * line.tempo
        in_time = pace(at - line.begun, due)
        if line.latest > line.begun + MODEL.held_up:
            # What was put right, or came late, held up the rest.
            return max(in_time - MODEL.regardless, pace(at - line.latest, due))
        return in_time

    def joining(self, line: Line, at: float) -> float:
        """Log weight of sounding a note of the present moment only now."""
        z = (at - line.begun) / MODEL.together
        weight = max(-0.5 * log(1.0 + z * z), MODEL.together_least)
        late = at - line.latest - MODEL.searched
        return weight - MODEL.joins_late * min(late, 2.0) if late > 0.0 else weight

    def lagging(self, line: Line, moment: int, at: float) -> float:
        """Log weight of a note of an earlier moment only now: the hands lie apart by so much."""
        ground = self.ground
        due = (ground.onset[line.place] - ground.onset[moment]) * line.tempo
        z = (at - line.begun + due) / 0.09
        return MODEL.late + max(-1.5 * log(1.0 + z * z), -9.0)

    # What the press may have been.

    def guess(self, line: Line, pitch: int, at: float, further: int, out: list[Guess]) -> None:
        """All that the press may have been in one story; slips up to `further` moments ahead, 0 for no slips."""
        right, left = line.shifts
        before = len(out)
        first = self.ground.first
        within = first[max(line.place - MODEL.behind, 0)], first[self._reach(line)]
        if right == left:
            self._hits(line, pitch, at, within, right, -1, line.shifts, 0.0, out)
        else:
            self._hits(line, pitch, at, within, right, 0, line.shifts, 0.0, out)
            self._hits(line, pitch, at, within, left, 1, line.shifts, 0.0, out)
        if right:
            self._hits(line, pitch, at, within, 0, 0, (0, left), MODEL.replace, out)
        if left:
            self._hits(line, pitch, at, within, 0, 1, (right, 0), MODEL.replace, out)
        if right and left:
            self._hits(line, pitch, at, within, 0, -1, (0, 0), MODEL.replace, out)
        self._ornament(line, pitch, at, out)
        if further and all(guess[0] <= line.score - self.search.plain for guess in out[before:]):
            self.slips(line, pitch, at, further, out)
        extra = MODEL.doubled if self._doubles(line, pitch, at) else MODEL.extra
        out.append((line.score + extra, line, -1, NOTHING, line.shifts, 0))

    def _hits(
        self,
        line: Line,
        pitch: int,
        at: float,
        within: tuple[int, int],
        shift: int,
        hand: int,
        shifts: tuple[int, int],
        cost: float,
        out: list[Guess],
    ) -> None:
        """The press is the right key of a note near the place, `within` two notes, in a hand displaced by `shift`."""
        ground = self.ground
        near = ground.near(pitch - shift, *within)
        if not near:
            return
        place = line.place
        further = 0
        score = line.score + cost + MODEL.right
        for note in near:
            if hand >= 0 and ground.hand[note] != hand:
                continue
            moment = ground.moment[note]
            wake = MODEL.wakes if ground.hand[note] == line.silent else 0.0
            if moment > place:
                gain = wake + self.arriving(line, moment, at) - self.leaving(line, moment)
                out.append((score + gain, line, note, HIT, shifts, shift))
                further += 1
                if further == 2:
                    break
                continue
            bit = note - line.base
            if bit < 0:
                continue
            if line.sounded >> bit & 1:
                other = ground.other_voice.get(note)
                if (
                    moment == place
                    and other is not None
                    and at - line.begun < 2 * MODEL.near
                    and not line.sounded >> (other - line.base) & 1
                ):
                    out.append((score, line, other, HIT, shifts, shift))
                gain = self.again - MODEL.right - 2.5 * (place - moment)
                gain -= MODEL.again_fades * min(max(at - line.latest - MODEL.again_soon, 0.0), 2.0)
                if moment == place and at - line.begun < MODEL.near:
                    gain += MODEL.again_at_once
                out.append((score + gain, line, note, AGAIN, shifts, shift))
                continue
            if wake:
                gain = wake
            elif line.tried >> bit & 1:
                # Nobody notices and corrects within one gesture; but a finger may catch the key beside.
                gain = MODEL.corrected if at - line.begun > MODEL.notices else MODEL.too_quick
                if at - line.begun < MODEL.brush_window and self._beside(line, note):
                    gain = MODEL.brushed_first
                if moment < place:
                    gain += self.lagging(line, moment, at)
            elif moment == place:
                gain = self.joining(line, at)
            else:
                owed = self.miss_cost[ground.hand[note]] if ground.needed[note] else MODEL.optional
                gain = self.lagging(line, moment, at) + owed
            out.append((score + gain, line, note, HIT, shifts, shift))

    def _beside(self, line: Line, note: int) -> bool:
        """Whether the last slip for a note of the place struck a key next to its own."""
        step = line.step
        while step is not None and step.place == line.place:
            if step.note == note and step.kind == SLIP:
                return -2 <= step.shift - line.shifts[self.ground.hand[note]] <= 2
            step = step.before
        return False

    def _doubles(self, line: Line, pitch: int, at: float) -> bool:
        """Whether a key is the octave of one struck with it, of the same moment: a bass doubled, say.

        The right key of a note is none, though its hand be thought an octave off.
        """
        if line.place < 0 or at - line.begun >= 2 * MODEL.near:
            return False
        ground = self.ground
        return any(
            abs(pitch - ground.pitch[note] - line.shifts[ground.hand[note]]) == 12 and pitch != ground.pitch[note]
            for note in ground.own[line.place]
            if line.sounded >> (note - line.base) & 1
        )

    def _reach(self, line: Line) -> int:
        """The first moment too far ahead of a story to go on to."""
        ground = self.ground
        far = line.place + 1 + MODEL.ahead
        if line.silent != NEITHER:
            following = ground.following[1 - line.silent]
            third = following[min(following[min(following[line.place], ground.size - 1)], ground.size - 1)]
            far = max(far, third + 1)
        elif self.unanswered(line) or line.idle:
            far = max(far, self.due(line) + 1)
        return min(far, ground.size)

    def due(self, line: Line) -> int:
        """The moment that comes next in the hands that play: nobody waits for one that has dropped out."""
        idle = self.idle(line)
        for hand in (0, 1):
            if line.silent == hand or idle == 1 << hand:
                return self.ground.following[1 - hand][line.place]
        return line.place + 1

    def _coming(self, line: Line, count: int) -> list[int]:
        """The next moments in which a hand plays that is not silent."""
        ground = self.ground
        if line.silent == NEITHER:
            return list(range(line.place + 1, min(line.place + 1 + count, ground.size)))
        following = ground.following[1 - line.silent]
        moments: list[int] = []
        at = line.place
        while len(moments) < count and at < ground.size and following[at] < ground.size:
            at = following[at]
            moments.append(at)
        return moments

    def _ornament(self, line: Line, pitch: int, at: float, out: list[Guess]) -> None:
        """The press is a quick key of an ornament that still sounds."""
        ground = self.ground
        ornaments = ground.ornaments.get(line.place)
        if ornaments is None or self.waited > MODEL.quick or line.begun == UNKNOWN:
            return
        now = ground.onset[line.place] + (at - line.begun) / line.tempo
        for note in ornaments:
            away = pitch - ground.pitch[note] - line.shifts[ground.hand[note]]
            bit = note - line.base
            if abs(away) <= 2 and now <= ground.ends[note] + 0.5 and (bit < 0 or away or line.sounded >> bit & 1):
                out.append((line.score + MODEL.ornament, line, note, ORNAMENT, line.shifts, 0))

    def slips(self, line: Line, pitch: int, at: float, further: int, out: list[Guess]) -> None:
        """The press was meant for a note of the place or the next, on another key."""
        ground = self.ground
        place = line.place
        if place >= 0:
            pitches, hands = ground.pitch, ground.hand
            sounded, base = line.sounded, line.base
            close = at - line.begun
            joining = line.score + self.joining(line, at)
            for note in ground.own[place]:
                hand = hands[note]
                away = pitch - pitches[note] - line.shifts[hand]
                if away == 0 or hand == line.silent:
                    continue
                if sounded >> (note - base) & 1:
                    if -2 <= away <= 2 and close < 0.3:
                        gain = MODEL.brushed if close < MODEL.brush_window else MODEL.brushed - 2.0
                        out.append((line.score + gain, line, note, BRUSH, line.shifts, 0))
                    continue
                tried = line.tried >> (note - base) & 1
                self._slip(line, note, pitch, line.score + MODEL.fumbled if tried else joining, out)
        for moment in self._coming(line, further):
            score = line.score + self.arriving(line, moment, at) - self.leaving(line, moment)
            for note in self._likely(line, moment, pitch, further > 1):
                self._slip(line, note, pitch, score, out)

    def _likely(self, line: Line, moment: int, pitch: int, every: bool) -> list[int]:
        """The notes of a moment a pitch may be a slip for: every one, or for each hand the nearest."""
        ground = self.ground
        distances = []
        for note in ground.own[moment]:
            hand = ground.hand[note]
            away = abs(pitch - ground.pitch[note] - line.shifts[hand])
            if away and hand != line.silent:
                distances.append((away, note))
        if every or len(distances) < 2:
            return [note for _, note in distances]
        distances.sort()
        nearest = distances[0][1]
        other = next((note for _, note in distances if ground.hand[note] != ground.hand[nearest]), nearest)
        return [nearest] if other == nearest else [nearest, other]

    def _slip(self, line: Line, note: int, pitch: int, score: float, out: list[Guess]) -> None:
        """A slip for one note; where it repeats the last slip's distance, also a hand (or both) displaced."""
        ground = self.ground
        hand = ground.hand[note]
        away = pitch - ground.pitch[note]
        mine, other = line.shifts[hand], line.shifts[1 - hand]
        cost = self.slip + ground.share[note].get(away - mine, SLIP_FAR)
        out.append((score + cost, line, note, SLIP, line.shifts, away))
        if away == mine or (away != other and away not in line.slipped) or away not in DISPLACEMENTS:
            return
        shifts = (away, other) if hand == 0 else (other, away)
        score += MODEL.right
        if other == away:
            out.append((score + MODEL.displace_too, line, note, HIT, shifts, away))
        else:
            # The slip before belongs to the run: it is taken back and told as the run's first press.
            score += MODEL.right - cost + (MODEL.displace if self.heard > MODEL.early else MODEL.displace_start)
            score += DISPLACED_AS_WRITTEN if away == ground.shift else DISPLACEMENTS[away]
            if line.slipped[hand] == away:
                out.append((score, line, note, HIT, shifts, away))
            if other == mine:
                out.append((score + MODEL.displace_both, line, note, HIT, (away, away), away))
