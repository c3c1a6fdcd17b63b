"""Printed pages: a document of plain blocks, as vector PDF and as one HTML file that opens anywhere.

PDF through typst (Apache-2.0; wheels for every platform, no browser, no system library): it sets the text, breaks the
pages and takes verovio's SVG as vectors. Everything a person wrote reaches it as data, never as markup.
"""

from __future__ import annotations

import base64
import html
import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from trainer.music.pitch import MusicError, shortened
from trainer.scores.paper.papers import PAPERS

MARGIN_MM = 17.0
TOP_MM, FOOT_MM = 15.0, 17.0
GUTTER_MM = 6.0
# Above and below each system.
MUSIC_GAP_MM = 3.0
# Height of a staff on paper: between the usual sizes for piano music and for beginners' books (common practice).
STAFF_MM = 7.4
_INCH_MM = 25.4
TEMPLATE = Path(__file__).with_name("printing.typ")
FACE = "STIXGeneral"
# In letters: a column this wide may take the room that is left.
_LONG = 40
# Cells of so few letters are kept on one line.
_SHORT = 16
# Of a title at the foot of a page: two lines, below which the page ends.
_FOOT_LETTERS = 100
# Signs the text faces do not have, and what is printed instead.
_NO_GLYPH = {"𝄪": "×", "𝄫": "♭♭"}


@dataclass(frozen=True)
class Heading:
    """A line of heading; level 1 is a page's title. `beside` stands at the right margin."""

    text: str
    level: int = 1
    beside: str = ""


@dataclass(frozen=True)
class Text:
    """A paragraph; style ``plain``, ``small``, ``italic`` or ``note`` (set off by a line)."""

    text: str
    style: str = "plain"


@dataclass(frozen=True)
class Music:
    """Engraved systems, each an SVG that is never divided; `gap_mm` is left above and below each."""

    systems: tuple[str, ...]
    gap_mm: float = MUSIC_GAP_MM


@dataclass(frozen=True)
class Picture:
    """An SVG with a line of words under it."""

    svg: str
    width_mm: float
    words: str = ""


@dataclass(frozen=True)
class Columns:
    """Blocks side by side; `widths` are shares, equal when not given."""

    columns: tuple[tuple[Block, ...], ...]
    widths: tuple[float, ...] = ()


@dataclass(frozen=True)
class Table:
    """Rows of text under a head; columns in `right` are set to the right (numbers)."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()


@dataclass(frozen=True)
class Boxes:
    """Boxes to write a date in, each time the work is done."""

    words: str
    count: int = 6


@dataclass(frozen=True)
class Together:
    """Blocks that stay on one page."""

    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class NewPage:
    """What follows begins a page; with a title it is a document of its own, to be handed out apart."""

    title: str = ""


Block = Heading | Text | Music | Picture | Columns | Table | Boxes | Together | NewPage


@dataclass(frozen=True)
class Document:
    """A printed thing: title (of the file), blocks, and the line at the foot of every page."""

    title: str
    blocks: tuple[Block, ...]
    foot: str = ""


def text_width_mm(paper: str) -> float:
    """Width between the margins; raises `MusicError` for a paper that is not known."""
    return _paper(paper)[0] - 2 * MARGIN_MM


def text_height_mm(paper: str) -> float:
    """Height between the margins, head to foot; raises `MusicError` for a paper that is not known."""
    return _paper(paper)[1] - TOP_MM - FOOT_MM


def _paper(paper: str) -> tuple[float, float]:
    if paper.lower() not in PAPERS:
        raise MusicError(f"'{paper}' is not a paper here: choose {' or '.join(PAPERS)}.")
    return PAPERS[paper.lower()]


def to_pdf(document: Document, paper: str = "a4") -> bytes:
    """The document as PDF: vectors, embedded fonts, page numbers.

    Raises
    ------
    MusicError
        For a paper that is not known.
    """
    data = _data(document, paper)
    return bytes(_compiler(_is_foreign(data)).compile(format="pdf", sys_inputs={"document": data}))


def to_pictures(document: Document, paper: str, high: int) -> tuple[bytes, ...]:
    """Each page as a PNG `high` pixels high, see-through where nothing is printed.

    Raises
    ------
    MusicError
        For a paper that is not known.
    """
    data = _data(document, paper, clear=True)
    given = {"format": "png", "ppi": high / _paper(paper)[1] * _INCH_MM, "sys_inputs": {"document": data}}
    pages = _compiler(_is_foreign(data)).compile(**given)
    return tuple(bytes(page) for page in pages) if isinstance(pages, list) else (bytes(pages),)


def _is_foreign(text: str) -> bool:
    """Whether letters stand in it that the program's own faces do not have, as in names of other scripts.

    >>> _is_foreign("Zoë Łukasz, Ωμέγα, Жанна, E♭"), _is_foreign("小林 さくら")
    (False, True)
    """
    return any(sign > "\u058f" and sign.isalpha() and not "\u1d00" <= sign <= "\u1fff" for sign in set(text))


def _data(document: Document, paper: str, clear: bool = False) -> str:
    """What the template is given; `clear` for pages that have no ground of their own."""
    width, height = _paper(paper)
    pictures: list[str] = []
    value = {
        "title": document.title,
        "short": shortened(document.title, _FOOT_LETTERS),
        "foot": document.foot,
        "width": width,
        "height": height,
        "margin": MARGIN_MM,
        "top": TOP_MM,
        "bottom": FOOT_MM,
        "gutter": GUTTER_MM,
        "face": FACE,
        "clear": clear,
        "blocks": [_plain(block, pictures) for block in document.blocks],
        "pictures": pictures,
    }
    data = json.dumps(value, ensure_ascii=False)
    for sign, plain in _NO_GLYPH.items():
        data = data.replace(sign, plain)
    return data


@lru_cache(maxsize=2)
def _compiler(foreign: bool = False) -> Any:
    """The setter of pages; `foreign` with the computer's own faces, too, which take time to look through."""
    import typst

    fonts = typst.Fonts(include_system_fonts=foreign, include_embedded_fonts=True, font_paths=_font_folders())
    return typst.Compiler(str(TEMPLATE), root=str(TEMPLATE.parent), font_paths=fonts)


