"""A written column and what it is."""

from __future__ import annotations

from dataclasses import dataclass

from .duties import Floats


@dataclass(frozen=True)
class Told:
    """One written column: what it is, in the contract's units.

    Attributes
    ----------
    quantity : of the contract, or "" for a thing that is none of them.
    positions : those it may be read at.
    values : (rows,), NaN where the cell holds no reading.
    sure : whether heading, unit and data say enough; a column that is not may be left out, never misread.
    """

    heading: str
    quantity: str
    positions: tuple[str, ...]
    values: Floats
    sure: bool
    cells: list[str]
    unit: str = ""
