"""Where flights start and end, and their phases."""

from __future__ import annotations

from telemetry.trace import Flight, Trace


def find(trace: Trace, *, bench: bool = False) -> tuple[Flight, ...]:
    """Every flight of a log. `bench` says that it is a bench run, whatever it looks like.

    Skeleton: to be written.
    """
    raise NotImplementedError
