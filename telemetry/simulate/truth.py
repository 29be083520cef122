"""What was true in a simulated flight: fine-grid series and the constants an analysis should find."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from telemetry.simulate.happenings import Happened
from telemetry.trace import Floats, Key


@dataclass(frozen=True, slots=True)
class CellFigures:
    """True figures of one cell, or of the pack (sums, with plugs)."""

    resistance_ohm: float
    resistance_1s_ohm: float
    resistance_10s_ohm: float
    sag_v: float
    min_loaded_v: float
    start_left_fraction: float
    end_left_fraction: float


@dataclass(frozen=True, slots=True)
class OwnPackFigures:
    """True figures of a pack that feeds one motor: `position` is the motor's."""

    position: str
    consumed_mah: float
    cells: tuple[CellFigures, ...]


@dataclass(frozen=True, slots=True)
class PairFigures:
    """True figures of left against right. imbalance_fraction is of mean shaft power; ratios right ÷ left as
    flown.
    """

    left: str
    right: str
    imbalance_fraction: float
    current_ratio: float
    rpm_ratio: float


@dataclass(frozen=True, slots=True)
class Truth:
    """Times count from the first row of the first recorder.

    Attributes
    ----------
    time_s : (n,) even steps; the first is negative when the recorder starts late. [s]
    series : each quantity at each position, (n,), in the units of `quantities`.
    start_s, end_s : of the first recorder.
    takeoffs_s, landings_s : every lift-off and touch-down within the record.
    powered_s : first throttle-up to last motor stop, within the record, or None.
    phases : name, start, end.
    consumed_mah, energy_wh : all that left the pack from start_s to end_s.
    mean_current_a : over powered time.
    """

    time_s: Floats
    series: Mapping[Key, Floats]
    start_s: float
    end_s: float
    takeoffs_s: tuple[float, ...]
    landings_s: tuple[float, ...]
    powered_s: tuple[float, float] | None
    phases: tuple[tuple[str, float, float], ...]
    consumed_mah: float
    energy_wh: float
    mean_current_a: float
    peak_a: float
    min_pack_voltage_v: float
    charge_left_fraction: float
    cells: tuple[CellFigures, ...]
    pack: CellFigures
    pairs: tuple[PairFigures, ...]
    happenings: tuple[Happened, ...]
    packs: tuple[OwnPackFigures, ...] = ()

    @property
    def takeoff_s(self) -> float | None:
        """The first lift-off."""
        return self.takeoffs_s[0] if self.takeoffs_s else None

    @property
    def landing_s(self) -> float | None:
        """The last touch-down."""
        return self.landings_s[-1] if self.landings_s else None

    def to_dict(self) -> dict[str, Any]:
        """Every figure but the series, six digits each, as JSON holds it."""
        left_out = ("time_s", "series")
        return {f.name: _plain(getattr(self, f.name)) for f in fields(self) if f.name not in left_out}

    def at(self, quantity: str, position: str = "") -> Floats:
        """One series on the fine grid: (n,)."""
        return self.series[(quantity, position)]


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return value if value is None or isinstance(value, str | bool | int) else float(f"{value:.6g}")
