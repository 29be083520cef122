"""The one list of findings: severity, when each applies, whose it is, and what clears it.

The words stand under the same key in `sentences/`. Findings are made in `findings/`, carried on by
`season.open_checks`, and cleared by what `logbook.judged` says a later flight could judge: all three
read this list.
"""

from __future__ import annotations

from dataclasses import dataclass

SEVERITIES = ("stop", "check", "note")
WHOSE = {
    "pack": "the same pack, in any aircraft",
    "motors": "the same aircraft",
    "configuration": "the same aircraft in the same configuration",
    "aircraft": "the same aircraft",
    "log": "",
}
"""What a finding belongs to, and what a later flight must share to judge it again; a log's finding ends with
its flight.
"""


@dataclass(frozen=True, slots=True)
class FindingKind:
    """One row.

    Attributes
    ----------
    key : its name in JSON and in `sentences/`.
    severities : those it can have, the gravest first.
    applies : when, as a clause for people; with two severities also which is chosen.
    whose : a key of `WHOSE`.
    topic : what a later flight judges, such as "weak"; "" where the finding ends with its flight.
    cleared_by : what that flight has to show, as a clause; "" where the finding ends with its flight.
    any_subject : a later flight judges the topic as a whole, not the same cell or motor of it.
    """

    key: str
    severities: tuple[str, ...]
    applies: str
    whose: str = "log"
    topic: str = ""
    cleared_by: str = ""
    any_subject: bool = False

    def topic_of(self, subject: str) -> str:
        """The topic with what it is about.

        Parameters
        ----------
        subject : what the finding is about, as "cell 3".

        Returns
        -------
        As "weak:cell 3"; "" where the finding ends with its flight.
        """
        return self.topic if self.any_subject or not self.topic else f"{self.topic}:{subject}"


_STOP, _CHECK, _NOTE = ("stop",), ("check",), ("note",)
_STOP_OR_CHECK, _CHECK_OR_NOTE = ("stop", "check"), ("check", "note")
_FLOOR = "its lowest loaded voltage, above the floor"
_CELL = "the cell compared with its neighbours and found sound"
_RATING = "that part's load, inside its rating"
_MOTOR = "channels that show such a thing of that motor, without it"

