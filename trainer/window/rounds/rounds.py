"""Rounds of practice: how a take comes about, where it is written, and what is made of it."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.following.marks import right_of
from trainer.journal.errors import JournalError
from trainer.journal.filing import BASELINE
from trainer.journal.packing import piece_key
from trainer.journal.values import LOOP, PATTERN, PIECE
from trainer.journal.values import SIGHT as SIGHT_TAKE
from trainer.listening.clock import now
from trainer.listening.press import Release
from trainer.listening.replay import Replay, read_take
from trainer.music.keys import Key
from trainer.music.piece import Piece
from trainer.music.pitch import MusicError
from trainer.music.transpose import plan
from trainer.scores.shelf.library import bundled_folder
from trainer.session import A_TEMPO, PRIMA_VISTA, SENZA_MISURA, Record
from trainer.window import barwords
from trainer.window.copy.advice import of_all
from trainer.window.copy.finished import Finished, finished
from trainer.window.practice import READY, Practice
from trainer.window.rounds.fewerkeys import FewerKeys
from trainer.window.rounds.learning import Learning
from trainer.window.screen import awaited
from trainer.window.stand.stand import Stand
from trainer.window.strings import key_in, say
from trainer.window.tempi import felt_tempo
from trainer.window.wish import Wish, written_tempo
from trainer.window.workroom import pieces

if TYPE_CHECKING:
    from trainer.coaching.sight.sighttest import Form, Result
    from trainer.coaching.today.schedule import Suggestion
    from trainer.window.house.house import House
    from trainer.window.rounds.sighting import Sighting

# The take that comes along, made with tools/learner.py, and what it is a take of.
BUNDLED_PIECE, BUNDLED_KEY, BUNDLED_TAKE = "petzold-minuet-in-g", "Eb", "petzold-minuet-in-e-flat.mid"

# How long the line of a step stays.
ROW_LINE_S = 20.0
# How long the line about a rest stays.
REST_LINE_S = 30.0
# How long the line of a take's end stays.
ENDED_LINE_S = 7.0
# Rounds of a loop that are told of beside the last one.
_ROUNDS = 3
# How long it stays said that all of a take lies in another key or octave.
WHOLE_S = 20.0


@dataclass(frozen=True)
class Turn:
    """One of a row of pieces that come on the stand one after another.

    Parameters
    ----------
    wish : Wish
        What is played.
    words : str
        What to do.
    minutes : float
        For how long.
    """

    wish: Wish
    words: str
    minutes: float


class Rounds(Learning):
    """Starts takes, records them and keeps the last one for the Marked copy."""

    def __init__(self, house: House) -> None:
        super().__init__(house)
        self.last: Finished | None = None
        # A recorded take plays itself; it is nobody's and not kept.
        self.demonstrating = False
        # What the take before moved on the path.
        self.moved = ""
        # Of the line after a take what is still true when the next one is about to begin.
        self.lasting = ""
        # The test at sight that is going on, and who had which result last.
        self.sighting: Sighting | None = None
        self.sight_result: tuple[str, Result] | None = None
        # Who has been told to rest in this stretch of playing.
        self._rested = ""
        # The loop that goes round, and how much was right in each of its rounds.
        self._looped: Wish | None = None
        self._right_in: list[int] = []
        # What comes after the piece on the stand: the steps of a warm-up.
        self.row: list[Turn] = []
        # When the step on the stand has had its minutes, on the monotonic clock; None once said, or without a row.
        self._over_at: float | None = None
        self._told = ""
        self._fewer_keys = FewerKeys(house)
        self._pace: tuple[Piece, str, float | None] | None = None

    def stand(self) -> Stand:
        """The one Stand of the house."""
        return self.house.screen_of(Stand)

    # Records

    def record_of(self, piece: Piece, wish: Wish) -> Record | None:
        """Where a take about to be played is written."""
        shown = self.helping.for_take(wish)
        if self.house.journal is None or self.demonstrating:
            return None
        sight = wish.mode == PRIMA_VISTA
        take = self.house.journal.begin(
            piece,
            wish.plan,
            player=self.house.player,
            hands=wish.hands,
            mode=wish.mode,
            tempo=None if wish.mode == SENZA_MISURA else wish.tempo,
            help="none" if sight else shown,
            kind=SIGHT_TAKE if sight else LOOP if wish.is_part else wish.kind,
        )
        take.is_to_learn = wish.loop is None
        return take

    def finished(self, practice: Practice) -> None:
        """A take has come to its end: it lies on the Marked copy from now on."""
        taken = finished(practice)
        self.last = taken or self.last
        if taken is not None and not self.demonstrating:
            self._fewer_keys.took(taken)
        self._pace = None
        self.moved = self._learn(practice)
        if self.sighting is not None:
            self.sighting.took(practice)

    def tell_of_all(self, practice: Practice) -> bool:
        """Say once in the middle of a take what is true of all of it: another key, a piano that transposes.

        True when that was said now: what was told note by note is told by it.
        """
        found = practice.session.whole.findings
        if practice.elsewhere or not found:
            return False
        practice.elsewhere = of_all(found, practice.wish.plan, self.house.settings.letters)
        if practice.elsewhere:
            self.house.say(practice.elsewhere, WHOLE_S)
        return bool(practice.elsewhere)

    def ended_line(self) -> tuple[str, float]:
        """What to say after a take, and for how long: a rest when one is due, a step's end, else what has moved."""
        self.lasting = rest = self._rest()
        if rest:
            return rest, REST_LINE_S
        if self._over_at is not None and time.monotonic() >= self._over_at:
            self._over_at = None
            self.lasting = say("stand.step.over" if self.row else "stand.warm-up.over")
            return self.lasting, ROW_LINE_S
        fewer = self._fewer_keys.words()
        if fewer:
            self.lasting = fewer
            return fewer, REST_LINE_S
        ended, last = say("stand.ended"), self.last
        if last is not None and last.reach is not None and not last.reach.is_whole:
            ended = say("stand.ended.part", bars=barwords.reached(last.piece, last.reach))
        letters = self.house.settings.letters
        whole = of_all(last.settled.findings, last.plan, letters) if last is not None else ""
        ended = whole or ended
        self.lasting = f"{whole} {self.moved}".strip()
        return f"{ended} {self.moved}".strip(), ENDED_LINE_S

    def round_line(self, practice: Practice) -> tuple[str, float]:
        """What to say after a round of a loop, and for how long: a rest when one is due, else how the round went."""
        rest = self._rest()
        missed = len(practice.settled.missed) if practice.settled is not None else 0
        right = right_of(practice.right, len(practice.marks[practice.within]), missed)
        said, before = say("stand.loop.round", right=right), self._rounds_before(practice)
        if before:
            said = say("stand.loop.rounds", right=right, before=", ".join(map(str, before)))
        return (rest, REST_LINE_S) if rest else (said, ENDED_LINE_S)

    def _rounds_before(self, practice: Practice) -> list[int]:
        """How much was right in the last rounds of this loop before the one that is over, which is then one of them."""
        wish, loop = practice.wish, self._looped
        same = loop is not None and loop.piece is wish.piece
        if not same or loop is None or (loop.loop, loop.plan, loop.hands) != (wish.loop, wish.plan, wish.hands):
            self._right_in = []
        self._looped, before = wish, self._right_in[-_ROUNDS:]
        self._right_in.append(practice.right)
        return before

    def rounded(self, practice: Practice) -> bool:
        """Whether a round of this loop lies marked, and none is being played."""
        last, wish = self.last, practice.wish
        at_rest = wish.loop is not None and practice.phase == READY
        return at_rest and last is not None and (last.piece, last.loop) == (wish.piece, wish.loop)

    def _rest(self) -> str:
        """A line about a rest, once in each stretch of playing; mostly empty."""
        from trainer.coaching.today.minutes import rest_line

        journal, player = self.house.journal, self.house.player
        if journal is None or self.demonstrating:
            return ""
        try:
            line = rest_line(journal, player, datetime.now().astimezone())
        except JournalError:
            return ""
        told, self._rested = self._rested == player, player if line else ""
        return "" if told else line

    def _learn(self, practice: Practice) -> str:
        """Let the coach learn from a take; one line when it moved something on the path, else empty."""
        # A loop is a part of the piece, however well it goes.
        part = self.last is not None and practice.wish.loop is not None and not self.last.is_most
        if practice.record is not None and not part:
            self.unlearned.append((practice.record, practice.compass, practice.wish.loop is None))
        return self.catch_up()

    def cost_of(self, practice: Practice) -> float | None:
        """Time in this key over time in the written key, this player and piece; None while it is not known."""
        wish, pulse = practice.wish, practice.timing.pulse_bpm
        if pulse is None or wish.plan.interval.semitones == 0:
            return None
        piece, hands = wish.piece, wish.hands if len(wish.piece.hands) > 1 else wish.piece.hands[0]
        if self._pace is None or self._pace[0] is not piece or self._pace[1] != hands:
            self._pace = (piece, hands, self._written_pace(piece, hands))
        written = self._pace[2]
        return written / (pulse * wish.quarters / wish.tempo) if written else None

    def _written_pace(self, piece: Piece, hands: str) -> float | None:
        """Quarters a minute of the last take in which these hands of the player played the piece as written, and set
        the pace themselves.
        """
        journal = self.house.journal
        if journal is None:
            return None
        asked = f"p.name = ? AND m.key = ? AND t.hands = ? AND t.target = t.written AND {BASELINE}"
        try:
            rows = journal.rows(f"{asked} ORDER BY t.id DESC LIMIT 1", (self.house.player, piece_key(piece), hands))
        except JournalError:
            return None
        return rows[0].pace if rows else None

    def show_kept(self, number: int) -> bool:
        """A take out of the journal, on the Marked copy; False when it has no marks."""
        from trainer.window.copy.finished import of_kept

        assert self.house.journal is not None
        found = of_kept(self.house.journal.take(number), self.house.outer_keys)
        if found is not None:
            self.last = found
            self.house.go("copy")
        return found is not None

    # Starting

    def play_row(self, row: Sequence[Turn]) -> None:
        """Put pieces on the stand one after another, each with a line that says what to do."""
        self.row = list(row)
        self.next_of_row()

    def leave_row(self) -> None:
        """The row is over, or another piece was chosen."""
        self.row, self._over_at = [], None
        self.hush()

    def hush(self) -> None:
        """Take away the line of a step, which is said on the Stand only."""
        if self.house.notice is not None and self.house.notice.words == self._told:
            self.house.notice = None
        self._told = ""

    def next_of_row(self) -> bool:
        """Go on to the next of the row; False when there is none."""
        if not self.row:
            return False
        turn, *rest = self.row
        self.stand().play(turn.wish)
        self.row, self._over_at = rest, time.monotonic() + turn.minutes * 60
        said = key_in(turn.words, turn.wish.plan.target, self.house.settings.letters)
        self._told = f"{said} · {barwords.time_words(turn.minutes)}"
        self.house.say(self._told, ROW_LINE_S)
        return True

    def play_pattern(self, kind: str, key: Key, hands: str) -> None:
        """Put a pattern in a key on the stand, to be played as written."""

        def made(piece: Piece) -> None:
            self.stand().play(Wish(piece, plan(piece.key, "+0"), hands, tempo=written_tempo(piece), kind=PATTERN))

        then, failed = awaited(self.house, made), self.house.unable("desk.unreadable")
        self.house.workroom.ask(pieces.pattern_of, kind, key, hands, then=then, failed=failed)

    def offer(self, suggestion: Suggestion, failed: Callable[[Exception], None]) -> None:
        """Make what the coach offers ready and put it on the stand; a reading at sight begins the short test."""
        from trainer.coaching.sight.fresh import next_seed
        from trainer.coaching.sight.sighttest import TWO_MINUTES
        from trainer.coaching.singers.setlist import way_to
        from trainer.coaching.today.schedule import SET_LIST, SIGHT

        if suggestion.kind == SIGHT:
            self.start_sighting(TWO_MINUTES)
            return

        def made(piece: Piece) -> None:
            moved = way_to(piece.key, suggestion.key.short, suggestion.move)
            tempo = felt_tempo(piece, suggestion.tempo) if suggestion.tempo else written_tempo(piece)
            if suggestion.kind != SET_LIST:
                self.helping.suggest(piece, suggestion.help)
            kind = PATTERN if suggestion.pattern else PIECE
            hands, name = suggestion.hands, suggestion.name
            wish = Wish(piece, moved, hands, SENZA_MISURA, tempo, name=name, kind=kind)
            if suggestion.work is not None and suggestion.work.tempo:
                # Asked for at a tempo, it is played with the click, and at no step below it.
                wish = replace(wish.stepped_tempo(int(tempo < suggestion.work.tempo)), mode=A_TEMPO)
            self.stand().play(wish)

        journal = self.house.journal
        fresh = journal is not None and not suggestion.name and not suggestion.pattern
        try:
            seed = next_seed(journal) if journal is not None and fresh else 0
        except JournalError as trouble:
            failed(trouble)
            return
        self.house.workroom.ask(pieces.piece_of, suggestion, seed, then=awaited(self.house, made), failed=failed)

    # The test at sight

    def start_sighting(self, form: Form) -> None:
        """Begin a test at sight."""
        from trainer.window.rounds.sighting import Sighting

        if self.sighting is not None:
            return
        if self.house.journal is None:
            self.house.say(say("sight.no-journal"))
            return
        try:
            self.sighting = Sighting(self.house, self.house.journal, form)
            self.sighting.go_on()
        except (JournalError, MusicError) as trouble:
            self.house.say(str(trouble))

    def leave_sighting(self) -> None:
        """Another piece comes, or the player leaves the stand: the test is over."""
        if self.sighting is not None:
            self.sighting.leave()
            self.sighting = None

    # The take that plays itself

    def watch_bundled(self) -> None:
        """Let a take that comes along play itself, so that the marks can be seen."""

        def read(piece: Piece) -> None:
            if self.house.screen is self.stand():
                # The player did not wait for it.
                return
            self.demonstrating = True
            wish = Wish(piece, plan(piece.key, BUNDLED_KEY), tempo=written_tempo(piece), name=BUNDLED_PIECE)
            self.stand().play(wish)
            events = read_take(bundled_folder() / "takes" / BUNDLED_TAKE)
            self.house.say(say("stand.watching"), events[-1].at - events[0].at)
            self.house.start_replay(Replay(events))

        self.house.workroom.ask(
            pieces.shelf_piece, BUNDLED_PIECE, then=read, failed=self.house.unable("desk.unreadable")
        )

    def end_demonstration(self) -> None:
        """Stop what plays itself, if it does."""
        if not self.demonstrating:
            return
        self.halt_demonstration()
        self.demonstrating = False

    def halt_demonstration(self) -> None:
        """Nothing plays itself any more; what it has played stays on the stand, and is still nobody's."""
        if not self.demonstrating or self.house.replayed is None:
            return
        self.house.notice = None
        self.house.stop_replay()
        for pitch in sorted(self.stand().down):
            self.house.hear(Release(now(), pitch), now())

    def take_over(self) -> None:
        """A key was played during the demonstration, or a take asked for: the piece from the start, for the player."""
        if not self.demonstrating:
            return
        self.end_demonstration()
        stand = self.stand()
        if stand.practice is not None:
            stand.begin(stand.practice.wish)
