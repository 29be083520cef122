"""Writing a sheet: a commented one to fill in, a changed value, a calibration. The owner's comments stay."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import tomlkit
from tomlkit.items import AoT, InlineTable, KeyType, SingleKey
from tomlkit.items import Table as TomlTable

from telemetry.sheet.setup import Calibrated

TEMPLATE_NAME = "my model"
"""The aircraft's name in a sheet that nobody has named yet."""

_NEW = f"""\
# The set-up sheet of one aircraft. Everything after a # is a remark.
# Only [pack] cells and capacity_mah must be there. Take the # away from what you
# know; what you leave out is assumed, said, and makes the prediction less sharp.
# Keys carry their unit. Lengths: _m, _mm or _in. Masses: _kg or _g.
# Resistances: _ohm or _mohm. Wire: area_mm2 or awg.

[aircraft]
name = "{TEMPLATE_NAME}"
# mass_kg = 3.9                    # ready to fly, pack included
# span_m = 1.83
# wing_area_m2 = 0.52
# drag_area_m2 = 0.023             # parasitic only: drag coefficient times area

[field]
# elevation_m = 12
# temperature_c = 16
# pressure_hpa = 1013              # at the field, not reduced to sea level
# relative_humidity_fraction = 0.6

[pack]
# name = "No. 1"
cells = 5                          # in series
# chemistry = "lipo"                # or "lihv", "li_ion", "lifepo4"
capacity_mah = 5200
# resistance_mohm = 3.2            # per cell, as the charger shows it at 25 °C
# ratings = [{{c_rate = 25}}, {{c_rate = 50, seconds = 10}}]

# [[packs]]                        # another pack: its name and what differs
# name = "No. 2"
# capacity_mah = 4000
# feeds = ["left"]                 # only where each motor has a pack of its own

[reserve]
# fraction = 0.20                  # left in the pack at landing
# confidence = 0.95
# landing_allowance_s = 60         # from the alarm to the ground
# loaded_cell_v = 3.3              # no cell under this with the motors running

[motor]
# kv_rpm_per_v = 532
# resistance_mohm = 42
# no_load_points = [{{voltage_v = 12.0, current_a = 1.1, rpm = 6300}}]
# pole_pairs = 7
# ratings = [{{current_a = 40}}, {{current_a = 50, seconds = 20}}]

[propeller]
# diameter_in = 12
# pitch_in = 8
# blades = 2
# ducted = true                    # a fan in a duct: its diameter and a static point, no pitch
# One motor on the stand, the model held fast, nobody in line with the propeller:
# static_points = [{{rpm = 8900, current_a = 36, voltage_v = 18.3, thrust_n = 20}}]

[controller]
# ratings = [{{current_a = 40}}, {{current_a = 55, seconds = 10}}]
# resistance_mohm = 2              # of its switches, where the maker gives it
# reversing = false                # reverse thrust is for the ground only

[leads]
# length_m = 0.45                  # one way, pack to one controller
# area_mm2 = 4.0                   # or awg = 12
# added_length_m = 0.0
# plug_ratings = [{{current_a = 70}}]

[receiver_supply]
# voltage_v = 6.0
# ratings = [{{current_a = 5}}]

# Without [[motors]] there is one motor, "centre". Any key of [motor],
# [propeller] or [controller] that differs at one place stands here too.
# [[motors]]
# position = "left"
# rotation = "clockwise"           # seen from behind
# logged_as = "1"                  # the recorder's number for it
# [[motors]]
# position = "right"
# rotation = "anticlockwise"

# [[configurations]]               # the same aircraft, another way
# name = "skis"
# mass_kg = 4.1
# drag_area_m2 = 0.031

[plan]
# legs = [
#   {{phase = "takeoff", seconds = 10, throttle = 1.0}},
#   {{phase = "climb", seconds = 20, climb_mps = 3.0, airspeed_mps = 16}},
#   {{phase = "cruise", seconds = 200, airspeed_mps = 18}},
#   {{phase = "approach", seconds = 30, throttle = 0.25}},
# ]
"""


def new_sheet_text() -> str:
    """A commented sheet to fill in. It can be read as it is."""
    return _NEW


