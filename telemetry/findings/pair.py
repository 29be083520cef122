"""Do both motors pull evenly, and what did they do?"""

from __future__ import annotations

from telemetry.analysis.motors import Event, Motors, Pair, SpeedScale
from telemetry.estimate import Estimate, Undecided
from telemetry.finding_table import KINDS
from telemetry.findings.types import Answer, Finding, Results
from telemetry.findings.words import answer, bounds, finding
from telemetry.limits import HELD_BACK_FRACTION
from telemetry.sentences import capital, say, sentence


def answer_pair(results: Results) -> Answer:
    """Even, uneven, undecided or single. With two pairs the worse one speaks."""
    motors = results.motors
    if not motors.pairs:
        return _without_pair(results)
    pair = min(motors.pairs, key=lambda p: ("uneven", "undecided", "even").index(p.verdict))
    if pair.verdict == "undecided":
        return answer("pair", "undecided", reason=capital(pair.reason).rstrip("."))
    if not isinstance(pair.imbalance_fraction, Estimate):
        return answer("pair", "even", "even_plain", reason=capital(pair.reason).rstrip("."))
    values = {**bounds(pair.imbalance_fraction), **_sides(pair)}
    if pair.verdict == "even":
        return answer("pair", "even", **values)
    return answer(
        "pair",
        "uneven",
        more_words=_motor(pair.more),
        cause_words=say("causes", _cause(pair, results.motors)),
        **_told(pair),
        **values,
    )


def _without_pair(results: Results) -> Answer:
    motors = results.motors
    if len(motors.positions) == 1:
        drives = results.setup.drives if results.setup else ()
        if len(drives) <= 1 and motors.positions[0] in ("centre", "1"):
            return answer("pair", "single")
        return answer("pair", "undecided", reason=capital(say("undecided", "findings", "one_motor_logged")))
    reason = motors.sides.rstrip(".") or say("undecided", "findings", "no_two_motors")
    return answer("pair", "undecided", reason=capital(reason))


def find_pair(results: Results) -> list[Finding]:
    """Uneven pairs, one-sided readings, and events; a part over its temperature limit is a finding on the
    load.
    """
    motors = results.motors
    found = [_scale(scale) for scale in motors.speed_scales]
    for pair in motors.pairs:
        cause = _cause(pair, motors)
        words = {
            "cause_words": say("causes", cause),
            "action": say("actions", "lost" if cause == "lost" else _action(pair)),
            "reason": sentence(pair.reason),
        }
        if pair.verdict == "uneven" and isinstance(pair.imbalance_fraction, Estimate):
            words |= {
                "more": pair.more,
                "more_capital": capital(_motor(pair.more)),
                **_told(pair),
                **_sides(pair),
                **bounds(pair.imbalance_fraction),
            }
            found.append(finding("pair_uneven", f"{pair.left} and {pair.right}", **words))
        elif pair.verdict == "even" and pair.cause in ("sensor", "mixed"):
            found.append(finding("pair_cause", f"{pair.left} and {pair.right}", **words))
    if not isinstance(motors.events, Undecided):
        found.extend(_event(event) for event in motors.events if event.against != "limit")
    return found


def _cause(pair: Pair, motors: Motors) -> str:
    """The pair's cause, or "lost" where it is what a motor's lost load has left."""
    if pair.since_s is None or isinstance(motors.events, Undecided):
        return pair.cause
    mine = {e.motor for e in motors.events if e.kind == "thrust_lost"} & {pair.left, pair.right}
    return "lost" if mine and pair.more not in mine else pair.cause


def _told(pair: Pair) -> dict[str, str]:
    """Since when a pair's figures speak, and its currents beside its shaft power."""
    since = "" if pair.since_s is None else say("moments", "since", since_s=pair.since_s)
    current = pair.current_ratio
    if isinstance(current, Undecided):
        return {"since": since, "current": ""}
    return {"since": since, "current": say("pair", "current_too", much=current.value - 1.0)}


def _scale(scale: SpeedScale) -> Finding:
    """A speed that reads a constant factor off; a note where the currents settle it."""
    motor = say("moments", "speed", motor=_motor(scale.motor)) if scale.motor else say("moments", "speeds")
    top, bottom = scale.whole or (0, 0)
    return finding(
        "rpm_scale",
        f"{scale.motor} motor" if scale.motor else f"{scale.left} and {scale.right}",
        "note" if scale.by_current else "check",
        motor=scale.motor,
        motor_capital=motor,
        ratio=scale.ratio,
        whole=say("moments", "whole", top=top, bottom=bottom) if scale.whole else "",
        action=say("actions", "scale" if scale.by_current else "scale_alone"),
        shown=say("moments", "like_current" if scale.by_current else "like_nothing", ratio=scale.ratio),
    )


def _event(event: Event) -> Finding:
    seconds = event.end_s - event.start_s
    shown = sentence(event.evidence) if event.evidence else say("moments", "lasted", seconds=seconds)
    motor = _motor(event.motor)
    values = {
        "motor": event.motor,
        "motor_words": motor,
        "motor_capital": capital(motor),
        "start_s": event.start_s,
        "seconds": seconds,
    }
    both = event.motor == "both"
    if event.kind == "controller_limited":
        values["controller_words"] = say("moments", "controllers" if both else "controller", motor=motor)
    own = event.kind in KINDS
    return finding(
        event.kind if own else f"motor_event_{event.kind}",
        f"{event.motor} motor",
        _severity(event),
        shown=shown,
        meant=_meant(event),
        **values,
    )


def _severity(event: Event) -> str:
    """A controller that held back half of the thrust is a stop, less of it a check."""
    if event.kind != "controller_limited":
        return ""
    lost = event.thrust_lost_fraction
    return "stop" if not isinstance(lost, Undecided) and lost >= HELD_BACK_FRACTION.value else "check"


def _meant(event: Event) -> str:
    """What a lost motor meant for the aircraft, where the sheet's propeller, arms and rotation tell."""
    said = ""
    if isinstance(event.thrust_lost_n, Estimate):
        said += say("moments", "thrust", thrust_n=event.thrust_lost_n.value)
    if isinstance(event.yawing_moment_nm, Estimate):
        side = say("moments", "right" if event.yawing_moment_nm.value > 0 else "left")
        said += say("moments", "yaw", side=side, yaw_nm=abs(event.yawing_moment_nm.value))
    if event.torque_helps is not None:
        said += say("moments", "helps" if event.torque_helps else "hinders")
    return said


def _action(pair: Pair) -> str:
    """What to do about the cause. Handed propellers are never swapped: it reverses their thrust (common
    practice, no source).
    """
    if pair.cause != "propeller" or pair.handed is False:
        return pair.cause
    return "propeller_handed" if pair.handed else "propeller_unknown"


def _motor(position: str) -> str:
    """A motor in words: "the left motor", "both motors", or "motor 2" where nobody said which side it is."""
    if position == "both":
        return say("sides", "both")
    return say("sides", "number" if position.isdigit() else "side", position=position)


def _sides(pair: Pair) -> dict[str, str]:
    return {"left_words": _motor(pair.left), "right_words": _motor(pair.right)}
