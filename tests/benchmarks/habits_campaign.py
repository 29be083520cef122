"""Logs with other trades' habits against their truth: what was silently wrong, read, or refused without need.

    python tests/benchmarks/habits_campaign.py COUNT [FIRST] [--review EVERY]

Each seed is one log of tests/independent/habits. With `--review`, every so many logs are reviewed too, and
their charge, start voltage and resistance are held against the truth.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from telemetry import read_log, review
from tests.independent.habits import write_log
from tests.independent.habits.judge import judge, judge_review


def main() -> None:
    """Read each log and print what was not as it should be, then the sums."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int)
    parser.add_argument("first", type=int, nargs="?", default=0)
    parser.add_argument("--review", type=int, default=0)
    asked = parser.parse_args()
    sums: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        for seed in range(asked.first, asked.first + asked.count):
            log = write_log(seed)
            path.write_bytes(log.raw)
            judged = judge(log, path)
            if asked.review and seed % asked.review == 0 and not judged.refused:
                judge_review(log, review([read_log(path)]), judged)
                sums["reviewed"] += 1
                for what, right in judged.checked.items():
                    sums[f"{what} said"] += 1
                    sums[f"{what} wrong"] += not right
            sums["logs"] += 1
            sums["sure"] += judged.sure
            sums["missed"] += len(judged.missed)
            sums["asked columns"] += judged.asked
            sums["refused"] += bool(judged.refused)
            sums["refused without need"] += judged.needless
            sums["logs with something wrong"] += bool(judged.wrong)
            if judged.wrong or judged.missed or judged.needless:
                print(f"{seed} [{log.habit}; {log.marks}]", judged.refused)
                for sentence in judged.wrong:
                    print("    WRONG", sentence)
                for sentence in judged.missed:
                    print("    missed", sentence)
    print(dict(sums), f"read {1 - sums['missed'] / sums['sure']:.4f} of the sure columns")


if __name__ == "__main__":
    main()
