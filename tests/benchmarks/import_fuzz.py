"""Generated logs broken in every way that files break: no traceback, and nothing read wrong in silence.

    python tests/benchmarks/import_fuzz.py [FIRST LAST]

Each seed is one log of tests/telemetry/importers/log_generator with one to three mutations. What is still
read is held against the truth of its time; refusals are counted.
"""

from __future__ import annotations

import importlib.util
import sys
import tempfile
import traceback
from collections import Counter
from pathlib import Path
from random import Random

import numpy as np

from telemetry.errors import SaglineError
from telemetry.importers.log import read_log

_spec = importlib.util.spec_from_file_location(
    "log_generator", Path(__file__).parents[1] / "telemetry/importers/log_generator/__init__.py"
)
generator = importlib.util.module_from_spec(_spec)
sys.modules["log_generator"] = generator
_spec.loader.exec_module(generator)


def _body(lines: list[bytes]) -> int:
    """A line safely below the header."""
    return min(len(lines) - 1, 60)


def cut_rows(rng: Random, lines: list[bytes]) -> list[bytes]:
    first = rng.randrange(_body(lines), len(lines))
    return lines[:first] + lines[min(len(lines), first + rng.randrange(1, 40)) :]


def cut_end(rng: Random, lines: list[bytes]) -> list[bytes]:
    kept = lines[: rng.randrange(max(_body(lines) + 1, len(lines) // 3), len(lines) + 1)]
    return [*kept[:-1], kept[-1][: rng.randrange(len(kept[-1]) + 1)]]


def double_rows(rng: Random, lines: list[bytes]) -> list[bytes]:
    at = rng.randrange(_body(lines), len(lines))
    return [*lines[:at], *[lines[at]] * rng.randrange(1, 4), *lines[at:]]


def quotes(rng: Random, lines: list[bytes]) -> list[bytes]:
    found = list(lines)
    for _ in range(rng.randrange(1, 4)):
        at = rng.randrange(_body(lines), len(lines))
        place = rng.randrange(len(found[at]) + 1)
        found[at] = found[at][:place] + b'"' + found[at][place:]
    return found


def flips(rng: Random, lines: list[bytes]) -> list[bytes]:
    found = list(lines)
    for _ in range(rng.randrange(1, 6)):
        at = rng.randrange(_body(lines), len(lines))
        if found[at]:
            place = rng.randrange(len(found[at]))
            found[at] = found[at][:place] + bytes([rng.randrange(256)]) + found[at][place + 1 :]
    return found


def header_flips(rng: Random, lines: list[bytes]) -> list[bytes]:
    found = list(lines)
    at = rng.randrange(min(4, len(lines)))
    if found[at]:
        place = rng.randrange(len(found[at]))
        found[at] = found[at][:place] + bytes([rng.randrange(128, 256)]) + found[at][place + 1 :]
    return found


def words(rng: Random, lines: list[bytes]) -> list[bytes]:
    at = rng.randrange(_body(lines), len(lines))
    said = rng.choice(
        [
            b"*** link lost ***",
            b"",
            b";;;;",
            b",,,,",
            b"error: sensor 3, code 17",
            b"\x00" * 30,
            b"-----",
            b"1,2",
            b"restart",
        ]
    )
    return [*lines[:at], said, *lines[at:]]


def huge(rng: Random, lines: list[bytes]) -> list[bytes]:
    found = list(lines)
    at = rng.randrange(_body(lines), len(lines))
    for mark in (b";", b",", b"\t"):
        parts = found[at].split(mark)
        if len(parts) > 2:
            parts[rng.randrange(1, len(parts))] = rng.choice(
                [b"1e308", b"-1e400", b"99999999999999999999", b"0x7f", b"1e", b"--5", b"+-1", b"\xd9\xa3"]
            )
            found[at] = mark.join(parts)
            break
    return found


MUTATIONS = (cut_rows, cut_end, double_rows, quotes, flips, header_flips, words, huge)


def mutated(seed: int, raw: bytes) -> tuple[bytes, list[str]]:
    """The bytes with one to three mutations, and what was done."""
    rng = Random(seed)
    done = []
    for _ in range(rng.randrange(1, 4)):
        if raw[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\x00" in raw[:40]:
            # Two bytes a letter: cut anywhere, also in the middle of one.
            raw, done = raw[: rng.randrange(2 * len(raw) // 3, len(raw))], [*done, "cut bytes"]
            continue
        mark = b"\r\n" if b"\r\n" in raw else b"\n" if b"\n" in raw else b"\r"
        mutation = rng.choice(MUTATIONS)
        raw, done = mark.join(mutation(rng, raw.split(mark))), [*done, mutation.__name__]
    if rng.random() < 0.15:
        raw, done = rng.choice(
            [
                (b"\xef\xbb\xbf" + raw, [*done, "mark before"]),
                (raw + b"\x00" * 200, [*done, "NUL tail"]),
                (raw + b"\x1a", [*done, "end mark"]),
            ]
        )
    return raw, done


def shuffled(seed: int, raw: bytes, delimiter: str) -> tuple[bytes, list[str]] | None:
    """The columns in another order, where a plain split by the delimiter does it."""
    rng, mark = Random(seed), delimiter.encode()
    lines = raw.split(b"\n")
    width, count = Counter(line.count(mark) for line in lines if line.strip()).most_common(1)[0]
    if mark == b" " or b'"' in raw or b"\x00" in raw or width < 2 or count < 0.9 * len(lines):
        return None
    order = list(range(width + 1))
    rng.shuffle(order)
    moved = [
        mark.join([line.rstrip(b"\r").split(mark)[i] for i in order]) if line.count(mark) == width else line
        for line in lines
    ]
    return b"\n".join(moved), ["columns shuffled"]


def wrong(written, trace) -> list[tuple[object, ...]]:
    """Channels that are used and not true, by their median: single broken rows are no fault of the reader."""
    found: list[tuple[object, ...]] = []
    for key, channel in trace.channels.items():
        if key[0] == "event":
            continue
        if key not in written.expected:
            found.append(("unexpected", key, channel.header))
            continue
        truth, samples = written.expected[key], trace.fresh(*key)
        good = np.isfinite(truth)
        if samples.time_s.size < 20:
            continue
        # A row lost from a second that five share moves the others by a fifth of it.
        shifts = [
            np.interp(samples.time_s + shift_s, written.time_s[good] - written.time_s[0], truth[good])
            for shift_s in (0.0, -0.2, 0.2)
        ]
        ours = samples.values
        expected = min(shifts, key=lambda one: float(np.median(np.abs(one - ours))))
        if key[0] == "altitude_m":
            expected, ours = expected - expected[0], ours - ours[0]
        scale = max(float(np.ptp(truth[good])), 0.02 * float(np.max(np.abs(truth[good]))), 1e-6)
        if float(np.median(np.abs(expected - ours))) > 0.04 * scale:
            found.append(
                (
                    key,
                    channel.header,
                    f"median error {float(np.median(np.abs(expected - ours))) / scale:.3f} of the range",
                )
            )
    return found


def main() -> None:
    """Break, read and judge; print what went wrong and the sums."""
    first, last = (int(a) for a in sys.argv[1:3]) if len(sys.argv) > 2 else (0, 500)
    sums: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        for seed in range(first, last):
            written = generator.write_log(seed, short=True)
            raw, done = (
                shuffled(seed, written.raw, written.why["delimiter"]) if seed % 6 == 0 else None
            ) or mutated(seed, written.raw)
            path.write_bytes(raw)
            sums["logs"] += 1
            try:
                trace = read_log(path)
            except SaglineError as error:
                sums["refused"] += 1
                sums[f"refused: {str(error).split(':', 1)[-1].strip()[:50]}"] += 1
                continue
            except Exception:
                sums["tracebacks"] += 1
                print(seed, done, written.why, traceback.format_exc()[-700:])
                continue
            off = wrong(written, trace)
            asked = any(c.status == "doubtful" for c in trace.sources[0].columns) or any(
                n.status == "doubtful" for n in trace.sources[0].notes
            )
            sums["wrong in silence"] += bool(off) and not asked
            sums["wrong, other columns in doubt"] += bool(off) and asked
            if off:
                print(seed, done, written.why, off)
    print(dict(sums))


if __name__ == "__main__":
    main()
