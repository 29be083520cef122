"""What a path names, before it is read: a folder, a set-up sheet and a list of flights are no logs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.errors import BadLog, BadSheet, BadUse, SaglineError
from telemetry.limits import SHEET_BYTES
from telemetry.sheet.reading import parsed

if TYPE_CHECKING:
    from collections.abc import Sequence


def named(path: Path) -> str:
    """A path's own name without its folder; "." has that of the folder it stands for."""
    return path.name or path.resolve().name or str(path)


def refuse_folder(path: Path, remedy: str) -> None:
    """Raises BadUse when a folder stands where a file is wanted."""
    if path.is_dir():
        raise BadUse("this is a folder", remedy, file=named(path))


def check_log(
    path: Path, *, sheet_goes: str = "Give it with --sheet.", history_goes: str = "Give it with --history."
) -> None:
    """Raises BadLog or BadUse when a path plainly is no log, and says where it belongs."""
    if path.is_dir():
        raise BadLog("this is a folder", "Name the log in it.", file=named(path))
    text = _short_text(path)
    if _is_sheet(text):
        raise BadUse("this is a set-up sheet, not a log", sheet_goes, file=path.name)
    if _is_history(text):
        raise BadUse("this is a list of earlier flights, not a log", history_goes, file=path.name)


def sort_out(paths: Sequence[Path]) -> tuple[list[Path], list[str]]:
    """The paths that may be logs, and a sentence for each that is none."""
    good, refused = [], []
    for path in paths:
        try:
            check_log(path, history_goes="The logbook keeps logs.")
            good.append(path)
        except SaglineError as error:
            refused.append(str(error))
    return good, refused


def _short_text(path: Path) -> str:
    try:
        return (
            path.read_text(encoding="utf-8-sig")
            if path.is_file() and path.stat().st_size <= SHEET_BYTES.value
            else ""
        )
    except (OSError, UnicodeDecodeError):
        return ""


def _is_sheet(text: str) -> bool:
    try:
        return "pack" in parsed(text, "")
    except BadSheet:
        return False


def _is_history(text: str) -> bool:
    from telemetry.history import NEEDED

    header = text.partition("\n")[0].replace(";", ",").replace('"', "").casefold()
    return set(NEEDED) <= {name.strip() for name in header.split(",")}
