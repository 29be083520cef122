"""Real measurements by others, and the same under other units, headings and clocks: what a review says
of them against numpy's own trapezoid over the published numbers.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from telemetry import read_log, review
from telemetry.errors import BadLog
from telemetry.estimate import Estimate

pytestmark = [
    pytest.mark.open_data,
    pytest.mark.source(
        "open_data/lipo_rate_test, static_sweeps, wind_tunnel_drive, READMEs; numpy.trapezoid"
    ),
]

Floats = np.ndarray


@dataclass(frozen=True)
class Measured:
    """A published measurement: moments, volts, amperes out of the pack; `ohm` brackets its 1 s resistance."""

    time_s: Floats
    voltage_v: Floats
    current_a: Floats
    start_v: float | None = None
    ohm: tuple[float, float] | None = None

    @property
    def charge_mah(self) -> float:
        return float(np.trapezoid(self.current_a, self.time_s)) / 3.6


def measured(folder: Path, name: str) -> Measured:
    """One of the published files, by its columns' own names."""
    with (folder / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))

    def column(title: str) -> Floats:
        return np.array([float(row[title]) for row in rows])

    if name.startswith("lipo"):
        time_s = column("Total Time(s)")
        amperes, volts = -column("Current(A)"), column("Voltage(V)")
        start_v = float(volts[np.argmax(amperes > 1) - 1])
        # 59 A: 3.5 mΩ after 1 s; 13 A: 3.4 mΩ full and 8 mΩ empty, by its two edges
        return Measured(time_s - time_s[0], volts, amperes, start_v, (0.0026, 0.0089))
    if name.startswith("static"):
        # each step's own drop per ampere, 24 to 36 mΩ
        return Measured(
            column("time (s)"), column("voltage (V)"), column("current (A)"), None, (0.024, 0.036)
        )
    return Measured(column("t"), column("voltage"), column("current"))


FILES = (
    "lipo_rate_test/discharge_13A.csv",
    "lipo_rate_test/discharge_59A.csv",
    *(f"static_sweeps/{name}.csv" for name in ("a3_7", "b2_11", "e4_7", "g5_7", "k3_11")),
    "wind_tunnel_drive/drive_in_tunnel.csv",
)


def face(seconds: float) -> str:
    """h:mm:ss.fff."""
    return f"{int(seconds // 3600)}:{int(seconds // 60 % 60):02d}:{seconds % 60:06.3f}"


DRESSES = {
    "milliseconds and millivolts": (
        "Time (ms);U [mV];I [mA]",
        lambda t, v, a: (f"{1000 * t:.0f}", f"{1000 * v:.1f}", f"{1000 * a:.0f}"),
    ),
    "minutes": (
        "Elapsed (min);Voltage (V);Current (A)",
        lambda t, v, a: (f"{t / 60:.6f}", f"{v:.4f}", f"{a:.4f}"),
    ),
    "hours": ("t/h;U/V;I/A", lambda t, v, a: (f"{t / 3600:.8f}", f"{v:.4f}", f"{a:.4f}")),
    "clock face": (
        "Time;Battery voltage (V);Battery current (A)",
        lambda t, v, a: (face(t), f"{v:.4f}", f"{a:.4f}"),
    ),
    "current below zero": (
        "time_s;voltage_V;current_A",
        lambda t, v, a: (f"{t:.3f}", f"{v:.4f}", f"{-a:.4f}"),
    ),
    "epoch": ("timestamp;volt;amp", lambda t, v, a: (f"{1.7e12 + 1000 * t:.0f}", f"{v:.4f}", f"{a:.4f}")),
    "decimal comma": (
        "Zeit [s];Spannung [V];Strom [A]",
        lambda t, v, a: tuple(f"{x:.4f}".replace(".", ",") for x in (t, v, a)),
    ),
    "no unit of time": ("Time;Voltage (V);Current (A)", lambda t, v, a: (f"{t:.3f}", f"{v:.4f}", f"{a:.4f}")),
    "no headings": ("", lambda t, v, a: (f"{t:.3f}", f"{v:.4f}", f"{a:.4f}")),
}
"""Heading row and cells of one row in other habits."""

