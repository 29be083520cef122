"""The pair's sentences: which of the templates under `pair` in `sentences/` is filled with what."""

from __future__ import annotations

from dataclasses import dataclass

from telemetry.estimate import Estimate, Undecided
from telemetry.sentences import capital, say

_TESTS = {
    frozenset({"propeller", "kv"}): "no_propellers",
    frozenset({"propeller", "sensor"}): "swap",
    frozenset({"propeller", "winding"}): "swap",
    frozenset({"propeller", "drag"}): "by_hand",
    frozenset({"propeller", "endpoint"}): "no_propellers",
    frozenset({"propeller", "none"}): "swap",
    frozenset({"kv", "endpoint"}): "controllers",
    frozenset({"kv", "winding"}): "full_half",
    frozenset({"kv", "none"}): "no_propellers",
    frozenset({"winding", "endpoint"}): "controllers",
    frozenset({"drag", "sensor"}): "by_hand",
    frozenset({"drag", "none"}): "by_hand",
}
"""The bench test that tells two causes apart; "any" for every other two."""


@dataclass(frozen=True, slots=True)
class Names:
    """How the two motors are called in a sentence, such as "right outer" or "number 2", and whether their
    propellers turn opposite ways, None where nobody said.
    """

    left: str
    right: str
    handed: bool | None = None

    @classmethod
    def of(cls, left: str, right: str, *, handed: bool | None = None) -> Names:
        """From positions."""
        one, two = (f"number {p}" if p.isdigit() else p.replace("_", " ") for p in (left, right))
        return cls(one, two, handed)

    def bench_test(self, name: str) -> str:
        """What to do on the bench. Propellers are swapped only where both are known to turn the same way:
        handed ones would reverse their thrust (common practice, no source).
        """
        spare = name in ("swap", "any") and self.handed is not False
        return say("pair", "tests", f"{name}_spare" if spare else name)


def more(estimate: Estimate | Undecided, thing: str, *, up: str = "more", down: str = "less") -> str:
    """A difference with its interval: "6.2 % more torque (5.5 to 7.0 %)", or both ways where it may be
    either.
    """
    up, down = say("pair", "ways", up), say("pair", "ways", down)
    if isinstance(estimate, Undecided):
        return say("pair", "more", "open", up=up, down=down, thing=thing).strip()
    low, value, high = (100.0 * v for v in (estimate.low, estimate.value, estimate.high))
    if value < 0.0:
        low, value, high, up, down = -high, -value, -low, down, up
    both_ways = low < -0.05
    interval = say(
        "pair",
        "more",
        "either" if both_ways else "between",
        low=-low if both_ways else max(low, 0.0),
        high=high,
        up=up,
        down=down,
    )
    return f"{say('pair', 'more', 'value', value=value, up=up, thing=thing).strip()} ({interval})"


def power(imbalance: Estimate, names: Names) -> str:
    """The imbalance in plain words."""
    much = more(imbalance, say("pair", "things", "power", left=names.left))
    return say("pair", "power", right=names.right, much=much)


def even_sentence(cause: str, imbalance: Estimate, size: Estimate | Undecided, names: Names) -> str:
    """Why a pair is even."""
    if cause == "sensor":
        reads = more(size, "", up="too_much", down="too_little")
        return say("pair", "even_sensor", left=names.left, right=names.right, reads=reads)
    template = "even_mixed" if cause == "mixed" else "even"
    return capital(say("pair", template, power=power(imbalance, names)))


def uneven_sentence(cause: str, size: Estimate | Undecided, imbalance: Estimate, names: Names) -> str:
    """Why a pair is uneven, when one cause clearly wins."""
    ways = {"up": "higher", "down": "lower"} if cause == "kv" else {}
    thing = say("pair", "things", cause)
    why = say("pair", "uneven", cause, right=names.right, much=more(size, thing, **ways))
    return f"{capital(power(imbalance, names))}: {why}."


def only_sentence(cause: str, imbalance: Estimate, names: Names) -> str:
    """A cause stands out, but its effect may still be too small to matter."""
    return say(
        "pair",
        "only",
        cause=capital(say("pair", "nouns", cause)),
        power=power(imbalance, names),
        test=names.bench_test("any"),
    )


def between(first: str, second: str, verdict: str, logged: str, names: Names) -> str:
    """Undecided between two causes, and the bench test that would tell them apart."""
    lead = say("pair", "stays", logged)
    if verdict == "uneven":
        lead = say("pair", "stays", "differ", stays=lead[0].lower() + lead[1:])
    return say(
        "pair",
        "undecided",
        lead=lead,
        first=say("pair", "nouns", first),
        second=say("pair", "nouns", second),
        test=names.bench_test(_TESTS.get(frozenset({first, second}), "any")),
    )
