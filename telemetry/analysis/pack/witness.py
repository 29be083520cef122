"""What the pack's own voltage says of the cells' sensors: a sensor that reads one cell off makes the sum of
the cells wrong, a cell that is lower in charge does not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from telemetry.estimate import Undecided
from telemetry.signals import Signals


@dataclass(frozen=True, slots=True)
class Witness:
    """Pack voltage less the sum of the cells at no current, the pack sensor's gain taken out, and its
    standard error. [V]
    """

    apart_v: float
    sd_v: float

    def against(self, offset_v: float) -> float:
        """Twice the negative log likelihood of this when one cell's sensor reads `offset_v` too high;
        bounded, since other sensors may be off as well.
        """
        return float(min(((self.apart_v + offset_v) / self.sd_v) ** 2, 30.0))


def witness_of(
    signals: Signals,
    cells: int | None,
    *,
    gain_sd: float = 0.004,
    path_sd_ohm: float = 0.01,
    own_v: float = 0.003,
    least_v: float = 0.003,
    correlated: float = 3.0,
    rounds: int = 4,
) -> Witness | None:
    """The pack's voltage against the sum of its cells over the flight, or None where it cannot tell.

    apart = a + gain·voltage − path·current by weighted least squares, Huber against what moves between two
    sensors' samples; a is what no gain and no plug explains.

    Parameters
    ----------
    cells : of the pack; None counts the logged ones. All must be read together.
    gain_sd, path_sd_ohm : what a pack's sensor and plugs usually are off (common practice, no source).
    own_v : what an ordinary cell's sensor is off (one sd), and `least_v` noise that no log goes under.
    correlated : neighbouring readings repeat one another.
    """
    pack = signals.fresh("pack_voltage_v", least=60)
    if pack is None or len(signals.groups) != 1 or isinstance(signals.current, Undecided):
        return None
    group = signals.groups[0]
    inside = (group.time_s >= pack.time_s[0]) & (group.time_s <= pack.time_s[-1])
    if len(group.cells) != (cells or len(group.cells)) or inside.sum() < 60:
        return None
    volts = np.interp(group.time_s[inside], *pack)
    apart = volts - group.volts[inside].sum(axis=1)
    steps = signals.step("pack_voltage_v") + len(group.cells) * group.step_v
    if float(np.quantile(np.abs(apart), 0.95)) <= 0.6 * steps:
        return None  # the recorder added up the cells: no sensor of its own
    current = np.interp(group.time_s[inside], *signals.current.samples)
    design = np.column_stack([np.ones(volts.size), volts, current])
    beliefs = np.diag([1.0, gain_sd**-2, path_sd_ohm**-2])
    residual = apart - np.median(apart)
    for _ in range(rounds):
        noise_v = max(1.4826 * float(np.median(np.abs(residual))), least_v)
        weight = np.minimum(1.0, 2.0 * noise_v / np.maximum(np.abs(residual), 1e-9))
        weight = weight / (correlated * noise_v) ** 2
        gram = design.T @ (design * weight[:, None]) + beliefs
        found = np.linalg.solve(gram, design.T @ (weight * apart))
        residual = apart - design @ found
    sd = float(np.sqrt(np.linalg.inv(gram)[0, 0] + len(group.cells) * own_v**2))
    return Witness(float(found[0]), sd)
