"""One flown run: its logs, its sheet, its truth, and how they are written."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from .plan import Plan
from .recorder import Log
from .sheet import own_figures, to_toml
from .truth import Truth


@dataclass(frozen=True)
class Files:
    """Where a recording was written."""

    logs: list[Path]
    sheet: Path
    truth: Path


@dataclass
class Recording:
    """A run as its recorders kept it, with what is true of it."""

    plan: Plan
    table: dict[str, Any]
    logs: list[Log]
    truth: Truth
    sheet: dict[str, Any] = field(default_factory=dict)

    def write(self, folder: Path | str) -> Files:
        """Write logs, sheet and truth into a folder, which is made."""
        folder = Path(folder)
        folder.mkdir(parents=True, exist_ok=True)
        logs = []
        for log in self.logs:
            path = folder / log.name
            path.write_text(_text(log), encoding="utf-8")
            logs.append(path)
        sheet, truth = folder / "sheet.toml", folder / "truth.json"
        sheet.write_text(to_toml(self.sheet or own_figures(self.plan)), encoding="utf-8")
        truth.write_text(json.dumps(self.truth.to_dict(), indent=1), encoding="utf-8")
        return Files(logs, sheet, truth)


def _cells(values: Any, decimals: int) -> list[str]:
    return ["" if v != v else f"{v:.{decimals}f}" for v in np.asarray(values).tolist()]


def _text(log: Log) -> str:
    columns = [(log.time_heading, log.time_s * log.time_scale, log.time_decimals)]
    columns += [(c.heading, c.values, c.decimals) for c in log.columns.values()]
    texts = [_cells(values, decimals) for _, values, decimals in columns]
    head = log.delimiter.join(f'"{h}"' if log.delimiter in h else h for h, _, _ in columns)
    return "\n".join([head, *(log.delimiter.join(row) for row in zip(*texts, strict=True))]) + "\n"
