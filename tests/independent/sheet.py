"""The set-up sheet that goes with a run: the owner's figures, honest but a few per cent off."""

from __future__ import annotations

from random import Random
from typing import Any

import numpy as np

from .cells import FULL_V, resistance_after
from .drive import TWO_PI, DriveParts
from .plan import Plan


def static_point(parts: DriveParts, supply_v: float, duty: float, density: float = 1.225) -> dict[str, float]:
    """Where one motor settles on the stand: rpm, winding current, torque, thrust."""
    ke, size = 60 / (TWO_PI * parts.kv_rpm_per_v), parts.propeller.diameter_m
    resistance = parts.winding_ohm + parts.on_ohm + duty * duty * parts.lead_ohm
    iron_at = parts.no_load_rpm / 60 * TWO_PI
    ct, cq = parts.propeller.look_up(0.0)
    low, high = 1.0, supply_v / ke
    for _ in range(60):
        omega = (low + high) / 2
        rev = omega / TWO_PI
        reynolds = (rev / parts.propeller.reference_rev_s) ** parts.propeller.reynolds_power
        torque = cq * reynolds * density * rev**2 * size**5
        current = (duty * supply_v - ke * omega) / resistance
        push = ke * (current - parts.no_load_a * (omega / iron_at) ** 0.6)
        low, high = (omega, high) if push > torque else (low, omega)
    return {
        "rpm": rev * 60,
        "current_a": current,
        "torque_nm": torque,
        "thrust_n": ct * density * rev**2 * size**4,
        "voltage_v": ke * omega + current * parts.winding_ohm,
    }


def own_figures(plan: Plan) -> dict[str, Any]:
    """The sheet as nested tables, with the owner's errors drawn by the plan's seed."""
    chance = Random(plan.seed + 101)
    off = lambda spread: 1 + chance.uniform(-spread, spread)  # noqa: E731
    first, pack, frame = plan.drives[0], plan.pack, plan.airframe
    one_second = resistance_after(
        pack, 1.0, 20.0, np.array([0.3 * pack.capacity_mah.mean()]), np.array([25.0])
    )
    volts = 0.93 * FULL_V[pack.chemistry] * pack.cells
    full = static_point(first, volts, 1.0)
    part = static_point(first, 0.76 * volts, 1.0)
    total = full["current_a"] * len(plan.drives)
    per_motor = full["current_a"]
    capacity = plan.sheet.get("capacity_mah", round(float(pack.capacity_mah.mean()) / 50) * 50)
    points = [
        {
            "rpm": round(p["rpm"] * off(0.004), -1),
            "current_a": round(p["current_a"] * off(0.015), 1),
            "voltage_v": round(p["voltage_v"] * off(0.005), 2),
            "thrust_n": round(p["thrust_n"] * off(0.025), 2),
        }
        for p in (full, part)
    ]
    no_load_v = round(first.no_load_rpm / first.kv_rpm_per_v + first.no_load_a * first.winding_ohm, 1)
    c_rate = max(20.0, np.ceil(1.3 * total / (capacity / 1000) / 5) * 5)
    figures: dict[str, Any] = {
        "aircraft": {
            "name": plan.name.replace("_", " "),
            "mass_kg": round(frame.mass_kg * off(0.01), 3),
            "span_m": frame.span_m,
            "wing_area_m2": frame.wing_m2,
            "drag_area_m2": round(frame.drag_m2 * off(0.08), 4),
        },
        "field": {"elevation_m": 40, "temperature_c": round(plan.air.temperature_c + chance.uniform(-2, 2))},
        "pack": {
            "name": "A",
            "cells": pack.cells,
            "capacity_mah": capacity,
            "resistance_mohm": round(float(np.median(one_second)) * 1000 * off(0.07), 2),
            "full_cell_v": FULL_V[pack.chemistry],
            "ratings": [{"c_rate": c_rate}, {"c_rate": 1.6 * c_rate, "seconds": 10}],
        },
        "reserve": {"fraction": 0.2, "confidence": 0.95, "landing_allowance_s": 45},
        "motor": {
            "kv_rpm_per_v": round(first.kv_rpm_per_v * off(0.015)),
            "resistance_mohm": round(first.winding_ohm * 1000 * off(0.04), 2),
            "no_load_points": [
                {
                    "voltage_v": no_load_v,
                    "current_a": round(first.no_load_a * off(0.05), 2),
                    "rpm": round(first.no_load_rpm, -1),
                }
            ],
            "pole_pairs": 7,
            "max_temperature_c": 90,
            "ratings": [
                {"current_a": round(1.25 * per_motor, 1)},
                {"current_a": round(1.5 * per_motor, 1), "seconds": 15},
            ],
        },
        "propeller": {
            "diameter_in": round(first.propeller.diameter_m / 0.0254, 1),
            "pitch_in": round(first.propeller.pitch_m / 0.0254, 1),
            "blades": first.propeller.blades,
            "static_points": points,
        },
        "controller": {
            "ratings": [
                {"current_a": round(1.35 * per_motor, 1)},
                {"current_a": round(1.7 * per_motor, 1), "seconds": 10},
            ],
            "reversing": first.reversing,
            "max_temperature_c": 95,
        },
        "leads": {"length_m": 0.4, "area_mm2": round(0.8 * 0.0175 / first.lead_ohm * off(0.05), 2)},
        "receiver_supply": {"voltage_v": plan.receiver_v, "ratings": [{"current_a": 5}]},
    }
    if pack.chemistry != "lipo":
        figures["pack"]["chemistry"] = pack.chemistry
    if len(plan.drives) > 1:
        figures["motors"] = [
            {
                "position": d.position,
                "arm_m": abs(d.arm_m),
                "rotation": "clockwise" if d.arm_m < 0 else "anticlockwise",
            }
            for d in plan.drives
        ]
    return figures


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, list):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_value(v)}" for k, v in value.items()) + " }"
    return repr(round(float(value), 6)) if isinstance(value, float) else str(value)


def to_toml(figures: dict[str, Any]) -> str:
    """The sheet's text."""
    lines: list[str] = []
    for table, content in figures.items():
        for entry in content if isinstance(content, list) else [content]:
            lines.append(f"[[{table}]]" if isinstance(content, list) else f"[{table}]")
            lines += [f"{key} = {_value(value)}" for key, value in entry.items()]
            lines.append("")
    return "\n".join(lines)
