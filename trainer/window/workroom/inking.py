"""Engraved systems as ink: how dark each pixel is, one byte a pixel, packed. Made in the second process, kept on disk.

The screen has one colour of ink by day and another by night, so that the darkness is all it needs; it is a quarter of
a picture, and unpacked in a tenth of the time.
"""

from __future__ import annotations

import io
import struct
import zlib
from dataclasses import dataclass

import numpy
from numpy.typing import NDArray

from trainer.listening.quiet import load_pygame
from trainer.scores import cache
from trainer.scores.engraving.picturing import picture
from trainer.scores.engraving.systems import System

Alpha = NDArray[numpy.uint8]
_HEAD = struct.Struct(">II")


@dataclass(frozen=True, slots=True)
class Ink:
    """The drawing of one system.

    Parameters
    ----------
    width, height : int
        Pixels.
    packed : bytes
        A byte a pixel, row by row from the top, compressed by zlib.
    """

    width: int
    height: int
    packed: bytes

    @property
    def size(self) -> tuple[int, int]:
        return self.width, self.height

    def alpha(self) -> Alpha:
        """How dark each pixel is, 0 to 255: array (width, height)."""
        flat = numpy.frombuffer(zlib.decompress(self.packed), dtype=numpy.uint8)
        return flat.reshape(self.height, self.width).T


def inked(system: System) -> Ink:
    """The ink of a system: from the disk, or drawn (about 100 ms) and kept there."""
    name = cache.name_for("ink", system.svg, str(system.width))
    try:
        kept = cache.fetch_bytes(name)
        width, height = _HEAD.unpack_from(kept)
        ink = Ink(width, height, kept[_HEAD.size :])
        ink.alpha()
    except (ValueError, struct.error, zlib.error):
        pass  # not there, or damaged: drawn afresh
    else:
        return ink
    ink = _drawn(picture(system.svg, system.width))
    cache.keep_bytes(name, _HEAD.pack(*ink.size) + ink.packed)
    return ink


def _drawn(png: bytes) -> Ink:
    """The ink of a picture on see-through ground."""
    load_pygame()
    import pygame

    alpha = pygame.surfarray.array_alpha(pygame.image.load(io.BytesIO(png), "system.png"))
    width, height = alpha.shape
    return Ink(width, height, zlib.compress(alpha.T.tobytes(), 1))
