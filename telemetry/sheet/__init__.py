"""The set-up sheet: one TOML file that says what the aircraft is made of.

`read_sheet` checks every key and value and refuses by name what it doesn't know;
`Sheet.setup` gives one configuration with one pack as a `Setup`.
"""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from telemetry.errors import BadUse
from telemetry.sheet import merging, reading, writing
from telemetry.sheet.setup import Setup
from telemetry.sheet.tables import SheetTables
from telemetry.sheet.writing import new_sheet_text

__all__ = ["Setup", "Sheet", "new_sheet_text", "read_sheet"]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A checked set-up sheet.

    Attributes
    ----------
    file : its name, without folder.
    text : as its owner wrote it, comments included.
    tables : the same in units of record.
    """

    file: str
    text: str = field(repr=False)
    tables: SheetTables = field(repr=False)

    @classmethod
    def read(cls, path: str | Path) -> Sheet:
        """The sheet in a file. Raises BadSheet."""
        return read_sheet(path)

    @classmethod
    def from_text(cls, text: str, *, file: str = "sheet.toml") -> Sheet:
        """The sheet in a text. Raises BadSheet."""
        return cls(file, text, reading.checked(text, file))

    @property
    def name(self) -> str:
        """The aircraft's name, else the file's."""
        return self.tables.aircraft.name or Path(self.file).stem

    @property
    def sha256(self) -> str:
        """The hash of its text in UTF-8."""
        return hashlib.sha256(self.text.encode()).hexdigest()

    @property
    def configuration_names(self) -> tuple[str, ...]:
        """The named configurations, in the sheet's order. The sheet as it stands is "" besides."""
        return tuple(c.name for c in self.tables.configurations)

    @property
    def feeds(self) -> bool:
        """Whether each motor has a pack of its own."""
        return any(p.feeds for p in self.tables.packs)

    @property
    def pack_names(self) -> tuple[str, ...]:
        """The sheet's [pack], if it has a name, then its further packs: those to choose from, none where each
        motor has a pack of its own.
        """
        if self.feeds:
            return ()
        first = (self.tables.pack.name,) if self.tables.pack.name else ()
        return first + tuple(p.name for p in self.tables.packs if p.name)

    def setup(self, configuration: str | None = None, pack: str | None = None) -> Setup:
        """One configuration with one pack; None or "" is the sheet as it stands.

        Raises
        ------
        BadUse : a name the sheet doesn't have; the sentence names those it has. A pack, where each motor has
            one of its own.
        """
        if pack and self.feeds:
            raise BadUse(
                f'pack "{pack}" was chosen, but in the sheet each motor has a pack of its own',
                "Leave the pack out.",
                file=self.file,
            )
        chosen = self._known("configuration", configuration, self.configuration_names)
        battery = self._known("pack", pack, self.pack_names)
        merged = self._merged(chosen, battery)
        plain = _without_name(merged)
        others = (name for name in ("", *self.configuration_names) if name != chosen)
        same = tuple(name for name in others if _without_name(self._merged(name, battery)) == plain)
        return replace(merged, also_called=same, sheet=self.file, sheet_sha256=self.sha256)

    def _merged(self, configuration: str, pack: str) -> Setup:
        stem = Path(self.file).stem
        return merging.setup_of(self.tables, configuration=configuration, pack=pack, fallback_name=stem)

    def changed(self, changes: Mapping[Sequence[str | int], Any]) -> Sheet:
        """A sheet with some values set, by path: `{("pack", "cells"): 6}`; None takes a key out. Raises
        BadSheet.
        """
        return Sheet.from_text(writing.changed_text(self.text, changes), file=self.file)

    def with_pack(self, keys: Mapping[str, Any]) -> Sheet:
        """A sheet with one more pack to choose from.

        Parameters
        ----------
        keys : of an entry of [[packs]], its name among them.

        Raises
        ------
        BadSheet : a key or value cannot be.
        BadUse : each motor has a pack of its own.
        """
        if self.feeds:
            raise BadUse(
                "in the sheet each motor has a pack of its own",
                "Change the sheet's [[packs]].",
                file=self.file,
            )
        return Sheet.from_text(writing.with_pack_text(self.text, keys), file=self.file)

    def _known(self, what: str, name: str | None, names: tuple[str, ...]) -> str:
        if not name:
            return ""
        if name in names:
            return name
        near = difflib.get_close_matches(name, names, n=1)
        known = f"It has {', '.join(names)}." if names else f"It names no {what}."
        raise BadUse(
            f'the sheet has no {what} "{name}"',
            f"Did you mean {near[0]}? {known}" if near else known,
            file=self.file,
        )


def _without_name(setup: Setup) -> Setup:
    """A configuration by what it is, not by its name, nor by what flights under that name taught."""
    return replace(setup, configuration="", calibration={}, outdated=())


def read_sheet(path: str | Path) -> Sheet:
    """Read and check a set-up sheet.

    Parameters
    ----------
    path : a TOML file; it is only read.

    Raises
    ------
    BadSheet : the file can't be read, a key is unknown or in a wrong unit, a value is impossible.
    """
    path = Path(path)
    return Sheet.from_text(reading.read_text(path), file=path.name)
