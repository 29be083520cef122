"""Does the log belong to the sheet at all?"""

from __future__ import annotations

import numpy as np

from telemetry.sentences import say
from telemetry.sheet.setup import Setup
from telemetry.signals import Signals


def contradictions(signals: Signals, setup: Setup, *, over_full_v: float = 0.06) -> tuple[str, ...]:
    """What the log shows that the sheet's aircraft cannot do, a clause each; empty when they fit.

    Parameters
    ----------
    over_full_v : a cell reading so far above the sheet's full cell is another pack's, not a sensor's error.
        Most readings must lie above it: one spike is none.
    """
    found: list[str] = []
    voltage = signals.voltage
    most_v = setup.pack.cells * (setup.pack.full_cell_v + over_full_v)
    if voltage is not None and float(np.median(voltage.samples.values)) > most_v:
        reads_v = float(np.quantile(voltage.samples.values, 0.95))
        found.append(say("contradictions", "voltage", reads_v=reads_v, cells=setup.pack.cells, most_v=most_v))
    cells = len(signals.trace.positions("cell_voltage_v"))
    if cells > setup.pack.cells:
        found.append(say("contradictions", "cells", log=cells, sheet=setup.pack.cells))
    if signals.packs and not setup.packs:
        found.append(say("contradictions", "packs", log=len(signals.packs)))
    motors = len(signals.motors)
    if motors > len(setup.drives) > 0:
        found.append(say("contradictions", "motors", log=motors, sheet=len(setup.drives)))
    return tuple(found)
