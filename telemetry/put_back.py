"""What the charger put back against what the log counted: the gain of the current sensor.

The review, the timer and the season all ask here, so that they cannot differ.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import stats

from telemetry.estimate import Estimate, Undecided
from telemetry.history import PastFlight
from telemetry.limits import FULL_CHARGE_FRACTION
from telemetry.sentences import counted, undecided
from telemetry.sheet.setup import PackSetup


def flown_on(history: Sequence[PastFlight], pack: PackSetup | None) -> tuple[PastFlight, ...]:
    """The flights of one pack: those that name it, and for the sheet's own [pack] those that name none.

    Parameters
    ----------
    history : past flights of one aircraft, with whatever pack.
    pack : None without a sheet; then those that name none.

    Returns
    -------
    In the order of the history.
    """
    names = ("",) if pack is None else ("", pack.name) if pack.is_first else (pack.name,)
    return tuple(row for row in history if row.pack in names)


def put_backs(flights: Sequence[PastFlight]) -> tuple[tuple[float, float], ...]:
    """What the charger put back after flights, against what was logged.

    Parameters
    ----------
    flights : of one pack.

    Returns
    -------
    (logged, put back) of every flight begun on a full pack after which the charge put back is known. [mAh]

    Notes
    -----
    After a flight begun on a part charge the charger puts back what was drawn before it too.
    """
    return tuple(
        (f.consumed_mah, f.put_back_mah)
        for f in flights
        if f.put_back_mah is not None
        and f.start_charge_fraction is not None
        and f.start_charge_fraction >= FULL_CHARGE_FRACTION.value
    )


def sensor_gain(
    pairs: Sequence[tuple[float, float]],
    *,
    scatter_fraction: float = 0.015,
    scatter_flights: float = 3.0,
    charger_fraction: float = 0.005,
) -> Estimate | Undecided:
    """What the sensor reads per ampere that flows: logged ÷ put back, over several flights. Divide by it to
    correct.

    Parameters
    ----------
    pairs : (logged, put back) of each flight of one pack that was charged to the same level as before it,
        as `put_backs` gives them; one not above zero is passed over. [mAh]
    scatter_fraction, scatter_flights : the spread from flight to flight expected before seeing it (a charge
        ends a per cent earlier or later), and how many flights that expectation is worth. One flight alone
        gives no spread.
    charger_fraction : standard error of the charger's own counter, common to all flights; common practice, no
        source.

    Returns
    -------
    The mean over the flights with its interval, or `Undecided` without any.

    Notes
    -----
    A lithium cell gives back practically all the charge put in, so charge, not energy, compares. Flights
    count by their charge, since an unfinished charge is a matter of milliampere hours.

    Source: ratio estimator with Student's t.
    """
    known = np.asarray([p for p in pairs if p[0] > 0 and p[1] > 0], dtype=float).reshape(-1, 2)
    if known.shape[0] == 0:
        return undecided("put_back", "none")
    logged, returned = known.T
    gain = float(np.sum(logged) / np.sum(returned))
    weights = returned / np.sum(returned)
    scatter = (logged / returned - gain) / gain
    freedom = known.shape[0] - 1 + scatter_flights
    spread = float(
        np.sqrt(
            (np.sum(scatter**2 * weights * known.shape[0]) + scatter_flights * scatter_fraction**2) / freedom
        )
    )
    of_mean = spread * float(np.sqrt(np.sum(weights**2)))
    half_width = gain * float(np.hypot(stats.t.ppf(0.975, freedom) * of_mean, 1.96 * charger_fraction))
    method = counted("put_back", "method", count=known.shape[0])
    return Estimate.around(gain, half_width, method, kind="mean")
