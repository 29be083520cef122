"""The sample logs are what the simulation makes."""

from datetime import UTC, datetime, timedelta

import pytest

from telemetry.errors import BadUse
from telemetry.estimate import Estimate
from telemetry.history import read_history
from telemetry.importers.log import read_log
from telemetry.samples import SAMPLES, SCENARIOS, sample_folder, write_samples


@pytest.fixture(scope="module")
def remade(tmp_path_factory):
    folder = tmp_path_factory.mktemp("samples")
    return folder, write_samples(folder)


def test_every_sample_is_remade_byte_for_byte(remade):
    _, written = remade
    kept = {path.name for path in sample_folder().iterdir()}
    assert {path.name for path in written} == kept
    for path in written:
        assert path.read_bytes() == (sample_folder() / path.name).read_bytes(), path.name


def test_they_stay_small(remade):
    assert sum(path.stat().st_size for path in remade[1]) < 5_000_000


def test_one_scenario_writes_its_logs_alone(tmp_path):
    written = write_samples(tmp_path, "three_recorders")
    assert [path.name for path in written] == [
        "three_recorders_receiver.csv",
        "three_recorders_left.csv",
        "three_recorders_right.csv",
    ]


def test_nothing_of_somebody_else_is_written_over(tmp_path):
    theirs = tmp_path / "maiden.csv"
    theirs.write_text("mine", encoding="utf-8")
    with pytest.raises(BadUse, match=r"^maiden\.csv: this is there already, and is not the sample"):
        write_samples(tmp_path, "maiden")
    assert [p.name for p in tmp_path.iterdir()] == ["maiden.csv"]
    assert theirs.read_text(encoding="utf-8") == "mine"
    theirs.unlink()
    first = write_samples(tmp_path, "maiden")
    assert write_samples(tmp_path, "maiden") == first == [theirs]
    assert list(tmp_path.iterdir()) == [theirs]


def test_an_unknown_scenario_names_the_known_ones(tmp_path):
    with pytest.raises(
        BadUse, match="Known are saltmarsh, glider, trainer_li_ion, four_motors, two_packs, bench, maiden"
    ):
        write_samples(tmp_path / "new", "loop")
    assert not (tmp_path / "new").exists()
    assert len(SCENARIOS) == 11


def began(file: str) -> datetime:
    """What the log's own clock said at its first row, taken as seconds since 1970."""
    offset_s = read_log(sample_folder() / file).sources[0].clock.offset_s
    assert isinstance(offset_s, Estimate)
    return datetime(1970, 1, 1, tzinfo=UTC) - timedelta(seconds=offset_s.value)


def test_each_flight_has_a_day_of_its_own_after_those_of_the_history():
    flown = [began(sample.files[0]) for sample in SAMPLES if sample.name != "bench"]
    assert [f"{moment:%Y-%m-%d %H:%M:%S}" for moment in flown] == [
        "2025-04-06 09:42:10",
        "2025-05-04 14:03:20",
        "2025-06-08 10:22:01",
        "2025-12-14 11:05:30",
        "2026-05-10 13:20:05",
    ]
    assert max(row.date for row in read_history(sample_folder() / "history.csv")) < f"{min(flown):%Y-%m-%d}"


def test_one_log_says_neither_day_nor_time_of_day():
    assert began("bench_runup.csv") == datetime(1970, 1, 1, tzinfo=UTC)
