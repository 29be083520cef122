"""Small logs written on the spot, and the generator of many."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def generator() -> ModuleType:
    """The module that writes thousands of logs with known truth."""
    spec = importlib.util.spec_from_file_location(
        "log_generator", Path(__file__).parent / "log_generator" / "__init__.py"
    )
    module = importlib.util.module_from_spec(spec)
    sys.modules["log_generator"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def rows() -> Callable[..., str]:
    """A short flight as text: time, pack voltage, current, counter; 60 s at 5 Hz, 12 A and 36 A in turn, 2 mΩ
    a cell.
    """

    def writer(
        header: str = "Time (s),Voltage (V),Current (A),Charge (mAh)",
        delimiter: str = ",",
        decimal: str = ".",
        every: int = 1,
    ) -> str:
        lines, charge, last = [header], 0.0, 0.0
        for i in range(300):
            amps = 0.0 if i < 20 else (12.0 if (i // 25) % 2 else 36.0)
            charge += 0.2 * (amps + last) / 2 / 3.6
            last = amps
            cells = (
                f"{0.2 * i:.1f}",
                f"{20.9 - 0.01 * amps - 0.0002 * charge:.2f}",
                f"{amps:.1f}",
                f"{charge:.0f}",
            )
            if i % every == 0:
                lines.append(delimiter.join(c.replace(".", decimal) for c in cells))
        return "\n".join(lines) + "\n"

    return writer
