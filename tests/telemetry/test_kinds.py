"""What each interval holds is what DEVELOPERS.md says of it."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import numpy as np
import pytest

from telemetry.debrief import review
from telemetry.estimate import Estimate
from telemetry.history import read_history
from telemetry.importers.log import read_log
from telemetry.season.comparing import ComparedFlight, compare
from telemetry.season.timer import suggest_timer
from telemetry.season.trends import SeasonFlight, season_trends
from telemetry.sheet import read_sheet

ROOT = Path(__file__).parents[2]


def estimates(thing: object, path: str = "") -> Iterator[tuple[str, str]]:
    """Every estimate below a result: its path without places, and its kind."""
    if isinstance(thing, Estimate):
        yield path, thing.kind
    elif dataclasses.is_dataclass(thing):
        for field in dataclasses.fields(thing):
            yield from estimates(getattr(thing, field.name), f"{path}.{field.name}".lstrip("."))
    elif isinstance(thing, Mapping):
        for name, part in thing.items():
            yield from estimates(part, f"{path}.{name}".lstrip("."))
    elif isinstance(thing, list | tuple):
        for part in thing:
            yield from estimates(part, path)


def written() -> dict[tuple[str, str], str]:
    """Object and figure → kind, as the table has it."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text[text.index("| object | figures | holds |") :].split("\n\n")[0].splitlines()[2:]
    rows = [[cell.strip() for cell in row.split("|")[1:-1]] for row in table]
    assert rows[-1] == ["any", "all others", "value"]
    return {(row[0], name): row[2] for row in rows for name in re.findall(r"`([\w.]+)`", row[1])}


@pytest.fixture(scope="module")
def results(sample_logs) -> dict[str, object]:
    """One of each object, as full of figures as can be."""
    sheet = read_sheet(sample_logs / "saltmarsh_mail.toml")
    reviewed = review(
        read_log(sample_logs / "weak_cell.csv"), sheet, read_history(sample_logs / "history.csv")
    )
    rng = np.random.default_rng(1)
    flown = [
        SeasonFlight(
            k,
            "skis" if k % 3 else "wheels",
            cell_resistances_ohm=tuple(0.005 * np.exp(0.01 * rng.standard_normal(5))),
            rate_mah_per_min=float(500 * np.exp(0.05 * rng.standard_normal())),
            put_back=(2000.0, 2020.0),
            pack_25c_ohm=0.025 * 1.06**k,
            temperature_c=20.0,
        )
        for k in range(1, 9)
    ]
    rates = [
        ComparedFlight(k, "A", 20.0, {"rate_mah_per_min": float(400 + rng.standard_normal())})
        for k in range(8)
    ]
    one = reviewed.flights[0]
    return {
        "review": {f.name: getattr(one, f.name) for f in dataclasses.fields(one)},
        "prediction": reviewed.prediction,
        "compare": compare(rates[:4], rates[4:]),
        "trends": season_trends(flown),
    }


def test_every_interval_holds_what_the_table_says(results):
    table = written()
    assert len(table) == 14
    seen = set()
    for name, result in results.items():
        for path, kind in estimates(result):
            said = [key for key in table if key[0] == name and f"{path}.".startswith(f"{key[1]}.")]
            assert kind == (table[said[0]] if said else "value"), f"{name}: {path}"
            seen.update(said)
    assert seen == set(table)


def test_a_bare_suggestion_speaks_of_the_next_flight_too():
    found = suggest_timer(
        [300, 310],
        [2500, 2600],
        capacity_mah=5000,
        reserve_fraction=0.2,
        confidence=0.95,
        landing_allowance_s=60,
    )
    assert found.rate_mah_per_min.kind == "next"


def test_a_multiple_holds_the_same_kind():
    assert Estimate.around(1.0, 0.1, kind="mean").scaled(-2.0) == Estimate(-2.0, -2.2, -1.8, kind="mean")
