"""A twin with two packs from the command line: review, keep, timer, card, and what is refused."""

import json

import pytest

from telemetry.cli import run
from telemetry.simulate import simulate
from telemetry.simulate.two_packs import SEED, two_packs


@pytest.fixture(scope="module")
def book(folder, tmp_path_factory):
    """A logbook with the one flight."""
    path = tmp_path_factory.mktemp("book")
    log, sheet = folder / "two_packs.csv", folder / "two_packs.toml"
    assert run(["keep", str(log), "--sheet", str(sheet), "--logbook", str(path)]) == 0
    return path


def told(capsys, *arguments):
    capsys.readouterr()
    assert run([*map(str, arguments), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_review_prints_both_packs(folder, capsys):
    log, sheet = folder / "two_packs.csv", folder / "two_packs.toml"
    assert run(["review", str(log), "--sheet", str(sheet)]) == 0
    said = capsys.readouterr().out
    assert "Right pack: cell 2 is weak." in said
    assert "left pack, charge drawn" in said and "right pack, charge drawn" in said
    assert "pack A · pack B" in said.split("\n")[0]


def test_a_kept_flight_speaks_of_the_pack_that_limits_and_the_timer_of_the_shorter_one(
    book, reviewed, capsys
):
    (flight,) = told(capsys, "flights", "--logbook", book)["flights"]
    (one,) = reviewed.flights
    drawn = {p.pack.name: p.capacity.consumed_mah.value for p in one.packs}
    assert flight["consumed_mah"] == pytest.approx(max(drawn.values()))
    assert dict(flight["by_pack"]) == pytest.approx({"left_pack": drawn["A"], "right_pack": drawn["B"]})
    assert flight["decision"] == "check"
    timer = told(capsys, "timer", "--aircraft", "Invented twin with two packs", "--logbook", book)["timer"]
    assert (timer["alarm_s"], timer["pack"]) == (one.timer.alarm_s, one.timer.pack)


def test_a_weak_cell_of_one_pack_stands_open_with_the_name_of_the_pack(book, capsys):
    found = told(capsys, "timer", "--aircraft", "Invented twin with two packs", "--logbook", book)
    assert [(c["key"], c["subject"]) for c in found["open_checks"]] == [
        ("weak_cell_resistance", "right pack, cell 2")
    ]


def test_the_weak_pack_takes_its_check_into_another_aircraft_s_prediction_timer_and_card(
    book, folder, tmp_path, capsys
):
    alone = (folder / "two_packs.toml").read_text(encoding="utf-8")
    alone = alone.replace("Invented twin with two packs", "Invented trainer").partition("[[motors]]")[0]
    packs, fed = (
        "[pack]                           # what both have in common",
        '[[packs]]\nname = "{}"\nfeeds = ["{}"]\n',
    )
    alone = alone.replace(packs, '[pack]\nname = "B"').replace(fed.format("A", "left"), "")
    alone = alone.replace(fed.format("B", "right") + "resistance_mohm = 7.6\n", "")
    sheet, card = tmp_path / "trainer.toml", tmp_path / "card.html"
    sheet.write_text(alone, encoding="utf-8")
    for command in (["timer", "--sheet", sheet], ["predict", sheet, "--card", card]):
        found = told(capsys, *command, "--logbook", book)
        assert [(c["pack"], c["subject"], c["message"]) for c in found["open_checks"]] == [
            ("B", "cell 2", "Cell 2 is weak.")
        ]
    assert "Cell 2 is weak." in card.read_text(encoding="utf-8")
    other = tmp_path / "other.toml"
    other.write_text(alone.replace('name = "B"', 'name = "A"'), encoding="utf-8")
    assert told(capsys, "timer", "--sheet", other, "--logbook", book)["open_checks"] == []


def test_the_logbook_reviews_it_again_to_the_same_figures(book, capsys):
    assert run(["check", "--anew", "--logbook", str(book)]) == 0
    assert "figures of none moved" in capsys.readouterr().out


def test_a_prediction_has_each_pack_and_the_sums(folder, capsys):
    found = told(capsys, "predict", folder / "two_packs.toml")
    left, right = found["packs"]
    assert (left["position"], right["position"]) == ("left", "right")
    sums = [one["flight"]["consumed_mah"]["value"] for one in found["packs"]]
    assert found["flight"]["consumed_mah"]["value"] == pytest.approx(sum(sums))
    assert [m["position"] for m in found["static"][-1]["motors"]] == ["left", "right"]
    weaker_v = right["static"][-1]["pack_voltage_v"]["value"]
    assert weaker_v < left["static"][-1]["pack_voltage_v"]["value"]
    assert found["static"][-1]["pack_voltage_v"]["value"] == weaker_v


@pytest.mark.parametrize("command", ["review", "keep", "report"])
def test_a_pack_cannot_be_chosen(command, folder, tmp_path, capsys):
    arguments = [command, folder / "two_packs.csv", "--sheet", folder / "two_packs.toml", "--pack", "A"]
    arguments += ["-o", tmp_path / "r.html"] if command == "report" else []
    arguments += ["--logbook", tmp_path / "book"] if command == "keep" else []
    assert run([str(a) for a in arguments]) == 2
    said = capsys.readouterr()
    assert said.out == "" and said.err.count("\n") == 1
    assert "each motor has a pack of its own" in said.err


def test_recalibrate_learns_what_the_motors_have_in_common_and_leaves_each_pack_its_own(
    folder, tmp_path, capsys
):
    new = tmp_path / "new.toml"
    found = told(capsys, "recalibrate", folder / "two_packs.toml", folder / "two_packs.csv", "-o", new)
    assert {one["key"] for one in found["parameters"]} == {"drive_gain", "propeller_power", "drag"}
    (untold,) = found["undecided"]
    assert untold["subject"] == "pack_resistance" and "each motor has a pack of its own" in untold["reason"]
    next_flight = simulate(two_packs(), seed=SEED + 1)
    next_flight.write_csv(tmp_path / "next.csv")

    def miss(sheet):
        flights = told(capsys, "review", tmp_path / "next.csv", "--sheet", sheet)["flights"]
        mean = [
            p for p in flights[0]["prediction"] if (p["quantity"], p["statistic"]) == ("current_a", "mean")
        ]
        return [abs(p["residual_fraction"]) for p in mean]

    before, after = miss(folder / "two_packs.toml"), miss(new)
    assert len(before) == 4 and max(before) > 0.05
    assert all(now < 0.65 * then for now, then in zip(after, before, strict=True)), (before, after)


def test_the_season_names_the_pack_whose_cell_was_called_weak(book):
    from dashboard.drawings.season import Placed, called_weak
    from telemetry.logbook import Logbook

    (flight,) = Logbook(book).flights()
    assert flight.pack_of("right pack, cell 2") == "B"
    assert called_weak(Placed(1.0, flight)) == [("B", 2)]
