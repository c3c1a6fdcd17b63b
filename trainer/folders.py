"""Where what the player keeps lies on this computer; imports nothing of the house but what refuses.

``KEYFARER_HOME`` names one folder for everything; else each kind lies where the platform has its place for it. Where
there is no such place either, for a service of nobody's, they raise `CannotDo`.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from trainer.refusal import CannotDo

_NAME = "keyfarer"


def typed(name: str | Path) -> Path:
    """A path as somebody typed it, ``~`` for a home folder; of a person unknown here it is a plain name."""
    return Path(os.path.expanduser(name))


def _named() -> Path | None:
    home = os.environ.get("KEYFARER_HOME")
    return typed(home) if home else None


def _known(place: Callable[[], Path]) -> Path:
    try:
        return place()
    except RuntimeError:
        raise CannotDo("There is no home folder here: name one for everything in KEYFARER_HOME.") from None


# platformdirs takes a while to import, and is not needed where the folder is named.


def data() -> Path:
    """The journal, set lists and work, and the player's own pieces."""
    named = _named()
    if named is not None:
        return named
    from platformdirs import user_data_path

    return _known(lambda: user_data_path(_NAME, appauthor=False))


def settings() -> Path:
    """What is set in Setup."""
    named = _named()
    if named is not None:
        return named
    from platformdirs import user_config_path

    return _known(lambda: user_config_path(_NAME, appauthor=False))


def sheets() -> Path:
    """What the Desk prints: among the player's documents, where it is found without this program."""
    named = _named()
    if named is not None:
        return named / "sheets"
    from platformdirs import user_documents_path

    return _known(user_documents_path) / _NAME.capitalize()


def desktop() -> Path:
    """Where a folder for sheets may lie, too; that for sheets where nobody has a desktop."""
    from platformdirs import user_desktop_path

    return _or_sheets(user_desktop_path)


def downloads() -> Path:
    """Where a folder for sheets may lie, too; that for sheets where nobody has downloads."""
    from platformdirs import user_downloads_path

    return _or_sheets(user_downloads_path)


def _or_sheets(place: Callable[[], Path]) -> Path:
    try:
        return place()
    except RuntimeError:
        return sheets()


def cache() -> Path:
    """What can be made again."""
    named = _named()
    if named is not None:
        return named / "cache"
    from platformdirs import user_cache_path

    return _known(lambda: user_cache_path(_NAME, appauthor=False))
