"""What the owner flies: aircraft with every version of their sheet, and packs that move between them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

from telemetry.errors import BadLogbook, BadUse
from telemetry.estimate import Estimate, Undecided
from telemetry.logbook.groups import fitted_differently
from telemetry.logbook.records import KeptFlight, in_order_flown
from telemetry.put_back import put_backs, sensor_gain
from telemetry.season.open_checks import OpenCheck
from telemetry.sheet import Sheet
from telemetry.sheet.setup import PackSetup
from telemetry.whole_files import make_folder, why_not, write_text

PACKS = "packs.json"
"""What was said of packs by themselves, in the logbook's folder."""
_SCHEMA = "sagline.packs/1"


@dataclass(frozen=True, slots=True)
class SaidPack:
    """What the owner said of a pack by itself; None for what was not said. [mAh]"""

    name: str
    cells: int | None = None
    capacity_mah: float | None = None
    chemistry: str | None = None
    retired: bool = False


@dataclass(frozen=True, slots=True)
class SheetVersion:
    """One version of an aircraft's sheet.

    Attributes
    ----------
    sheet, sheet_sha256 : the name of its file, and its hash.
    first_flight : the number of the first flight kept with it, flown on `date`.
    changed : in what it was flown differently from the version before, a clause each.
    """

    sheet: str
    sheet_sha256: str
    first_flight: int
    date: str
    changed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Aircraft:
    """One aircraft of the logbook.

    Attributes
    ----------
    flights : how many count; `runs` are those on the ground or the bench.
    airborne_s : in the air altogether, as far as it is known. [s]
    configurations, packs : that it was flown with, by name.
    sheets : every version, the first flown first.
    """

    name: str
    flights: int
    runs: int
    airborne_s: float
    first_flown: str
    last_flown: str
    configurations: tuple[str, ...]
    packs: tuple[str, ...]
    sheets: tuple[SheetVersion, ...]


@dataclass(frozen=True, slots=True)
class Pack:
    """One pack of the logbook, whichever aircraft carried it.

    Attributes
    ----------
    cells, capacity_mah, chemistry : as its owner said, else as the sheet of its last flight has it. [mAh]
    flights : how many count.
    put_backs : how many charges the charger was read after, `gain` what they tell of the current sensor.
    resistance_1s_25c_ohm : of its last flight that tells it. [Ω]
    open_checks : what still stands of it.
    """

    name: str
    chemistry: str | None
    cells: int | None
    capacity_mah: float | None
    aircraft: tuple[str, ...]
    flights: int
    first_flown: str
    last_flown: str
    put_backs: int
    gain: Estimate | Undecided | None
    resistance_1s_25c_ohm: Estimate | None
    open_checks: tuple[str, ...]
    retired: bool


def aircraft_of(kept: Sequence[KeptFlight]) -> tuple[Aircraft, ...]:
    """Every aircraft that has a name, the one flown last first.

    Parameters
    ----------
    kept : every flight of the logbook; what is removed or kept twice counts in no figure.
    """
    flown = [f for f in in_order_flown(kept) if f.again is None and f.aircraft]
    names = dict.fromkeys(f.aircraft for f in reversed(flown))
    return tuple(_aircraft(name, [f for f in flown if f.aircraft == name]) for name in names)


def _aircraft(name: str, flown: Sequence[KeptFlight]) -> Aircraft:
    flights = [f for f in flown if f.kind == "flight"]
    dates = [f.date for f in flown if f.date]
    return Aircraft(
        name,
        len(flights),
        len(flown) - len(flights),
        sum(f.airborne_s or 0.0 for f in flights),
        dates[0] if dates else "",
        dates[-1] if dates else "",
        tuple(dict.fromkeys(f.configuration for f in flown)),
        tuple(dict.fromkeys(f.pack_called for f in flown if f.pack_called)),
        _versions(flown),
    )


def _versions(flown: Sequence[KeptFlight]) -> tuple[SheetVersion, ...]:
    found: list[SheetVersion] = []
    before: KeptFlight | None = None
    for flight in flown:
        made = flight.made_by
        if made is None or not made.sheet or (found and found[-1].sheet_sha256 == made.sheet_sha256):
            continue
        changed = fitted_differently(before, flight) if before is not None else ()
        found.append(SheetVersion(made.sheet, made.sheet_sha256, flight.id, flight.date, changed))
        before = flight
    return tuple(found)


def packs_of(
    kept: Sequence[KeptFlight],
    said: Sequence[SaidPack],
    setups: Mapping[str, PackSetup],
    standing: Sequence[OpenCheck],
) -> tuple[Pack, ...]:
    """Every pack that has a name, the one flown last first, then those never flown.

    Parameters
    ----------
    kept : every flight of the logbook.
    said : what the owner said of packs by themselves.
    setups : what the sheet of its last flight says of each pack, by name.
    standing : stops and checks that still stand.
    """
    flown = [f for f in in_order_flown(kept) if f.again is None]
    own = {one.name: one for one in said}
    names = dict.fromkeys([name for f in reversed(flown) for name in _carried(f)] + list(own))
    return tuple(
        _pack(name, [f for f in flown if name in _carried(f)], own.get(name), setups.get(name), standing)
        for name in names
    )


def _carried(flight: KeptFlight) -> tuple[str, ...]:
    return tuple(name for name in flight.pack_names.values() if name) or (
        (flight.pack_called,) if flight.pack_called else ()
    )


