"""What can be made again, lent to a home made for a while: nothing is read or engraved anew there."""

from __future__ import annotations

import contextlib
from pathlib import Path


def lend(cache: Path, home: Path) -> None:
    """Let a home without a cache use another, kept by content; where links are not allowed it makes its own."""
    with contextlib.suppress(OSError):
        (home / "cache").symlink_to(cache, target_is_directory=True)
