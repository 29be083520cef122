"""Thousands of different logs from one invented flight whose truth is known.

    written = write_log(17)
    written.raw, written.expected, written.why

Each seed crosses dialect × language × unit × time × cell layout × defect.
"""

from __future__ import annotations

from .columns import draw_parts
from .flight import fly
from .judging import Verdict, judge
from .lines import write_lines
from .style import DEFECTS, TIMES, Written, draw_style
from .times import time_parts

__all__ = ["DEFECTS", "TIMES", "Verdict", "Written", "judge", "write_log"]


def write_log(
    seed: int,
    *,
    defect: str | None = None,
    language: str | None = None,
    time: str | None = None,
    short: bool = False,
) -> Written:
    """One log; the same seed gives the same bytes. `short` flies 100 s at 5 Hz instead of 150 s at 10 Hz."""
    style = draw_style(seed, defect=defect, language=language, time=time)
    flight_seed = style.rng.randrange(40)
    flown = fly(flight_seed, seconds=100.0, rate_hz=5.0) if short else fly(flight_seed)
    parts, expected, uncertain = draw_parts(style, flown)
    times, time_s = time_parts(style, flown.time_s)
    raw, kept = write_lines(style, times + parts)
    truth = {k: v[kept] for k, v in expected.items()}
    return Written(raw, truth, uncertain, time_s[kept], flown.consumed_mah, style.why)
