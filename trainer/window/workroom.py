"""A second process that reads and engraves, so that no frame ever waits for it.

The engraver holds the interpreter while it works (20 to 200 ms a page): a thread would stall the screen.
"""

from __future__ import annotations

import multiprocessing
import queue
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from typing import Any, TypeVar

Result = TypeVar("Result")


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
        if self._pool is None:
            self._pool = ProcessPoolExecutor(1, multiprocessing.get_context("spawn"))
        self.waiting += 1
        future = self._pool.submit(job, *given)

        def finished(done: Future[Any]) -> None:
            self._done.put((done, then, failed))
            self._wake()

        future.add_done_callback(finished)

    def collect(self) -> None:
        """Hand over what has been done."""
        while not self._done.empty():
            future, then, failed = self._done.get()
            self.waiting -= 1
            if future.cancelled():
                continue
            trouble = future.exception()
            if isinstance(trouble, Exception):
                failed(trouble)
            else:
                then(future.result())

    def close(self) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = None
