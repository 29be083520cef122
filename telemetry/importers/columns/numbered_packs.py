"""Packs that a log numbers, "Pack 1 voltage" beside "Pack 2 voltage", without saying which motor each
feeds.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from telemetry.answers import parsed
from telemetry.importers.wording import Wording
from telemetry.quantities import fed_motor, pack_part, pack_position

_NUMBER = re.compile(r"\d+")
_UNIT = re.compile(r"[\[({<].*$")
_OTHER = {"left": "right", "right": "left"}


@dataclass(frozen=True, slots=True)
class PackNumber:
    """What a header says of a numbered pack: its number, and that of the cell where it is a cell's."""

    pack: int
    cell: int | None


def numbered_packs(headers: Sequence[str], spoken: Sequence[Wording]) -> dict[int, PackNumber]:
    """The columns of numbered packs.

    Parameters
    ----------
    headers, spoken : of every column, and what they say.

    Returns
    -------
    By the column's place; empty unless several packs are there, each with its cells, or with a voltage and
    what flows: "Battery 1" to "Battery 5" with voltages alone are a pack's cells.
    """
    found: dict[int, PackNumber] = {}
    tells: dict[int, set[str]] = {}
    for i, (header, wording) in enumerate(zip(headers, spoken, strict=True)):
        numbers = [int(n) for n in _NUMBER.findall(_UNIT.sub("", header))]
        is_cell = "cell" in wording.subjects
        if "pack" not in wording.subjects or wording.positions or len(numbers) != 1 + is_cell:
            continue
        found[i] = PackNumber(numbers[0], numbers[1] if is_cell else None)
        tells.setdefault(numbers[0], set()).update({"cell"} if is_cell else wording.kinds)
    several = len(tells) > 1 and set(tells) == set(range(1, len(tells) + 1))
    whole = all("cell" in t or ("voltage" in t and t & {"current", "charge"}) for t in tells.values())
    return found if several and whole else {}


def motors_fed(
    numbers: Mapping[int, PackNumber], headers: Sequence[str], answers: Mapping[str, str]
) -> dict[int, str]:
    """Which motor each numbered pack feeds, as far as answers tell.

    Parameters
    ----------
    numbers : by the column's place.
    headers : of every column.
    answers : what the user said of columns; one column of one pack tells of all of it, and of two packs one
        tells the other.

    Returns
    -------
    Positions of motors by the pack's number.
    """
    found: dict[int, str] = {}
    for i, number in numbers.items():
        pack, _ = pack_part(parsed(answers.get(headers[i], "ignore")).position)
        if pack:
            found[number.pack] = fed_motor(pack)
    packs = {number.pack for number in numbers.values()}
    if len(packs) == 2 and len(found) == 1:
        ((known, motor),) = found.items()
        if motor in _OTHER:
            found[(packs - {known}).pop()] = _OTHER[motor]
    return found


def beside(wording: Wording, number: PackNumber, motor: str) -> Wording:
    """What a header would say that named the side of its pack."""
    return replace(wording, positions=frozenset(motor.split("_")), number=number.cell)


def place_of(number: PackNumber, motor: str = "left") -> str:
    """Where the column of a pack that feeds a motor stands."""
    pack = pack_position(motor)
    return pack if number.cell is None else f"{pack}.{number.cell}"
