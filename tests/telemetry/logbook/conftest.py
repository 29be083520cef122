"""Small logs to keep: a flight written by arithmetic, quick to review."""

from __future__ import annotations

import math

import pytest

from telemetry.logbook import Logbook

SHEET = """
[aircraft]
name = "Test Twin"
mass_kg = 3.6
[pack]
cells = 5
capacity_mah = 5200
[[packs]]
name = "B"
capacity_mah = 4800
[[configurations]]
name = "skis"
mass_kg = 3.8
"""


def flight_csv(
    *,
    cruise_a=24.0,
    seconds=240,
    height_m=60.0,
    began_v=20.9,
    columns=("Time s", "Current A", "Altitude m"),
):
    """A flight of `seconds` in the air, 2 Hz, with half a minute on the ground before and after; without
    voltage, which takes long to review.
    """
    lines = [",".join(columns)]
    for step in range(2 * (seconds + 60)):
        t = step / 2
        air = t - 30.0
        flying = 0 <= air <= seconds
        current = (2 * cruise_a if air < 10 else cruise_a + 3.0 * math.sin(air)) if flying else 0.3
        current += 0.05 * ((7 * step) % 5 - 2)  # no sensor is so still that it repeats itself
        altitude = (height_m * min(1.0, air / 20.0, (seconds - air) / 20.0) if flying else 0.0) + 0.1 * (
            step % 3
        )
        voltage = began_v - 0.0025 * max(0.0, min(air, seconds)) - 0.02 * current
        values = {
            "Time s": t,
            "Pack voltage V": voltage,
            "Current A": current,
            "Current left A": current / 2,
            "Altitude m": altitude,
        }
        fields = [f"{values[c]:.2f}" for c in columns]
        lines.append(",".join(fields))
    return "\n".join(lines) + "\n"


@pytest.fixture
def book(tmp_path):
    return Logbook(tmp_path / "book")


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "twin.toml"
    path.write_text(SHEET, encoding="utf-8")
    return path


@pytest.fixture
def write_log(tmp_path):
    """Writes a log under a name; `cruise_a` makes it another flight."""

    def write(name="maiden.csv", **choices):
        path = tmp_path / name
        path.write_text(flight_csv(**choices), encoding="utf-8")
        return path

    return write


@pytest.fixture(scope="session")
def two_flights(tmp_path_factory):
    """The folder of a logbook of two flights, made once and only to be copied."""
    folder = tmp_path_factory.mktemp("two_flights")
    sheet = folder / "twin.toml"
    sheet.write_text(SHEET, encoding="utf-8")
    for name, cruise_a, choices in (
        ("a.csv", 24.0, {"put_back_mah": 1700.0}),
        ("b.csv", 22.0, {"configuration": "skis"}),
    ):
        (folder / name).write_text(flight_csv(cruise_a=cruise_a), encoding="utf-8")
        Logbook(folder / "book").keep([folder / name], sheet=sheet, **choices)
    return folder / "book"
