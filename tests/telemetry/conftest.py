"""Logs written on the spot."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

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
