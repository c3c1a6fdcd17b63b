"""A second process that reads and engraves, so that no frame ever waits for it.

The engraver holds the interpreter while it works (20 to 200 ms a page): a thread would stall the screen.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import pickle
import queue
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

from trainer.journal.errors import JournalError
from trainer.music.pitch import MusicError
from trainer.window.strings import say

Result = TypeVar("Result")


# So often the second process may die over a job: what ended it may have come from outside, such as want of memory.
_DEATHS = 2


class WorkLost(MusicError):
    """The second process died over a job, again."""

    def __init__(self) -> None:
        super().__init__("This piece cannot be read or engraved here: choose another, or export it again as MusicXML.")


def told(trouble: Exception, otherwise: str) -> str:
    """One sentence for a job that failed: its own where it was made for the player, else the table's `otherwise`."""
    return str(trouble) if isinstance(trouble, MusicError | JournalError) else say(otherwise)


@dataclass(eq=False)
class _Job:
    """What was asked for, and how often the second process died over it."""

    work: Callable[..., Any]
    given: tuple[Any, ...]
    then: Callable[[Any], None]
    failed: Callable[[Exception], None]
    place: str
    deaths: int = 0


# A piece in use remembers what it works out, and while it is packed in another thread that breaks the packing off.
_PACKINGS = 20


class _Given:
    """The values of a job on their way to the second process, packed anew when they grew meanwhile."""

    def __init__(self, given: tuple[Any, ...]) -> None:
        self._given = given

    def __reduce__(self) -> tuple[Callable[[bytes], Any], tuple[bytes]]:
        for _ in range(_PACKINGS):
            with contextlib.suppress(RuntimeError):
                return pickle.loads, (pickle.dumps(self._given),)
        return pickle.loads, (pickle.dumps(self._given),)


def _done_with(work: Callable[..., Result], given: tuple[Any, ...]) -> Result:
    """A job in the second process, where what it is given comes unpacked."""
    return work(*given)


class _Lifeline(Protocol):
    """One end of a pipe between the two processes, whatever the system makes it of."""

    def poll(self, timeout: float | None) -> bool: ...
    def close(self) -> None: ...


