"""Invented pairs with known truth, from a generator whose physics are not the analysis'."""

from __future__ import annotations

import functools
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

HERE = Path(__file__)


@pytest.fixture(scope="session")
def truth() -> ModuleType:
    """The generator `tests/benchmarks/motors_truth.py`."""
    path = HERE.parents[3] / "benchmarks" / "motors_truth.py"
    spec = importlib.util.spec_from_file_location("motors_truth", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["motors_truth"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def fly(truth):
    """`fly(seed, cause, size, ...)` gives a trace, its flight and the truth."""
    return functools.cache(truth.fly)
