"""A number with its interval, or the reason why there is none.

Every figure that was estimated is an `Estimate` or an `Undecided`; nothing in
between, no NaN. `plain` turns any tree of results into what JSON can carry and
gathers the reasons.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeGuard

import numpy as np

Kind = Literal["value", "mean", "next"]
"""What an interval holds: the true value, the mean of a group, or the next flight."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with the interval that holds it.

    Attributes
    ----------
    value, low, high : in the unit that ends the field's name; low ≤ value ≤ high.
    method : how it was found, in a few words.
    coverage : the share of such intervals that hold what they are meant to hold.
    kind : which is the true value of a figure, the mean of a group of flights, or the next flight's figure
        of a forecast.
    """

    value: float
    low: float
    high: float
    method: str = ""
    coverage: float = 0.95
    kind: Kind = "value"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and math.isfinite(self.low) and math.isfinite(self.high)):
            raise ValueError(f"an estimate is finite, not {self.value}, {self.low}, {self.high}")
        if not self.low <= self.value <= self.high:
            raise ValueError(f"an interval holds its value, not {self.low} ≤ {self.value} ≤ {self.high}")

    @classmethod
    def around(cls, value: float, half_width: float, method: str = "", *, kind: Kind = "value") -> Estimate:
        """An estimate with an interval of equal arms. `half_width` is that of the 95 % interval."""
        arm = abs(half_width)
        return cls(float(value), float(value - arm), float(value + arm), method, kind=kind)

    def floored(self) -> Estimate:
        """The same estimate of what cannot be below zero."""
        value, low, high = (max(x, 0.0) for x in (self.value, self.low, self.high))
        return replace(self, value=value, low=low, high=high)

    def scaled(self, factor: float) -> Estimate:
        """The same estimate in another unit, or of a multiple."""
        low, high = sorted((self.low * factor, self.high * factor))
        return replace(self, value=self.value * factor, low=low, high=high)


@dataclass(frozen=True, slots=True)
class Undecided:
    """Why there is no number. `reason` is a clause without a full stop."""

    reason: str


def total_of(parts: Sequence[Estimate | Undecided], *, together: bool = False) -> Estimate | Undecided:
    """The sum of several figures.

    Parameters
    ----------
    parts : of one unit, at least one.
    together : whether one cause puts all of them off the same way; else their errors are independent.

    Returns
    -------
    The sum with its interval, or the first reason why a part is not known.
    """
    known_parts = [p for p in parts if isinstance(p, Estimate)]
    if len(known_parts) < len(parts):
        return next(p for p in parts if isinstance(p, Undecided))
    added = np.sum if together else np.hypot.reduce
    below = float(added([p.value - p.low for p in known_parts]))
    above = float(added([p.high - p.value for p in known_parts]))
    value = sum(p.value for p in known_parts)
    return replace(known_parts[0], value=value, low=value - below, high=value + above)


def known(number: object) -> TypeGuard[Estimate | float | int]:
    """Whether there is a number at all."""
    return number is not None and not isinstance(number, Undecided)


def value_of(number: Estimate | Undecided | float | None) -> float | None:
    """The bare value, or None."""
    if isinstance(number, Estimate):
        return number.value
    if number is None or isinstance(number, Undecided):
        return None
    return float(number)


def plain(result: Any, subject: str = "") -> tuple[Any, list[dict[str, str]]]:
    """A result as JSON carries it, and the list of what is undecided.

    Dataclasses become objects, estimates `{"value", "low", "high"}`, an
    `Undecided` null with its reason in the list. A dataclass field whose metadata
    says `{"json": False}` is left out, of one that says `{"most": n}` all but the first n.

    Parameters
    ----------
    result : a tree of dataclasses, mappings, sequences, numbers, texts.
    subject : the path of this result, such as `flights[0].pack`.
    """
    undecided: list[dict[str, str]] = []
    return _plain(result, subject, undecided), undecided


def _plain(result: Any, path: str, undecided: list[dict[str, str]]) -> Any:
    if isinstance(result, Undecided):
        undecided.append({"subject": path, "reason": result.reason})
        return None
    if isinstance(result, Estimate):
        return {"value": result.value, "low": result.low, "high": result.high}
    if dataclasses.is_dataclass(result) and not isinstance(result, type):
        fields = {
            f.name: getattr(result, f.name)[: f.metadata["most"]]
            if "most" in f.metadata
            else getattr(result, f.name)
            for f in dataclasses.fields(result)
            if f.metadata.get("json", True)
        }
        return _plain(fields, path, undecided)
    if isinstance(result, Mapping):
        return {str(k): _plain(v, f"{path}.{k}" if path else str(k), undecided) for k, v in result.items()}
    if isinstance(result, list | tuple):
        return [_plain(v, f"{path}[{i}]", undecided) for i, v in enumerate(result)]
    if isinstance(result, np.generic):
        return _plain(result.item(), path, undecided)
    if isinstance(result, float) and not math.isfinite(result):
        raise ValueError(f"{path} is {result}: a figure that is not there is Undecided")
    return result