def _live_with(lifeline: _Lifeline) -> None:
    """End this process when the other end is closed, by the window or by its death: nothing is left running.

    Ctrl-C in a terminal is meant for the window, which then closes.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)

    def wait() -> None:
        # Windows says of an end long closed that the pipe is broken.
        with contextlib.suppress(OSError):
            lifeline.poll(None)
        os._exit(0)

    threading.Thread(target=wait, name="lifeline", daemon=True).start()


class _Process:
    """A process of its own, and the jobs it does one after the other.

    Parameters
    ----------
    done : callable
        Called from another thread with a job and what came of it.
    """

    def __init__(self, done: Callable[[Future[Any], _Job, _Process], None]) -> None:
        self._done = done
        self._pool: ProcessPoolExecutor | None = None
        self._lifeline: _Lifeline | None = None
        # In the order they were asked for: the first is at work, the others have not been handed to the process yet.
        self.jobs: list[_Job] = []

    def ask(self, asked: _Job) -> None:
        self.jobs.append(asked)
        if len(self.jobs) == 1:
            self.submit(asked)

    def drop(self, place: str) -> None:
        """What waits for a place on the screen is not wanted any more."""
        self.jobs[1:] = [one for one in self.jobs[1:] if one.place != place]

    def give_up(self, place: str) -> None:
        """What is done for a place on the screen is not waited for: the process ends, another goes on."""
        self.drop(place)
        if self.jobs and self.jobs[0].place == place:
            self.close()
            self.went(self.jobs[0])

    def submit(self, asked: _Job) -> None:
        given: Any = _Given(asked.given)
        try:
            future = self._opened().submit(_done_with, asked.work, given)
        except BrokenProcessPool:
            self.close()
            future = self._opened().submit(_done_with, asked.work, given)
        future.add_done_callback(lambda done: self._done(done, asked, self))

    def _opened(self) -> ProcessPoolExecutor:
        if self._pool is None:
            far, self._lifeline = multiprocessing.get_context("spawn").Pipe(duplex=False)
            self._pool = ProcessPoolExecutor(1, multiprocessing.get_context("spawn"), _live_with, (far,))
        return self._pool

    def went(self, asked: _Job) -> None:
        """A job is done: on to the next."""
        if asked in self.jobs:
            self.jobs.remove(asked)
            if self.jobs:
                self.submit(self.jobs[0])

    def close(self) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = None
        if self._lifeline is not None:
            # A job that is still running is not waited for.
            self._lifeline.close()
            self._lifeline = None


class Workroom:
    """Jobs done elsewhere, their results handed over when asked for.

    Parameters
    ----------
    wake : callable
        Called from another thread when a result is there.
    here : bool
        Do every job at once in this process instead (for pictures).
    """

    def __init__(self, wake: Callable[[], None], here: bool = False) -> None:
        self._wake = wake
        self._here = here
        self._process = _Process(self._handed)
        # What may take seconds, while the other goes on with what is looked at; there only as long as it works.
        self._behind = _Process(self._handed)
        self._keeper: ThreadPoolExecutor | None = None
        self._done: queue.SimpleQueue[tuple[Future[Any], _Job, _Process | None]] = queue.SimpleQueue()

    @property
    def waiting(self) -> int:
        """How many jobs are not handed over yet."""
        return len(self._process.jobs) + len(self._behind.jobs)

    def _handed(self, done: Future[Any], asked: _Job, process: _Process | None = None) -> None:
        self._done.put((done, asked, process))
        self._wake()

    def ask(
        self,
        job: Callable[..., Result],
        *given: Any,
        then: Callable[[Result], None],
        failed: Callable[[Exception], None],
        place: str = "",
        behind: bool = False,
    ) -> None:
        """Start a job: a function of some module, with values. `collect` will call `then` or `failed`.

        One that still waits for the same named `place` on the screen is not wanted any more and is never done: while a
        window is drawn to another size its page is asked for again and again. What takes seconds and is not looked at
        yet is done `behind`, in a process of its own.
        """
        if self._here:
            try:
                result = job(*given)
            except Exception as trouble:  # handed on, as from the other process
                failed(trouble)
            else:
                then(result)
            return
        for process in (self._process, self._behind) if place else ():
            process.drop(place)
        (self._behind if behind else self._process).ask(_Job(job, given, then, failed, place))

    def give_up(self, place: str) -> None:
        """What is done `behind` for a place on the screen is not wanted any more, though it has been begun."""
        self._behind.give_up(place)

    def ask_aside(
        self,
        job: Callable[..., Result],
        *given: Any,
        then: Callable[[Result], None],
        failed: Callable[[Exception], None],
    ) -> None:
        """As `ask`, of a job that only waits for another program: in a thread, so that no page waits behind it."""
        if self._here:
            self.ask(job, *given, then=then, failed=failed)
            return
        asked, future = _Job(job, given, then, failed, ""), Future[Result]()

        def wait() -> None:
            try:
                future.set_result(job(*given))
            except Exception as trouble:  # handed on, as from the other process
                future.set_exception(trouble)
            self._handed(future, asked)

        # The end of the program does not wait for it.
        threading.Thread(target=wait, name="aside", daemon=True).start()

    def keep(
        self,
        job: Callable[..., Result],
        *given: Any,
        then: Callable[[Result], None],
        failed: Callable[[Exception], None],
    ) -> None:
        """As `ask`, of a short job that writes down what the player said: in a thread, one after the other as they were
        asked for. None waits for a page, and none is lost when the program ends.
        """
        if self._here:
            self.ask(job, *given, then=then, failed=failed)
            return
        if self._keeper is None:
            self._keeper = ThreadPoolExecutor(1, "keeper")
        asked = _Job(job, given, then, failed, "")
        self._keeper.submit(job, *given).add_done_callback(lambda done: self._handed(done, asked))

    def collect(self) -> bool:
        """Hand over what has been done; whether there was anything."""
        handed = False
        while not self._done.empty():
            future, asked, process = self._done.get()
            trouble = None if future.cancelled() else future.exception()
            if process is not None and asked not in process.jobs:
                # It was given up.
                continue
            if process is not None and isinstance(trouble, BrokenProcessPool):
                asked.deaths += 1
                if asked.deaths < _DEATHS:
                    process.submit(asked)
                    continue
                trouble = WorkLost()
            if process is not None:
                process.went(asked)
            if not self._behind.jobs:
                self._behind.close()
            if future.cancelled():
                continue
            handed = True
            if isinstance(trouble, Exception):
                asked.failed(trouble)
            else:
                asked.then(future.result())
        return handed

    def close(self) -> None:
        if self._keeper is not None:
            self._keeper.shutdown()
            self._keeper = None
        self._process.close()
        self._behind.close()