def _font_folders() -> list[str]:
    from trainer.scores.engraving.picturing import fonts_of_paper

    return sorted({str(Path(name).parent) for name in fonts_of_paper()})


def _plain(block: Block, pictures: list[str]) -> dict[str, Any]:
    """A block as data for the template; drawings go to `pictures`, each once."""

    def place(svg: str) -> int:
        if svg not in pictures:
            pictures.append(svg)
        return pictures.index(svg)

    match block:
        case Heading(text, level, beside):
            return {"kind": "heading", "text": text, "level": level, "beside": beside}
        case Text(text, style):
            return {"kind": "text", "text": text, "style": style}
        case Music(systems, gap):
            return {"kind": "music", "systems": [place(svg) for svg in systems], "gap": gap}
        case Picture(svg, width_mm, words):
            return {"kind": "picture", "picture": place(svg), "width": width_mm, "words": words}
        case Columns(columns, widths):
            inside = [[_plain(one, pictures) for one in column] for column in columns]
            return {"kind": "columns", "columns": inside, "widths": widths or (1,) * len(columns)}
        case Table(head, rows, right):
            # The column with the longest text takes what the others leave; a table of short ones is not pulled apart.
            longest = [max(len(row[place]) for row in (head, *rows)) for place in range(len(head))]
            wide = longest.index(max(longest))
            if longest[wide] < _LONG:
                head, rows, wide = (*head, ""), tuple((*row, "") for row in rows), len(head)
            return {"kind": "table", "head": head, "rows": rows, "right": right, "wide": wide}
        case Boxes(words, count):
            return {"kind": "boxes", "words": words, "count": count}
        case Together(blocks):
            return {"kind": "together", "blocks": [_plain(one, pictures) for one in blocks]}
        case NewPage(title):
            return {"kind": "page", "title": shortened(title, _FOOT_LETTERS)}


def page_count(document: Document, paper: str = "a4") -> int:
    """How many pages a document takes."""
    data = _data(document, paper)
    pages = _compiler(_is_foreign(data)).compile(format="svg", sys_inputs={"document": data})
    return len(pages) if isinstance(pages, list) else 1


def save(document: Document, path: Path, paper: str = "a4") -> None:
    """Write a document as its name says, ``.html`` or PDF; whole or not at all.

    Raises
    ------
    MusicError
        When the folder cannot be written.
    """
    from trainer.scores.plain import write_whole

    if path.suffix.lower() == ".html":
        write_whole(path, to_html(document).encode(), private=False)
    else:
        write_whole(path, to_pdf(document, paper), private=False)


def to_html(document: Document) -> str:
    """The document as one HTML file: no script, nothing fetched, drawings inside."""
    body = "\n".join(_html(block) for block in document.blocks)
    return (
        "<!DOCTYPE html>\n"
        f'<html lang="en"><head><meta charset="utf-8"><title>{_set(document.title)}</title>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>{_STYLE}</style></head>\n<body>\n{body}\n"
        f"<footer>{_set(document.foot)}</footer>\n</body></html>\n"
    )


