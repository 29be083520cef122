"""Cells of some hundred mAh have 50 to 100 mΩ each: a header that says A is believed on such a pack."""

import numpy as np
import pytest

from telemetry import read_log


@pytest.mark.parametrize("cell_ohm", [0.03, 0.06, 0.09])
def test_amperes_in_the_heading_stay_amperes_on_a_pack_of_300_mah(tmp_path, cell_ohm):
    rng = np.random.default_rng(3)
    time_s = np.arange(0.0, 340.0, 0.25)
    command = np.where(
        time_s < 15.0, 0.0, np.clip(0.5 + np.cumsum(rng.normal(0, 0.03, time_s.size)) % 0.4, 0, 1)
    )
    command[time_s > 320.0] = 0.0
    amps = 3.2 * command**2
    rest_v = 3.30 - 0.15 * np.cumsum(amps) / np.sum(amps)
    cells = [rest_v - cell_ohm * amps + rng.normal(0, 0.002, time_s.size) for _ in range(2)]
    columns = [time_s, cells[0] + cells[1], *cells, amps, 100 * command]
    path = tmp_path / "small.csv"
    rows = [",".join(f"{v:.3f}" for v in row) for row in np.column_stack(columns)]
    heads = "Time (s),Pack voltage (V),Cell 1 (V),Cell 2 (V),Current (A),Throttle (%)"
    path.write_text("\n".join([heads, *rows]) + "\n", encoding="utf-8")
    (current,) = [c for c in read_log(path).sources[0].columns if c.header == "Current (A)"]
    assert (current.quantity, current.unit, current.status) == ("current_a", "A", "used")
