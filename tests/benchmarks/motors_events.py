"""Events found and events invented, on flights of `motors_truth`.

python tests/benchmarks/motors_events.py [clean flights] [flights per kind]
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import motors_truth as truth_

from telemetry.analysis.motors import analyse
from telemetry.signals import signals_of

KINDS = ("cut", "stall", "out_of_step", "late_start", "reverse_ground", "reverse_air", "overheating")
LOGGED = {
    "all": ("voltage", "throttle", "current", "rpm", "temperature"),
    "no command": ("voltage", "current", "rpm", "temperature"),
    "rpm": ("throttle", "rpm"),
    "current": ("throttle", "current"),
}


def main(clean: int, each: int) -> None:
    for name, has in LOGGED.items():
        false = Counter()
        for seed in range(5000, 5000 + clean):
            cause, size = [("none", 0.0), ("propeller", 0.08), ("winding", 0.25), ("kv", 0.03)][seed % 4]
            trace, flight, _ = truth_.fly(seed, cause, size, has=has)
            false.update(e.kind for e in analyse(signals_of(trace, flight)).events)
        print(name, "clean", clean, "false", dict(false), flush=True)
        for kind in KINDS:
            if (kind == "overheating" and name in ("rpm", "current")) or (
                kind.startswith("reverse") and name == "no command"
            ):
                continue
            found, others, late = 0, Counter(), []
            for seed in range(6000, 6000 + each):
                motor = "both" if kind.startswith("reverse") else ("left", "right")[seed % 2]
                trace, flight, truth = truth_.fly(seed, "none", 0.0, has=has, event=(kind, motor))
                want = truth.events[0]
                got = analyse(signals_of(trace, flight)).events
                mine = [
                    e
                    for e in got
                    if e.kind == kind
                    and e.motor == motor
                    and e.start_s < want[3] + 1
                    and e.end_s > want[2] - 1
                ]
                found += bool(mine)
                late += [round(mine[0].start_s - want[2], 1)] if mine else []
                others.update(f"{e.kind} {e.motor}{'' if mine else ' instead'}" for e in got if e not in mine)
                if not mine:
                    others[f"seed {seed} {want[2]:.1f}-{want[3]:.1f}"] += 1
            print(
                f"  {kind:15s} {found}/{each} start off {min(late, default=0)}..{max(late, default=0)} s, "
                f"others {dict(others)}",
                flush=True,
            )


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3])) if len(sys.argv) > 2 else main(40, 8)
