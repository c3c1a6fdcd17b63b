"""What was struck at some tick, as note values: nothing lost, nothing that one voice a hand could not write."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.music.piece import LEFT, RIGHT
from trainer.scores.midi.quantising import PARTS, Sounded, quantised, unpedalled

STRUCK = st.tuples(st.sampled_from((RIGHT, LEFT)), st.integers(0, 8 * PARTS), st.integers(21, 108), st.integers(1, 200))


@given(st.lists(STRUCK, max_size=40))
def test_each_hand_is_one_voice_and_every_key_of_it_is_kept_once(notes: list[tuple[str, int, int, int]]) -> None:
    written = [(*notes[index][:3], length) for index, length in unpedalled(notes)]
    assert [one[1:3] for one in written] == sorted(one[1:3] for one in written)
    assert len({one[:3] for one in written}) == len(written)
    assert {one[:3] for one in written} == {one[:3] for one in notes}
    for hand in (RIGHT, LEFT):
        lengths: dict[int, set[int]] = defaultdict(set)
        for _, onset, _, length in (one for one in written if one[0] == hand):
            lengths[onset].add(length)
        assert all(len(found) == 1 for found in lengths.values()), "a chord ends together"
        for onset, after in pairwise(sorted(lengths)):
            assert onset + max(lengths[onset]) <= after, "no note is held into the next"


@pytest.mark.parametrize(
    ("length", "written"), [(17, 17), (18, 24), (23, 24), (24, 24), (90, 24)], ids="short near just full held".split()
)
def test_what_ends_near_the_next_note_or_after_it_is_written_up_to_it(length: int, written: int) -> None:
    assert unpedalled([(RIGHT, 0, 60, length), (RIGHT, 24, 62, 24)]) == [(0, written), (1, 24)]
    # The other hand's notes shorten nothing.
    assert unpedalled([(RIGHT, 0, 60, length), (LEFT, 24, 50, 24)]) == [(0, length), (1, 24)]


@given(st.sampled_from((24, 96, 120, 480, 960)), st.lists(st.sampled_from((1, 2, 3, 4, 6, 8)), min_size=1, max_size=20))
def test_a_beat_evenly_filled_keeps_its_places(per_quarter: int, grids: list[int]) -> None:
    places = [at * PARTS + step * PARTS // grid for at, grid in enumerate(grids) for step in range(grid)]
    sounded = [Sounded(0, 0, 60, place * per_quarter // PARTS, place * per_quarter // PARTS + 1) for place in places]
    assert [onset for onset, _ in quantised(sounded, per_quarter)] == places


@pytest.mark.parametrize("per_quarter", [96, 480, 1024])
def test_a_beat_half_of_triplets_stays_apart_in_a_file_that_nobody_played(per_quarter: int) -> None:
    # Sixteenths with a triplet among them, as a notation program writes them: no two of them become a chord.
    places = [beat * PARTS + at for beat in range(8) for at in (0, 4, 8, 12, 18)]

    def read(late: int) -> list[int]:
        ticks = [round(place * per_quarter / PARTS) + late * (at % 5 > 0) for at, place in enumerate(places)]
        return [onset for onset, _ in quantised([Sounded(0, 0, 60, at, at + 5) for at in ticks], per_quarter)]

    assert read(0) == places
    # Somebody's playing is read no finer than before.
    assert all(onset % 3 == 0 or onset % 4 == 0 for onset in read(per_quarter // 48))
