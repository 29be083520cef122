"""A twin on two packs: whose voltage, whose cells, and what a motor drew beside its pack."""

import pytest

from telemetry.errors import BadUse
from telemetry.importers.columns.candidates import candidates, readings
from telemetry.importers.wording import read_header


def understood(header: str) -> str:
    """The likeliest meaning of a heading, by its words alone."""
    found = candidates(0, readings(*read_header(header)))
    best = max(found, key=lambda one: one.words)
    return f"{best.quantity}@{best.position}"


@pytest.mark.parametrize(
    ("header", "meaning"),
    [
        ("left pack voltage [V]", "pack_voltage_v@left_pack"),
        ("voltage of the left pack [V]", "pack_voltage_v@left_pack"),
        ("right battery current [A]", "current_a@right_pack"),
        ("right pack charge [mAh]", "charge_mah@right_pack"),
        ("left pack cell 3 [V]", "cell_voltage_v@left_pack.3"),
        ("Left cell 2 [V]", "cell_voltage_v@left_pack.2"),
        ("right pack temperature [°C]", "pack_temperature_c@right_pack"),
        ("left outer pack voltage [V]", "pack_voltage_v@left_outer_pack"),
        ("Akku links Spannung [V]", "pack_voltage_v@left_pack"),
        ("Zelle 3 links [V]", "cell_voltage_v@left_pack.3"),
        ("tension batterie gauche [V]", "pack_voltage_v@left_pack"),
        ("left motor current [A]", "current_a@left"),
        ("left current [A]", "current_a@left"),
        ("pack voltage [V]", "pack_voltage_v@"),
        ("cell 3 [V]", "cell_voltage_v@3"),
    ],
)
def test_a_side_beside_a_pack_or_a_cell_is_a_pack_of_that_side(header, meaning):
    assert understood(header) == meaning


def two_packs(headers: str) -> str:
    """60 s at 5 Hz: 12 and 36 A on the left, a tenth less on the right, 4 mΩ a pack."""
    lines = [headers]
    for i in range(300):
        left_a = 0.0 if i < 20 else (12.0 if (i // 25) % 2 else 36.0)
        right_a = 0.9 * left_a
        lines.append(
            f"{i / 5:.1f},{16.6 - 0.004 * left_a:.3f},{left_a:.1f},{16.5 - 0.004 * right_a:.3f},{right_a:.1f}"
        )
    return "\n".join(lines) + "\n"


def test_both_packs_are_read_and_neither_is_taken_for_the_whole(read):
    trace = read(
        two_packs(
            "Time (s),Left pack voltage (V),Left pack current (A),Right pack voltage (V),Right battery (A)"
        )
    )
    assert set(trace.channels) == {
        ("pack_voltage_v", "left_pack"),
        ("current_a", "left_pack"),
        ("pack_voltage_v", "right_pack"),
        ("current_a", "right_pack"),
    }
    assert trace.fresh("current_a", "right_pack").values.max() == pytest.approx(32.4)


def test_an_answer_puts_a_column_into_a_pack(read):
    answers = {
        "U1 (V)": "pack_voltage_v@left_pack",
        "I1 (A)": "current_a@left_pack",
        "U2 (V)": "pack_voltage_v@right_pack",
        "I2 (A)": "current_a@right_pack",
    }
    trace = read(two_packs("Time (s),U1 (V),I1 (A),U2 (V),I2 (A)"), answers=answers)
    assert trace.positions("pack_voltage_v") == ("left_pack", "right_pack")
    assert trace.positions("current_a") == ("left_pack", "right_pack")


def test_a_motor_has_no_voltage_of_its_own_and_a_pack_no_speed():
    from telemetry.answers import check_answer

    assert check_answer("cell_voltage_v@left_pack.3") == "cell_voltage_v@left_pack.3"
    for answer in (
        "rpm@left_pack",
        "pack_voltage_v@left",
        "cell_voltage_v@left_pack.15",
        "current_a@left_pack.1",
    ):
        with pytest.raises(BadUse):
            check_answer(answer)
