"""A drawing as a picture."""

from __future__ import annotations

from trainer.scores import cache
from trainer.scores.engraving.look import MAKE


def picture(svg: str, width: int) -> bytes:
    """An SVG drawn as PNG, `width` pixels wide, kept on disk."""
    name = cache.name_for("picture", svg, str(width), str(MAKE))
    if kept := cache.fetch_bytes(name):
        return kept
    import resvg_py

    drawn = bytes(
        resvg_py.svg_to_bytes(
            svg_string=svg,
            width=width,
            skip_system_fonts=True,
            font_files=fonts_of_paper(),
            font_family="STIXGeneral",
            serif_family="STIXGeneral",
        )
    )
    cache.keep_bytes(name, drawn)
    return drawn


def fonts_of_paper() -> list[str]:
    """STIX and DejaVu from matplotlib's font folder: they carry ♭ ♯ ♮. Found without importing matplotlib."""
    from importlib.util import find_spec
    from pathlib import Path

    spec = find_spec("matplotlib")
    if spec is None or not spec.origin:
        return []
    folder = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf"
    names = ("STIXGeneral", "STIXGeneralItalic", "STIXGeneralBol", "STIXGeneralBolIta", "DejaVuSerif", "DejaVuSans")
    return [str(folder / f"{name}.ttf") for name in names if (folder / f"{name}.ttf").exists()]
