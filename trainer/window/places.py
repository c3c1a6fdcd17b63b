"""Places on the disk, as short as they can be said."""

from __future__ import annotations

from pathlib import Path

from trainer import folders


def home(path: Path) -> str:
    """A path from the player's own folder on, where it lies in it."""
    try:
        return f"~/{path.relative_to(folders.typed('~'))}"
    except ValueError:
        return str(path)
