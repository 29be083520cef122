"""Files that are no logs, by the ending of their names: pictures, sheets, texts and the like."""

from __future__ import annotations

from dashboard.texts import say

MOST_FILES = 40
"""In one drop; as many jobs are held."""

KINDS = {
    "picture": "jpg jpeg png gif bmp tif tiff webp heic svg ico raw dng",
    "video": "mp4 mov avi mkv webm m4v mpg mpeg",
    "sound": "wav mp3 ogg flac m4a aac",
    "spreadsheet": "xls xlsx xlsm ods numbers",
    "document": "pdf doc docx odt rtf md htm html tex pages ppt pptx odp",
    "archive": "zip gz tgz bz2 xz 7z rar tar",
    "data": "json xml yaml yml parquet sqlite db bin hex ini cfg",
    "program": "exe msi dmg app deb sh bat py js so dll",
}
_KIND_OF = {ending: kind for kind, endings in KINDS.items() for ending in endings.split()}
ENDINGS = tuple(_KIND_OF)
"""The endings of names that are refused unread, without their dot."""


def refusal(name: str) -> str:
    """Why a file of this name is no log and what to do, in a sentence or two; "" where it may be one."""
    _, dot, ending = name.rpartition(".")
    kind = _KIND_OF.get(ending.lower()) if dot else None
    return say(f"other_files.{kind}", name=name) if kind else ""
