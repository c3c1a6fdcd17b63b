"""Assignments: a file a teacher can edit, progress by itself."""

from __future__ import annotations

import pathlib
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

import pytest

from trainer.coaching.work.assignments import (
    DONE,
    FILE,
    LARGEST,
    LATE,
    NOT_BEGUN,
    UNDER_WAY,
    Assignment,
    add,
    load,
    progress,
)
from trainer.coaching.work.work import as_file, asked
from trainer.music.keys import Key
from trainer.music.pitch import MusicError
from trainer.scores import plain
from trainer.scores.shelf import library

TODAY = date(2027, 2, 10)
WORK = Assignment("aura-lee", "Aura Lee", ("Eb", "F#"), ("Ada Winter",), tempo=60, help="do", times=2,
                  given=TODAY - timedelta(days=4), by=TODAY + timedelta(days=10), note="Left hand first.")  # fmt: skip


@dataclass(frozen=True)
class Take:
    target: str = "Eb"
    accuracy: float | None = 1.0
    pulse: float | None = 60.0
    help: str = "do"
    hands: str = "both"
    glimpsed: bool = False
    title: str = "Aura Lee"
    is_most: bool = True
    days_ago: int = 0

    @property
    def began(self) -> datetime:
        return datetime(TODAY.year, TODAY.month, TODAY.day, 9, tzinfo=UTC) - timedelta(days=self.days_ago)


def test_added_and_read_back(tmp_path: pathlib.Path) -> None:
    plain = Assignment("x", "x", ("-m3",))
    add(tmp_path, WORK)
    add(tmp_path, plain)
    assert load(tmp_path) == (WORK, plain)


def test_what_a_teacher_wrote_stays(tmp_path: pathlib.Path) -> None:
    text = '# spring term\n[[assignment]]\nplayer = ["Ada", "Ben"]  # sisters? no\npiece = "x"\nkeys = "Eb"\n'
    (tmp_path / FILE).write_text(text)
    add(tmp_path, WORK)
    assert (tmp_path / FILE).read_text(encoding="utf-8").startswith(text)
    assert [one.piece for one in load(tmp_path)] == ["x", "aura-lee"]


@pytest.mark.parametrize("before", ["assignment = []", 'assignment = [{piece = "ode-to-joy", keys = ["F"]}]'])
def test_a_list_in_brackets_is_added_to_and_stays_whole(tmp_path: pathlib.Path, before: str) -> None:
    (tmp_path / FILE).write_text(f"# mine\n{before}\n")
    kept = load(tmp_path)
    add(tmp_path, WORK)
    assert load(tmp_path) == (*kept, WORK)
    assert (tmp_path / FILE).read_text(encoding="utf-8").startswith("# mine")


def test_a_year_of_a_busy_studio_is_read_and_added_to(tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked_for: list[str | pathlib.Path] = []
    find = library.find

    def counted(name: str | pathlib.Path) -> pathlib.Path:
        asked_for.append(name)
        return find(name)

    monkeypatch.setattr(library, "find", counted)
    one = replace(WORK, known_as="Aura Lee", note="Left hand alone first, then both, and slowly.")
    as_file(tmp_path / FILE, [one] * 1000)
    assert (tmp_path / FILE).stat().st_size > plain.LARGEST
    assert len(load(tmp_path)) == 1000
    assert asked_for == ["aura-lee"]
    add(tmp_path, replace(WORK, players=("Ben",)))
    assert [len(load(tmp_path)), load(tmp_path)[-1].players] == [1001, ("Ben",)]


def test_a_full_file_is_not_added_to_and_can_be_read_on(tmp_path: pathlib.Path) -> None:
    add(tmp_path, WORK)
    room = LARGEST - (tmp_path / FILE).stat().st_size - 10
    with (tmp_path / FILE).open("a") as file:
        file.write(f"#{'x' * room}\n")
    with pytest.raises(MusicError, match=r"^assignments\.toml holds as much as it can"):
        add(tmp_path, WORK)
    assert load(tmp_path) == (WORK,)


def test_for_whom() -> None:
    assert WORK.is_for("Ada Winter")
    assert not WORK.is_for("Ben")
    assert replace(WORK, players=()).is_for("Ben")


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ('piece = "x"\nkeys = ["Eb", "H"]', "'H' is not a key"), ('piece = "aura-lee"\nkeys = "+99"', "two octaves"),
        ('keys = ["Eb"]', "piece is missing"), ('piece = "x"', "keys is missing"),
        ('piece = "x"\nkeys = [1]', "list of texts"), ('piece = "x"\nkeys = "Eb"\nhands = "three"', "one of both"),
        ('piece = "x"\nkeys = "Eb"\nhelp = "lots"', "one of all"), ('piece = "x"\nkeys = "Eb"\ngoal = 90', "0 to 1"),
        ('piece = "x"\nkeys = "Eb"\nby = "soon"', "date without quotes"),
        ('piece = "x"\nkeys = "Eb"\nhand = "left"', r"'hand' is unknown; did you mean hands\?"),
        ('piece = "x"\nkeys = "Eb"\nuntil = 2027-02-20', "'until' is unknown; there are player, piece, "),
        ('piece = "x"\nkeys = "Eb"\ntempo = 0', "from 10"), ('piece = "x"\nkeys = "Eb"\ntimes = 0', "from 1"),
    ],
)  # fmt: skip
def test_wrong_entries_are_said_and_nothing_is_overwritten(tmp_path: pathlib.Path, entry: str, says: str) -> None:
    text = f"[[assignment]]\n{entry}\n"
    (tmp_path / FILE).write_text(text)
    with pytest.raises(MusicError, match=f"assignment 1: .*{says}"):
        load(tmp_path)
    with pytest.raises(MusicError):
        add(tmp_path, WORK)
    assert (tmp_path / FILE).read_text(encoding="utf-8") == text


