"""The ease of a key in words."""

from tests.scores.making import note, piece
from trainer.hands.ease import ease
from trainer.hands.why import why
from trainer.music.keys import Key
from trainer.music.transpose import plan, transposed


def test_a_key_spelled_otherwise_is_not_called_the_written_one() -> None:
    made = piece(note("a", "F#4", 0, 1), note("b", "G#4", 1, 1), note("c", "A#4", 2, 1), key="F#")
    said = {}
    for name in ("F#", "Gb"):
        wish = plan(Key.parse("F#"), name)
        expected = transposed(made, wish.interval)
        said[name] = why(wish, expected, ease(made, expected))
    assert said["F#"] == "the written key: six sharps"
    assert said["Gb"] == (
        "the hand lies as in F sharp major, no steps round the circle of fifths, on the same keys, respelled, "
        "six flats, thumb on black, every finger stays"
    )
