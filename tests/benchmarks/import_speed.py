"""Import of a 100 MB log against the bare pyarrow reader on one thread, each in a process of its own.

    python tests/benchmarks/import_speed.py [ROUNDS]

Prints wall time, processor time and peak memory of both, and their ratios. Target: time ≤ 1.5, memory ≤ 3.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv as pacsv

_MEASURE = "import resource, sys, time; wall, cpu = time.perf_counter(), time.process_time(); {run}; "
_MEASURE += (
    "print(time.perf_counter() - wall, time.process_time() - cpu, "
    "resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)"
)
_BARE = "import pyarrow.csv as c; " + _MEASURE.format(
    run="c.read_csv(sys.argv[1], read_options=c.ReadOptions(use_threads=False))"
)
_OURS = "from telemetry.importers.log import read_log; " + _MEASURE.format(run="read_log(sys.argv[1])")


def write(path: Path, rows: int = 1_000_000) -> None:
    """A log of sixteen columns, about 100 bytes a row."""
    rng = np.random.default_rng(0)
    time_s = np.arange(rows) * 0.02
    amps = 35 + 20 * np.sin(time_s / 7) + rng.normal(0, 1, rows)
    pack = 20 - 0.02 * amps
    columns = {
        "time (s)": np.round(time_s, 2),
        "pack voltage (V)": np.round(pack, 3),
        "pack current (A)": np.round(amps, 2),
        "charge (mAh)": np.round(np.cumsum(amps) * 0.02 / 3.6, 1),
        **{f"cell {n} (V)": np.round(pack / 5 + 0.001 * n, 4) for n in range(1, 6)},
        "left motor current (A)": np.round(amps / 2, 2),
        "left rpm": np.round(6000 + 80 * amps),
        "right motor current (A)": np.round(amps / 2, 2),
        "right rpm": np.round(6000 + 81 * amps),
        "throttle (%)": np.round(amps, 1),
        "altitude (m)": np.round(50 + 10 * np.sin(time_s / 30), 2),
        "receiver voltage (V)": np.round(6 + rng.normal(0, 0.01, rows), 3),
    }
    pacsv.write_csv(pa.table(columns), path)


def once(code: str, path: Path) -> tuple[float, ...]:
    """Wall time [s], processor time [s] and peak memory [MB] of one run."""
    told = subprocess.run(
        [sys.executable, "-c", code, str(path)], check=True, capture_output=True, text=True
    ).stdout
    return tuple(float(x) for x in told.split())


def main() -> None:
    """Run both in turn and print the medians."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "large.csv"
        write(path)
        print(f"{path.stat().st_size / 1e6:.0f} MB, {rounds} rounds")
        runs = [(once(_BARE, path), once(_OURS, path)) for _ in range(rounds)]
    for i, name in enumerate(("wall s", "processor s", "peak MB")):
        bare, ours = (statistics.median(run[side][i] for run in runs) for side in (0, 1))
        print(f"{name}: bare {bare:.2f}, ours {ours:.2f}, ratio {ours / bare:.2f}")


if __name__ == "__main__":
    main()
