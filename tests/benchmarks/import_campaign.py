"""Thousands of generated logs against their truth, with what went wrong by defect.

    python tests/benchmarks/import_campaign.py [FIRST LAST]

Each seed is one log; see tests/telemetry/importers/log_generator.
"""

from __future__ import annotations

import importlib.util
import sys
import tempfile
from collections import Counter
from pathlib import Path

from telemetry.errors import BadLog
from telemetry.importers.log import read_log

_spec = importlib.util.spec_from_file_location(
    "log_generator", Path(__file__).parents[1] / "telemetry/importers/log_generator/__init__.py"
)
generator = importlib.util.module_from_spec(_spec)
sys.modules["log_generator"] = generator
_spec.loader.exec_module(generator)


def main() -> None:
    """Read each log and print the sums, and each log that was not read as it should be."""
    first, last = (int(a) for a in sys.argv[1:3]) if len(sys.argv) > 2 else (0, 3000)
    sums: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        for seed in range(first, last):
            written = generator.write_log(seed)
            path.write_bytes(written.raw)
            sums["logs"] += 1
            try:
                verdict = generator.judge(written, read_log(path))
            except BadLog as error:
                sums["refused"] += 1
                sums["missed"] += len(written.expected)
                sums["certain"] += len(written.expected)
                print(seed, written.why, "REFUSED", error)
                continue
            sums["certain"] += verdict.certain
            sums["missed"] += len(verdict.missed)
            sums["logs with something silently wrong"] += bool(verdict.wrong)
            sums["charge off by over 0.6 %"] += (
                verdict.charge_error is not None and abs(verdict.charge_error) > 0.006
            )
            if verdict.wrong or verdict.missed:
                print(seed, written.why, "WRONG", verdict.wrong, "MISSED", verdict.missed)
    print(dict(sums), f"recognised {1 - sums['missed'] / sums['certain']:.4f}")


if __name__ == "__main__":
    main()
