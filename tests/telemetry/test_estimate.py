"""A number with its interval, or the reason why there is none."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from telemetry.estimate import Estimate, Undecided, plain


@dataclass(frozen=True, slots=True)
class Result:
    sag_v: Estimate | Undecided
    cells: tuple[float | Undecided, ...]
    drawn: int = field(default=0, metadata={"json": False})


def test_an_estimate_is_value_low_high():
    result, undecided = plain(Result(Estimate(0.52, 0.50, 0.55), (3.1,)))
    assert result == {"sag_v": {"value": 0.52, "low": 0.50, "high": 0.55}, "cells": [3.1]}
    assert undecided == []


def test_what_is_not_there_is_null_and_its_reason_is_listed_with_its_path():
    result, undecided = plain({"pack": Result(Undecided("steady current"), (3.1, Undecided("no cell 2")))})
    assert result["pack"] == {"sag_v": None, "cells": [3.1, None]}
    assert undecided == [
        {"subject": "pack.sag_v", "reason": "steady current"},
        {"subject": "pack.cells[1]", "reason": "no cell 2"},
    ]


def test_numbers_of_numpy_come_out_as_plain_numbers():
    result, _ = plain({"a": np.float64(1.5), "b": np.int64(3), "c": np.bool_(True)})
    assert result == {"a": 1.5, "b": 3, "c": True}
    assert type(result["b"]) is int


def test_a_result_never_carries_nan():
    with pytest.raises(ValueError, match="peak_a is nan"):
        plain({"peak_a": float("nan")})


@pytest.mark.parametrize(
    ("value", "low", "high"),
    [(1.0, 1.1, 2.0), (1.0, 0.0, 0.9), (float("nan"), 0.0, 1.0), (1.0, float("-inf"), 2.0)],
)
def test_an_interval_holds_its_value_and_is_finite(value, low, high):
    with pytest.raises(ValueError, match=r"interval|finite"):
        Estimate(value, low, high)


def test_milliohms_from_ohms_keep_their_interval_in_order():
    assert Estimate(0.0054, 0.0051, 0.0057).scaled(1000).high == pytest.approx(5.7)
    assert Estimate(1.0, 0.5, 2.0).scaled(-1.0) == Estimate(-1.0, -2.0, -0.5)


def test_an_interval_of_what_cannot_be_below_zero_ends_at_zero():
    assert Estimate(0.5, -0.2, 1.2).floored() == Estimate(0.5, 0.0, 1.2)
    assert Estimate(-0.1, -0.2, 1.2).floored() == Estimate(0.0, 0.0, 1.2)
