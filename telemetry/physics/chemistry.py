"""The kinds of lithium cell that model packs are made of, and what is particular to each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Self

from telemetry.limits import LOADED_CELL_FLOOR_V, NO_SOURCE, Limit
from telemetry.physics.cell import OHMIC_ACTIVATION, ONE_SECOND_ACTIVATION, ActivationEnergy
from telemetry.physics.open_circuit import (
    HIGH_VOLTAGE_POLYMER,
    IRON_PHOSPHATE,
    LITHIUM_ION,
    LITHIUM_POLYMER,
    OpenCircuitCurve,
)


@dataclass(frozen=True, slots=True)
class Chemistry:
    """One kind of cell.

    Attributes
    ----------
    key : its name in a sheet.
    curve : open-circuit voltage over charge; ends at the voltage that a charger ends at.
    loaded_floor_v : no cell under this with the motors running. [V]
    storage_v : what a stored cell rests at. [V]
    nominal_v : mean voltage of a whole discharge at rest. [V]
    energy_wh_per_kg : of a pack for models.
    usual_ohm_ah : one-second resistance of a cell times its capacity. [Ω·Ah]
    ohmic, one_second : how its resistances go with temperature.
    """

    key: str
    curve: OpenCircuitCurve
    loaded_floor_v: Limit
    storage_v: Limit
    nominal_v: Limit
    energy_wh_per_kg: Limit
    usual_ohm_ah: Limit
    ohmic: ActivationEnergy = OHMIC_ACTIVATION
    one_second: ActivationEnergy = ONE_SECOND_ACTIVATION

    def ending_at(self, full_cell_v: float) -> Self:
        """The same with a charger that ends at another voltage. [V]"""
        return replace(self, curve=self.curve.ending_at(full_cell_v))


_CYLINDER = (
    "a judgement from 7.5 kJ/mol (three 18650 cells, open pulse-test data of ARTS-Laboratory) to 30 "
    "(Chen et al. 2020, as pybamm's parameter set)"
)


def _usual(value: float) -> Limit:
    return Limit(value, NO_SOURCE)


LIPO = Chemistry(
    "lipo", LITHIUM_POLYMER, LOADED_CELL_FLOOR_V, _usual(3.82), _usual(3.7), _usual(150.0), _usual(0.018)
)

CHEMISTRIES: Mapping[str, Chemistry] = {
    one.key: one
    for one in (
        LIPO,
        Chemistry(
            "lihv",
            HIGH_VOLTAGE_POLYMER,
            LOADED_CELL_FLOOR_V,
            _usual(3.85),
            _usual(3.8),
            _usual(155.0),
            _usual(0.018),
        ),
        Chemistry(
            "li_ion",
            LITHIUM_ION,
            _usual(2.8),
            _usual(3.65),
            _usual(3.6),
            _usual(220.0),
            _usual(0.075),
            ActivationEnergy(12.0, 8.0, _CYLINDER),
            ActivationEnergy(16.0, 9.0, _CYLINDER),
        ),
        Chemistry(
            "lifepo4",
            IRON_PHOSPHATE,
            _usual(2.5),
            _usual(3.28),
            _usual(3.2),
            _usual(105.0),
            _usual(0.024),
        ),
    )
}
"""By the word that a sheet has for it."""
