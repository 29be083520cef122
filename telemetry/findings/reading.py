"""What the log itself leaves in doubt."""

from __future__ import annotations

from telemetry.account import cells_unreadable, row_left_out
from telemetry.findings.types import Finding, Results
from telemetry.findings.words import finding
from telemetry.sentences import clock, counted, say, sentence


def find_fit(results: Results) -> list[Finding]:
    """A log that cannot be the sheet's aircraft: nothing that rests on the sheet holds then."""
    if not results.contradictions:
        return []
    return [finding("sheet_contradicted", "set-up sheet", reason=sentence("; ".join(results.contradictions)))]


def find_reading(results: Results) -> list[Finding]:
    """Doubtful columns, charging, broken rows, silences."""
    parts = (_numbered, _columns, _charging, _rows, _cells, _leaps, _silences)
    return [found for part in parts for found in part(results)]


def find_channels(results: Results) -> list[Finding]:
    """Sensors that stood still, counters that began again, channels that were worked out from others."""
    return [found for part in (_stuck, _restarts, _derived) for found in part(results)]


def _numbered(results: Results) -> list[Finding]:
    numbered = [p for p in results.motors.positions if p.isdigit()]
    return [finding("motors_numbered", "motors", numbers=", ".join(numbered))] if len(numbered) > 1 else []


def _columns(results: Results) -> list[Finding]:
    trace = results.trace
    doubtful = [c.header for source in trace.sources for c in source.columns if c.status == "doubtful"]
    found: list[Finding] = []
    if doubtful:
        left_out = counted("columns_left_out", count=len(doubtful))
        found.append(finding("columns_doubtful", "log", left_out=left_out, headers=", ".join(doubtful)))
    return found


def _stuck(results: Results) -> list[Finding]:
    """Sensors that stood still, each once."""
    reasons: dict[tuple[str, str], list[str]] = {}
    for one in results.signals.decisions:
        if one.kind == "stuck":
            reasons.setdefault((one.quantity, one.position), []).append(one.reason)
    found = []
    for key, parts in reasons.items():
        channel = results.trace.channels[key]
        file = results.trace.sources[channel.source].file if results.trace.sources else ""
        reason = sentence("; ".join(parts))
        found.append(
            finding("sensor_frozen", channel.header, header=channel.header, file=file, reason=reason)
        )
    return found


def _restarts(results: Results) -> list[Finding]:
    """A counter that began again from nothing."""
    times_s = [d.start_s for d in results.signals.decisions if d.kind == "restarted"]
    moments = say("events", "and").join(clock(at_s) for at_s in times_s)
    return [finding("counter_restarted", "charge", moments=moments)] if times_s else []


def _charging(results: Results) -> list[Finding]:
    """A pack that was charged in between, by its first stretch."""
    charged = [d for d in results.signals.decisions if d.kind == "charging"]
    if not charged:
        return []
    reason = sentence("; ".join(dict.fromkeys(d.reason for d in charged)))
    return [finding("charging", "charge", at_s=charged[0].start_s, reason=reason)]


def _rows(results: Results) -> list[Finding]:
    return [
        finding(
            "rows_rejected",
            source.file,
            rows=source.rows_rejected,
            total=source.rows_read,
            line=source.rejected[0].line,
            reason=source.rejected[0].reason,
            first=row_left_out(source.rejected[0]),
        )
        for source in results.trace.sources
        if source.rows_rejected and source.rejected
    ]


def _cells(results: Results) -> list[Finding]:
    """Cells of columns in use that hold no number, by file."""
    found = []
    for source in results.trace.sources:
        torn = [c for c in source.columns if c.unreadable and c.status != "ignored"]
        if torn:
            count = sum(c.cells_unreadable for c in torn)
            columns = "; ".join(map(cells_unreadable, torn))
            cells = counted("cells_of_no_number", count=count)
            found.append(finding("cells_unreadable", source.file, count=count, cells=cells, columns=columns))
    return found


def _leaps(results: Results) -> list[Finding]:
    """Clocks that leapt: those that were run on, and those of which nobody can tell how long they really
    took.
    """
    found = []
    for kind, severity in (("clock_open", "check"), ("clock", "note")):
        jumps = [d for d in results.signals.decisions if d.kind == kind]
        if jumps:
            reason = sentence("; ".join(d.reason for d in jumps))
            often = counted("often", count=len(jumps))
            action = say("actions", kind)
            at_s = jumps[0].start_s
            found.append(
                finding("clock_jump", "clock", severity, at_s=at_s, often=often, reason=reason, action=action)
            )
    return found


def _silences(results: Results) -> list[Finding]:
    if not results.trace.has_clock:
        return [finding("no_clock", "log")]
    gaps = [
        g for g in results.trace.gaps if g.start_s < results.flight.end_s and g.end_s > results.flight.start_s
    ]
    if not gaps:
        return []
    longest = max(gaps, key=lambda g: g.end_s - g.start_s)
    values = {
        "count": len(gaps),
        "often": counted("often", count=len(gaps)),
        "seconds": sum(g.end_s - g.start_s for g in gaps),
        "longest_s": longest.end_s - longest.start_s,
        "at_s": longest.start_s,
    }
    return [finding("gaps", "log", **values)]


def _derived(results: Results) -> list[Finding]:
    found: list[Finding] = []
    if results.packs:
        return found
    current = results.signals.read_current
    if current is not None and current.how:
        found.append(finding("current_derived", "pack current", how=current.how))
    voltage = results.signals.voltage
    if voltage is not None and voltage.how:
        found.append(finding("voltage_derived", "pack voltage", how=voltage.how))
    return found