def test_a_misspelt_block_is_told_and_not_passed_over(tmp_path: pathlib.Path) -> None:
    (tmp_path / FILE).write_text('[[assignments]]\npiece = "aura-lee"\nkeys = ["Eb"]\n')
    with pytest.raises(MusicError, match=r"'assignments' is unknown; work is written as \[\[assignment\]\] blocks"):
        load(tmp_path)


def test_a_key_of_the_other_mode_is_told_as_it_will_be_played(tmp_path: pathlib.Path) -> None:
    """Transposing keeps the mode: e for a piece in major is E major, and a take in E major does the work."""
    (tmp_path / FILE).write_text('[[assignment]]\npiece = "aura-lee"\nkeys = ["e"]\n')
    (work,) = load(tmp_path)
    assert work.words.startswith("Aura Lee: E major, ")
    assert progress(work, [Take("E")], TODAY, work.written).state == DONE


def test_two_good_takes_in_each_key_are_done() -> None:
    takes = [Take(), Take(days_ago=1), Take("F#"), Take("Gb", days_ago=2)]
    found = progress(WORK, takes, TODAY)
    assert (found.state, found.share, found.words) == (DONE, 1.0, DONE)
    assert [key.done for key in found.keys] == [TODAY, TODAY]


@pytest.mark.parametrize(
    "short",
    [
        Take(accuracy=0.89), Take(pulse=56.0), Take(pulse=None), Take(help="bars"), Take(glimpsed=True),
        Take(is_most=False),
    ],
)  # fmt: skip
def test_a_take_short_of_the_goal_counts_as_tried_only(short: Take) -> None:
    key = progress(WORK, [short], TODAY).keys[0]
    assert (key.tried, key.reached, key.done) == (1, 0, None)


@pytest.mark.parametrize(
    "other", [Take(title="Other"), Take(hands="left"), Take(days_ago=5), Take("eb"), Take(accuracy=None)]
)
def test_other_takes_do_not_count(other: Take) -> None:
    key = progress(WORK, [other], TODAY).keys[0]
    assert (key.tried, key.best) == (0, None)


def test_a_look_at_the_transposed_page_is_all_the_help() -> None:
    looked = Take(help="bars", glimpsed=True)
    allowed = {help_: replace(WORK, help=help_, times=1) for help_ in ("bars", "all")}
    found = {help_: progress(work, [looked], TODAY).keys[0].reached for help_, work in allowed.items()}
    assert found == {"bars": 0, "all": 1}


def test_more_help_than_needed_is_less_help_given() -> None:
    assert progress(replace(WORK, times=1), [Take(help="none")], TODAY).keys[0].reached == 1


@pytest.mark.parametrize(
    ("takes", "told"),
    [
        ([Take(accuracy=0.84)], "best 84%"),
        ([Take(accuracy=0.97, help="all")], "97% right, but with all syllables shown"),
        ([Take(accuracy=0.97, glimpsed=True)], "97% right, but with a look at the transposed page"),
        ([Take(pulse=48.2)], "100% right, but at 48, not 60"),
        ([Take(pulse=None)], "100% right, but in no tempo"),
        ([Take(is_most=False)], "100% right, but not the whole piece"),
        # What came after it, poorer or good, is the latest word only where it was right enough.
        ([Take(accuracy=0.95, help="bars", days_ago=2), Take(accuracy=0.5)],
         "95% right, but with syllables once a bar"),
        ([Take(help="all", days_ago=2), Take(days_ago=1)], "best 100%"),
    ],
)  # fmt: skip
def test_why_what_was_right_enough_does_not_count_is_told(takes: list[Take], told: str) -> None:
    found = progress(replace(WORK, times=2), takes, TODAY)
    assert found.told == f"0 of 2 keys done, under way: {told}"
    assert asked(found, found.keys[0], TODAY).startswith(
        f"set: 90% right, at 60 or faster, {found.keys[0].reached} of 2 times, by Saturday 20 February"
        f"{'' if told.startswith('best') else f', last {told}'}. "
    )


