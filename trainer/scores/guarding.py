"""Files from outside: told apart by content, refused in one sentence when they are damaged, too large or a trap."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import dataclass
from pathlib import Path

from trainer.music.pitch import MusicError

MUSICXML = "MusicXML"
MIDI = "MIDI"
ABC = "ABC"
HUMDRUM = "Humdrum"
KINDS = "MusicXML, .mxl, MIDI, ABC or Humdrum"
# Limits in bytes. A concert movement of ten thousand notes is about 8 MB of MusicXML, 100 kB of MIDI.
_LARGEST_FILE = 24_000_000
_LARGEST = {MUSICXML: 24_000_000, MIDI: 450_000, ABC: 2_000_000, HUMDRUM: 400_000}
_MOST_ENTRIES = 2000
# Character sets a score may declare. Others of Python's codecs are none: a domain name's reads some megabytes for days.
_CHARACTER_SET = re.compile(
    r"utf[-_]?(8|16|32)|(us-)?ascii|iso[-_]?(8859|2022)|latin|windows-|cp\d|koi8|(x-)?mac|shift|euc|gb|big5"
)
# Signs no page can say (XML 1.0, "Char").
_UNSAYABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")


@dataclass(frozen=True)
class Content:
    """What a file holds: its kind, its bytes, and its text where it is a text format."""

    kind: str
    data: bytes
    text: str = ""


def load(path: Path) -> bytes:
    """The bytes of a file, if it is a plain file of a sensible size.

    Raises
    ------
    MusicError
        When it is missing, not a file, empty, unreadable or too large.
    """
    name = path.name or str(path)
    try:
        if not path.exists():
            raise MusicError(f"There is no file '{path}': check the name.")
        if not path.is_file():
            raise MusicError(f"'{path}' is not a file: name one file of {KINDS}.")
        size = path.stat().st_size
        if size > _LARGEST_FILE:
            raise MusicError(
                f"'{name}' is too large ({size / 1e6:.0f} MB, at most {_LARGEST_FILE // 10**6}): save one piece alone."
            )
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        if isinstance(error, MusicError):
            raise
        raise MusicError(f"'{name}' cannot be read ({_reason(error)}): check the file and its rights.") from None
    if not data:
        raise MusicError(f"'{name}' is empty: export the piece again.")
    return data


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error)).lower()


def recognise(data: bytes, name: str) -> Content:
    """Tell what a file is by its content, unpacking .mxl.

    Raises
    ------
    MusicError
        When it is none of the formats, damaged, or a trap.
    """
    if data[:4] == b"MThd" or (data[:4] == b"RIFF" and data[8:12] == b"RMID"):
        _sized(MIDI, len(data), name)
        return Content(MIDI, data[data.find(b"MThd") :])
    if data[:2] == b"PK":
        data = _unpacked(data, name)
    text = _text(data, name)
    if "\n" not in text:
        text = text.replace("\r", "\n")  # as Macs once ended lines
    kind = _kind_of(text)
    if kind is None and re.search(r"^X:\s*\d", text[:20_000], re.MULTILINE):
        raise MusicError(f"'{name}' is an ABC tune that names no key: add a line like 'K:C' before its notes.")
    if kind is None:
        raise MusicError(f"'{name}' is not music that can be read here: export it as {KINDS}.")
    _sized(kind, len(data), name)
    if kind == MUSICXML and "<!ENTITY" in text:
        raise MusicError(f"'{name}' defines entities, which no score needs: export it again as plain MusicXML.")
    return Content(kind, data, text if kind == MUSICXML else _UNSAYABLE.sub(" ", text))


def _sized(kind: str, size: int, name: str) -> None:
    if size > _LARGEST[kind]:
        raise MusicError(
            f"'{name}' is too large for {kind} ({size / 1e6:.1f} MB, at most {_LARGEST[kind] / 1e6:g}): "
            "save one piece alone."
        )


def _unpacked(data: bytes, name: str) -> bytes:
    """The score inside a compressed MusicXML file, read in memory; nothing is ever written to disk."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = {entry.filename: entry for entry in archive.infolist()}
            if len(entries) > _MOST_ENTRIES:
                raise MusicError(f"'{name}' packs {len(entries)} files: export the one piece again as .mxl.")
            inner = _score_name(archive, entries, name)
            return _entry(archive, entries[inner], name)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError, RuntimeError, OSError) as error:
        raise MusicError(f"'{name}' is a damaged .mxl file: export it again.") from error
    except (ValueError, KeyError) as error:
        if isinstance(error, MusicError):
            raise
        raise MusicError(f"'{name}' is a damaged .mxl file: export it again.") from error
    except Exception as error:  # zlib and lzma errors have no common base
        raise MusicError(f"'{name}' is a damaged .mxl file: export it again.") from error


