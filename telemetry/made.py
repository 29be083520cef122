"""What made a result: the version, the sheet, the logs, what was answered of their columns, and the options
that change figures. Never where it was made or how fast: the same input gives the same bytes.
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.metadata import PackageNotFoundError
from importlib.metadata import version as installed_version
from pathlib import Path
from typing import Any

from telemetry.history import NEEDED, OPTIONAL, PastFlight
from telemetry.sheet.setup import Setup
from telemetry.trace import Source

PROJECT = "sagline"


@dataclass(frozen=True, slots=True)
class UsedLog:
    """A log by its name, without folder, and the sha256 of its bytes."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True)
class MadeBy:
    """What made a result.

    Attributes
    ----------
    version : of the program.
    sheet : the set-up sheet's name, without folder, "" without one.
    sheet_sha256 : of its text in UTF-8, "" without one.
    logs : in the order given.
    answers : by the log's name, header → "quantity@position" or "ignore".
    options : those that change figures and differ from their default: configuration, pack, bench, and the
        earlier flights by their number and a digest of their rows.
    """

    version: str
    sheet: str = ""
    sheet_sha256: str = ""
    logs: tuple[UsedLog, ...] = ()
    answers: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    options: Mapping[str, Any] = field(default_factory=dict)

    @classmethod
    def from_plain(cls, kept: Mapping[str, Any]) -> MadeBy:
        """The object from what JSON carried of it.

        Parameters
        ----------
        kept : as `estimate.plain` writes it.

        Returns
        -------
        An equal object.

        Raises
        ------
        KeyError, TypeError : it is another thing.
        """
        return cls(**{**kept, "logs": tuple(UsedLog(**log) for log in kept["logs"])})


def made_by(
    setup: Setup | None = None,
    sources: Sequence[Source] = (),
    history: Sequence[PastFlight] = (),
    **options: Any,
) -> MadeBy:
    """What is about to make a result.

    Parameters
    ----------
    setup : one configuration of the sheet with one pack; it knows its sheet.
    sources : of the logs, with what was answered of their columns.
    history : the earlier flights that were given.
    options : whatever else was chosen and changes figures, by name; what is false or empty is left out.

    Returns
    -------
    The same for the same input, wherever and whenever it is made.
    """
    chosen = {
        "configuration": setup.configuration if setup else "",
        "pack": setup.pack.name if setup and not setup.packs else "",
        "history": {"flights": len(history), "sha256": _digest(history)} if history else {},
        **options,
    }
    return MadeBy(
        version(),
        setup.sheet if setup else "",
        setup.sheet_sha256 if setup else "",
        tuple(UsedLog(source.file, source.sha256) for source in sources),
        {source.file: dict(sorted(source.answers)) for source in sources if source.answers},
        {name: value for name, value in sorted(chosen.items()) if value},
    )


@cache
def version() -> str:
    """The version of the program that runs.

    Returns
    -------
    That of the checkout it runs from, else of the installed wheel; "unknown" where neither says.
    """
    checkout = Path(__file__).parents[1] / "pyproject.toml"
    if checkout.is_file():
        project = tomllib.loads(checkout.read_text(encoding="utf-8")).get("project", {})
        if project.get("name") == PROJECT:
            return str(project["version"])
    try:
        return installed_version(PROJECT)
    except PackageNotFoundError:
        return "unknown"


def _digest(history: Sequence[PastFlight]) -> str:
    """The sha256 of the rows, whether they came from a table or the logbook."""
    columns = [{name: getattr(row, name) for name in (*NEEDED, *OPTIONAL)} for row in history]
    rows = json.dumps(columns, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(rows.encode()).hexdigest()
