"""Whether logs that were kept apart look like several recorders' logs of one flight."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from telemetry.sentences import say
from telemetry.signals.dates import own_span_s
from telemetry.trace import Trace


def looks_like_one_flight(read: Sequence[tuple[str, Trace | None]]) -> tuple[str, ...]:
    """A remark on logs that share their time but hardly a quantity.

    On clocks that know the date the times decide; else logs of like length that have no
    electrical column in common.
    """
    alike: list[set[str]] = []
    for (name, one), (other_name, other) in combinations(read, 2):
        if one is None or other is None or not _complement(one, other) or not _same_time(one, other):
            continue
        pair = {name, other_name}
        joined = [group for group in alike if group & pair]
        alike = [group for group in alike if not group & pair] + [pair.union(*joined)]
    order = [name for name, _ in read]
    groups = [_listed(sorted(group, key=order.index)) for group in alike]
    return tuple(say("keeping", "together", names=names) for names in groups)


def _listed(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _complement(one: Trace, other: Trace, *, common_share: float = 0.25) -> bool:
    common = one.channels.keys() & other.channels.keys()
    return len(common) <= common_share * min(len(one.channels), len(other.channels))


def _same_time(one: Trace, other: Trace, *, overlap_share: float = 0.5, length_share: float = 0.1) -> bool:
    mine, theirs = own_span_s(one), own_span_s(other)
    shorter_s, longer_s = sorted((one.duration_s, other.duration_s))
    if mine is not None and theirs is not None:
        return min(mine[1], theirs[1]) - max(mine[0], theirs[0]) >= overlap_share * shorter_s > 0
    return longer_s > 0 and longer_s - shorter_s <= length_share * longer_s
