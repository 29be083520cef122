"""Is the model ready for its maiden? A bench run-up, check by check.

A run-up is dangerous work: the model is held down, nobody stands in the disc of a propeller, and the pack is
unplugged before hands come near. Local rules and licensed practice come first.
"""

from __future__ import annotations

from collections.abc import Sequence

from telemetry.analysis.current import Current, Margin
from telemetry.analysis.motors import Motors
from telemetry.analysis.pack import Pack
from telemetry.comparison.results import Bench, BenchItem, Residual
from telemetry.estimate import Estimate, Undecided
from telemetry.limits import LOADED_CELL_FLOOR_V
from telemetry.physics.wire import lead_resistance_ohm
from telemetry.sheet.setup import Setup
from telemetry.trace import Flight

READY, NOT_READY, UNDECIDED = "ready", "not_ready", "undecided"
NO_SHEET = "there is no set-up sheet to hold it against"


def judge_bench(
    flight: Flight,
    motors: Motors,
    current: Current,
    pack: Pack,
    residuals: Sequence[Residual] | Undecided,
    setup: Setup | None,
    *,
    full_command: float = 0.9,
    most_drop_fraction: float = 0.03,
    level_cells_v: float = 0.03,
) -> Bench | None:
    """Every check of a bench run, or None when the flight is not one.

    Parameters
    ----------
    residuals : of this run, current, voltage and rpm at each held throttle among them.
    full_command : a run-up that stays below it has not shown what full throttle does.
    most_drop_fraction : of the pack's voltage that may be lost in one controller's leads (common practice, no
        source).
    level_cells_v : resting cells of one pack lie within it (common practice, no source).
    """
    if not flight.is_bench:
        return None
    tried_full = _highest_command(motors, residuals)
    items = (
        *_pairs(motors),
        *_reverse(motors, setup),
        _ratings(current, setup, tried_full, full_command),
        _floor(pack, setup, tried_full, full_command),
        *_agreement(residuals, setup),
        _lead_drop(current, pack, setup, most_drop_fraction),
        _level(pack, level_cells_v),
    )
    verdicts = {item.verdict for item in items}
    return Bench(False if NOT_READY in verdicts else None if UNDECIDED in verdicts else True, items)


def _words(position: str) -> str:
    return position.replace("_", " ")


def _highest_command(motors: Motors, residuals: Sequence[Residual] | Undecided) -> float | None:
    """The strongest command the run-up held, or None when nothing says."""
    seen = [
        float(curve.command.max()) for pair in motors.pairs for curve in pair.curves if curve.command.size
    ]
    if not isinstance(residuals, Undecided):
        seen += [r.throttle_fraction for r in residuals if r.throttle_fraction is not None]
    return max(seen, default=None)


def _pairs(motors: Motors) -> list[BenchItem]:
    """Both motors even."""
    if len(motors.positions) == 1:
        return []
    if not motors.pairs:
        return [BenchItem("both motors even", UNDECIDED, "The log has no two motors to compare.")]
    verdict = {"even": READY, "uneven": NOT_READY}
    return [
        BenchItem(
            f"{_words(p.left)} and {_words(p.right)} motor even", verdict.get(p.verdict, UNDECIDED), p.reason
        )
        for p in motors.pairs
    ]


def _reverse(motors: Motors, setup: Setup | None) -> list[BenchItem]:
    """Reverse spins every motor whose controller the sheet calls reversing."""
    wanted = [] if setup is None else [d.position for d in setup.drives if d.controller.reversing]
    if not wanted:
        return []
    check = "reverse spins both" if len(wanted) == 2 else "reverse spins every motor"
    if not motors.reverse_asked:
        return [
            BenchItem(check, UNDECIDED, "The run-up has no command below zero, so reverse was not tried.")
        ]
    logged = [p for p in wanted if p in motors.positions]
    if not logged:
        return [
            BenchItem(
                check,
                UNDECIDED,
                "Reverse was commanded, but the log has no current or speed of a single motor to show that "
                "it spins.",
            )
        ]
    still = [p for p in logged if p not in motors.reverse_answered]
    if still:
        names = " and ".join(_words(p) for p in still)
        return [
            BenchItem(
                check,
                NOT_READY,
                f"The {names} motor did not turn when reverse was commanded; do not taxi with reverse before "
                f"you know why.",
            )
        ]
    if len(logged) < len(wanted):
        return [
            BenchItem(check, UNDECIDED, "Reverse spins the motors that are in the log, which are not all.")
        ]
    return [
        BenchItem(
            check,
            READY,
            "Reverse turned every motor that has a reversing controller; it is for the ground only.",
        )
    ]


