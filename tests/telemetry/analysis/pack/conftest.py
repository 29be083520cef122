"""The invented flights of the benchmarks, for the tests of the pack."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def truth() -> ModuleType:
    """The generator of flights whose cells are known."""
    path = Path(__file__).parents[3] / "benchmarks" / "pack_truth.py"
    spec = importlib.util.spec_from_file_location("pack_truth", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["pack_truth"] = module
    spec.loader.exec_module(module)
    return module
