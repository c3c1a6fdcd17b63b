"""Advice on the notes of a key: its signs forgotten, one note taken for another."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from trainer.following import marks
from trainer.music.compass import OPEN, level
from trainer.music.keys import MAJOR, MINOR, Key
from trainer.window.copy.advised import OFTEN, Advice, often, slower
from trainer.window.copy.finished import Finished
from trainer.window.copy.takenfor import wrong_alike
from trainer.window.strings import key_name, say
from trainer.window.wish import Wish


def of_signs(take: Finished, wish: Wish, rest: list[tuple[int, str]], letters: str) -> Iterator[Advice]:
    """A signature forgotten again and again: of a piece that changes its key the one that stands there."""
    where = Counter(
        take.expected.key_at(take.piece.notes[note].onset) for note, cause in rest if cause == marks.SIGNATURE
    )
    for key, forgotten in where.most_common(1):
        if forgotten < 2:
            return
        keys = {"key": key_name(key, letters), "written": key_name(take.plan.written, letters)}
        if key != take.plan.target:
            yield Advice(say("advice.signature.later", often=often(forgotten), **keys), slower(take), 1.4 * forgotten)
            return
        # C major and A minor have no signature that could be forgotten.
        name = "advice.signature" if key.signature else "advice.signature.none"
        letters_of = [take.expected.notes[note].pitch.letter for note, cause in rest if cause == marks.SIGNATURE]
        first = _practised_first(key, letters_of, level(take.piece))
        words = say(
            {"pentascale": name, "": f"{name}.signs"}.get(first, f"{name}.scale"), often=often(forgotten), **keys
        )
        yield Advice(words, wish if first else slower(take), 1.4 * forgotten, pattern=first)


def _practised_first(key: Key, forgotten: Sequence[str], at: str) -> str:
    """The pattern in which most of the letters forgotten stand: beyond the five fingers the scale, where hands travel
    already; else none.
    """
    five = {key.degree(number).letter for number in range(1, 6)}
    if 2 * sum(letter in five for letter in forgotten) >= len(forgotten):
        return "pentascale"
    return "scale-one-octave" if at == OPEN else ""


def of_same(take: Finished, wish: Wish, rest: list[tuple[int, str]], letters: str) -> Iterator[Advice]:
    """One note of the key played as the same other one, again and again."""
    target = take.plan.target
    for taken, count in wrong_alike(take, rest, letters).most_common(1):
        if count >= OFTEN:
            parallel = Key(target.letter, target.alteration, MAJOR if target.is_minor else MINOR)
            keys = {"key": key_name(target, letters), "other": key_name(parallel, letters)}
            name, pattern, weight = ("mode", "pentascale", 2.2) if taken.mode else ("same", "", 1.3)
            words = say(f"advice.{name}", right=taken.right, played=taken.played, often=often(count), **keys)
            yield Advice(words, wish, weight * count, pattern=pattern)
