"""What the log itself leaves in doubt."""

from __future__ import annotations

from telemetry.findings.types import Finding, Results
from telemetry.findings.words import capital, finding, sentence
from telemetry.sentences import COUNTS, clock, say


def find_fit(results: Results) -> list[Finding]:
    """A log that cannot be the sheet's aircraft: nothing that rests on the sheet holds then."""
    if not results.contradictions:
        return []
    return [
        finding(
            "stop", "sheet_contradicted", "set-up sheet", reason=sentence("; ".join(results.contradictions))
        )
    ]


def find_reading(results: Results) -> list[Finding]:
    """Doubtful columns, broken rows, silences, derived channels."""
    trace = results.trace
    found: list[Finding] = []
    numbered = [p for p in results.motors.positions if p.isdigit()]
    if len(numbered) > 1:
        found.append(finding("note", "motors_numbered", "motors", numbers=", ".join(numbered)))
    doubtful = [c.header for source in trace.sources for c in source.columns if c.status == "doubtful"]
    if doubtful:
        count = COUNTS[len(doubtful)] if len(doubtful) < len(COUNTS) else str(len(doubtful))
        word = "column was" if len(doubtful) == 1 else "columns were"
        found.append(
            finding(
                "note",
                "columns_doubtful",
                "log",
                count_capital=capital(count),
                column_word=word,
                headers=", ".join(doubtful),
            )
        )
    for source in trace.sources:
        if source.rows_rejected and source.rejected:
            total = source.rows_read + source.rows_rejected
            first = source.rejected[0]
            found.append(
                finding(
                    "note",
                    "rows_rejected",
                    source.file,
                    rows=source.rows_rejected,
                    total=total,
                    line=first.line,
                    reason=first.reason,
                )
            )
    return found + _stuck(results) + _restarts(results) + _silences(results) + _derived(results)


def _stuck(results: Results) -> list[Finding]:
    """Sensors that stood still, each once."""
    reasons: dict[tuple[str, str], list[str]] = {}
    for one in results.signals.decisions:
        if one.kind == "stuck":
            reasons.setdefault((one.quantity, one.position), []).append(one.reason)
    found = []
    for key, said in reasons.items():
        channel = results.trace.channels[key]
        file = results.trace.sources[channel.source].file if results.trace.sources else ""
        reason = sentence("; ".join(said))
        header = channel.header
        found.append(finding("check", "sensor_frozen", header, header=header, file=file, reason=reason))
    return found


def _restarts(results: Results) -> list[Finding]:
    """A counter that began again from nothing."""
    times_s = [d.start_s for d in results.signals.decisions if d.kind == "restarted"]
    if not times_s:
        return []
    moments = " and ".join(clock(at_s) for at_s in times_s)
    return [finding("note", "counter_restarted", "charge", moments=moments, count=len(times_s))]


def _silences(results: Results) -> list[Finding]:
    if not results.trace.has_clock:
        return [finding("note", "no_clock", "log")]
    gaps = [
        g for g in results.trace.gaps if g.start_s < results.flight.end_s and g.end_s > results.flight.start_s
    ]
    if not gaps:
        return []
    longest = max(gaps, key=lambda g: g.end_s - g.start_s)
    values = {
        "count": len(gaps),
        "often": say("often", {1: "one", 2: "two"}.get(len(gaps), "many"), count=len(gaps)),
        "seconds": sum(g.end_s - g.start_s for g in gaps),
        "longest_s": longest.end_s - longest.start_s,
        "at_s": longest.start_s,
    }
    return [finding("note", "gaps", "log", **values)]


def _derived(results: Results) -> list[Finding]:
    found: list[Finding] = []
    current = results.signals.read_current
    if current is not None and current.how:
        found.append(finding("note", "current_derived", "pack current", how=current.how))
    voltage = results.signals.voltage
    if voltage is not None and voltage.how:
        found.append(finding("note", "voltage_derived", "pack voltage", how=voltage.how))
    return found
