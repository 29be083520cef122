"""Limits and constants of the trade or of a standard, each with its source.

A method's own settings are keyword defaults in its file, not here.
"""

from __future__ import annotations

from dataclasses import dataclass

NO_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Limit:
    """A figure that others set, and who."""

    value: float
    source: str


LOADED_CELL_FLOOR_V = Limit(3.3, NO_SOURCE)
FULL_CELL_V = Limit(4.20, NO_SOURCE)
RESERVE_FRACTION = Limit(0.20, NO_SOURCE)
TIMER_CONFIDENCE = Limit(0.95, "ours: one flight in twenty may land into the reserve")
LANDING_ALLOWANCE_S = Limit(
    60.0, "ours: one circuit and a landing; the sheet's [reserve] landing_allowance_s overrides"
)
STEADY_WINDOW_S = Limit(30.0, NO_SOURCE)
PACK_TEMPERATURE_C = Limit(60.0, NO_SOURCE)
CLOSE_TO_RATING_FRACTION = Limit(0.10, "ours: a tenth is what a hotter day or a coarser propeller takes")

EVEN_SHAFT_POWER_FRACTION = Limit(0.012, "ours: below it no pair can be told from an even one in a log")
EVEN_CURRENT_FRACTION = Limit(0.02, "ours: below it no pair can be told from an even one in a log")
HELD_BACK_FRACTION = Limit(0.5, "ours: with half of its thrust a model hardly climbs")
LOST_LOAD_FRACTION = Limit(0.12, "ours: half of what one blade of four carries")
EVEN_THRUST_FRACTION = Limit(
    0.15, "ours: twice what stand and batch differ; a propeller mounted backwards loses a quarter or more"
)
BENCH_MOVED_MPS = Limit(2.5, "ours: a satellite receiver at rest wanders by under 1 m/s, a walk is 1.5 m/s")
HEALTHY_CELL_SPREAD_FRACTION = Limit(0.03, "ours: cells of one healthy pack lie within it")
AIR_DENSITY_PER_C = Limit(0.0034, "density of an ideal gas over temperature, 1/293 K at 20 °C")
CURRENTS_AGREE_FRACTION = Limit(0.05, "common practice, no source: two current sensors of ± 2 to 3 % each")
EMPTY_AT_REST_FRACTION = Limit(0.857, NO_SOURCE)
UNBALANCED_CELL_FRACTION = Limit(
    0.04, "common practice, no source: points of charge that balancing is due at"
)
AGED_RESISTANCE_RATIO = Limit(
    2.0, "common practice, no source: a pack is worn out at twice its resistance when new"
)
WEAK_CELL_RATIO = Limit(1.06, "ours: twice the spread of healthy cells")

CURRENT_AGREES_FRACTION = Limit(0.05, "ours: two current sensors of a model agree within it")
RECEIVER_DRAW_A = Limit(1.0, NO_SOURCE)
COUNTER_AGREES_FRACTION = Limit(0.05, "ours: a counter and the integral of its own current agree within it")
RECEIVER_LOW_V = Limit(4.5, NO_SOURCE)
LINK_LOST_S = Limit(1.0, NO_SOURCE)
FULL_CHARGE_FRACTION = Limit(0.90, "ours: a pack off the charger reads above it, cold or not")
OVER_FULL_CELL_V = Limit(0.03, "ours: more than a cell's sensor is off")
FAR_OVER_FULL_CELL_V = Limit(0.10, NO_SOURCE)
HARD_SINK_MPS = Limit(6.0, "ours: about three times a firm landing's")
HARD_STOP_MPS2 = Limit(60.0, "ours: about six times gravity, more than a landing's jolt or a tight turn")

# Files from elsewhere
LOG_BYTES = Limit(2**29, "ours: more than twice what the page takes; a log is read into memory as a whole")
LOG_ROWS = Limit(10_000_000, "ours: a thousand rows a second for nearly three hours")
LOG_COLUMNS = Limit(1000, "ours: ten times what the fullest recorder writes")
LOG_CELL_CHARACTERS = Limit(1000, "ours: a number has under thirty, a mark under two hundred")
SHEET_BYTES = Limit(2**18, "ours: twenty times the fullest sheet, with all its remarks")
SHEET_DEPTH = Limit(32, "ours: the sheet's own tables lie at most five deep")

# Physical constants
GRAVITY_MPS2 = Limit(9.80665, "standard gravity, ISO 80000-3 (from memory)")
GAS_CONSTANT_DRY_AIR_JPKGK = Limit(287.05287, "ISO 2533:1975")
SEA_LEVEL_PRESSURE_PA = Limit(101_325.0, "ISO 2533:1975")
SEA_LEVEL_TEMPERATURE_K = Limit(288.15, "ISO 2533:1975")
SEA_LEVEL_DENSITY_KGPM3 = Limit(1.225, "ISO 2533:1975")
ZERO_CELSIUS_K = Limit(273.15, "SI")
COPPER_RESISTIVITY_OHM_MM2PM = Limit(1.0 / 58.0, "IEC 60028, annealed copper at 20 °C (from memory)")
COPPER_TEMPERATURE_COEFFICIENT_PK = Limit(0.00393, "IEC 60028 (from memory)")
MOLAR_GAS_CONSTANT_JPMOLK = Limit(8.314462618, "CODATA 2018")
