"""Which screens there are, by name and by key: each is imported only when it is first shown."""

from __future__ import annotations

import importlib
from collections.abc import Callable

from trainer.window.screen import Screen


def _later(module: str, name: str) -> Callable[[], type[Screen]]:
    def imported() -> type[Screen]:
        kind = getattr(importlib.import_module(f"trainer.window.{module}"), name)
        assert issubclass(kind, Screen)
        found: type[Screen] = kind
        return found

    return imported


ROOMS: dict[str, Callable[[], type[Screen]]] = {
    "desk": _later("desk", "Desk"),
    "stand": _later("stand", "Stand"),
    "copy": _later("copy", "Copy"),
    "keys": _later("keys", "Keys"),
    "sight": _later("sightpage", "SightPage"),
    "sheet": _later("sheetpage", "SheetPage"),
    "work": _later("workpage", "WorkPage"),
    "handing": _later("handingpage", "HandingPage"),
    "studio": _later("studiopage", "StudioPage"),
    "singer": _later("singer", "SingerScreen"),
    "setup": _later("setup", "Setup"),
}
KEYS = {"f1": "desk", "f2": "keys", "f3": "singer", "f4": "setup"}
