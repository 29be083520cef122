"""The gain of the current sensor, from what the charger put back."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import stats

from telemetry.estimate import Estimate, Undecided


def sensor_gain(
    put_back: Sequence[tuple[float, float]],
    *,
    scatter_fraction: float = 0.015,
    scatter_flights: float = 3.0,
    charger_fraction: float = 0.005,
) -> Estimate | Undecided:
    """What the sensor reads per ampere that flows: logged ÷ put back, over several flights. Divide by it to
    correct.

    Parameters
    ----------
    put_back : (logged, put back) of each flight that was charged to the same level as before it. [mAh]
    scatter_fraction, scatter_flights : the spread from flight to flight expected before seeing it (a charge
        ends a per cent earlier or later), and how many flights that expectation is worth. One flight alone
        gives no spread.
    charger_fraction : standard error of the charger's own counter, common to all flights; common practice, no
        source.

    Notes
    -----
    A lithium cell gives back practically all the charge put in, so charge, not energy, compares. Flights
    count by their charge, since an unfinished charge is a matter of milliampere hours.
    """
    pairs = np.asarray([p for p in put_back if p[0] > 0 and p[1] > 0], dtype=float).reshape(-1, 2)
    if pairs.shape[0] == 0:
        return Undecided("no charge put back after a flight is known")
    logged, returned = pairs.T
    gain = float(np.sum(logged) / np.sum(returned))
    weights = returned / np.sum(returned)
    scatter = (logged / returned - gain) / gain
    freedom = pairs.shape[0] - 1 + scatter_flights
    spread = float(
        np.sqrt(
            (np.sum(scatter**2 * weights * pairs.shape[0]) + scatter_flights * scatter_fraction**2) / freedom
        )
    )
    of_mean = spread * float(np.sqrt(np.sum(weights**2)))
    half_width = gain * float(np.hypot(stats.t.ppf(0.975, freedom) * of_mean, 1.96 * charger_fraction))
    flights = "one flight" if pairs.shape[0] == 1 else f"{pairs.shape[0]} flights"
    return Estimate.around(gain, half_width, f"logged ÷ put back over {flights}")
