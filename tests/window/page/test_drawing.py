"""A long piece is there when its first systems are; the others come while they are played."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pygame
import pytest
from pygame import Rect

from tools import staging
from trainer.listening.clock import now
from trainer.listening.press import Press
from trainer.music.piece import Piece
from trainer.music.transpose import plan
from trainer.scores.engraving.engraving import Engraved, Look, engrave, stretch
from trainer.scores.harmony import harmonies
from trainer.scores.reading import read
from trainer.scores.shelf.library import find
from trainer.window.copy.copy import Copy
from trainer.window.house.still import house_of
from trainer.window.page.chordrow import entries
from trainer.window.page.music import Score, score_of
from trainer.window.stand.stand import Stand
from trainer.window.wish import Wish
from trainer.window.workroom import fitting
from trainer.window.workroom.jobs import Drawn
from trainer.window.workroom.workroom import Workroom

TIMES = 3


@pytest.fixture(scope="module", autouse=True)
def own_home() -> Iterator[None]:
    with staging.home():
        yield


@pytest.fixture(scope="module")
def long() -> Piece:
    """A minuet three times over, as if it were one piece."""
    piece = read(find("petzold-minuet-in-g"))
    rounds = [(piece.length * time, len(piece.bars) * time) for time in range(TIMES)]
    notes = [replace(note, onset=note.onset + later) for later, _ in rounds for note in piece.notes]
    bars = [
        replace(bar, onset=bar.onset + later, number=bar.number + count)
        for later, count in rounds
        for bar in piece.bars
    ]
    return replace(piece, notes=tuple(notes), bars=tuple(bars))


class Later(Workroom):
    """Jobs that are done when the test says so, the oldest first."""

    def __init__(self) -> None:
        super().__init__(lambda: None, here=True)
        self.jobs: list[tuple[str, Callable[[], None]]] = []
        self.given_up: list[str] = []

    def ask(
        self, job: Callable[..., Any], *given: Any, then: Any, failed: Any, place: str = "", behind: bool = False
    ) -> None:
        self.jobs.append((job.__name__, lambda: Workroom.ask(self, job, *given, then=then, failed=failed, place=place)))

    def keep(self, job: Callable[..., Any], *given: Any, then: Any, failed: Any) -> None:
        Workroom.ask(self, job, *given, then=then, failed=failed)

    def give_up(self, place: str) -> None:
        self.given_up.append(place)

    def done(self) -> str:
        name, work = self.jobs.pop(0)
        work()
        return name


def placed(engraved: Engraved, count: int) -> list[object]:
    return [(one.width, one.height, one.bars, one.notes, one.staves) for one in engraved.systems[:count]]


def stand_with(piece: Piece, to: str = "Eb", size: tuple[int, int] = (1280, 720)) -> tuple[Stand, Later]:
    house = house_of(size)
    house.workroom = room = Later()
    stand = house.screen_of(Stand)
    stand.play(Wish(piece, plan(piece.key, to)))
    house.draw()
    return stand, room


def to_the_copy(stand: Stand) -> Copy:
    assert stand.practice is not None
    for at, note in enumerate(stand.practice.wish.expected.notes[:12]):
        stand.house.hear(Press(0.5 * at, note.midi, 64), now())
    stand.stop()
    stand.house.go("copy")
    copy = stand.house.screen
    assert isinstance(copy, Copy)
    return copy


def undrawn(score: Score | None) -> list[int]:
    assert score is not None
    return [at for at, system in enumerate(score.systems) if system.ink is None]


def test_the_first_systems_of_a_long_piece_stand_as_in_the_whole_and_come_before_it(long: Piece) -> None:
    stand, room = stand_with(long)
    while room.jobs:
        room.done()
    # How large it is known by now; the fingers of another key are not on any page yet.
    stand, room = stand_with(long, "F#")
    assert room.done() == "fitted"
    first = stand.page.score
    assert first is not None
    assert not first.whole
    assert first.systems[-1].bars[-1][0] < len(long.bars) / 2
    assert not undrawn(Score(long, first.systems[:2], first.engraved))
    assert room.done() == "fitted"
    whole = stand.page.score
    assert whole is not None
    assert whole.whole
    assert len(whole.systems) > 2 * len(first.systems)
    assert placed(first.engraved, 99) == placed(whole.engraved, len(first.systems))


def test_who_plays_beyond_the_first_systems_finds_the_next_ones_there_before_the_whole(long: Piece) -> None:
    stand, room = stand_with(long, size=(1240, 700))
    room.done()
    first = stand.page.score
    assert first is not None
    assert not first.whole
    # The whole is still being laid out.
    whole = room.jobs.pop(0)
    stand.house.draw()
    ribbons = stand.page.ribbons()
    seen = [ribbons.of(at) for at in range(len(first.systems))]
    assert room.done() == "gone_on"
    more = stand.page.score
    assert more is not None
    assert more is not first
    assert not more.whole
    # What is looked at stays as it is.
    assert more.systems[: len(first.systems)] == first.systems
    assert [stand.page.ribbons().of(at) for at in range(len(first.systems))] == seen
    bars = [bar for system in more.systems for bar, _, _ in system.bars]
    assert bars == list(range(bars[-1] + 1))
    stand.house.draw()
    assert not [name for name, _ in room.jobs if name == "gone_on"], "there is enough to go on with"
    with pytest.MonkeyPatch.context() as patched:
        while more.systems[-1].bars[-1][0] != len(long.bars) - 1:
            patched.setattr(type(stand), "place", moment_in(long, more.systems[-1].bars[0][0]))
            assert more.reaches(stand.place)
            stand.house.draw()
            while stand.page.score is more:
                room.done()
            assert stand.page.score is not None
            more = stand.page.score
            bars = [bar for system in more.systems for bar, _, _ in system.bars]
            assert bars == list(range(bars[-1] + 1))
            assert {note for system in more.systems for note in system.heads} == {
                at for at, note in enumerate(long.notes) if long.bar_index(note.onset) <= bars[-1]
            }
        stand.house.draw()
        assert not [name for name, _ in room.jobs if name == "gone_on"], "nothing follows the end"
    room.jobs.insert(0, whole)
    room.done()
    assert stand.page.score is not None
    assert stand.page.score.whole


def test_who_leaves_the_systems_that_are_there_sees_those_of_the_new_place_before_the_whole(long: Piece) -> None:
    stand, room = stand_with(long, size=(1200, 690))
    room.done()
    first, whole = stand.page.score, room.jobs.pop(0)
    assert first is not None
    with pytest.MonkeyPatch.context() as patched:
        for bar in (len(long.bars) * 3 // 4, len(long.bars) - 1, 0):
            patched.setattr(type(stand), "place", moment_in(long, bar))
            assert stand.page.score is not None
            assert not stand.page.score.reaches(stand.place)
            stand.house.draw()
            stand.house.draw()
            assert [name for name, _ in room.jobs].count("fitted") == 1, "asked for once"
            while not stand.page.score.reaches(stand.place):
                room.done()
            there = stand.page.score
            assert not there.whole
            assert there.engraved.look == first.engraved.look
            assert not undrawn(Score(long, there.systems[there.system_at(stand.place) :][:1], there.engraved))
            room.jobs.clear()
    room.jobs.append(whole)
    room.done()
    assert stand.page.score is not None
    assert stand.page.score.whole


def test_of_a_choir_song_what_is_seen_comes_before_the_whole() -> None:
    song = read(find("day-comes-up-the-hill"))
    stand, room = stand_with(song)
    assert room.done() == "fitted"
    first = stand.page.score
    assert first is not None
    assert not first.whole
    assert first.systems[-1].bars[-1][0] < len(song.bars) / 2
    stand.house.draw()
    while stand.page.score is None or not stand.page.score.whole:
        room.done()


def test_where_the_next_system_of_a_song_is_not_drawn_yet_the_page_is_not_folded() -> None:
    song = read(find("day-comes-up-the-hill"))
    stand, room = stand_with(song)
    while room.jobs:
        room.done()
        stand.house.draw()
    score = stand.page.score
    assert score is not None
    assert stand.page.slots == 1
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(type(stand), "place", moment_in(song, score.systems[0].bars[-1][0]))
        for at in (1, 0):
            ink, score.systems[at].ink = score.systems[at].ink, None
            vars(score.systems[at]).pop("darkness", None)
            stand.house.draw()
            assert stand.house.canvas is not None
            assert "music.fold" not in {box.name for box in stand.house.canvas.boxes}
            score.systems[at].ink = ink
        stand.house.draw()
        assert stand.house.canvas is not None
        assert "music.fold" in {box.name for box in stand.house.canvas.boxes}


def test_what_comes_next_is_drawn_first_and_what_is_drawn_is_there_at_once(long: Piece) -> None:
    stand, room = stand_with(long)
    while stand.page.score is None or not stand.page.score.whole:
        room.done()
    score = stand.page.score
    assert undrawn(score) == list(range(2, len(score.systems)))
    # Whoever skips does not wait for all that lies between.
    far = len(score.systems) - 3
    skipped = next(at for at, moment in enumerate(long.moments) if score.system_of[moment.notes[0]] == far)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(type(stand), "place", skipped)
        while room.jobs and far in undrawn(score):
            stand.house.draw()
            room.done()
        assert len(undrawn(score)) > 3
        assert far + 1 not in undrawn(score)
        while room.jobs:
            room.done()
    assert not undrawn(score)
    # As large as was said before it was drawn.
    assert [one.size for one in score.systems] == [one.ink.size for one in score.systems if one.ink is not None]


def test_marks_made_before_a_system_was_drawn_keep_clear_of_its_ink_once_it_is(long: Piece) -> None:
    stand, room = stand_with(long)
    room.done()
    assert stand.page.score is not None
    system = stand.page.score.systems[0]
    ink, system.ink = system.ink, None
    for at, note in enumerate(long.notes[:6]):
        stand.house.hear(Press(at * 0.5, note.midi - 3 + (at == 3), 64), now())
    stand.house.draw()
    assert stand.page.marking is not None
    blind = list(stand.page.marking.strokes[0])
    system.ink = ink
    stand.page.mark_afresh()
    seen = list(stand.page.marking.strokes[0])
    assert seen != blind
    system.ink = None
    stand.page.mark_afresh()
    assert stand.page.marking.strokes[0] == blind
    system.ink = ink
    stand.page._drawn(stand.page.score, [0])
    assert stand.page.marking.strokes[0] == seen


def test_the_marked_copy_draws_the_page_that_is_looked_at_first(long: Piece) -> None:
    stand, room = stand_with(long)
    while room.jobs:
        room.done()
    copy = to_the_copy(stand)
    stand.house.draw()
    while copy.score is None:
        room.done()
    assert 0 not in undrawn(copy.score)
    assert undrawn(copy.score)
    stand.house.draw()
    copy.turn(1)
    stand.house.draw()
    here = copy._shown[0]
    room.done()
    room.done()
    assert here not in undrawn(copy.score)


@pytest.mark.parametrize("marked", [False, True])
def test_a_page_too_wide_for_the_window_is_drawn_down_to_it_until_it_is_set_anew(long: Piece, marked: bool) -> None:
    stand, room = stand_with(long)
    while room.jobs:
        room.done()
    if marked:
        to_the_copy(stand)
    stand.house.draw()
    while room.jobs:
        room.done()

    def systems(size: tuple[int, int]) -> list[Rect]:
        stand.house.pane.surface = pygame.Surface(size, 0, 32)
        canvas, _ = stand.house.laid()
        return [box.rect for box in canvas.boxes if box.name.startswith("music.")]

    set_for = systems((1280, 720))
    for narrower in (1120, 900):
        there = systems((narrower, 720))
        assert there
        assert all(rect.right <= narrower for rect in there)
        assert all(rect.width < set_for[0].width for rect in there)
        assert all(upper.bottom <= lower.top for upper, lower in itertools.pairwise(there))
    while room.jobs:
        room.done()
    anew = systems((900, 720))
    assert anew != there


def moment_in(piece: Piece, bar: int) -> int:
    return next(at for at, one in enumerate(piece.moments) if one.onset >= piece.bars[bar].onset)


@pytest.mark.parametrize("told", [True, False])
def test_systems_of_some_bars_alone_stand_as_in_the_whole(long: Piece, told: bool) -> None:
    look = Look(1000, 36.0, ribbon_px=26.0, expression=True)
    whole = engrave(long, look)
    begins = [system.bars[0].bar for system in whole.systems]
    first, last = begins[4], begins[9]
    some = stretch(long, look, (first, last), begins if told else ()).systems
    assert len(some) == 4
    if told:
        for alone, inside in zip(some, whole.systems[5:9], strict=True):
            assert (alone.width, alone.height, alone.bars) == (inside.width, inside.height, inside.bars)
            assert [(one.note, one.staff) for one in alone.notes] == [(one.note, one.staff) for one in inside.notes]
            assert [one.x for one in alone.notes] == pytest.approx([one.x for one in inside.notes], abs=0.02)
            assert [one.y for one in alone.notes] == pytest.approx([one.y for one in inside.notes], abs=0.02)
            assert [one.note for one in alone.fingers] == [one.note for one in inside.fingers]
    # To the end of the piece nothing is left out there.
    assert stretch(long, look, (begins[-4], len(long.bars) - 1), begins).systems[-1].bars[-1].bar == len(long.bars) - 1


def test_a_window_of_another_size_shows_the_place_at_once_and_the_whole_later(long: Piece) -> None:
    stand, room = stand_with(long)
    while room.jobs:
        room.done()
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(type(stand), "place", moment_in(long, len(long.bars) // 2))
        stand.house.pane.surface = pygame.Surface((1100, 660), 0, 32)
        stand.house.draw()
        assert room.done() == "fitted"
        seen = stand.page.score
        assert seen is not None
        assert not seen.whole
        assert seen.systems[0].bars[0][0] > 0
        assert seen.reaches(stand.place)
        assert seen.engraved.look.width_px < 1100
        assert not undrawn(Score(long, seen.systems[:2], seen.engraved))
        stand.house.draw()
        # Another size before the whole of this one is there.
        stand.house.pane.surface = pygame.Surface((1060, 660), 0, 32)
        stand.house.draw()
        assert room.given_up == ["page"]
        while room.jobs:
            room.done()
            stand.house.draw()
        assert stand.page.score is not None
        assert stand.page.score.whole
        assert stand.page.score.engraved.look.width_px < seen.engraved.look.width_px


def test_a_finger_is_known_and_kept_before_the_page_has_them_all_and_what_is_seen_comes_first(long: Piece) -> None:
    bare = replace(long, notes=tuple(replace(note, finger=None) for note in long.notes))
    stand, room = stand_with(bare)
    while room.jobs:
        room.done()
    place = bare.moments[moment_in(bare, len(bare.bars) // 2)].onset
    stand.fingering.toggle()
    stand.fingering._to("right", place)
    note, score = stand.fingering.note, stand.page.score
    stand.house.draw()
    assert stand.house.canvas is not None
    assert "finger.head" in {box.name for box in stand.house.canvas.boxes}
    assert stand.fingering.finger_of(note) == 0
    assert "looking" in stand.fingering.caption[0]
    stand.fingering.say(4)
    assert (stand.house.journal_file.parent / "fingers.toml").exists()
    assert stand.fingering.finger_of(note) == 4
    stand.fingering.undo()
    assert room.done() == "known"
    assert stand.fingering.finger_of(note) > 0
    assert stand.page.score is score
    stand.house.draw()
    while stand.page.score is score:
        room.done()
    seen = stand.page.score
    assert seen is not None
    assert not seen.whole
    assert seen.system_at(stand.place) == seen.system_of[note]
    assert len(seen.systems[seen.system_of[note]].fingers) == len(seen.systems[seen.system_of[note]].heads)
    # Where it is not laid out yet the page stands as it was, until it is.
    stand.fingering._to("right", bare.bars[2].onset)
    stand.house.draw()
    assert stand.page.score is score
    assert "finger.head" in {box.name for box in stand.house.canvas.boxes}
    assert stand.fingering.finger_of(stand.fingering.note) > 0
    while room.jobs:
        room.done()
        stand.house.draw()
    assert stand.page.score is not None
    assert stand.page.score.whole
    assert all(2 * len(system.fingers) > len(system.heads) for system in stand.page.score.systems)


def test_a_finger_said_on_a_page_of_which_a_part_is_there_measures_nothing_anew(
    long: Piece, monkeypatch: pytest.MonkeyPatch
) -> None:
    bare = replace(long, title="Bare", notes=tuple(replace(note, finger=None) for note in long.notes))
    stand, room = stand_with(bare, size=(1220, 680))
    room.done()
    stand.fingering.toggle()
    stand.house.draw()
    # The whole of no page is done.
    before = stand.page.score
    while stand.page.score is before or not stand.page.fingered.fingers:
        name, work = next(one for one in room.jobs if one[0] != "gone_on" and one is not room.jobs[0])
        room.jobs.remove((name, work))
        work()
    seen = stand.page.score
    assert seen is not None
    assert not seen.whole
    room.jobs.clear()
    laid: list[tuple[int, int]] = []

    def counted(piece: Piece, look: Look, bars: tuple[int, int], *begins: tuple[int, ...]) -> Engraved:
        laid.append(bars)
        return stretch(piece, look, bars, *begins)

    monkeypatch.setattr(fitting, "stretch", counted)
    monkeypatch.setattr(fitting, "heights", lambda *_: pytest.fail("it is as large as it was"))
    stand.fingering.say(5 if stand.fingering.finger_of(stand.fingering.note) != 5 else 4)
    stand.house.draw()
    while stand.page.score is seen:
        room.done()
    assert stand.page.score is not None
    assert not stand.page.score.whole
    assert len(laid) <= 2
    assert stand.page.score.engraved.look == seen.engraved.look
    shown = [system.bars for system in stand.page.score.systems]
    assert shown[:2] == [system.bars for system in seen.systems][:2]
    assert not stand.fingering._pending


def test_chords_stand_under_the_systems_that_are_there_alone(long: Piece) -> None:
    whole = engrave(long, Look(1000, 36.0, ribbon_px=26.0))
    score = score_of(long, Drawn(replace(whole, systems=whole.systems[3:6]), {}, whole=False))
    found = harmonies(long)
    inside = [one for one in found if score.holds(one.onset)]
    rows = [entries(score, found, at, plan(long.key, "F").interval) for at in range(3)]
    assert 0 < len(inside) < len(found)
    assert sum(map(len, rows)) == len(inside)
