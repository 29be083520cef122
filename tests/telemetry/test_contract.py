"""The objects on stdout have every key that others rely on, and every null has its reason."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from telemetry.cli import run

E = {"value": 0.0, "low": 0.0, "high": 0.0}
N = 0.0
MADE_BY = {"version": "", "sheet": "", "sheet_sha256": "", "answers": {}, "options": {}}
REVIEW = {
    "schema": "sagline.review/1",
    "made_by": MADE_BY,
    "sources": [
        {
            "file": "",
            "sha256": "",
            "rows_read": N,
            "rows_rejected": N,
            "cells_unreadable": N,
            "encoding": "",
            "delimiter": "",
            "decimal": "",
            "clock": {"offset_s": E, "drift_ppm": E},
            "columns": [
                {"header": "", "quantity": "", "position": "", "unit": "", "status": "", "reason": ""}
            ],
        }
    ],
    "duration_s": N,
    "sample_interval_s": N,
    "gaps": [{"start_s": N, "end_s": N}],
    "flights": [
        {
            "start_s": N,
            "takeoff_s": N,
            "landing_s": N,
            "end_s": N,
            "cut_off": "",
            "decision": "",
            "open": [{"what": "", "reason": ""}],
            "phases": [{"name": "", "start_s": N, "end_s": N}],
            "pack": {
                "name": "",
                "cell_count": N,
                "start_voltage_v": N,
                "min_voltage_v": N,
                "sag_v": E,
                "resistance_ohm": E,
                "resistance_1s_ohm": E,
                "resistance_10s_ohm": E,
                "start_charge_fraction": E,
                "charge_left_fraction": E,
                "cells": [
                    {
                        "cell": N,
                        "rest_before_v": N,
                        "min_loaded_v": N,
                        "min_at_s": N,
                        "sag_v": E,
                        "resistance_ohm": E,
                        "resistance_1s_ohm": E,
                        "resistance_10s_ohm": E,
                        "rest_after_v": N,
                        "rest_after_s": N,
                    }
                ],
                "weak_cell": N,
                "weak_cell_kind": "",
                "weak_cell_reason": "",
                "weak_cells": [{"cell": N, "kind": "", "reason": ""}],
                "voltage_lag_s": E,
            },
            "capacity": {
                "consumed_mah": E,
                "logged_mah": N,
                "energy_wh": E,
                "consumed_fraction": N,
                "mean_current_a": N,
                "sensor_gain": E,
            },
            "current": {
                "peak_a": N,
                "peak_at_s": N,
                "rms_a": N,
                "sustained": [{"window_s": N, "max_mean_a": N, "start_s": N}],
                "limits": [{"part": "", "rating_a": N, "window_s": N, "measured_a": E, "margin_fraction": N}],
            },
            "motors": {
                "positions": [""],
                "pairs": [
                    {
                        "left": "",
                        "right": "",
                        "imbalance_fraction": E,
                        "current_ratio": E,
                        "rpm_ratio": E,
                        "verdict": "",
                        "cause": "",
                        "reason": "",
                    }
                ],
                "events": [{"kind": "", "motor": "", "start_s": N, "end_s": N}],
            },
            "bench": {"ready": True, "items": [{"check": "", "verdict": "", "sentence": ""}]},
            "timer": {
                "alarm_s": N,
                "starts": "",
                "from_charge_fraction": N,
                "now": {"from_charge_fraction": N, "alarm_s": N},
                "pack": "",
                "usable_mah": N,
                "reserve_fraction": N,
                "confidence": N,
                "flights_used": N,
                "rate_mah_per_min": E,
                "landing_allowance_s": N,
                "consumed_alarm_mah": N,
                "loaded_cell_alarm_v": N,
                "limited_by": "",
                "weakest_assumption": "",
            },
            "prediction": [
                {
                    "quantity": "",
                    "position": "",
                    "statistic": "",
                    "throttle_fraction": N,
                    "predicted": N,
                    "low": N,
                    "high": N,
                    "measured": N,
                    "residual_fraction": N,
                    "explained_by": "",
                }
            ],
            "headline": "",
            "answers": [{"question": "", "verdict": "", "sentence": ""}],
            "findings": [
                {"severity": "", "key": "", "subject": "", "values": {}, "message": "", "evidence": ""}
            ],
        }
    ],
    "undecided": [{"subject": "", "reason": ""}],
}
MOTOR = {
    "position": "",
    "voltage_v": E,
    "current_a": E,
    "rpm": E,
    "torque_nm": E,
    "shaft_w": E,
    "thrust_n": E,
    "efficiency_fraction": E,
}
PREDICTION = {
    "schema": "sagline.prediction/1",
    "made_by": MADE_BY,
    "configuration": "",
    "air_density_kgm3": N,
    "static": [
        {
            "throttle_fraction": N,
            "pack_voltage_v": E,
            "current_a": E,
            "thrust_n": E,
            "motors": [MOTOR],
            "lead_drop_v": E,
            "lead_heat_w": E,
        }
    ],
    "flight": {
        "level_current_a": E,
        "min_pack_voltage_v": E,
        "mean_current_a": E,
        "consumed_mah": E,
        "time_to_reserve_s": E,
        "legs": [{"phase": "", "seconds": N, "current_a": E, "pack_voltage_v": E}],
    },
    "limits": [{"part": "", "rating_a": N, "window_s": N, "predicted_a": E, "margin_fraction": N}],
    "assumed": [{"key": "", "value": N, "reason": ""}],
}
MAY_BE_NULL = {
    "weak_cell",
    "weak_cell_kind",
    "weak_cell_reason",
    "quantity",
    "throttle_fraction",
    "ready",
    "now",
}
"""Null that is itself an answer: no weak cell, a column that is no quantity, no throttle to a mean, a run-up
with open items, a pack of which nobody knows what is left in it.
"""


def compare(found: object, shape: object, path: str, nulls: list[str]) -> None:
    if found is None:
        nulls.append(path)
    elif isinstance(shape, dict):
        assert isinstance(found, dict), path
        assert set(shape) <= set(found), f"{path}: {set(shape) - set(found)} missing"
        for key in shape:
            compare(found[key], shape[key], f"{path}.{key}" if path else key, nulls)
    elif isinstance(shape, list):
        assert isinstance(found, list), path
        for index, one in enumerate(found):
            compare(one, shape[0], f"{path}[{index}]", nulls)
    elif isinstance(shape, bool):
        assert isinstance(found, bool), path
    elif isinstance(shape, float):
        assert isinstance(found, int | float) and not isinstance(found, bool), f"{path}: {found!r}"
    else:
        assert isinstance(found, str), f"{path}: {found!r}"


def check(found: dict, shape: dict) -> None:
    nulls: list[str] = []
    compare(found, shape, "", nulls)
    reasons = {one["subject"] for one in found.get("undecided", [])}
    for null in nulls:
        name = null.rsplit(".", 1)[-1]
        assert null in reasons or name in MAY_BE_NULL or any(null.startswith(r) for r in reasons), (
            f"{null} is null without a reason"
        )


def logs(folder: Path) -> list[Path]:
    return sorted(p for p in folder.glob("*.csv") if p.name != "history.csv")


def test_a_review_of_every_sample_log_has_the_shape_of_the_contract(sample_logs, capsys):
    assert len(logs(sample_logs)) >= 5
    for log in logs(sample_logs):
        for sheet in (
            [],
            [
                "--sheet",
                str(sample_logs / "saltmarsh_mail.toml"),
                "--history",
                str(sample_logs / "history.csv"),
            ],
        ):
            assert run(["review", str(log), "--json", *sheet]) in (0, 3), log.name
            found = json.loads(capsys.readouterr().out)
            assert found["schema"] == "sagline.review/1"
            check(found, REVIEW)


@pytest.mark.parametrize("configuration", [[], ["--configuration", "skis"]])
def test_a_prediction_has_the_shape_of_the_contract(sample_logs, capsys, configuration):
    assert run(["predict", str(sample_logs / "saltmarsh_mail.toml"), "--json", *configuration]) == 0
    found = json.loads(capsys.readouterr().out)
    check(found, PREDICTION)
    assert {0.25, 0.5, 0.75, 1.0} <= {one["throttle_fraction"] for one in found["static"]}


def test_a_timer_has_the_shape_of_the_contract(sample_logs, capsys):
    assert (
        run(
            [
                "timer",
                "--sheet",
                str(sample_logs / "saltmarsh_mail.toml"),
                "--history",
                str(sample_logs / "history.csv"),
                "--json",
            ]
        )
        == 0
    )
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "sagline.timer/1"
    check(found["made_by"], MADE_BY)
    check(found["timer"], REVIEW["flights"][0]["timer"])


def test_the_five_answers_come_in_order_with_verdicts_of_the_contract(sample_logs, capsys):
    verdicts = {
        "cells": {"sound", "weak", "undecided"},
        "load": {"within", "over", "undecided"},
        "pair": {"even", "uneven", "undecided", "single"},
        "prediction": {"kept", "explained", "missed", "undecided"},
        "timer": {"set", "undecided"},
    }
    for log in logs(sample_logs):
        run(["review", str(log), "--json"])
        for flight in json.loads(capsys.readouterr().out)["flights"]:
            assert [a["question"] for a in flight["answers"]] == list(verdicts)
            assert all(a["verdict"] in verdicts[a["question"]] for a in flight["answers"])
