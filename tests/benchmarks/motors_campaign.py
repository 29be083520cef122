"""How often the pair's verdict, size and cause are right, on invented pairs of `motors_truth`.

python tests/benchmarks/motors_campaign.py [pairs per case] [first seed] [case ...]
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import motors_truth as truth_

from telemetry.analysis.motors import analyse
from telemetry.estimate import Estimate
from telemetry.signals import signals_of

CASES = {
    "none": lambda r: ("none", 0.0, {}),
    "none_loose": lambda r: ("none", 0.0, {"tolerance": 1.6, "sensor_gain_sd": 0.006}),
    "none_bench": lambda r: ("none", 0.0, {"bench": True}),
    "propeller3": lambda r: ("propeller", 0.03 * r.choice([-1, 1]), {}),
    "propeller6": lambda r: ("propeller", 0.06 * r.choice([-1, 1]), {}),
    "propeller10": lambda r: ("propeller", 0.10 * r.choice([-1, 1]), {}),
    "kv2": lambda r: ("kv", 0.02 * r.choice([-1, 1]), {}),
    "kv4": lambda r: ("kv", 0.04 * r.choice([-1, 1]), {}),
    "winding25": lambda r: ("winding", 0.25, {}),
    "endpoint": lambda r: ("endpoint", r.uniform(0.012, 0.04) * r.choice([-1, 1]), {}),
    "drag": lambda r: ("drag", r.uniform(0.8, 2.5), {}),
    "sensor": lambda r: ("sensor", r.uniform(0.04, 0.1) * r.choice([-1, 1]), {}),
    "mixed": lambda r: ("none", 0.0, {"mix": 0.15}),
    "mixed_own": lambda r: ("none", 0.0, {"mix": 0.15, "own_commands": True}),
    "propeller6_mixed": lambda r: ("propeller", 0.06, {"mix": 0.15}),
    "propeller6_bench": lambda r: ("propeller", 0.06 * r.choice([-1, 1]), {"bench": True}),
    "kv2_bench": lambda r: ("kv", 0.02 * r.choice([-1, 1]), {"bench": True}),
    "winding25_bench": lambda r: ("winding", 0.25, {"bench": True}),
    "propeller6_rpm_only": lambda r: ("propeller", 0.06, {"has": ("throttle", "rpm")}),
    "kv2_rpm_only": lambda r: ("kv", 0.02, {"has": ("throttle", "rpm")}),
    "propeller10_current_only": lambda r: ("propeller", 0.1, {"has": ("throttle", "current")}),
    "sensor7_current_only": lambda r: ("sensor", 0.07, {"has": ("throttle", "current")}),
    "none_rpm_only": lambda r: ("none", 0.0, {"has": ("throttle", "rpm")}),
    "none_current_only": lambda r: ("none", 0.0, {"has": ("throttle", "current")}),
    "none_no_command": lambda r: ("none", 0.0, {"has": ("voltage", "current", "rpm")}),
}


def main(pairs: int, first: int, cases: list[str]) -> None:
    for name in cases or CASES:
        verdicts, causes, truly, sized, held, spent, width = Counter(), Counter(), Counter(), [], [], [], []
        for seed in range(first, first + pairs):
            cause, size, choices = CASES[name](np.random.default_rng(seed + 7_000))
            trace, flight, truth = truth_.fly(seed, cause, size, **choices)
            begun = time.perf_counter()
            pair = analyse(signals_of(trace, flight)).pairs[0]
            spent.append(time.perf_counter() - begun)
            verdicts[pair.verdict] += 1
            truly["even" if truth.even else "uneven"] += 1
            if truth.even and pair.verdict == "uneven":
                truly["EVEN CALLED UNEVEN"] += 1
            if not truth.even and pair.verdict == "even":
                truly["uneven called even"] += 1
            causes[pair.cause] += 1
            if isinstance(pair.imbalance_fraction, Estimate):
                e = pair.imbalance_fraction
                off = abs(e.value - truth.imbalance)
                sized.append(
                    (
                        off <= max(0.015, 0.3 * abs(truth.imbalance)),
                        off <= max(0.010, 0.2 * abs(truth.imbalance)),
                    )
                )
                held.append(e.low <= truth.imbalance <= e.high)
                width.append((e.high - e.low) / 2)
        a, b = np.mean(sized, axis=0)
        figures = (
            f"size {a:.2f}/{b:.2f} held {np.mean(held):.2f} ±{np.mean(width):.4f} {np.mean(spent):.3f} s"
        )
        print(f"{name:26s} {dict(verdicts)} truth {dict(truly)} cause {dict(causes)} {figures}", flush=True)


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 40,
        int(sys.argv[2]) if len(sys.argv) > 2 else 1000,
        sys.argv[3:],
    )
