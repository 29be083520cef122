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


@pytest.fixture(scope="session")
def hand() -> ModuleType:
    """The hand-made flight: `hand.made(...)`, `hand.TIME_S`, …"""
    spec = importlib.util.spec_from_file_location("hand_made", Path(__file__).with_name("hand_made.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
