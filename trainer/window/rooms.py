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
    "desk": _later("desk.desk", "Desk"),
    "stand": _later("stand.stand", "Stand"),
    "copy": _later("copy.copy", "Copy"),
    "keys": _later("keys.keys", "Keys"),
    "sight": _later("desk.sightpage", "SightPage"),
    "sheet": _later("desk.sheetpage", "SheetPage"),
    "work": _later("desk.workpage", "WorkPage"),
    "handing": _later("studio.handingpage", "HandingPage"),
    "studio": _later("studio.studiopage", "StudioPage"),
    "singer": _later("singer.singer", "SingerScreen"),
    "setup": _later("setup.setup", "Setup"),
}
KEYS = {"f1": "desk", "f2": "keys", "f3": "singer", "f4": "setup"}
