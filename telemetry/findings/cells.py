"""Is every cell well? And is the rest of the pack?"""

from __future__ import annotations

from typing import Any

from telemetry.analysis.motors import over_temperature
from telemetry.analysis.pack import Cell, Pack
from telemetry.estimate import Estimate, Undecided, known
from telemetry.findings.types import Answer, Finding, Results
from telemetry.findings.words import answer, finding
from telemetry.limits import PACK_TEMPERATURE_C
from telemetry.sentences import capital, say, sentence, with_limits


def answer_cells(results: Results) -> Answer:
    """Sound, weak or undecided."""
    pack = results.pack
    if pack.weak_cells:
        worst = pack.weak_cells[0]
        cells = ", ".join(str(w.cell) for w in pack.weak_cells)
        template = "weak" if len(pack.weak_cells) == 1 else "weak_many"
        return answer("cells", "weak", template, cell=worst.cell, cells=cells, reason=sentence(worst.reason))
    if isinstance(pack.weak_cell, Undecided):
        return answer("cells", "undecided", reason=sentence(pack.weak_cell.reason).rstrip("."))
    compared = [c for c in pack.cells if isinstance(c.resistance_ratio, Estimate)]
    weakest, lowest = max(compared, key=_ratio, default=None), _lowest(pack)
    if weakest is not None and known(weakest.min_loaded_v):
        ratio = weakest.resistance_ratio
        assert isinstance(ratio, Estimate)
        text = with_limits(ratio.value, ratio.low, ratio.high, decimals=2)
        return answer("cells", "sound", cell=weakest.cell, lowest_v=weakest.min_loaded_v, ratio_text=text)
    if lowest is not None:
        return answer("cells", "sound", "sound_plain", cell=lowest.cell, lowest_v=lowest.min_loaded_v)
    return answer("cells", "undecided", reason=say("undecided", "findings", "no_cells"))


def find_cells(results: Results) -> list[Finding]:
    """Cells or a pack under the floor, weak cells, sensors that read off, a hot pack."""
    return [*_under_floor(results), *_weak(results.pack), *_hot_pack(results)]


def _under_floor(results: Results) -> list[Finding]:
    """Every cell that fell under the floor; the pack where none was logged."""
    pack = results.pack
    floor = _floor(results)
    floor_v = floor["floor_v"]
    found: list[Finding] = []
    for cell in pack.cells:
        if not isinstance(cell.min_loaded_v, Undecided) and cell.min_loaded_v < floor_v:
            at_s = 0.0 if isinstance(cell.min_at_s, Undecided) else cell.min_at_s
            who = say("floor", "cell", cell=cell.cell)
            shown = say("floor", "at", at_s=at_s)
            found.append(_fell(f"cell {cell.cell}", who, cell.min_loaded_v, shown, **floor))
    if pack.cells or isinstance(pack.min_voltage_v, Undecided) or isinstance(pack.cell_count, Undecided):
        return found
    per_cell_v = pack.min_voltage_v / pack.cell_count
    if per_cell_v < floor_v:
        shown = say("floor", "whole", lowest_v=pack.min_voltage_v)
        found.append(_fell("pack", say("floor", "mean_cell"), per_cell_v, shown, **floor))
    return found


def _floor(results: Results) -> dict[str, Any]:
    """The lowest voltage of a loaded cell, and whose figure it is; by the chemistry that the cells speak for
    where they contradict the sheet's, without a sheet by the one of those they can be of that bears least.
    """
    usual, setup = results.pack.usual_floor, results.setup
    floor_v = usual.value if results.pack.likely_chemistry or setup is None else setup.reserve.loaded_cell_v
    source = usual.source if floor_v == usual.value else say("sources", "sheet")
    return {"floor_v": floor_v, "floor_source": source}


def _fell(subject: str, who: str, lowest_v: float, shown: str, **floor: Any) -> Finding:
    return finding(
        "cell_under_floor",
        subject,
        who=who,
        who_capital=capital(who),
        lowest_v=lowest_v,
        shown=shown,
        **floor,
    )


def _weak(pack: Pack) -> list[Finding]:
    cells = {c.cell: c for c in pack.cells}
    found = [
        finding(
            f"weak_cell_{weak.kind}",
            f"cell {weak.cell}",
            "stop" if _badly(cells[weak.cell], weak.kind) else "check",
            cell=weak.cell,
            reason=sentence(weak.reason),
        )
        for weak in pack.weak_cells
    ]
    found += [
        finding("cell_sensor", f"cell {odd.cell}", "note", cell=odd.cell, reason=sentence(odd.reason))
        for odd in pack.odd_sensors
    ]
    return found


def _badly(cell: Cell, kind: str, *, ohms: float = 2.0, charge: float = 0.75, shift: float = 0.15) -> bool:
    """Whether a cell is surely so weak that it would end the next flight: with `ohms` times its neighbours'
    resistance, `charge` of their capacity, or begun by `shift` of it away from them (ours).
    """
    if kind == "resistance":
        return isinstance(cell.resistance_ratio, Estimate) and cell.resistance_ratio.low > ohms
    if kind == "capacity":
        return isinstance(cell.capacity_ratio, Estimate) and cell.capacity_ratio.high < charge
    started = cell.start_shift_fraction
    return isinstance(started, Estimate) and min(abs(started.low), abs(started.high)) > shift


def _hot_pack(results: Results) -> list[Finding]:
    samples = results.signals.fresh("pack_temperature_c")
    over = None if samples is None else over_temperature(samples, PACK_TEMPERATURE_C.value)
    if over is None:
        return []
    source = PACK_TEMPERATURE_C.source
    return [finding("pack_hot", "pack", temperature_c=over.hottest_c, limit_c=over.limit_c, source=source)]


def _ratio(cell: Cell) -> float:
    return cell.resistance_ratio.value if isinstance(cell.resistance_ratio, Estimate) else 0.0


def _lowest(pack: Pack) -> Cell | None:
    cells = [c for c in pack.cells if not isinstance(c.min_loaded_v, Undecided)]
    return min(
        cells,
        key=lambda c: c.min_loaded_v if not isinstance(c.min_loaded_v, Undecided) else 9.0,
        default=None,
    )
