"""The pair's sentences."""

from __future__ import annotations

from dataclasses import dataclass

from telemetry.estimate import Estimate, Undecided

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
_SWAP = (
    "swap the propellers from side to side and run up again, the difference goes with the propellers or stays"
)
_CONTROLLERS = (
    "swap the two controllers' signal leads, set both end-points afresh and compare a half with a full "
    "command"
)
_BY_HAND = "run both without propellers and compare their currents, a dragging bearing draws more"
_FULL_HALF = (
    "run up to half and to full command for ten seconds each, a winding tells at full and a Kv at both"
)

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
_ANY_TEST = (
    "run up to a quarter, half and full command for ten seconds each, then swap the propellers and do it "
    "again"
)


@dataclass(frozen=True, slots=True)
class Names:
    """How the two motors are called in a sentence, such as "right outer" or "number 2"."""

    left: str
    right: str

    @classmethod
    def of(cls, left: str, right: str) -> Names:
        """From positions."""
        return cls(*(f"number {p}" if p.isdigit() else p.replace("_", " ") for p in (left, right)))


def more(estimate: Estimate | Undecided, thing: str, *, up: str = "more", down: str = "less") -> str:
    """A difference with its interval: "6.2 % more torque (5.5 to 7.0 %)", or both ways where it may be
    either.
    """
    if isinstance(estimate, Undecided):
        return f"somewhat {up} or {down} {thing}".strip()
    low, value, high = (100.0 * v for v in (estimate.low, estimate.value, estimate.high))
    if value < 0.0:
        low, value, high, up, down = -high, -value, -low, down, up
    either = (
        f"from {-low:.1f} % {down} to {high:.1f} % {up}"
        if low < -0.05
        else f"{max(low, 0.0):.1f} to {high:.1f} %"
    )
    return f"{value:.1f} % {up} {thing}".strip() + f" ({either})"


def power(imbalance: Estimate, names: Names) -> str:
    """The imbalance in plain words."""
    much = more(imbalance, f"power into its propeller than the {names.left} one")
    return f"at the same command the {names.right} motor puts {much}"


def even_sentence(cause: str, imbalance: Estimate, size: Estimate | Undecided, names: Names) -> str:
    """Why a pair is even."""
    if cause == "sensor":
        reads = more(size, "", up="too much", down="too little")
        return (
            f"Both motors turn alike, but against the {names.left} one the {names.right} current sensor "
            f"reads {reads}: the sensors differ, not the motors."
        )
    if cause == "mixed":
        return f"Thrust was mixed on purpose; with that taken out, {power(imbalance, names)}, which is even."
    return f"{_capital(power(imbalance, names))}, which is even."


def uneven_sentence(cause: str, size: Estimate | Undecided, imbalance: Estimate, names: Names) -> str:
    """Why a pair is uneven, when one cause clearly wins."""
    right = names.right
    told = {
        "propeller": f"the {right} propeller takes {more(size, 'torque')} at the same speed, and speed gives "
        f"way most where power is highest",
        "kv": f"the {right} motor's Kv is {more(size, '', up='higher', down='lower')}, as speed is off by "
        f"one share at every command "
        "(an end-point off in proportion would look the same)",
        "winding": f"the {right} winding has {more(size, 'resistance')}, as speed gives way with load and "
        f"agrees without",
        "endpoint": f"the {right} controller gives {more(size, 'duty')} for the same command, and the share "
        f"changes between low and full command",
        "drag": f"friction takes {more(size, 'of full current')} in the {right} motor, the same amperes at "
        f"every command",
    }
    return f"{_capital(power(imbalance, names))}: {told.get(cause, NOUNS.get(cause, cause))}."


def only_sentence(cause: str, imbalance: Estimate, names: Names) -> str:
    """A cause stands out, but its effect may still be too small to matter."""
    return (
        f"{_capital(NOUNS[cause])} fits best, but {power(imbalance, names)}, which may be too little to "
        f"matter; to be sure, model held down, {_ANY_TEST}."
    )


def between(first: str, second: str, verdict: str, logged: str) -> str:
    """Undecided between two causes, and the bench test that would tell them apart."""
    test = _TESTS.get(frozenset({first, second}), _ANY_TEST)
    lead = {"rpm": "With speeds alone it stays", "current": "With currents alone it stays"}.get(
        logged, "It stays"
    )
    if verdict == "uneven":
        lead = f"The motors do differ, but {lead[0].lower()}{lead[1:]}"
    return (
        f"{lead} undecided between {NOUNS[first]} and {NOUNS[second]}; on the bench, model held down, {test}."
    )


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]
