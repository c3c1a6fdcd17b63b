"""Players who are lost and found again: after a warm-up, in another key, with one hand astray in it for a while."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from tests.following.taking import shelf
from trainer.following import retelling
from trainer.following.follower import Follower
from trainer.following.story import Line
from trainer.following.tracker import Tracker
from trainer.listening.press import Press
from trainer.music.piece import LEFT, Piece
from trainer.music.transpose import plan, transposed

MINUET = shelf("petzold-minuet-in-g")
SONG = shelf("aura-lee")  # its second line is its first again
# Chords struck before a take, as semitones from the tonic: a cadence with the dominant twice.
CADENCE = [(-12, 0, 4, 7), (-7, 0, 5, 9), (-5, -1, 2, 7), (-5, -1, 5, 7), (-12, 0, 4, 7)]


class Player:
    """Strikes keys of a piece in a key, at half its tempo, and knows what each was meant for."""

    def __init__(self, piece: Piece, key: str) -> None:
        self.follower = Follower(piece, transposed(piece, plan(piece.key, key).interval))
        self.asked = self.follower.ground.expected
        self.meant: list[int | None] = []
        self.at = 0.0

    def strike(self, chords: Iterable[Iterable[int]]) -> None:
        """Keys of no note, semitones from the tonic nearest middle C."""
        for chord in chords:
            for by in chord:
                self.follower.hear(Press(self.at, self.asked.key.tonic.midi + by))
                self.meant.append(None)
            self.at += 0.8

    def play(self, first: int, end: int, right: int, left: int, slips: int = 0) -> None:
        """The bars [first, end), each hand so many semitones from where it should be, after a pause.

        Of so many notes, if any, one is a tritone too high.
        """
        start, stop = self.asked.bars[first].onset, self.asked.bars[end - 1].onset + self.asked.bars[end - 1].length
        begun = self.at = self.at + 1.5
        for index, note in enumerate(self.asked.notes):
            if start <= note.onset < stop:
                astray = 6 if slips and index % slips == 0 else 0
                self.at = begun + float(note.onset - start) * 0.7
                self.follower.hear(Press(self.at, note.midi + (left if note.hand == LEFT else right) + astray))
                self.meant.append(index)

    def known(self, after: int) -> float:
        """Share of presses, from one on, told live to be meant for what they were."""
        told = [mark.note == meant for mark, meant in zip(self.follower.first[after:], self.meant[after:], strict=True)]
        return sum(told) / len(told)

    def known_at_last(self, after: int) -> float:
        """The same at the end."""
        marks = self.follower.settle().marks[after:]
        return sum(mark.note == meant for mark, meant in zip(marks, self.meant[after:], strict=True)) / len(marks)


@pytest.mark.parametrize("shift", [3, -5])
def test_one_hand_astray_for_a_while_does_not_bring_the_other_home(shift: int) -> None:
    """All of it lies elsewhere; who goes back soon after is looked for there, not where the key was asked for."""
    player = Player(MINUET, "A")
    player.play(0, 8, shift, shift)
    player.play(8, 16, shift, shift - 2)
    astray = len(player.meant)
    player.play(16, 17, shift, shift)
    for bar in (10, 4, 20):
        player.play(bar, bar + 4, shift, shift)
    assert player.known(astray) > 0.7
    assert player.known_at_last(astray) > 0.95


@pytest.mark.parametrize("shift", [1, 3, -4])
def test_after_a_cadence_the_piece_may_begin_in_another_key(shift: int) -> None:
    player = Player(MINUET, "A")
    player.strike(CADENCE)
    begun = len(player.meant)
    player.play(0, 16, shift, shift)
    assert player.known(begun + 24) > 0.95
    assert player.known_at_last(begun) > 0.95
    assert player.follower.found[-1].semitones == shift


def test_after_a_cadence_a_piece_begins_at_its_start_not_where_that_stands_again() -> None:
    player = Player(SONG, "G")
    player.strike(CADENCE)
    begun = len(player.meant)
    player.play(0, 4, 0, 0)
    assert player.known(begun + 2) > 0.95


def test_a_stretch_told_anew_goes_on_in_the_key_it_lay_in() -> None:
    player = Player(MINUET, "A")
    player.play(0, 8, -5, -5)
    live = player.follower._tracker
    anew = Tracker(live.ground, live.tempo)
    anew.begin_at(live.best)
    anew.hear(len(player.meant), player.asked.notes[len(player.meant)].midi - 5, player.at + 0.7)
    assert anew.away == live.away == -5


def test_a_stretch_told_anew_that_is_led_away_is_not_believed(monkeypatch: pytest.MonkeyPatch) -> None:
    class Led(Tracker):
        def hear(self, press: int, pitch: int, at: float) -> Line:
            return super().hear(press, pitch + 6, at)

    player = Player(MINUET, "A")
    player.play(0, 12, 0, 0, slips=5)
    follower = player.follower
    monkeypatch.setattr(retelling, "Tracker", Led)
    monkeypatch.setattr(retelling, "WHOLE", 0)
    monkeypatch.setattr(retelling, "CLEAN", 0.0)
    steps = retelling.retold(follower._tracker, follower._kept, follower.presses)
    assert steps == retelling.steps_of(follower._tracker.best.step)
