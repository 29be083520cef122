"""Eight clocks that leap, over every sample log and two other simulated ones, as seconds and as dates.

    python tests/benchmarks/leaping_clocks.py [WORD ...]

Each harmed log goes through `sagline review --json` in a process of its own with 4 GiB of memory and 60 s. A
charge must lie within 5 % of that of the log unharmed, or the decision must not be clear; no traceback, no
loss. WORDs choose logs or leaps by a part of their names.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from telemetry.importers.log import read_log

SAMPLES = Path(__file__).parents[2] / "sample_logs"
MEMORY_BYTES = 4 << 30
LONGEST_S = 60
DAY_S = 86_400.0
FLOWN = datetime(2026, 6, 14, 10, 0, 0, tzinfo=UTC).timestamp()
SATELLITE = datetime(2000, 1, 1, tzinfo=UTC).timestamp()


@dataclass(frozen=True)
class Log:
    """A log cut into lines: all but its time, which is written anew."""

    name: str
    above: tuple[str, ...]
    header: str
    units: str | None
    rows: tuple[str, ...]
    delimiter: str
    decimal: str
    time_s: np.ndarray

    def written(self, stamps: Sequence[str], heading: str) -> str:
        join = self.delimiter.join
        lines = [*self.above, join([heading, self.header])]
        lines += [] if self.units is None else [join(["", self.units])]
        lines += [join([s, row]) for s, row in zip(stamps, self.rows, strict=True)]
        return "\n".join(lines) + "\n"


def taken_apart(path: Path) -> Log:
    """A log without its time columns."""
    trace = read_log(path)
    source = trace.sources[0]
    lines = path.read_bytes().decode(source.encoding).lstrip("\ufeff").splitlines()
    timed = {i for i, c in enumerate(source.columns) if c.quantity == "time_s"}
    first = len(lines) - trace.time_s.size
    width = len(source.columns)

    def rest(line: str) -> str:
        fields = line.split(source.delimiter)
        return source.delimiter.join(f for i, f in enumerate(fields) if i not in timed)

    head = [i for i in range(first) if len(lines[i].split(source.delimiter)) == width]
    return Log(
        path.stem,
        tuple(lines[: head[0]]),
        rest(lines[head[0]]),
        rest(lines[head[1]]) if len(head) > 1 else None,
        tuple(rest(line) for line in lines[first:]),
        source.delimiter,
        source.decimal,
        trace.time_s,
    )


def _half(time_s: np.ndarray) -> np.ndarray:
    return time_s >= 0.45 * time_s[-1]


def _one_row(time_s: np.ndarray, year: int) -> np.ndarray:
    moments = FLOWN + time_s
    row = int(0.45 * time_s.size)
    moments[row] = datetime(year, 1, 1, tzinfo=UTC).timestamp() + time_s[row]
    return moments


def _wrapped(time_s: np.ndarray) -> np.ndarray:
    """Milliseconds since start that fall at 2³²."""
    return np.mod(time_s - 0.45 * time_s[-1], 2**32 / 1000.0)


LEAPS: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "set by satellite from 2000": lambda t: np.where(_half(t), FLOWN + t, SATELLITE + t),
    "one row of 1970": lambda t: _one_row(t, 1970),
    "one row of 2099": lambda t: _one_row(t, 2099),
    "uptime then epoch": lambda t: np.where(_half(t), FLOWN + t, 12.0 + t),
    "thirty days": lambda t: FLOWN + t + 30 * DAY_S * _half(t),
    "a year": lambda t: FLOWN + t + 365 * DAY_S * _half(t),
    "a day back": lambda t: FLOWN + t - DAY_S * _half(t),
    "wrap": _wrapped,
}


def _seconds(moments: np.ndarray, log: Log) -> list[str]:
    return [f"{m:.3f}".replace(".", log.decimal) for m in moments]


def _dates(moments: np.ndarray, log: Log) -> list[str]:
    start = datetime(1970, 1, 1)
    return [
        (start + timedelta(milliseconds=round(m * 1000))).isoformat(sep=" ", timespec="milliseconds")
        for m in moments.tolist()
    ]


def _counts(factor: float, bits: int, log: Log) -> list[str]:
    """A counter of `bits` that ends in the middle of the flight."""
    ticks = np.rint(log.time_s * factor).astype(np.int64)
    middle = int(0.45 * ticks[-1])
    return [str(n) for n in np.mod(ticks - middle, 2**bits)]


def harmed(log: Log) -> dict[str, str]:
    """The log by name of its harm; "unharmed" among them."""
    moments = FLOWN + log.time_s
    found = {
        "unharmed, seconds": log.written(_seconds(moments, log), "time (s)"),
        "unharmed, dates": log.written(_dates(moments, log), "time"),
        "wrap, ms at 32 bits": log.written(_counts(1e3, 32, log), "time (ms)"),
        "wrap, µs at 32 bits": log.written(_counts(1e6, 32, log), "time (µs)"),
        "wrap, s at 16 bits": log.written(
            _seconds(np.mod(log.time_s - 0.45 * log.time_s[-1], 65_536.0), log), "time (s)"
        ),
    }
    for name, leap in LEAPS.items():
        if name != "wrap":
            found[f"{name}, seconds"] = log.written(_seconds(leap(log.time_s), log), "time (s)")
            found[f"{name}, dates"] = log.written(_dates(leap(log.time_s), log), "time")
    return found


def reviewed(text: str, folder: Path) -> tuple[float, str, str]:
    """Charge of all flights, decision of the worst, and what went wrong ("" when nothing did)."""
    path = folder / "harmed.csv"
    path.write_text(text, encoding="utf-8")
    command = [sys.executable, "-c", "from telemetry.cli import main; main()", "review", str(path), "--json"]
    command += ["--sheet", str(SAMPLES / "saltmarsh_mail.toml")]
    limit = (MEMORY_BYTES, MEMORY_BYTES)
    try:
        done = subprocess.run(
            command,
            capture_output=True,
            text=True,
            timeout=LONGEST_S,
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, limit),
        )
    except subprocess.TimeoutExpired:
        return np.nan, "", f"not done within {LONGEST_S} s"
    if done.returncode not in (0, 3):
        return np.nan, "", f"exit {done.returncode}: {done.stderr.strip()[-300:]}"
    if "Traceback" in done.stderr or "Warning" in done.stderr:
        return np.nan, "", done.stderr.strip()[-300:]
    flights = json.loads(done.stdout)["flights"]
    charges = [(f["capacity"]["consumed_mah"] or {"value": np.nan})["value"] for f in flights]
    decisions = [f["decision"] for f in flights]
    worst = next((d for d in ("stop", "open", "check", "clear") if d in decisions), "none")
    return float(np.sum(charges)), worst, ""


def judged(name: str, found: tuple[float, str, str], unharmed: tuple[float, str, str]) -> str:
    """What is wrong with a harmed log's review, "" when nothing is."""
    charge_mah, decision, wrong = found
    if wrong:
        return wrong
    if np.isnan(unharmed[0]):
        # a log of one motor of two tells no charge of the pack, whatever its clock
        return "" if np.isnan(charge_mah) else f"{charge_mah:.0f} mAh where none can be told"
    apart = abs(charge_mah - unharmed[0]) / unharmed[0]
    if not apart <= 0.05 and decision in ("clear", unharmed[1]):
        return f"{charge_mah:.0f} mAh where {unharmed[0]:.0f} were drawn, and {decision}"
    return ""


def main(words: Sequence[str]) -> int:
    logs = [taken_apart(p) for p in sorted(SAMPLES.glob("*.csv")) if p.stem != "history"]
    broken = 0
    with tempfile.TemporaryDirectory() as place:
        for log in logs:
            unharmed: dict[str, tuple[float, str, str]] = {}
            for name, text in harmed(log).items():
                said = f"{log.name}: {name}"
                if words and not any(w in said for w in words) and "unharmed" not in name:
                    continue
                found = reviewed(text, Path(place))
                if "unharmed" in name:
                    unharmed[name.rpartition(", ")[2]] = found
                base = unharmed.get(name.rpartition(", ")[2], unharmed["seconds"])
                wrong = judged(name, found, base)
                broken += bool(wrong)
                print(
                    f"{'BROKEN' if wrong else 'ok':7}{found[0]:8.0f} {found[1]:6} {said}  {wrong}", flush=True
                )
    print(f"{broken} broken")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