def _set(words: str) -> str:
    """Words as text of a page: never markup, and with the apostrophe of print, as the PDF has it.

    >>> _set("the teacher's <b>")
    'the teacher’s &lt;b&gt;'
    """
    return html.escape(words.replace("'", "’"))


_STYLE = """
body{font-family:"STIX Two Text","STIXGeneral","Libertinus Serif",Georgia,serif;color:#1F1B16;background:#FAF6EC;
max-width:46rem;margin:2rem auto;padding:0 1.2rem;line-height:1.4}
h1{font-weight:bold;border-bottom:1px solid #6B655C;padding-bottom:.3rem;display:flex;justify-content:space-between;
align-items:baseline;gap:1rem}h1 small,h2 small,h3 small{font-weight:normal;font-style:italic;font-size:1rem;
color:#6B655C}h2{margin:1.6rem 0 .4rem;display:flex;justify-content:space-between;align-items:baseline}
h3{margin:1rem 0 .2rem}p{margin:.4rem 0}.small{font-size:.85rem;color:#6B655C}.italic{font-style:italic}
.note{border-left:3px solid #B07D2B;padding-left:.7rem;font-size:.9rem}img{max-width:100%;height:auto}
figure{margin:.5rem 0}figcaption{font-size:.85rem;font-style:italic;color:#6B655C}
.columns{display:flex;flex-wrap:wrap;gap:1.2rem}.columns>div{flex:1 1 14rem}
table{border-collapse:collapse;width:100%;margin:.5rem 0}th{font-weight:normal;font-style:italic;text-align:left;
color:#6B655C;border-bottom:1px solid #6B655C}td,th{padding:.15rem .6rem .15rem 0;vertical-align:top}
.right{text-align:right}.boxes span{display:inline-block;width:3.2rem;height:1.5rem;border:1px solid #6B655C;
margin-right:.4rem;vertical-align:middle}footer{margin-top:2rem;font-size:.85rem;color:#6B655C;
border-top:1px solid #6B655C;padding-top:.3rem}.short{white-space:nowrap}
@media print{body{background:none;margin:0}.together,img,tr{break-inside:avoid}}
""".strip()


def _html(block: Block) -> str:
    match block:
        case Heading(text, level, beside):
            aside = f"<small>{_set(beside)}</small>" if beside else ""
            return f"<h{level}><span>{_set(text)}</span>{aside}</h{level}>"
        case Text(text, style):
            return f'<p class="{_set(style)}">{_set(text)}</p>'
        case Music(systems, gap):
            return "".join(f"<figure>{_image(svg, f'width:100%;margin:{gap:g}mm 0')}</figure>" for svg in systems)
        case Picture(svg, width_mm, words):
            caption = f"<figcaption>{_set(words)}</figcaption>" if words else ""
            return f"<figure>{_image(svg, f'width:{width_mm:g}mm', words)}{caption}</figure>"
        case Columns(columns, widths):
            shares = widths or (1,) * len(columns)
            inside = "".join(
                f'<div style="flex-grow:{share:g}">{"".join(_html(one) for one in column)}</div>'
                for column, share in zip(columns, shares, strict=True)
            )
            return f'<div class="columns">{inside}</div>'
        case Table(head, rows, right):
            lines = "".join(f"<tr>{_cells(row, right)}</tr>" for row in rows)
            return f"<table><tr>{_cells(head, right, 'th')}</tr>{lines}</table>"
        case Boxes(words, count):
            return f'<p class="boxes">{_set(words)} {"<span></span>" * count}</p>'
        case Together(blocks):
            return f'<div class="together">{"".join(_html(one) for one in blocks)}</div>'
        case NewPage():
            return '<div style="break-after:page"></div>'


def _cells(row: Sequence[str], right: tuple[int, ...], tag: str = "td") -> str:
    looks = (
        " ".join(["right"] * (place in right) + ["short"] * (len(cell) <= _SHORT)) for place, cell in enumerate(row)
    )
    return "".join(f'<{tag} class="{look}">{_set(cell)}</{tag}>' for cell, look in zip(row, looks, strict=True))


def _image(svg: str, style: str, words: str = "") -> str:
    """An SVG as an image of its own, so that the glyph names of two drawings cannot meet."""
    coded = base64.b64encode(svg.encode()).decode()
    return f'<img alt="{_set(words or "music")}" style="{style}" src="data:image/svg+xml;base64,{coded}">'