def test_what_is_done_or_not_begun_needs_no_word() -> None:
    assert progress(WORK, [], TODAY).told == "0 of 2 keys done, not begun"
    done = progress(replace(WORK, keys=("Eb",), times=1), [Take(), Take(help="all")], TODAY)
    assert done.told == "done"


def test_states() -> None:
    assert progress(WORK, [], TODAY).state == NOT_BEGUN
    half = progress(WORK, [Take(), Take()], TODAY)
    assert (half.state, half.share, half.words) == (UNDER_WAY, 0.5, "1 of 2 keys done, under way")
    assert WORK.by is not None
    assert progress(WORK, [Take()], WORK.by + timedelta(days=1)).state == LATE
    assert progress(WORK, [Take()], WORK.by).state == UNDER_WAY


def test_a_key_as_an_interval_needs_the_written_key() -> None:
    work = Assignment("x", "Aura Lee", ("-m3",))
    assert progress(work, [Take("E")], TODAY, Key.parse("G")).state == DONE


def test_a_distance_from_a_key_nobody_knows_takes_nothing_else_away() -> None:
    """On the student's computer the teacher's own tune may be missing."""
    work = Assignment("own-tune", "Own Tune", ("-3", "Eb"))
    found = progress(work, [Take("Eb", title="Own Tune")], TODAY)
    assert [one.key.short for one in found.keys] == ["Eb"]
    assert (found.state, found.wanted, found.share) == (UNDER_WAY, (), 0.5)
    assert found.words == "1 of 2 keys done, under way"
    assert progress(replace(work, keys=("-3",)), [], TODAY).state == NOT_BEGUN


def test_in_words() -> None:
    assert WORK.words == (
        "Aura Lee: E♭ major, F♯ major, at 60 beats a minute or more, 90% right, twice in each key, only do shown, "
        "by 20 February"
    )


def test_a_key_asked_for_by_its_distance_is_told_in_words() -> None:
    asked = replace(WORK, keys=("-3", "+1", "-m3", "+0", "f#"))
    said = "3 semitones lower, 1 semitone higher, down a minor third, as written, F♯ minor"
    assert asked.words.startswith(f"Aura Lee: {said}, ")


def test_a_piece_without_a_title_bears_its_own_and_its_takes_count(tmp_path: pathlib.Path) -> None:
    (tmp_path / FILE).write_text('[[assignment]]\npiece = "lightly-row"\nkeys = ["-m3"]\n')
    (work,) = load(tmp_path)
    assert work.title == "Lightly Row (Hänschen klein)"
    assert progress(work, [Take("D", title=work.title)], TODAY, work.written).state == DONE


def test_both_hands_of_a_piece_for_one_are_that_hand() -> None:
    both = Assignment("x", "Aura Lee", ("Eb",))
    assert progress(both, [Take(hands="right")], TODAY).state == NOT_BEGUN
    assert progress(replace(both, alone="right"), [Take(hands="right")], TODAY).state == DONE


def test_a_title_of_the_teachers_own_does_not_hide_the_takes(tmp_path: pathlib.Path) -> None:
    (tmp_path / FILE).write_text('[[assignment]]\npiece = "aura-lee"\ntitle = "the slow song"\nkeys = ["Eb"]\n')
    (work,) = load(tmp_path)
    assert work.words.startswith("the slow song: ")
    assert progress(work, [Take("Eb")], TODAY).state == DONE


def test_work_for_a_hand_the_piece_does_not_have_is_refused_in_a_sentence(tmp_path: pathlib.Path) -> None:
    left = Assignment("hop-hop-zehren", "Hop, hop, Zehren", ("D",), hands="left")
    with pytest.raises(MusicError, match=r"^Hop, hop, Zehren is for the left hand alone: set it for that hand\.$"):
        add(tmp_path, replace(left, hands="right"))
    assert not (tmp_path / FILE).exists()
    add(tmp_path, left)
    add(tmp_path, replace(left, hands="both"))
    add(tmp_path, replace(left, piece="aura-lee", hands="right"))
    add(tmp_path, replace(left, piece="not on the shelf", hands="right"))
    assert len(load(tmp_path)) == 4
    (tmp_path / FILE).write_text('[[assignment]]\npiece = "hop-hop-zehren"\nkeys = "D"\nhands = "right"\n')
    with pytest.raises(MusicError, match='Hop, hop, Zehren is for the left hand alone; write hands = "left"'):
        load(tmp_path)
