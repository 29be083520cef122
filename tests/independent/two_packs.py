"""A twin of which each motor has a pack of its own: the same cells, drives, body and pilot, each drive on its
own supply.
"""

from __future__ import annotations

import copy
import math
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .cells import Pack, cell_voltages
from .plan import Plan
from .run import STEP_S, TAUS_S, Run
from .scenarios import scenario
from .sheet import own_figures, to_toml
from .truth import pair_figures

Floats = NDArray[np.float64]
ROW_STEPS = 5


@dataclass
class Bank:
    """One pack in the time loop, and what it gave at every step."""

    pack: Pack
    receiver_a: float
    pack_c: float
    y: list[float] = field(default_factory=lambda: [0.0] * len(TAUS_S))
    drawn: float = 0.0
    supply: float = 0.0
    heat: float = 0.0
    rest: float = 0.0
    ohmic: float = 0.0
    transfer: float = 0.0
    rungs: list[float] = field(default_factory=list)
    rows: list[tuple[float, float, float, float]] = field(default_factory=list)

    def settle(self) -> None:
        self.rest, self.ohmic, self.transfer, self.rungs = self.pack.sums(self.drawn, self.pack_c)
        self.ohmic += self.pack.plug_ohm

    def inner_v(self) -> float:
        bent = abs(self.y[0]) / self.pack.transfer_bend_a + 1e-9
        inner = self.rest - self.transfer * self.y[0] * math.asinh(bent) / bent
        return inner - sum(w * v for w, v in zip(self.rungs, self.y[1:], strict=True))


class TwoPackRun(Run):
    """One power-on on as many packs as motors; the receiver hangs on the first."""

    def __init__(self, plan: Plan, seed: int, packs: list[Pack]) -> None:
        super().__init__(plan, seed)
        self.banks = [
            Bank(pack, plan.receiver_a if i == 0 else 0.0, pack.temperature_c) for i, pack in enumerate(packs)
        ]

    def _slow(self, now: float) -> None:
        plan = self.plan
        for bank in self.banks:
            if round(now / STEP_S) % 10 == 0:
                bank.settle()
            out = bank.pack.cooling_w_per_k * (1 + 0.02 * self.body.speed)
            gain_w = bank.heat - out * (bank.pack_c - plan.air.temperature_c)
            bank.pack_c += gain_w * STEP_S * 5 / bank.pack.self_heat_j_per_k
        self.pilot.look(now, min(float(np.median(b.pack.charge(b.drawn))) for b in self.banks))
        for drive, bank in zip(self.drives, self.banks, strict=True):
            drive.warm(bank.supply, STEP_S * 5, self.body.speed)

    def _fast(self, gust: float, shake: float) -> None:
        plan, body, pilot = self.plan, self.body, self.pilot
        self._mix()
        wind = plan.air.wind_mps * 0.3 * (body.speed > 1)
        air = max(0.0, body.speed + (gust if body.flying else 0.3 * gust + wind))
        thrust = 0.0
        for drive, command, bank in zip(self.drives, self.commands, self.banks, strict=True):
            pushed, admitted = drive.prepare(command, STEP_S)
            supply = (bank.inner_v() + bank.ohmic * (pushed - bank.receiver_a)) / (1 + bank.ohmic * admitted)
            current = bank.receiver_a + drive.run(supply, air, body.density, STEP_S, shake)
            thrust += drive.thrust
            for i, keep in enumerate(self.keeps):
                bank.y[i] += keep * (current - bank.y[i])
            bank.drawn += current * STEP_S / 3.6
            bank.supply, bank.heat = supply, max(0.0, current * (bank.rest - supply))
            bank.rows.append((supply, current, bank.drawn, bank.pack_c))
        body.step(thrust, air, pilot.load, pilot.bank, pilot.brake, STEP_S)
        self._keep(self.banks[0].supply, sum(bank.rows[-1][1] for bank in self.banks), air)


