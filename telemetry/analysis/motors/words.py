"""The pair's sentences."""

from __future__ import annotations

from telemetry.estimate import Estimate, Undecided, known

NOUNS = {
    "propeller": "a heavier or lighter propeller",
    "kv": "a motor of another Kv",
    "winding": "a winding of another resistance",
    "endpoint": "the controllers' end-points",
    "drag": "a dragging bearing",
    "sensor": "a current sensor that reads off",
    "mixed": "thrust mixed on purpose",
    "none": "no difference at all",
    "several": "several causes at once",
}

_NO_PROPELLERS = "run both without propellers at the same command and compare their speeds"
_SWAP = "swap the propellers from side to side and run up again, the difference goes with the propellers or stays"
_CONTROLLERS = "swap the two controllers' signal leads, set both end-points afresh and compare a half with a full command"
_BY_HAND = "run both without propellers and compare their currents, a dragging bearing draws more"
_FULL_HALF = "run up to half and to full command for ten seconds each, a winding tells at full and a Kv at both"

_TESTS = {
    frozenset({"propeller", "kv"}): _NO_PROPELLERS,
    frozenset({"propeller", "sensor"}): _SWAP,
    frozenset({"propeller", "winding"}): _SWAP,
    frozenset({"propeller", "drag"}): _BY_HAND,
    frozenset({"propeller", "endpoint"}): _NO_PROPELLERS,
    frozenset({"propeller", "none"}): _SWAP,
    frozenset({"kv", "endpoint"}): _CONTROLLERS,
    frozenset({"kv", "winding"}): _FULL_HALF,
    frozenset({"kv", "none"}): _NO_PROPELLERS,
    frozenset({"winding", "endpoint"}): _CONTROLLERS,
    frozenset({"drag", "sensor"}): _BY_HAND,
    frozenset({"drag", "none"}): _BY_HAND,
}
_ANY_TEST = "run up to a quarter, half and full command for ten seconds each, then swap the propellers and do it again"


def percent(estimate: Estimate | Undecided) -> str:
    """A share with its interval, such as "+4.2 % (+3.1 to +5.3 %)"."""
    if not known(estimate) or not isinstance(estimate, Estimate):
        return "an unknown share"
    return f"{_signed(estimate.value)} % ({_signed(estimate.low)} to {_signed(estimate.high)} %)"


def _signed(fraction: float) -> str:
    return f"{100 * fraction:+.1f}".replace("-", "−")


def even_sentence(cause: str, imbalance: Estimate, size: Estimate | Undecided) -> str:
    """Why a pair is even."""
    if cause == "sensor":
        return f"Both motors turn alike while the right current sensor reads {percent(size)} against the left: the sensors differ, not the motors."
    if cause == "mixed":
        return f"Thrust was mixed on purpose; with that taken out the right shaft does {percent(imbalance)} of power against the left, which is even."
    return f"At the same command the right shaft does {percent(imbalance)} of power against the left, which is even."


def uneven_sentence(cause: str, size: Estimate | Undecided, imbalance: Estimate) -> str:
    """Why a pair is uneven, when one cause clearly wins."""
    much = percent(size)
    power = f"its shaft does {percent(imbalance)} of power against the left"
    told = {
        "propeller": f"The right propeller takes {much} of torque at the same speed, {power}; speed gives way most where power is highest.",
        "kv": f"The right motor's Kv differs by {much}, {power}; speed is off by one share at every command, as with an end-point off in proportion.",
        "winding": f"The right winding's resistance differs by {much}, {power}; speed gives way with load and agrees without.",
        "endpoint": f"The right controller gives {much} of duty for the same command, {power}; the share changes between low and full command.",
        "drag": f"The right motor loses more or less to friction, by {much} of full current; the currents differ by the same amperes at every command.",
    }
    return told.get(cause, f"The cause is {NOUNS.get(cause, cause)}, {power}.")


def only_sentence(cause: str, imbalance: Estimate) -> str:
    """A cause stands out, but its effect may still be too small to matter."""
    small = f"at {percent(imbalance)} of shaft power the difference may be too small to matter"
    return f"{NOUNS[cause].capitalize()} fits best, but {small}; to be sure, model held down, {_ANY_TEST}."


def between(first: str, second: str, verdict: str, logged: str, imbalance: Estimate) -> str:
    """Undecided between two causes, and the bench test that would tell them apart."""
    test = _TESTS.get(frozenset({first, second}), _ANY_TEST)
    lead = {"rpm": "With speeds alone it stays", "current": "With currents alone it stays"}.get(logged, "It stays")
    head = "The motors do differ. " if verdict == "uneven" else ""
    return f"{head}{lead} undecided between {NOUNS[first]} and {NOUNS[second]}; on the bench, model held down, {test}."
