"""A second process that reads and engraves, so that no frame ever waits for it.

The engraver holds the interpreter while it works (20 to 200 ms a page): a thread would stall the screen.
"""

from __future__ import annotations

import multiprocessing
import os
import queue
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.connection import Connection
from typing import Any, TypeVar

Result = TypeVar("Result")


class WorkLost(Exception):
    """The second process died over a job; the text is one sentence."""

    def __init__(self) -> None:
        super().__init__("This piece cannot be read or engraved here: choose another, or export it again as MusicXML.")


def _live_with(lifeline: Connection) -> None:
    """End this process when the other end is closed, by the window or by its death: nothing is left running.

    Ctrl-C in a terminal is meant for the window, which then closes.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)

    def wait() -> None:
        lifeline.poll(None)
        os._exit(0)

    threading.Thread(target=wait, name="lifeline", daemon=True).start()


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
        self._pool: ProcessPoolExecutor | None = None
        self._lifeline: Connection | None = None
        self._done: queue.SimpleQueue[tuple[Future[Any], Callable[[Any], None], Callable[[Exception], None]]]
        self._done = queue.SimpleQueue()
        self.waiting = 0

    def ask(
        self,
        job: Callable[..., Result],
        *given: Any,
        then: Callable[[Result], None],
        failed: Callable[[Exception], None],
    ) -> None:
        """Start a job: a function of some module, with values. `collect` will call `then` or `failed`."""
        if self._here:
            try:
                result = job(*given)
            except Exception as trouble:  # handed on, as from the other process
                failed(trouble)
            else:
                then(result)
            return
        self.waiting += 1
        try:
            future = self._opened().submit(job, *given)
        except BrokenProcessPool:
            self.close()
            future = self._opened().submit(job, *given)

        def finished(done: Future[Any]) -> None:
            self._done.put((done, then, failed))
            self._wake()

        future.add_done_callback(finished)

    def _opened(self) -> ProcessPoolExecutor:
        if self._pool is None:
            far, self._lifeline = multiprocessing.get_context("spawn").Pipe(duplex=False)
            self._pool = ProcessPoolExecutor(1, multiprocessing.get_context("spawn"), _live_with, (far,))
        return self._pool

    def collect(self) -> None:
        """Hand over what has been done."""
        while not self._done.empty():
            future, then, failed = self._done.get()
            self.waiting -= 1
            if future.cancelled():
                continue
            trouble = future.exception()
            if isinstance(trouble, BrokenProcessPool):
                failed(WorkLost())
            elif isinstance(trouble, Exception):
                failed(trouble)
            else:
                then(future.result())

    def close(self) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = None
        if self._lifeline is not None:
            # A job that is still running is not waited for.
            self._lifeline.close()
            self._lifeline = None