@dataclass
class Flown:
    """A flight on two packs with what was true of it, and the sheet its owner wrote."""

    plan: Plan
    table: dict[str, Any]
    banks: list[Bank]
    cells: list[Floats]
    sheet: str

    @property
    def consumed_mah(self) -> list[float]:
        """What left each pack."""
        return [bank.rows[-1][2] for bank in self.banks]

    @property
    def pair(self) -> dict[str, float]:
        """Right against left, as flown."""
        return pair_figures(self.plan, self.table)["left/right"]

    def write(self, folder: Path, *, seed: int = 1) -> tuple[Path, Path]:
        """Log at 10 Hz and sheet; sensors as good as the trade's."""
        chance = np.random.default_rng(seed)
        columns: dict[str, Floats] = {"Time [s]": np.round(self.table["time"], 2)}
        columns["Throttle [%]"] = np.round(100 * self.table["throttle"])
        columns["Altitude [m]"] = np.round(self.table["height"], 1)
        columns["Airspeed [m/s]"] = np.round(np.maximum(self.table["air"], 0), 1)
        for i, (side, bank) in enumerate(zip(("left", "right"), self.banks, strict=True)):
            _, current, drawn, _ = np.array(bank.rows).T
            cells, size = self.cells[i], drawn.size
            volts = cells.sum(axis=1) - current * bank.pack.plug_ohm
            columns[f"Voltage of the {side} pack [V]"] = np.round(volts + chance.normal(0, 0.004, size), 2)
            columns[f"{side} battery current [A]"] = np.round(current + chance.normal(0, 0.08, size), 1)
            columns[f"{side} battery charge [mAh]"] = np.round(drawn)
            for k in range(cells.shape[1]):
                columns[f"{side} pack cell {k + 1} [V]"] = np.round(
                    cells[:, k] + chance.normal(0, 0.0015, size), 3
                )
            omega = self.table["motor_omega"][:, i]
            columns[f"{side} motor speed [rpm]"] = np.round(np.abs(omega) * 30 / np.pi, -1)
            drew = self.table["motor_current"][:, i]
            columns[f"{side} motor current [A]"] = np.round(drew + chance.normal(0, 0.08, size), 1)
        log, sheet = folder / "independent_two_packs.csv", folder / "independent_two_packs.toml"
        rows = np.column_stack(list(columns.values()))[::ROW_STEPS]
        lines = [",".join(columns), *(",".join(f"{v:g}" for v in row) for row in rows.tolist())]
        log.write_text("\n".join(lines) + "\n", encoding="utf-8")
        sheet.write_text(self.sheet, encoding="utf-8")
        return log, sheet


def fly_two_packs(
    *, seed: int = 3, aged: float = 1.35, weak_cell: int = 2, weak: float = 1.6, heavier: float = 1.0
) -> Flown:
    """Fly the usual twin on two packs of half its pack's size.

    Parameters: seed, of plan and flight; aged, resistance of the right pack against the left one's;
    weak_cell, of the right pack, with `weak` times its neighbours' resistance; heavier, torque of the right
    propeller against the left one's.
    """
    plan = copy.deepcopy(scenario("twin_5s", seed))
    plan.drives[1] = replace(plan.drives[1], torque_scale=plan.drives[1].torque_scale * heavier)
    packs = [_half(plan.pack), _half(plan.pack)]
    for name in ("ohmic_ohm", "transfer_ohm", "diffusion_ohm"):
        each = getattr(packs[1], name) * aged
        each[weak_cell - 1] *= weak
        setattr(packs[1], name, each)
    figures = own_figures(replace(plan, pack=packs[0]))
    resistance = figures["pack"]["resistance_mohm"]
    figures["pack"].pop("name")
    figures["pack"]["capacity_mah"] = round(float(packs[0].capacity_mah.mean()) / 50) * 50
    figures["packs"] = [
        {"name": "A", "feeds": ["left"]},
        {"name": "B", "feeds": ["right"], "resistance_mohm": round(resistance * aged, 2)},
    ]
    run = TwoPackRun(plan, seed, packs)
    table = run.go()
    cells = []
    for bank in run.banks:
        _, current, drawn, warm = np.array(bank.rows).T
        cells.append(cell_voltages(bank.pack, current, drawn, warm, STEP_S))
    return Flown(plan, table, run.banks, cells, to_toml(figures))


def _half(pack: Pack) -> Pack:
    """A pack of half the size: half the capacity, twice the resistance."""
    return replace(
        pack,
        capacity_mah=pack.capacity_mah / 2,
        ohmic_ohm=pack.ohmic_ohm * 2,
        transfer_ohm=pack.transfer_ohm * 2,
        diffusion_ohm=pack.diffusion_ohm * 2,
        self_heat_j_per_k=pack.self_heat_j_per_k / 2,
        transfer_bend_a=pack.transfer_bend_a / 2,
    )