def _entry(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str) -> bytes:
    limit = _LARGEST[MUSICXML]
    if entry.file_size > limit:
        raise MusicError(f"'{name}' would unpack to {entry.file_size / 1e6:.0f} MB: export one piece alone.")
    with archive.open(entry) as stream:
        data = stream.read(limit + 1)  # the size in the header may lie
    if len(data) > limit:
        raise MusicError(f"'{name}' would unpack to more than {limit // 10**6} MB: export one piece alone.")
    return data


def _score_name(archive: zipfile.ZipFile, entries: dict[str, zipfile.ZipInfo], name: str) -> str:
    """The rootfile named in META-INF/container.xml (MusicXML 4.0, compressed files), else the only score there."""
    container = entries.get("META-INF/container.xml")
    if container is not None:
        text = _text(_entry(archive, container, name), name)
        # No tag may hold another's beginning: the end of each would be looked for through all of the text.
        for found in re.findall(r"<rootfile\b[^<>]*?\bfull-path\s*=\s*[\"']([^\"']+)[\"']", text):
            if found in entries:
                return str(found)
    scores = [
        entry
        for entry in entries
        if entry.lower().endswith((".xml", ".musicxml")) and not entry.startswith(("META-INF", "__MACOSX"))
    ]
    if not scores:
        raise MusicError(f"'{name}' is a zip file without a score in it: give the score itself, or export it as .mxl.")
    return scores[0]


def _text(data: bytes, name: str) -> str:
    """Decode by byte order mark, then by what XML declares, then UTF-8, then Latin-1 for plain text."""
    for mark, encoding in ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be")):
        if data.startswith(mark):
            return data[len(mark) :].decode(encoding, errors="replace")
    if data[:4] == b"<\x00?\x00":
        return data.decode("utf-16-le", errors="replace")
    if data[:4] == b"\x00<\x00?":
        return data.decode("utf-16-be", errors="replace")
    if b"\x00" in data[:4096]:
        raise MusicError(f"'{name}' is not music that can be read here: export it as {KINDS}.")
    found = re.match(rb"\s*<\?xml[^>]*?encoding\s*=\s*[\"']([A-Za-z0-9._-]+)[\"']", data[:200])
    declared = found[1].decode().lower() if found is not None else ""
    # That it was found says that a sign is one byte: what is declared wider was saved anew since.
    wide = re.match(r"utf[-_]?(16|32)", declared) is not None
    for encoding in (declared, "utf-8") if _CHARACTER_SET.match(declared) and not wide else ("utf-8",):
        try:
            return data.decode(encoding)
        except (UnicodeDecodeError, LookupError, ValueError):
            continue
    return data.decode("latin-1")


def _kind_of(text: str) -> str | None:
    start = text[:20_000].lstrip("\ufeff \t\r\n")
    if start.startswith("<"):
        return MUSICXML if re.search(r"<(?:\w+:)?score-(?:partwise|timewise)\b", text[:100_000]) else None
    if re.search(r"^\*\*[a-z]+", start, re.MULTILINE) and re.search(r"^(?:\*\*\w+\t)*\*\*kern\b", text, re.MULTILINE):
        return HUMDRUM
    if re.search(r"^X:\s*\d", start, re.MULTILINE) and re.search(r"^K:", text, re.MULTILINE):
        return ABC
    if re.search(r"^K:\s*\S", start, re.MULTILINE) and re.search(r"^[TML]:", start, re.MULTILINE):
        return ABC
    return None
