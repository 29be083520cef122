"""What a trace gives of its channels."""

from __future__ import annotations

import numpy as np

from telemetry.trace import Channel, Stretch, Trace


def test_only_new_samples_count():
    values = np.array([1.0, 1.0, 2.0, np.nan])
    channel = Channel("current_a", "", values, np.array([True, False, True, False]), "I", 1.0)
    one = Trace(np.arange(4.0), {("current_a", ""): channel})
    assert one.fresh("current_a").time_s.tolist() == [0.0, 2.0]
    assert one.fresh("current_a", within=Stretch(1.0, 3.0)).values.tolist() == [2.0]
    assert one.at("current_a", "", np.array([1.0])).tolist() == [1.5]
    assert one.fresh("rpm", "left") is None