def _pack(
    name: str,
    flown: Sequence[KeptFlight],
    said: SaidPack | None,
    setup: PackSetup | None,
    standing: Sequence[OpenCheck],
) -> Pack:
    past = [f.past for f in flown if f.past is not None and f.pack_called == name]
    charged = put_backs(past)
    told = [f.pack_25c_ohm for f in flown if f.pack_25c_ohm is not None and f.pack_called == name]
    dates = [f.date for f in flown if f.date]
    said = said or SaidPack(name)
    return Pack(
        name,
        said.chemistry or (setup.chemistry.key if setup else None),
        said.cells or (setup.cells if setup else None),
        said.capacity_mah or (setup.capacity_mah if setup else None),
        tuple(dict.fromkeys(f.aircraft for f in flown if f.aircraft)),
        sum(f.kind == "flight" for f in flown),
        dates[0] if dates else "",
        dates[-1] if dates else "",
        len(charged),
        sensor_gain(charged) if charged else None,
        told[-1] if told else None,
        tuple(dict.fromkeys(one.raised.key for one in standing if one.pack == name)),
        said.retired,
    )


def read_said(folder: Path) -> tuple[SaidPack, ...]:
    """What was said of packs by themselves; () where nothing was.

    Raises
    ------
    BadLogbook : the file cannot be read.
    """
    path = folder / PACKS
    try:
        plain = json.loads(path.read_text(encoding="utf-8"))
        known = {f.name for f in fields(SaidPack)}
        return tuple(SaidPack(**{k: v for k, v in one.items() if k in known}) for one in plain["packs"])
    except FileNotFoundError:
        return ()
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        raise BadLogbook(
            "the list of packs cannot be read", "Put it back from a copy of the logbook.", file=PACKS
        ) from None


def write_said(folder: Path, said: Sequence[SaidPack]) -> None:
    """Write what is said of packs, whole or not at all. Raises BadLogbook."""
    content: dict[str, Any] = {"schema": _SCHEMA, "packs": [asdict(one) for one in said]}
    try:
        make_folder(folder)
        write_text(folder / PACKS, json.dumps(content, ensure_ascii=False, indent=1) + "\n")
    except OSError as error:
        raise BadLogbook(
            f"the list of packs cannot be written ({why_not(error)})", "Make it writable.", file=PACKS
        ) from None


def with_said(said: Sequence[SaidPack], new: SaidPack) -> tuple[SaidPack, ...]:
    """What is said of all packs, with what is newly said of one in the place of what was said before."""
    before = next((one for one in said if one.name == new.name), SaidPack(new.name))
    told = {f.name: value for f in fields(SaidPack) if (value := getattr(new, f.name)) is not None}
    return (*(one for one in said if one.name != new.name), replace(before, **told))


def unknown_pack(said: SaidPack, known: Sequence[Pack]) -> BadUse:
    """The sentence on a pack that is neither flown nor described.

    Parameters
    ----------
    said : what was said of it.
    known : the logbook's packs.
    """
    if said.retired:
        names = ", ".join(one.name for one in known)
        return BadUse(
            f'the logbook has no pack "{said.name}"', f"It has {names}." if names else "It has none yet."
        )
    return BadUse(
        f'of the new pack "{said.name}" cells and capacity are needed', "Add --cells N and --capacity MAH."
    )


def with_pack(sheet: Sheet, pack: Pack, setup: PackSetup | None) -> Sheet:
    """A sheet that also has a pack of the logbook.

    Parameters
    ----------
    sheet : of the aircraft that is to carry it.
    pack, setup : the pack, and what the sheet of its last flight says of it.

    Raises
    ------
    BadUse : the pack is retired, or neither its cells nor its capacity are known.
    """
    if pack.retired:
        raise BadUse(f'pack "{pack.name}" is retired', f"sagline packs --add {pack.name} takes it back.")
    if pack.cells is None or pack.capacity_mah is None:
        raise BadUse(
            f'nothing says how many cells and how much charge pack "{pack.name}" has',
            "Say it with sagline packs --add NAME --cells N --capacity MAH.",
        )
    cells, capacity_mah = pack.cells, float(pack.capacity_mah)
    keys: dict[str, Any] = {"name": pack.name, "cells": cells, "capacity_mah": capacity_mah, "ratings": []}
    if pack.chemistry is not None:
        keys["chemistry"] = pack.chemistry
    if pack.resistance_1s_25c_ohm is not None:
        keys["resistance_mohm"] = round(1000.0 * pack.resistance_1s_25c_ohm.value / cells, 3)
    else:
        own = sheet.tables.pack  # the cells of a smaller pack of the same make are the smaller ones
        if own.resistance_mohm is not None and own.capacity_mah is not None:
            keys["resistance_mohm"] = round(own.resistance_mohm * own.capacity_mah / capacity_mah, 3)
    return sheet.with_pack({**keys, **(_of_setup(setup) if setup is not None else {})})


def _of_setup(setup: PackSetup) -> dict[str, Any]:
    """What a sheet knows of a pack besides cells, capacity and chemistry, as a sheet writes it."""
    keys: dict[str, Any] = {"full_cell_v": setup.full_cell_v}
    if setup.parallel != 1:
        keys["parallel"] = setup.parallel
    if setup.resistance_ohm is not None:
        keys["resistance_mohm"] = 1000.0 * setup.resistance_ohm
    if setup.ratings:
        keys["ratings"] = [
            {name: value for name, value in asdict(load).items() if value is not None}
            for load in setup.ratings
        ]
    return keys
