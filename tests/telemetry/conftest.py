"""Logs written on the spot."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from telemetry.importers.log import read_log
from telemetry.trace import Trace


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., Trace]:
    """Write a text or bytes to a file and read it as a log."""

    def reader(
        content: str | bytes,
        *,
        name: str = "log.csv",
        encoding: str = "utf-8",
        answers: dict[str, str] | None = None,
    ) -> Trace:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
        return read_log(path, answers=answers)

    return reader


SMALL_TWIN = """
[aircraft]
name = "Test Twin"
mass_kg = 3.6
[pack]
name = "A"
cells = 5
capacity_mah = 5200
[motor]
kv_rpm_per_v = 640
[propeller]
diameter_in = 11
pitch_in = 7
[[motors]]
position = "left"
[[motors]]
position = "right"
"""


@pytest.fixture(scope="session")
def small_twin() -> Callable[..., str]:
    """Sheet of a small twin: `small_twin("cells = 5", "cells = 4")` has the first replaced by the second."""

    def written(*pairs: str) -> str:
        text = SMALL_TWIN
        for was, becomes in zip(pairs[::2], pairs[1::2], strict=True):
            assert was in text
            text = text.replace(was, becomes)
        return text

    return written


@pytest.fixture(scope="session")
def hand() -> ModuleType:
    """The hand-made flight: `hand.made(...)`, `hand.TIME_S`, …"""
    spec = importlib.util.spec_from_file_location("hand_made", Path(__file__).with_name("hand_made.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
