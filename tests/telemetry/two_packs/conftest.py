"""One flight of the invented twin with two packs, simulated and reviewed once."""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry import read_log, review
from telemetry.debrief import Review
from telemetry.sheet import Sheet
from telemetry.simulate import Simulated, simulate
from telemetry.simulate.two_packs import SEED, SHEET, two_packs


@pytest.fixture(scope="session")
def flown() -> Simulated:
    """The right pack older than the left, its second cell weaker than its neighbours; the motors alike."""
    return simulate(two_packs(), seed=SEED)


@pytest.fixture(scope="session")
def folder(flown: Simulated, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Log and sheet as files."""
    path = tmp_path_factory.mktemp("two_packs")
    flown.write_csv(path / "two_packs.csv")
    (path / "two_packs.toml").write_text(SHEET, encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def reviewed(folder: Path) -> Review:
    """The log as a file, against its sheet."""
    return review(read_log(folder / "two_packs.csv"), Sheet.read(folder / "two_packs.toml"))
