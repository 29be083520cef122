"""What each column could be, by its words and units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from telemetry.importers.columns.meanings import DIMENSIONS, KIND_OF_DIMENSION, MEANINGS, Meaning
from telemetry.importers.units import Unit, vocabulary_file
from telemetry.importers.wording import Wording
from telemetry.quantities import QUANTITIES, pack_position
from telemetry.sentences import say


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """One reading of one column: value = factor · number + offset.

    Attributes
    ----------
    column : its index in the table.
    quantity, position : a key of the trace.
    unit : the unit the numbers are taken in.
    factor, offset : to the quantity's unit; a negative factor turns the sign.
    words : how well header and unit speak for it. [nats]
    reason : the same in a clause.
    stated : whether the header or its unit names this unit.
    overrules : whether it says that the header names the wrong unit.
    """

    column: int
    quantity: str
    position: str
    unit: str
    factor: float
    offset: float
    words: float
    reason: str
    stated: bool = True
    overrules: bool = False


UNSTATED_COST = 1.0
OVERRULE_COST = 4.0
TURNED_SIGN_COST = 1.0

_BASE_UNITS = {
    "voltage": ("V", "mV", "cV", "dV"),
    "current": ("A", "mA", "dA", "cA"),
    "charge": ("mAh", "Ah"),
    "power": ("W", "kW"),
    "energy": ("Wh", "mWh", "J"),
    "rotation": ("rpm", "krpm"),
    "temperature": ("°C", "°F"),
    "length": ("m", "ft"),
    "speed": ("m/s", "km/h", "kt", "mph"),
    "angle": ("deg",),
    "fraction": ("%", "1"),
    "pulse": ("µs",),
    "acceleration": ("m/s2", "g"),
    "force": ("N", "kgf", "gf"),
    "torque": ("Nm", "Ncm"),
    "electrical_rotation": (),
}
"""Units that recorders use, the likelier first; those that the numbers must tell apart where no unit is
given.
"""

_SIGNED = ("current_a", "power_w", "receiver_current_a")


def _unit(name: str, dimension: str) -> Unit:
    return Unit(name, dimension, *(_as_pair(vocabulary_file()["units"][dimension][name])))


def _as_pair(size: float | list[float]) -> tuple[float, float]:
    return (float(size[0]), float(size[1])) if isinstance(size, list) else (float(size), 0.0)


def readings(whole: Wording, short: Wording | None) -> Wording:
    """The reading of a header whose unit fits with what it speaks of: with the unit at its end taken off,
    where that makes sense.

    A letter at the end that fits nothing before it is no unit ("Motor A").
    """
    return _by_unit(_whole_or_short(whole, short))


def _by_unit(wording: Wording) -> Wording:
    """A symbol with a unit that is not its usual kind's speaks of the unit's: v in m/s of a speed, T in N of
    a thrust.
    """
    dimensions = {u.dimension for u in wording.units}
    usual = {d for k in wording.kinds for d in DIMENSIONS.get(k, ())}
    if not wording.bare or not dimensions or dimensions & usual:
        return wording
    kinds = {k for d, k in _KIND_OF_A_SYMBOL.items() if d in dimensions}
    return replace(wording, kinds=frozenset(kinds)) if kinds else wording


_KIND_OF_A_SYMBOL = {"speed": "speed", "force": "thrust", "torque": "torque"}
"""Kinds that share their letters with others, by the dimension of the unit."""


def _whole_or_short(whole: Wording, short: Wording | None) -> Wording:
    """The header as a whole, or with the unit at its end taken off."""
    if short is None:
        return whole
    fitting = {d for k in short.kinds for d in DIMENSIONS.get(k, ())}
    if any(u.dimension in fitting for u in short.units):
        return short
    spoken = any(
        u.dimension in KIND_OF_DIMENSION or (short.bare and u.dimension in _KIND_OF_A_SYMBOL)
        for u in short.units
    )
    if (
        (short.bare or not short.kinds)
        and spoken
        and (short.bare or short.subjects or short.positions or len(short.unit_text) > 1)
    ):
        return short
    return short if len(short.unit_text) > 1 and spoken else whole


_VOLTAGE_BY_SUBJECT = (({"cell", "tap"}, -1.0), ({"pack", "receiver"}, -2.5))
"""A cell that says no more can only be a voltage; so, less surely, can a pack."""


def _spoken_kinds(wording: Wording, dimensions: set[str]) -> set[str]:
    kinds = set(wording.kinds)
    if "speed" in kinds and "motor" in wording.subjects:
        return kinds - {"speed"} | {"rotation"}
    turns = "electrical" in wording.subjects and dimensions <= {"electrical_rotation", "rotation"}
    return {"rotation"} if turns and not kinds else kinds


def _kinds_of(wording: Wording) -> dict[str, float]:
    """The kinds a header may speak of and how well. A unit that fits none of them speaks for its own kind,
    weakly.
    """
    dimensions = {u.dimension for u in wording.units}
    kinds = _spoken_kinds(wording, dimensions)
    if fitting := {k for k in kinds if dimensions & set(DIMENSIONS.get(k, ()))}:
        return dict.fromkeys(fitting, 0.0)
    from_unit = {KIND_OF_DIMENSION[d] for d in dimensions if d in KIND_OF_DIMENSION}
    if from_unit and (wording.bare or not kinds):
        return dict.fromkeys(from_unit, -1.5)
    if dimensions and not from_unit:
        return {}
    if not kinds:
        cost = max((c for subjects, c in _VOLTAGE_BY_SUBJECT if subjects & wording.subjects), default=None)
        return {} if cost is None else {"voltage": cost}
    return dict.fromkeys(kinds, -3.5 if dimensions else -1.0) | dict.fromkeys(from_unit, -4.5)


def position_of(wording: Wording, sort: str) -> str | None:
    """The position a header names for a quantity of this sort; "" for none, None when it contradicts
    itself.
    """
    sides = wording.positions & {"left", "right"}
    rings = wording.positions & {"outer", "inner"}
    if sort in ("cell", "pack", "pack or motor") and (pack := _pack_of(wording, sort)) is not None:
        return pack
    if sort in ("none", "pack"):
        return ""
    if sort == "axis":
        axes = wording.positions & {"x", "y", "z"}
        return next(iter(axes)) if len(axes) == 1 else ""
    if sort == "cell":
        return str(wording.number) if wording.number is not None and 0 <= wording.number <= 14 else None
    if len(sides) > 1 or len(rings) > 1:
        return None
    if sides:
        return f"{next(iter(sides))}_{next(iter(rings))}" if rings else next(iter(sides))
    if "centre" in wording.positions:
        return "centre"
    if wording.number is not None and 1 <= wording.number <= 4:
        return str(wording.number)
    return ""


def _pack_of(wording: Wording, sort: str) -> str | None:
    """The place in a pack that feeds one motor: a side beside a pack, or beside a cell; None without one."""
    if "pack" not in wording.subjects and sort != "cell":
        return None
    if not wording.positions & {"left", "right", "centre"}:
        return None
    motor = position_of(replace(wording, number=None), "motor")
    if not motor:
        return None
    if sort != "cell":
        return pack_position(motor)
    cell = position_of(replace(wording, positions=frozenset()), "cell")
    return None if cell is None else f"{pack_position(motor)}.{cell}"


def _way(key: str) -> str:
    return say("importers", "columns", "commands", key)


COMMANDS: dict[str, tuple[Unit, ...]] = {
    "fraction": (
        Unit("%", "fraction", 0.01),
        Unit("1", "fraction", 1.0),
        Unit(_way("stick_percent"), "fraction", 0.005, 0.5),
        Unit(_way("stick"), "fraction", 0.5, 0.5),
        Unit("‰", "fraction", 0.001),
    ),
    "pulse": (Unit(_way("pulse"), "pulse", 0.001, -1.0), Unit(_way("pulse_both_ways"), "pulse", 0.002, -3.0)),
}
"""How a command is written: the share of full throttle, a stick from one end to the other, or a servo pulse
(1 to 2 ms, common practice, no source).
"""


def _commands_for(meaning: Meaning, wording: Wording) -> Iterator[tuple[Unit, float, bool]]:
    named = next((u for u in wording.units if u.dimension in DIMENSIONS[meaning.kind]), None)
    for dimension, ways in COMMANDS.items():
        # A rudder rests in the middle: its command is never told from one end to the other.
        usual = [w for w in ways if w.offset == 0.0 or w.offset == -3.0] if meaning.kind == "rudder" else ways
        for i, way in enumerate(usual):
            same = (
                named is not None
                and named.dimension == dimension
                and (dimension == "pulse" or way.factor in (named.factor, named.factor / 2))
            )
            cost = (0.3 * i if same else OVERRULE_COST) if named is not None else UNSTATED_COST + 0.3 * i
            yield way, cost, same


_SCALED = ("voltage", "current", "charge", "power", "energy", "rotation")
"""Recorders that write whole numbers of a tenth or a hundredth forget to say so."""


def units_for(meaning: Meaning, wording: Wording) -> Iterator[tuple[Unit, float, bool]]:
    """Units the numbers may be in, their cost, and whether the header names them."""
    if meaning.kind in ("throttle", "rudder"):
        yield from _commands_for(meaning, wording)
        return
    allowed = DIMENSIONS[meaning.kind]
    named = [u for u in wording.units if u.dimension in allowed]
    for unit in named[:1]:
        yield unit, 0.0, True
    for dimension in allowed:
        if named and dimension != named[0].dimension:
            continue
        for i, name in enumerate(_BASE_UNITS.get(dimension, ())):
            unit = _unit(name, dimension)
            if named and unit.factor == named[0].factor and unit.offset == named[0].offset:
                continue
            cost = OVERRULE_COST if named else UNSTATED_COST + 0.7 * i
            yield unit, cost, False
    if named and named[0].dimension in _SCALED:
        for tenth in (0.1, 0.01, 10.0):
            yield (
                Unit(f"{tenth:g} {named[0].name}", named[0].dimension, tenth * named[0].factor),
                OVERRULE_COST + 1.0,
                False,
            )


def _subject_score(meaning: Meaning, subjects: frozenset[str]) -> float | None:
    relevant = subjects - {"gps"} if meaning.kind in ("time",) else subjects
    if not relevant:
        return meaning.subjects.get("")
    scores = [meaning.subjects.get(s) for s in relevant]
    known = [s for s in scores if s is not None]
    if not known:
        return None
    return min(max(known), max(known) - 2.0 * (len(scores) - len(known)))


def candidates(column: int, wording: Wording) -> tuple[Candidate, ...]:
    """Every reading of one column that its words and unit allow, without regard to the numbers."""
    if wording.aside:
        return ()
    found: list[Candidate] = []
    kinds = _kinds_of(wording)
    for meaning in MEANINGS:
        if meaning.quantity == "time_s" or meaning.kind not in kinds:
            continue
        quantity = QUANTITIES[meaning.quantity]
        fit, position = _subject_score(meaning, wording.subjects), position_of(wording, quantity.positions)
        if fit is None or position is None:
            continue
        place = placed(position, meaning.quantity)
        if not quantity.admits(place):
            continue
        numbered_pack = meaning.quantity == "pack_voltage_v" and wording.number in range(15)
        score = (
            fit + kinds[meaning.kind] - (2.0 if numbered_pack else 0.0) - 0.7 * min(3, len(wording.unknown))
        )
        for named, cost, stated in units_for(meaning, wording):
            unit = _of_the_shaft(named, wording) if meaning.quantity == "rpm" else named
            if unit is None:
                continue
            one = Candidate(
                column,
                meaning.quantity,
                place,
                unit.name,
                unit.factor,
                unit.offset,
                score - cost,
                _reason(wording, named, stated),
                stated,
                not stated and bool(wording.unit_text),
            )
            found.append(one)
            if meaning.quantity in _SIGNED:
                reason = say("importers", "columns", "turned", reason=one.reason)
                words = score - cost - TURNED_SIGN_COST
                found.append(replace(one, factor=-unit.factor, offset=0.0, words=words, reason=reason))
    return tuple(found)


def _of_the_shaft(unit: Unit, wording: Wording) -> Unit | None:
    """A unit of the shaft's speed from one of the field's; None where the pole pairs are not known."""
    if "electrical" not in wording.subjects and unit.dimension != "electrical_rotation":
        return unit
    pairs = wording.pole_pairs
    if not pairs:
        return None
    name = say("importers", "columns", "shaft_speed", unit=unit.name, pairs=pairs)
    return Unit(name, "rotation", unit.factor / pairs)


def placed(position: str, quantity: str) -> str:
    """A lone motor's quantity that has no place of its own sits in the centre."""
    return "centre" if position == "" and QUANTITIES[quantity].positions == "motor" else position


def _reason(wording: Wording, unit: Unit, stated: bool) -> str:
    if stated:
        return header_says(wording)
    if wording.unit_text:
        return say("importers", "columns", "header_overruled", unit=wording.unit_text, fits=unit.name)
    return say("importers", "columns", "no_unit", numbers=numbers_are(unit.name))


def header_says(wording: Wording) -> str:
    """That the header names the unit, as a clause."""
    return say("importers", "columns", "header_says", unit=wording.unit_text)


def numbers_are(unit: str) -> str:
    """That the numbers are in this unit, as a clause; `reasons` says why in its place."""
    return say("importers", "columns", "numbers_are", unit=unit)
