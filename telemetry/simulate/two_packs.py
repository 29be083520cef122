"""An invented twin of which each motor has a pack of its own. Nobody built it and nobody flew it.

The motors are alike to the last figure; the right pack is older than the left, and its second cell is weaker
than its neighbours. Its sheet carries honest errors of a few per cent, as an owner's does.
"""

from __future__ import annotations

from dataclasses import replace

from telemetry.simulate.cell import CellTruth, PackTruth
from telemetry.simulate.plan import circuits
from telemetry.simulate.recorder import Recorder
from telemetry.simulate.scenario import Scenario, sensors_of_packs

SEED = 4115
SHEET = """\
# Set-up sheet of an invented aircraft. Nobody built it. Its figures carry honest errors
# against the truth that its log was made from, as an owner's figures do.

[aircraft]
name = "Invented twin with two packs"
mass_kg = 3.95
span_m = 1.83
wing_area_m2 = 0.51
drag_area_m2 = 0.0450            # parasitic only

[field]
elevation_m = 20
temperature_c = 20

[pack]                           # what both have in common
chemistry = "lipo"
cells = 5
capacity_mah = 3000
resistance_mohm = 5.9            # per cell, as the charger shows it
ratings = [{ c_rate = 30 }]

[[packs]]
name = "A"
feeds = ["left"]

[[packs]]
name = "B"
feeds = ["right"]
resistance_mohm = 7.6

[reserve]
fraction = 0.20
landing_allowance_s = 45

[motor]
kv_rpm_per_v = 645
resistance_mohm = 25
no_load_points = [{ voltage_v = 12.0, current_a = 1.2, rpm = 7700 }]
ratings = [{ current_a = 45 }]

[propeller]
diameter_in = 11
pitch_in = 7
static_points = [                # one motor on the thrust stand
    { rpm = 10390, current_a = 33.6, voltage_v = 17.0, thrust_n = 24.7 },
]

[controller]
ratings = [{ current_a = 45 }]

[leads]
length_m = 0.30                  # one way
area_mm2 = 3.3

[[motors]]
position = "left"

[[motors]]
position = "right"
"""


def pack_truth(
    *, resistance: float = 1.0, weak_cell: int = 0, capacity_mah: float = 3000.0, start: float = 0.985
) -> PackTruth:
    """A pack of five cells.

    Parameters
    ----------
    resistance : of all cells, against a new one's.
    weak_cell : the cell with 1.7 times its neighbours' resistance, 0 for none.
    capacity_mah : of every cell. [mAh]
    start : the charge left at power on, a share of the whole.

    Returns
    -------
    Without a fault in its plug.
    """

    def cell(factor: float) -> CellTruth:
        new = CellTruth()
        return replace(
            new,
            capacity_mah=capacity_mah,
            r0_ohm=1.6 * factor * new.r0_ohm,
            r1_ohm=1.6 * factor * new.r1_ohm,
            r2_ohm=1.6 * factor * new.r2_ohm,
            start_left_fraction=start,
        )

    cells = tuple(cell(resistance * (1.7 if k == weak_cell else 1.0)) for k in range(1, 6))
    return PackTruth(cells=cells, heat_capacity_jpk=360.0)


def two_packs(**right: float) -> Scenario:
    """A flight on two packs.

    Parameters
    ----------
    right : what the right pack is, as `pack_truth`; older with a weak second cell by default.

    Returns
    -------
    Each pack logged at its own place.
    """
    packs = {"left": pack_truth(), "right": pack_truth(**(right or {"resistance": 1.3, "weak_cell": 2}))}  # type: ignore[arg-type]
    return Scenario(
        name="two_packs",
        pack=packs["left"],
        packs=packs,
        legs=circuits(210.0),
        recorders=(Recorder(name="two_packs", sensors=sensors_of_packs(5)),),
    )