def _ratings(current: Current, setup: Setup | None, tried: float | None, full: float) -> BenchItem:
    """Currents inside the ratings."""
    check = "currents inside the ratings"
    if setup is None:
        return BenchItem(check, UNDECIDED, f"No rating is known, {NO_SHEET}.")
    judged = [m for m in current.limits if isinstance(m.measured_a, Estimate) and m.rating_a > 0]
    if not judged:
        return BenchItem(
            check, UNDECIDED, "The sheet gives no rating that this log's currents can be held against."
        )
    over = [m for m in judged if _measured(m).value > m.rating_a]
    if over:
        worst = max(over, key=lambda m: _measured(m).value / m.rating_a)
        return BenchItem(
            check,
            NOT_READY,
            f"The {worst.part}, saw {_measured(worst).value:.1f} A where it is rated for {worst.rating_a:g} "
            f"A.",
        )
    nearest = max(judged, key=lambda m: _measured(m).high / m.rating_a)
    said = (
        f"nearest to its rating is the {nearest.part}, with {_measured(nearest).value:.1f} A of "
        f"{nearest.rating_a:g} A"
    )
    if _measured(nearest).high > nearest.rating_a:
        return BenchItem(
            check, UNDECIDED, f"It is too near to call: {said}, and the sensor's doubt reaches over it."
        )
    if tried is None or tried < full:
        return BenchItem(check, UNDECIDED, f"Full throttle was not held; up to there {said}.")
    return BenchItem(check, READY, f"N{said[1:]}.")


def _measured(margin: Margin) -> Estimate:
    assert isinstance(margin.measured_a, Estimate)
    return margin.measured_a


def _floor(pack: Pack, setup: Setup | None, tried: float | None, full: float) -> BenchItem:
    """Loaded voltage above the floor."""
    check = "voltage under load above the floor"
    floor = LOADED_CELL_FLOOR_V.value if setup is None else setup.reserve.loaded_cell_v
    lowest = [
        (c.min_loaded_v, f"Cell {c.cell}") for c in pack.cells if not isinstance(c.min_loaded_v, Undecided)
    ]
    if (
        not lowest
        and not isinstance(pack.min_voltage_v, Undecided)
        and not isinstance(pack.cell_count, Undecided)
        and pack.cell_count
    ):
        lowest = [(pack.min_voltage_v / pack.cell_count, "The mean cell")]
    if not lowest:
        return BenchItem(check, UNDECIDED, "The log has no voltage of the pack or its cells.")
    volts, who = min(lowest)
    if volts < floor:
        return BenchItem(
            check, NOT_READY, f"{who} fell to {volts:.2f} V under load, below the floor of {floor:.2f} V."
        )
    if tried is None or tried < full:
        return BenchItem(
            check,
            UNDECIDED,
            f"Full throttle was not held; up to there {who[0].lower() + who[1:]} stayed above {volts:.2f} V.",
        )
    return BenchItem(
        check, READY, f"{who} was lowest with {volts:.2f} V under load, above the floor of {floor:.2f} V."
    )


def _agreement(residuals: Sequence[Residual] | Undecided, setup: Setup | None) -> list[BenchItem]:
    """Static current, voltage and rpm against the prediction."""
    checks = {
        "current_a": ("static current as predicted", "A"),
        "pack_voltage_v": ("static voltage as predicted", "V"),
        "rpm": ("static rpm as predicted", "rpm"),
    }
    if isinstance(residuals, Undecided):
        why = NO_SHEET if setup is None else residuals.reason
        return [BenchItem(check, UNDECIDED, f"Nothing was predicted: {why}.") for check, _ in checks.values()]
    return [
        _agrees(check, unit, [r for r in residuals if r.quantity == quantity and r.statistic == "at"])
        for quantity, (check, unit) in checks.items()
    ]


