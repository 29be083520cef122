"""The sample logs are what the simulation makes."""

import pytest

from telemetry.errors import BadUse
from telemetry.samples import SCENARIOS, sample_folder, write_samples


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
    assert [path.name for path in written] == ["three_recorders_receiver.csv", "three_recorders_left.csv", "three_recorders_right.csv"]


def test_an_unknown_scenario_names_the_known_ones(tmp_path):
    with pytest.raises(BadUse, match="Known are bench, maiden"):
        write_samples(tmp_path / "new", "loop")
    assert not (tmp_path / "new").exists()
    assert len(SCENARIOS) == 6
