"""Parsed pieces and engraved pages kept on disk by content, as JSON; never as code."""

from __future__ import annotations

import hashlib
import json
import os
import zlib
from typing import Any

from trainer import folders

# Raised whenever reading changes what a file gives, so that old readings are not believed.
VERSION = 35
_MOST_BYTES = 300_000_000


def name_for(kind: str, *parts: bytes | str) -> str:
    """A file name that stands for exactly this content and these options."""
    digest = hashlib.blake2b(f"{kind} {VERSION}".encode(), digest_size=20)
    for part in parts:
        # The name of a file need not be text that can be written.
        data = part.encode(errors="surrogatepass") if isinstance(part, str) else part
        digest.update(len(data).to_bytes(8, "big") + data)
    return f"{kind}-{digest.hexdigest()}"


def fetch(name: str) -> Any | None:
    """What was kept under a name, or None. A damaged entry counts as none."""
    try:
        return json.loads(zlib.decompress(fetch_bytes(name)))
    except (ValueError, zlib.error):
        return None


def fetch_bytes(name: str) -> bytes:
    """The bytes kept under a name; none when there is no such entry."""
    try:
        return (folders.cache() / name).read_bytes()
    except OSError:
        return b""


def keep(name: str, value: Any) -> None:
    """Keep a JSON value. Where the disk does not allow it, nothing is kept and nothing is said."""
    keep_bytes(name, zlib.compress(json.dumps(value, separators=(",", ":")).encode(), 1))


def keep_bytes(name: str, data: bytes) -> None:
    """Write whole or not at all, so that two programs may share the folder."""
    place = folders.cache()
    try:
        place.mkdir(parents=True, exist_ok=True)
        draft = place / f"{name}.{os.getpid()}.draft"
        draft.write_bytes(data)
        draft.replace(place / name)
    except OSError:
        return


def tidy() -> None:
    """Drop the oldest entries once the folder passes its size."""
    try:
        entries = sorted((entry.stat().st_mtime, entry.stat().st_size, entry) for entry in folders.cache().iterdir())
        total = sum(size for _, size, _ in entries)
        for _, size, entry in entries:
            if total <= _MOST_BYTES:
                break
            entry.unlink(missing_ok=True)
            total -= size
    except OSError:
        return