MAY_ASK = ("no unit of time", "no headings")
"""Where a careful reader would ask too."""


def verdict(path: Path, true: Measured) -> list[str]:
    """What a review says that is not so; "asked" alone where it left the log out or the clock open."""
    try:
        trace = read_log(path)
    except BadLog:
        return ["asked"]
    if not trace.has_clock or ("current_a", "") not in trace.channels:
        return ["asked"]
    found = review([trace])
    wrong = []
    duration_s = float(true.time_s[-1] - true.time_s[0])
    if abs(trace.duration_s - duration_s) > 0.01 * duration_s:
        wrong.append(f"duration {trace.duration_s:.5g} s for {duration_s:.5g}")
    charges = [f.capacity.consumed_mah for f in found.flights]
    known = [c for c in charges if isinstance(c, Estimate)]
    total, room = sum(c.value for c in known), sum(c.high - c.value for c in known)
    if not known or abs(total - true.charge_mah) > max(0.01 * true.charge_mah, room):
        wrong.append(f"charge {total:.5g} mAh for {true.charge_mah:.5g}")
    pack = found.flights[0].pack
    if true.start_v and abs(pack.start_voltage_v - true.start_v) > 0.005 * true.start_v:
        wrong.append(f"start {pack.start_voltage_v} V for {true.start_v}")
    ohm = pack.resistance_1s_ohm
    if true.ohm and isinstance(ohm, Estimate) and not (ohm.low <= true.ohm[1] and true.ohm[0] <= ohm.high):
        wrong.append(f"resistance {ohm.low:.4g} to {ohm.high:.4g} for {true.ohm}")
    return wrong


@pytest.mark.parametrize("name", FILES)
def test_a_published_measurement_gives_its_own_charge_duration_start_and_resistance(open_data, name):
    assert verdict(open_data / name, measured(open_data, name)) == []


@pytest.mark.parametrize("dress", DRESSES)
@pytest.mark.parametrize("name", FILES)
def test_the_same_measurement_in_another_habit_gives_the_same_or_is_asked_about(
    open_data, tmp_path, name, dress
):
    true = measured(open_data, name)
    heading, cells = DRESSES[dress]
    rows = [";".join(cells(*row)) for row in zip(true.time_s, true.voltage_v, true.current_a, strict=True)]
    path = tmp_path / "twin.csv"
    path.write_text("\n".join([*filter(None, [heading]), *rows]) + "\n", encoding="utf-8")
    found = verdict(path, true)
    assert found in ([], ["asked"]) if dress in MAY_ASK else found == []


@pytest.mark.parametrize(("name", "milliohm"), [("discharge_59A", (2.8, 3.5, 5.6))])
def test_the_pouch_cells_resistance_at_59_a_is_that_of_its_step(open_data, name, milliohm):
    pack = review([read_log(open_data / f"lipo_rate_test/{name}.csv")]).flights[0].pack
    said = [pack.resistance_ohm, pack.resistance_1s_ohm, pack.resistance_10s_ohm]
    assert [1000 * one.value for one in said] == pytest.approx(milliohm, abs=0.1)


@pytest.mark.parametrize("name", ["a3_7", "b2_11", "e4_7", "g5_7", "k3_11"])
def test_eleven_rows_tell_the_supplys_resistance_by_their_steps(open_data, name):
    """README: each step of the command gives 24 to 32 mΩ of supply and leads; some give up to 36."""
    pack = review([read_log(open_data / f"static_sweeps/{name}.csv")]).flights[0].pack
    assert 0.024 <= pack.resistance_1s_ohm.value <= 0.036
    assert pack.resistance_1s_ohm.low < 0.028 < pack.resistance_1s_ohm.high
