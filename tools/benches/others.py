"""The open libraries' matchers on the takes of ``tools/bench.py follow --compare`` (extra ``compare``)."""

from __future__ import annotations

import contextlib
import io
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from tools.benches.scoring import f1, keys_of, true_pairs
from tools.learner import Take
from trainer.music.piece import Piece

# Matches as (index of a press, index of a note).
Pairs = set[tuple[int, int]]
LOWEST = 21  # MIDI number of a piano's lowest key


def scores(expected: Piece, take: Take) -> Iterator[tuple[str, float | None]]:
    """F1 of each library on one take, by name; None where it gives up."""
    key = keys_of(expected)
    for name, match in (
        ("parangonar 3.4 off-line DTW", _warped),
        ("parangonar 3.4 off-line switching HMM", _switching),
        ("parangonar 3.4 on-line T-OLTW", _online("TOLTWMatcher")),
        ("parangonar 3.4 on-line OLTW", _online("OLTWMatcher")),
        ("parangonar 3.4 on-line transformer with tempo", _online("OnlineTransformerMatcher")),
        ("parangonar 3.4 on-line transformer that may jump", _online("OnlinePureTransformerMatcher")),
        ("pymatchmaker 0.3 on-line outer-product HMM, keys struck again", _jumping),
        ("pymatchmaker 0.3 on-line pitch and time HMM, keys struck again", _timed),
    ):
        try:
            with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
                found = match(expected, take)
        except ImportError:  # not installed (the transformers want torch): no row
            continue
        except Exception:  # another program's crash is its result
            yield name, None
            continue
        pitches = [press.pitch for press in take.presses], [note.midi for note in expected.notes]
        equal = {(press, key[note]) for press, note in found if pitches[0][press] == pitches[1][note]}
        yield name, f1(equal, true_pairs(take, key))


def _warped(expected: Piece, take: Take) -> Pairs:
    from parangonar.match import DualDTWNoteMatcher

    score, played = _arrays(expected, take)
    return _pairs(DualDTWNoteMatcher()(score, played, process_ornaments=False, score_part=None), int)


def _online(matcher: str) -> Callable[[Piece, Take], Pairs]:
    def match(expected: Piece, take: Take) -> Pairs:
        from parangonar.match import online_matchers

        score, played = _arrays(expected, take)
        return _pairs(getattr(online_matchers, matcher)(score).offline(played), int)

    return match


def _switching(expected: Piece, take: Take) -> Pairs:
    """The matcher made for practice with repeats and skips; it wants a score and not its notes alone."""
    import partitura
    from parangonar.mismatch import SwitchingOuterHMMMatcher

    from trainer.scores.engraving.writing import to_musicxml

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "expected.musicxml"
        path.write_text(to_musicxml(expected), encoding="utf-8")
        score = partitura.load_score(str(path))
    notes = [
        {"id": f"p{i}", "midi_pitch": p.pitch, "note_on": p.at, "note_off": p.at + 0.2, "velocity": p.velocity,
         "track": 0, "channel": 0}
        for i, p in enumerate(take.presses)
    ]  # fmt: skip
    played = partitura.performance.Performance([partitura.performance.PerformedPart(notes)])
    numbers = {note.id: number for number, note in enumerate(expected.notes)}
    return _pairs(SwitchingOuterHMMMatcher(unfold_score=False)(score, played), numbers.get)


def _jumping(expected: Piece, take: Take) -> Pairs:
    """The hidden Markov follower that may jump anywhere."""
    import numpy as np
    from matchmaker.prob.outer_product_hmm import OuterProductHMM

    return _placed(OuterProductHMM, lambda chord: np.isin(np.arange(88), chord).astype(float), expected, take)


def _timed(expected: Piece, take: Take) -> Pairs:
    """The hidden Markov follower that weighs the time between chords too."""
    import numpy as np
    from matchmaker.prob.hmm import PitchIOIHMM
    from matchmaker.utils.tempo_models import KalmanTempoModel

    def build(score: Any) -> Any:
        return PitchIOIHMM(score, tempo_model=KalmanTempoModel, piano_range=True, has_insertions=True)

    return _placed(build, np.array, expected, take)


def _placed(build: Callable[[Any], Any], seen: Callable[[list[int]], Any], expected: Piece, take: Take) -> Pairs:
    """A follower that tells places only: a press is tied to the note on its key there, however often it is struck."""
    from matchmaker.features.midi import CHORD_THRESHOLD

    score, _ = _arrays(expected, take)
    follower = build(score)
    there: dict[float, dict[int, int]] = {}
    for number, note in enumerate(expected.notes):
        there.setdefault(float(score["onset_beat"][number]), {}).setdefault(note.midi, number)
    found: Pairs = set()
    first = 0
    while first < len(take.presses):
        begun = take.presses[first].at
        chord = [i for i, press in enumerate(take.presses[first:], first) if press.at - begun <= CHORD_THRESHOLD]
        place = float(follower(seen([take.presses[i].pitch - LOWEST for i in chord]), begun))
        notes = there.get(place, {})  # empty where it takes the chord for one inserted
        found |= {(i, notes[take.presses[i].pitch]) for i in chord if take.presses[i].pitch in notes}
        first = chord[-1] + 1
    return found


def _pairs(matched: Any, note_of: Callable[[str], int | None]) -> Pairs:
    found = set()
    for pair in matched:
        if pair["label"] == "match":
            note = note_of(str(pair["score_id"]))
            if note is not None:
                found.add((int(str(pair["performance_id"])[1:]), note))
    return found


def _arrays(expected: Piece, take: Take) -> tuple[Any, Any]:
    """Score and performance as partitura's note arrays."""
    import numpy as np

    both = [("onset_beat", "f4"), ("duration_beat", "f4"), ("onset_quarter", "f4"), ("duration_quarter", "f4")]
    score = np.array(
        [
            (float(n.onset), float(n.length), float(n.onset), float(n.length), n.midi, 1, n.grace, str(i))
            for i, n in enumerate(expected.notes)
        ],
        dtype=[*both, ("pitch", "i4"), ("voice", "i4"), ("is_grace", "?"), ("id", "U16")],
    )
    played = np.array(
        [(p.at, 0.2, p.pitch, p.velocity, 0, 1, f"p{i}") for i, p in enumerate(take.presses)],
        dtype=[("onset_sec", "f4"), ("duration_sec", "f4"), ("pitch", "i4"), ("velocity", "i4"), ("track", "i4"),
               ("channel", "i4"), ("id", "U16")],
    )  # fmt: skip
    return score, played
