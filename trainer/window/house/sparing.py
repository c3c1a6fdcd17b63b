"""Python's collector of garbage, spared while somebody plays: going through all there is costs a fifth of a press."""

from __future__ import annotations

import gc

# New values, and passes over the young and the middle ones, before the collector looks (ours).
_SELDOM = 20_000, 20, 50


def spare() -> None:
    """What is there now stays, and need not be gone through again; what comes is gone through seldom."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(*_SELDOM)
