"""What the log itself leaves in doubt."""

from __future__ import annotations

from telemetry.findings.types import Finding, Results
from telemetry.findings.words import capital, finding, sentence
from telemetry.sentences import COUNTS, say
from telemetry.trace import pack_current, pack_voltage


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
    frozen = [
        (source.file, note) for source in trace.sources for note in source.notes if note.step == "frozen"
    ]
    found += [
        finding(
            "check", "sensor_frozen", note.header, header=note.header, file=file, reason=sentence(note.reason)
        )
        for file, note in frozen
    ]
    return found + _silences(results) + _derived(results)


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
    current = pack_current(results.trace, within=results.flight)
    if current is not None and current.how:
        found.append(finding("note", "current_derived", "pack current", how=current.how))
    voltage = pack_voltage(results.trace, within=results.flight)
    if voltage is not None and voltage.how:
        found.append(finding("note", "voltage_derived", "pack voltage", how=voltage.how))
    return found
