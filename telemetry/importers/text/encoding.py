"""Bytes → text."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass

from telemetry.errors import BadLog
from telemetry.importers.text.codepages import code_page
from telemetry.sentences import say
from telemetry.trace import Note

UNREADABLE = "\ufffd"
"""Stands in the text where a byte could not be read; a cell that holds it is no number."""

_PICTURES = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"BM", "a bitmap"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a packed archive"),
    (b"\x1f\x8b", "a packed file"),
    (b"RIFF", "a media file"),
    (b"SQLite format 3", "a database"),
    (b"\xd0\xcf\x11\xe0", "an office document"),
)
_LOOKED_AT = 16_384
"""Headings stand at the beginning."""

_SEQUENCE = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}")
_STRAY = re.compile(rb"[\xfe\xff]")


@dataclass(frozen=True, slots=True)
class Text:
    """A file's text, its encoding and what was odd about its bytes."""

    text: str
    encoding: str
    notes: tuple[Note, ...] = ()


def refuse_binary(head: bytes, file: str) -> None:
    """Raise BadLog when the first bytes are those of a picture, an archive or the like."""
    for mark, what in _PICTURES:
        if head.startswith(mark) and not (mark == b"BM" and b"\x00" not in head[:32]):
            raise BadLog(f"this is {what}, not text", "Give the CSV that the recorder wrote.", file=file)
    plain = sum(b in b"\t\n\r\x00" or b >= 32 for b in head[:4096])
    if head and plain < 0.9 * len(head[:4096]):
        raise BadLog("this is not text", "Give the CSV that the recorder wrote.", file=file)


def encoding_of(raw: bytes) -> str:
    """The encoding: its mark, else NUL bytes at every second place, else UTF-8 if it holds, else the code
    page whose words are known.
    """
    if raw.startswith(codecs.BOM_UTF8):
        return "utf-8"
    if raw.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        return "utf-32"
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    head = raw[:4096]
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if len(head) > 3 and max(even, odd) > 0.3 * len(head) / 2 and min(even, odd) < 0.05 * len(head) / 2:
        return "utf-16-le" if odd > even else "utf-16-be"
    try:
        _STRAY.sub(b"", raw).decode("utf-8")
    except UnicodeDecodeError:
        # Letters of two bytes and more that hold together come by chance in no other encoding: a few broken
        # ones are strays.
        whole = len(_SEQUENCE.findall(raw))
        broken = len(re.findall(rb"[\x80-\xff]", _SEQUENCE.sub(b"", raw)))
        if whole > broken:
            return "utf-8"
        return code_page(raw[:_LOOKED_AT])
    return "utf-8"


def decode(raw: bytes) -> Text:
    """The text of a file. Bytes that the encoding has no letter for become `UNREADABLE`, and are counted in a
    note.
    """
    encoding = encoding_of(raw)
    body = raw.removeprefix(codecs.BOM_UTF8) if encoding == "utf-8" else raw
    notes: tuple[Note, ...] = ()
    text = body.decode(encoding, errors="replace").removeprefix("\ufeff")
    strays = text.count(UNREADABLE)
    if strays:
        reason = say("importers", "text", "stray_bytes", count=strays, encoding=encoding)
        notes = (Note("encoding", "", "used", reason),)
    return Text(text, encoding, notes)