def _agrees(check: str, unit: str, found: Sequence[Residual]) -> BenchItem:
    if not found:
        return BenchItem(
            check,
            UNDECIDED,
            f"The run-up has no held throttle at which {unit} was both logged and predicted.",
        )
    missed = [r for r in found if not r.kept]
    worst = max(missed or found, key=lambda r: abs(r.measured - r.predicted) / max(r.high - r.low, 1e-9))
    digits = 0 if unit == "rpm" else 1
    low, high = sorted((abs(worst.low), abs(worst.high))) if worst.measured < 0.0 else (worst.low, worst.high)
    who = f"the {_words(worst.position)} motor showed" if worst.position else "the log shows"
    said = (
        f"at {_throttle(worst)} {who} {abs(worst.measured):.{digits}f} {unit} where {low:.{digits}f} to "
        f"{high:.{digits}f} {unit} was predicted"
    )
    if missed:
        return BenchItem(check, NOT_READY, f"A{said[1:]}; find out which is wrong before it flies.")
    return BenchItem(check, READY, f"It agrees at every held throttle; furthest off, {said}.")


def _throttle(residual: Residual) -> str:
    fraction = residual.throttle_fraction or 0.0
    return f"{100 * abs(fraction):.0f} % {'reverse' if fraction < 0.0 else 'throttle'}"


def _lead_drop(current: Current, pack: Pack, setup: Setup | None, most: float) -> BenchItem:
    """What one controller's leads cost."""
    check = "lead drop small"
    if setup is None or setup.leads.length_m is None or setup.leads.area_mm2 is None:
        return BenchItem(check, UNDECIDED, "The length and area of the leads are not in a sheet.")
    peaks = [s[0].max_mean_a for s in current.by_motor.values() if s]
    if not peaks and not isinstance(current.peak_a, Undecided) and setup.drives:
        peaks = [current.peak_a / len(setup.drives)]
    volts = pack.min_voltage_v
    if not peaks or isinstance(volts, Undecided) or volts <= 0:
        return BenchItem(
            check,
            UNDECIDED,
            "The log lacks the current or the voltage that a lead's drop is worked out from.",
        )
    drop_v = max(peaks) * 2.0 * lead_resistance_ohm(setup.leads.length_m, setup.leads.area_mm2)
    said = (
        f"One controller's leads lose {drop_v:.2f} V at {max(peaks):.1f} A, {100 * drop_v / volts:.1f} % of "
        f"the loaded pack"
    )
    if drop_v > most * volts:
        return BenchItem(
            check, NOT_READY, f"{said}, more than {100 * most:g} %: shorten them or take a thicker wire."
        )
    return BenchItem(check, READY, f"{said}.")


def _level(pack: Pack, level_v: float) -> BenchItem:
    """Each cell level with the others."""
    check = "cells level"
    if isinstance(pack.weak_cell, int):
        why = (pack.weak_cell_reason or "it differs from its neighbours").rstrip(".")
        return BenchItem(check, NOT_READY, f"Cell {pack.weak_cell} needs attention: {why}.")
    rest = [(c.rest_before_v, c.cell) for c in pack.cells if not isinstance(c.rest_before_v, Undecided)]
    if len(rest) < 2:
        return BenchItem(check, UNDECIDED, "The log has no resting voltage of single cells.")
    (low, cell), (high, _) = min(rest), max(rest)
    if high - low > level_v:
        return BenchItem(
            check,
            NOT_READY,
            f"Cell {cell} rests {1000 * (high - low):.0f} mV below the highest; balance the pack first.",
        )
    if isinstance(pack.weak_cell, Undecided):
        return BenchItem(
            check,
            UNDECIDED,
            f"At rest the cells lie within {1000 * (high - low):.0f} mV; under load it stays open: "
            f"{pack.weak_cell.reason}.",
        )
    return BenchItem(
        check,
        READY,
        f"At rest the cells lie within {1000 * (high - low):.0f} mV, and none stands out under load.",
    )
