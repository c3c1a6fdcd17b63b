"""A studio over a year: forty hand-overs merged, then a report for every student."""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from tools.studio import names, studio
from trainer.coaching.paper.lesson import lesson
from trainer.coaching.paper.lesson import studio as studio_page
from trainer.journal.handover import hand_over, take_in
from trainer.journal.store import Journal
from trainer.scores import reading
from trainer.scores.paper.printing import to_html, to_pdf
from trainer.scores.shelf import library


def run(argv: Sequence[str]) -> int:
    parser = argparse.ArgumentParser(prog="bench.py studio")
    parser.add_argument("--students", type=int, default=40)
    parser.add_argument("--takes", type=int, default=150, help="by each, over the year")
    args = parser.parse_args(argv)
    now = datetime.now().astimezone()
    pieces = [reading.read(library.find(name)) for name in ("aura-lee", "lightly-row", "greensleeves")]
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        journals = studio(folder, args.students, args.takes, pieces, now)
        files = []
        for path, name in zip(journals, names(args.students), strict=True):
            with Journal(path, strict=True) as journal:
                files.append(hand_over(journal, name, path.with_suffix(".handover")).path)
        with Journal(folder / "teacher.sqlite", strict=True) as journal:
            start = time.perf_counter(), time.process_time()
            fresh = sum(take_in(journal, file).fresh for file in files)
            spent = time.perf_counter() - start[0], time.process_time() - start[1]
            presses = journal.ask("SELECT sum(played) FROM take")[0][0]
            size = sum(file.stat().st_size for file in files) / 1e6
            print(f"{len(files)} hand-overs, {fresh} takes, {presses} presses, {size:.1f} MB")
            print(f"  merged once         {spent[0]:6.2f} s, processor {spent[1]:6.2f} s")
            start = time.perf_counter(), time.process_time()
            again = sum(take_in(journal, file).fresh for file in files)
            spent = time.perf_counter() - start[0], time.process_time() - start[1]
            print(f"  merged once more    {spent[0]:6.2f} s, processor {spent[1]:6.2f} s, {again} new")
            since = now.date() - timedelta(days=28)
            times = []
            for name in journal.players():
                before = time.perf_counter()
                page = lesson(journal, name, now, since)
                to_pdf(page)
                to_html(page)
                times.append(time.perf_counter() - before)
            times.sort()
            print(f"  report, PDF and HTML: median {times[len(times) // 2]:.2f} s, worst {times[-1]:.2f} s")
            before = time.perf_counter()
            to_pdf(studio_page(journal, now, since))
            print(f"  studio page           {time.perf_counter() - before:6.2f} s")
    return 0