_KINDS = (
    FindingKind("sheet_contradicted", _STOP, "cells, voltage or motors of the log cannot be the sheet's"),
    FindingKind(
        "flight_ended_hard",
        _STOP,
        "height or speed stopped at once, or a blow and then silence, without a landing",
        "aircraft",
        "ending",
        "a landing, seen",
    ),
    FindingKind(
        "receiver_low",
        _STOP,
        "the receiver's supply was low for two readings or for half a second",
        "aircraft",
        "receiver",
        "the receiver's supply, above its limit",
    ),
    FindingKind(
        "link_lost",
        _STOP,
        "the link was lost in the air for over a second",
        "aircraft",
        "link",
        "the link in the air, never lost",
    ),
    FindingKind("log_cut_off", _CHECK, "the log begins or ends in the air or under power"),
    FindingKind(
        "cell_under_floor",
        _STOP,
        "a loaded cell reads under the floor; without single cells, the pack a cell",
        "pack",
        "floor",
        _FLOOR,
    ),
    FindingKind(
        "weak_cell_resistance",
        _STOP_OR_CHECK,
        "a cell's resistance stands above its neighbours'; a stop at twice theirs",
        "pack",
        "weak",
        _CELL,
    ),
    FindingKind(
        "weak_cell_capacity",
        _STOP_OR_CHECK,
        "a cell holds less charge than its neighbours; a stop at a quarter less",
        "pack",
        "weak",
        _CELL,
    ),
    FindingKind(
        "weak_cell_unbalanced",
        _STOP_OR_CHECK,
        "a cell began lower or higher than its neighbours; a stop at 15 points of charge",
        "pack",
        "weak",
        _CELL,
    ),
    FindingKind(
        "chemistry_disagrees",
        _STOP_OR_CHECK,
        "the cells' voltages over the charge drawn are those of another chemistry than the sheet's; a stop "
        "where its full voltage is another",
        "pack",
        "chemistry",
        "cells that agree with the sheet's chemistry",
    ),
    FindingKind("cell_sensor", _CHECK_OR_NOTE, "one cell reads off by the same voltage throughout"),
    FindingKind(
        "overcharged",
        _STOP_OR_CHECK,
        "a cell or the pack rests above full; a stop from 0.1 V a cell on",
        "pack",
        "overcharged",
        "its rest before load, not above full",
    ),
    FindingKind(
        "not_full",
        _CHECK_OR_NOTE,
        "the pack was begun under 90 % full; a check for a run-up",
    ),
    FindingKind(
        "charge_disagrees",
        _CHECK,
        "the rest voltage and the charge drawn, or the log's counter and its current, tell different charges",
        "pack",
        "charge",
        "both charges, in agreement",
    ),
    FindingKind(
        "current_disagrees",
        _CHECK,
        "the pack's current sensor and the motors' together differ by over 5 %",
        "aircraft",
        "currents",
        "the current sensors, in agreement",
    ),
    FindingKind(
        "current_offset",
        _CHECK_OR_NOTE,
        "the pack's current reads something at rest; a check where it makes 5 % of what was drawn",
        "aircraft",
        "offset",
        "the current at rest, no more than a receiver's",
    ),
    FindingKind(
        "pack_hot",
        _CHECK,
        "the pack's temperature is over its limit",
        "pack",
        "hot",
        "the pack's temperature, within its limit",
    ),
    FindingKind(
        "over_rating",
        _STOP,
        "a part's whole interval of current lies over its rating",
        "configuration",
        "rating",
        _RATING,
    ),
    FindingKind(
        "maybe_over_rating",
        _CHECK,
        "a part's current is over its rating, its interval not wholly",
        "configuration",
        "rating",
        _RATING,
    ),
    FindingKind("close_to_rating", _NOTE, "a part came close to its rating"),
    FindingKind(
        "part_hot",
        _STOP,
        "a motor's or controller's temperature is over the sheet's limit",
        "configuration",
        "hot",
        "that part's temperature, within its limit",
    ),
    FindingKind(
        "lead_over",
        _CHECK,
        "a controller's leads carried more than their copper does continuously",
        "configuration",
        "lead",
        "those leads' load, within what their copper carries",
    ),
    FindingKind("added_leads", _NOTE, "a bench run of a model whose controllers' leads were lengthened"),
    FindingKind(
        "pair_uneven",
        _CHECK,
        "shaft power or current of a pair differs by more than counts as even",
        "motors",
        "pair",
        "the pair, even",
    ),
    FindingKind("pair_cause", _NOTE, "a pair is even once a sensor's gain or mixed thrust is taken out"),
    FindingKind("motor_event_cut", _STOP, "a motor stopped when asked to run", "motors", "cut", _MOTOR),
    FindingKind(
        "motor_event_out_of_step",
        _STOP,
        "a motor turned far slower than it was driven",
        "motors",
        "out_of_step",
        _MOTOR,
    ),
    FindingKind(
        "motor_event_reverse_air", _STOP, "reverse thrust in the air", "motors", "reverse_air", _MOTOR
    ),
    FindingKind(
        "motor_event_stall", _CHECK, "a motor drew current and did not turn", "motors", "stall", _MOTOR
    ),
    FindingKind(
        "motor_event_late_start", _CHECK, "a motor ran later than its twin", "motors", "late_start", _MOTOR
    ),
    FindingKind(
        "motor_event_overheating",
        _CHECK,
        "a motor or its controller warmed far more than its twin",
        "motors",
        "overheating",
        "both sides' temperatures, alike",
    ),
    FindingKind(
        "thrust_lost",
        _STOP,
        "a motor's load fell at once in flight and stayed so: a blade, a hub, a gear",
        "motors",
        "thrust_lost",
        "the pair, even",
    ),
    FindingKind(
        "controller_limited",
        ("stop", "check"),
        "a motor was given less than its command asks for at low voltage; a stop from half its thrust on",
        "aircraft",
        "limited",
        "that motor's speed or current, as its command asks",
    ),
    FindingKind(
        "rpm_scale",
        ("check", "note"),
        "one speed of a pair reads a constant factor off; a check where no currents settle it",
    ),
    FindingKind("motor_event_reverse_ground", _NOTE, "reverse thrust on the ground"),
    FindingKind(
        "reserve_used",
        _STOP_OR_CHECK,
        "the flight landed below the reserve; a stop below half of it",
        "pack",
        "reserve",
        "the charge left, the reserve untouched",
    ),
    FindingKind(
        "prediction_missed",
        _CHECK_OR_NOTE,
        "a measured figure lies outside its prediction; a note where it is explained or may be chance",
        "configuration",
        "prediction",
        "a measured figure, all inside their predictions",
        any_subject=True,
    ),
    FindingKind(
        "bench_item",
        ("stop", "check"),
        "a check of the bench run failed that no other finding says; a stop where a propeller pushes back",
        "aircraft",
        "bench",
        "that check in a later bench run, passed",
    ),
    FindingKind("sensor_frozen", _CHECK, "a sensor repeats one reading while it should move"),
    FindingKind("counter_restarted", _NOTE, "the charge counter began again from nothing"),
    FindingKind("charging", _NOTE, "the pack was charged within the log"),
    FindingKind("motors_numbered", _NOTE, "the log numbers its motors and nothing says which is left"),
    FindingKind("columns_doubtful", _NOTE, "columns were left out in doubt"),
    FindingKind("rows_rejected", _NOTE, "rows were broken and left out"),
    FindingKind("cells_unreadable", _NOTE, "cells of a column in use hold no number and were left out"),
    FindingKind("no_clock", _NOTE, "the log has no time"),
    FindingKind(
        "clock_jump",
        ("check", "note"),
        "the log's clock leapt; a check where how much time passed there is not known",
    ),
    FindingKind("gaps", _NOTE, "the log is silent during the flight"),
    FindingKind("current_derived", _NOTE, "pack current comes from other channels"),
    FindingKind("voltage_derived", _NOTE, "pack voltage comes from other channels"),
)
KINDS = {kind.key: kind for kind in _KINDS}
FORMER_KEYS = {"pack_under_floor": "cell_under_floor"}
"""Keys of kept facts that are now part of another."""