def changed_text(text: str, changes: Mapping[Sequence[str | int], Any]) -> str:
    """A sheet's text with some values set, by path: `{("pack", "cells"): 6}`.

    Parameters
    ----------
    text : as its owner wrote it.
    changes : None takes a key out, or an entry of a list where the path ends in its number; an entry behind
        the last is added. The numbers are those of the list before it lost any.

    Returns
    -------
    Comments and order stay. The result is not checked.
    """
    document = tomlkit.parse(text)
    gone: list[tuple[Any, int]] = []
    for path, value in changes.items():
        here: Any = document
        for step, following in pairwise(path):
            here = _stepped(here, step, following)
        if value is not None:
            here[path[-1]] = value
        elif isinstance(path[-1], int):
            gone.append((here, path[-1]))
        else:
            here.pop(path[-1], None)
    for entries, place in sorted(gone, key=lambda one: -one[1]):
        del entries[place]
    return tomlkit.dumps(document)


def _stepped(here: Any, step: str | int, following: str | int) -> Any:
    """What stands under a key or number, made where there is nothing yet."""
    if isinstance(step, int):
        if step >= len(here):
            here.append(tomlkit.table() if isinstance(here, AoT) else tomlkit.inline_table())
        return here[step]
    if step not in here:
        here[step] = tomlkit.aot() if isinstance(following, int) else _table_for(here)
    return here[step]


def _table_for(here: Any) -> Any:
    """A new table, on one line where it stands within one."""
    return tomlkit.inline_table() if isinstance(here, InlineTable) else tomlkit.table()


def with_pack_text(text: str, keys: Mapping[str, Any]) -> str:
    """A sheet's text with one more entry of [[packs]] at its end. The result is not checked.

    Parameters
    ----------
    text : as its owner wrote it.
    keys : of the entry, in the sheet's own words.
    """
    document = tomlkit.parse(text)
    entry = tomlkit.table()
    entry.update(keys)
    packs: Any = document.get("packs")
    if packs is None:
        packs = document["packs"] = tomlkit.aot()
    packs.append(entry)
    return tomlkit.dumps(document)


def calibrated_text(
    text: str,
    learnt: Mapping[str, Calibrated],
    *,
    configuration: str,
    drive: str,
    pack: str,
    taught_by: Sequence[str] = (),
) -> str:
    """A sheet's text with a [calibration] table that holds `learnt`; drag goes to its configuration.

    `taught_by` marks the flights that taught it. Other configurations' drag stays. Everything else of the
    table is written afresh.
    """
    document = tomlkit.parse(text)
    before = document.get("calibration", {})
    drags = {str(k): v for k, v in dict(before.get("drag", {})).items()}
    table = tomlkit.table()
    table.add(
        tomlkit.comment("Learnt from flights by 'sagline recalibrate': factors on the sheet's own values.")
    )
    table.add("drive", drive)
    table.add("pack", pack)
    if taught_by:
        table.add("taught_by", list(taught_by))
    for key in ("drive_gain", "propeller_power", "pack_resistance"):
        if key in learnt:
            table.add(key, _inline(learnt[key]))
    if "drag" in learnt:
        drags[configuration] = _inline(learnt["drag"])
    if drags:
        inner = tomlkit.table()
        for name, value in drags.items():
            inner.add(SingleKey(name, KeyType.Basic), value)
        table.add("drag", inner)
    _replace(document, table)
    return tomlkit.dumps(document)


def _inline(value: Calibrated) -> Any:
    entry = tomlkit.inline_table()
    entry.update(
        {
            "value": round(value.value, 4),
            "relative_sd": round(value.relative_sd, 4),
            "flights": value.flights,
            "date": value.date,
        }
    )
    if value.correlation:
        entry["correlation"] = round(value.correlation, 3)
    if value.temperature_c is not None:
        entry["temperature_c"] = round(value.temperature_c, 1)
    return entry


def _replace(document: tomlkit.TOMLDocument, table: TomlTable) -> None:
    if "calibration" in document:
        document.remove("calibration")
    elif not document.as_string().endswith("\n\n"):
        document.add(tomlkit.nl())
    document.add("calibration", table)
