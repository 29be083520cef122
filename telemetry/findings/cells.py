"""Is every cell well? And is the rest of the pack?"""

from __future__ import annotations

from telemetry.analysis.pack import Cell, Pack
from telemetry.estimate import Estimate, Undecided, known
from telemetry.findings.types import Answer, Finding, Results
from telemetry.findings.words import answer, finding, sentence
from telemetry.limits import LOADED_CELL_FLOOR_V, PACK_TEMPERATURE_C
from telemetry.sentences import with_limits


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
    worst_cell = max(
        (c for c in pack.cells if isinstance(c.resistance_ratio, Estimate)), key=_ratio, default=None
    )
    lowest = _lowest(pack)
    if (
        worst_cell is not None
        and isinstance(worst_cell.resistance_ratio, Estimate)
        and known(worst_cell.min_loaded_v)
    ):
        ratio = worst_cell.resistance_ratio
        return answer(
            "cells",
            "sound",
            cell=worst_cell.cell,
            lowest_v=worst_cell.min_loaded_v,
            ratio_text=with_limits(ratio.value, ratio.low, ratio.high, decimals=2),
        )
    if lowest is not None:
        return answer("cells", "sound", "sound_plain", cell=lowest.cell, lowest_v=lowest.min_loaded_v)
    return answer("cells", "undecided", reason="the log has no voltage of single cells")


def find_cells(results: Results) -> list[Finding]:
    """Cells under the floor, weak cells, a hot pack."""
    found: list[Finding] = []
    floor_v = results.setup.reserve.loaded_cell_v if results.setup else LOADED_CELL_FLOOR_V.value
    floor_source = (
        LOADED_CELL_FLOOR_V.source if floor_v == LOADED_CELL_FLOOR_V.value else "from the set-up sheet"
    )
    floor = {"floor_v": floor_v, "floor_source": floor_source}
    for cell in results.pack.cells:
        if not isinstance(cell.min_loaded_v, Undecided) and cell.min_loaded_v < floor_v:
            at_s = 0.0 if isinstance(cell.min_at_s, Undecided) else cell.min_at_s
            found.append(
                finding(
                    "stop",
                    "cell_under_floor",
                    f"cell {cell.cell}",
                    cell=cell.cell,
                    lowest_v=cell.min_loaded_v,
                    at_s=at_s,
                    **floor,
                )
            )
    pack = results.pack
    if (
        not pack.cells
        and not isinstance(pack.min_voltage_v, Undecided)
        and not isinstance(pack.cell_count, Undecided)
    ):
        per_cell_v = pack.min_voltage_v / pack.cell_count
        if per_cell_v < floor_v:
            found.append(
                finding(
                    "stop",
                    "pack_under_floor",
                    "pack",
                    lowest_v=pack.min_voltage_v,
                    per_cell_v=per_cell_v,
                    **floor,
                )
            )
    for weak in pack.weak_cells:
        found.append(
            finding(
                "check",
                f"weak_cell_{weak.kind}",
                f"cell {weak.cell}",
                cell=weak.cell,
                reason=sentence(weak.reason),
            )
        )
    for odd in pack.odd_sensors:
        found.append(
            finding("note", "cell_sensor", f"cell {odd.cell}", cell=odd.cell, reason=sentence(odd.reason))
        )
    if pack.charge_left_note:
        found.append(finding("check", "charge_disagrees", "pack", reason=sentence(pack.charge_left_note)))
    found.extend(_hot_pack(results))
    return found


def _hot_pack(results: Results) -> list[Finding]:
    samples = results.signals.fresh("pack_temperature_c")
    if samples is None or samples.values.size == 0:
        return []
    hottest_c = float(samples.values.max())
    if hottest_c <= PACK_TEMPERATURE_C.value:
        return []
    values = {
        "temperature_c": hottest_c,
        "limit_c": PACK_TEMPERATURE_C.value,
        "source": PACK_TEMPERATURE_C.source,
    }
    return [finding("check", "pack_hot", "pack", **values)]


def _ratio(cell: Cell) -> float:
    return cell.resistance_ratio.value if isinstance(cell.resistance_ratio, Estimate) else 0.0


def _lowest(pack: Pack) -> Cell | None:
    cells = [c for c in pack.cells if not isinstance(c.min_loaded_v, Undecided)]
    return min(
        cells,
        key=lambda c: c.min_loaded_v if not isinstance(c.min_loaded_v, Undecided) else 9.0,
        default=None,
    )
