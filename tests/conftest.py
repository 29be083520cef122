"""What all tests share."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

OPEN_DATA = "SAGLINE_OPEN_DATA"
WHERE = (
    f"tests of the real pouch cell were left out: {OPEN_DATA} does not name a folder with lipo_rate_test/. "
    "The data is part of the CC BY 4.0 repository jsimonclark/five-star-battery-data, mooc/star-2."
)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the tests that need the open data out where it is not named; on CI they stay and fail."""
    if os.environ.get(OPEN_DATA) or os.environ.get("CI"):
        return
    needing = [item for item in items if item.get_closest_marker("open_data")]
    if needing:
        config.hook.pytest_deselected(items=needing)
        items[:] = [item for item in items if item not in needing]
        config.stash[_LEFT_OUT] = True


_LEFT_OUT = pytest.StashKey[bool]()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Say where the data can be had."""
    if config.stash.get(_LEFT_OUT, False):
        terminalreporter.write_line(WHERE)


@pytest.fixture(scope="session")
def open_data() -> Path:
    """The folder of real measurements by others."""
    folder = os.environ.get(OPEN_DATA)
    assert folder, f"{OPEN_DATA} must name the folder of open data"
    assert (Path(folder) / "lipo_rate_test").is_dir(), f"{OPEN_DATA} names no folder with lipo_rate_test"
    return Path(folder)


@pytest.fixture(scope="session")
def sample_logs() -> Path:
    """The invented logs of the Saltmarsh Mail."""
    return Path(__file__).parents[1] / "sample_logs"


@pytest.fixture(scope="session", autouse=True)
def nobody_s_data(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test reads or writes what the user keeps."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))
        patch.delenv("SAGLINE_LOGBOOK", raising=False)
        yield


@pytest.fixture(scope="session")
def write_flight() -> Callable[..., Path]:
    """Writes the log of four minutes in the air, half a minute on the ground before and after: a file and
    its mean current in cruise; `beat` makes its noise another flight's.
    """

    def writer(path: Path, cruise_a: float, *, beat: int = 7) -> Path:
        lines = ["Time s,Current A,Altitude m"]
        for step in range(600):
            air_s = step / 2 - 30.0
            flying = 0.0 <= air_s <= 240.0
            current_a = (2 * cruise_a if air_s < 10 else cruise_a + 3.0 * math.sin(air_s)) if flying else 0.3
            current_a += 0.05 * ((beat * step) % 5 - 2)
            height_m = 60.0 * min(1.0, air_s / 20.0, (240.0 - air_s) / 20.0) if flying else 0.0
            lines.append(f"{step / 2:.1f},{current_a:.2f},{height_m + 0.1 * (step % 3):.2f}")
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return path

    return writer
