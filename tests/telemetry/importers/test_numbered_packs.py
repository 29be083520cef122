"""A log that numbers its packs is asked once which side each feeds; nothing of them is guessed until then."""

import pytest

from dashboard.choices import likely
from telemetry import read_log
from telemetry.importers.outcome import Numbers
from telemetry.simulate import simulate
from telemetry.simulate.two_packs import SEED, two_packs


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    """The invented twin's log with its packs numbered, pack 1 the left one."""
    path = tmp_path_factory.mktemp("numbered") / "numbered.csv"
    simulate(two_packs(), seed=SEED).write_csv(path)
    header, _, rows = path.read_text(encoding="utf-8").partition("\n")
    header = header.replace("Left pack", "Pack 1").replace("Right pack", "Pack 2")
    path.write_text(f"{header}\n{rows}", encoding="utf-8")
    return path


def columns(trace):
    return {c.header: c for c in trace.sources[0].columns}


def test_nothing_of_numbered_packs_is_used_and_every_column_says_what_to_answer(log):
    found = columns(read_log(log))
    numbered = [c for header, c in found.items() if header.startswith("Pack ")]
    assert len(numbered) == 16
    assert {c.status for c in numbered} == {"doubtful"}
    assert "does not say which motor pack 2 feeds" in found["Pack 2 current [A]"].reason
    assert (found["Pack 2 current [A]"].quantity, found["Pack 1 cell 3 [V]"].quantity) == (
        "current_a",
        "cell_voltage_v",
    )
    assert found["Current left [A]"].status == "used", "a motor's own current is no pack's"


@pytest.mark.parametrize(
    ("answer", "of_first", "of_second"),
    [
        ({"Pack 1 voltage [V]": "pack_voltage_v@left_pack"}, "left_pack", "right_pack"),
        ({"Pack 2 cell 4 [V]": "cell_voltage_v@left_pack.4"}, "right_pack", "left_pack"),
    ],
)
def test_one_answer_tells_the_side_of_every_column_of_both_packs(log, answer, of_first, of_second):
    found = columns(read_log(log, answers=answer))
    assert {c.status for c in found.values()} == {"used"}
    for number, place in ((1, of_first), (2, of_second)):
        assert found[f"Pack {number} voltage [V]"].position == place
        assert found[f"Pack {number} charge [mAh]"].position == place
        cells = [found[f"Pack {number} cell {k} [V]"].position for k in range(1, 6)]
        assert cells == [f"{place}.{k}" for k in range(1, 6)]


def test_the_page_offers_either_side(log):
    offered = likely(columns(read_log(log))["Pack 1 cell 3 [V]"], Numbers(3.9, 3.5, 3.7, 4.2))
    sides = ["cell_voltage_v@left_pack.3 in V", "cell_voltage_v@right_pack.3 in V"]
    assert offered[:2] == sides


def test_voltages_of_batteries_numbered_one_to_five_stay_a_packs_cells(tmp_path):
    heads = ",".join(f"Battery {k} (V)" for k in range(1, 6))
    rows = [f"{k},{','.join([f'{4.15 - 0.001 * k:.3f}'] * 5)},{20 + k % 7}" for k in range(200)]
    path = tmp_path / "cells.csv"
    path.write_text("\n".join([f"Time (s),{heads},Current (A)", *rows]) + "\n", encoding="utf-8")
    found = columns(read_log(path))
    assert not any("numbers its packs" in c.reason for c in found.values())
