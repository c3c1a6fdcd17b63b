"""Where there is no screen: a bundled recorded take played through the same session as a live one.

Prints the marks as a table, keeps the take in the journal, and saves pictures of the Stand and the Marked copy. The
take was made by ``tools/learner.py petzold-minuet-in-g --to Eb --level intermediate --seed 5``.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PIECE, KEY = "petzold-minuet-in-g", "Eb"
TAKE = ROOT / "exercises" / "takes" / "petzold-minuet-in-e-flat.mid"


def main(folder: Path | None = None) -> int:
    sys.path.insert(0, str(ROOT))
    os.environ["SDL_VIDEODRIVER"] = os.environ["SDL_AUDIODRIVER"] = "dummy"
    from trainer.commands.mark import show
    from trainer.journal.store import Journal
    from trainer.listening.press import Press
    from trainer.listening.replay import read_take
    from trainer.music.transpose import plan
    from trainer.scores import reading
    from trainer.scores.shelf import library
    from trainer.session import Session
    from trainer.window.house.still import picture_of_copy, picture_of_stand

    place = folder or Path.cwd() / "pictures"
    place.mkdir(parents=True, exist_ok=True)
    piece = reading.read(library.find(PIECE))
    wish = plan(piece.key, KEY)
    events = read_take(TAKE)
    presses = [event for event in events if isinstance(event, Press)]
    with Journal() as journal:
        session = Session(piece, wish, record=journal.begin(piece, wish))
        halfway = Session(piece, wish)
        for event in events:
            session.hear(event)
            if event.at <= presses[len(presses) // 3].at:
                halfway.hear(event)
        session.finish()
        show(session)
        kept = journal.path
    stand, copy = place / "keyfarer-stand.png", place / "keyfarer-marked-copy.png"
    picture_of_stand(halfway, stand)
    picture_of_copy(session, copy)
    print(f"There is no screen here, so a recorded take played itself. It is kept in {kept}.")
    print(f"The Stand:       {stand}\nThe Marked copy: {copy}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else None))
