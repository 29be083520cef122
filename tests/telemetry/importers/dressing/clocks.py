"""A log's clock in other forms: elapsed or of the day, counted or written out."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

from .samples import INVENTED_START, SampleLog

_MONTHS = calendar.month_abbr[1:]
_LONG_MONTHS = calendar.month_name[1:]

_MONTHS_OF = {
    "de": "Jan Feb Mär Apr Mai Jun Jul Aug Sep Okt Nov Dez",
    "fr": "janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc.",
    "es": "ene feb mar abr may jun jul ago sep oct nov dic",
    "it": "gen feb mar apr mag giu lug ago set ott nov dic",
    "nl": "jan feb mrt apr mei jun jul aug sep okt nov dec",
    "cs": "ledna února března dubna května června července srpna září října listopadu prosince",
    "pl": "stycznia lutego marca kwietnia maja czerwca lipca sierpnia września października listopada "
    "grudnia",
    "sv": "januari februari mars april maj juni juli augusti september oktober november december",
    "pt": "janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro dezembro",
}

ELAPSED = ("s", "ms", "min", "h:mm:ss.sss", "mm:ss.sss", "h:mm:ss")
COUNTED = ("epoch s", "epoch ms", "epoch µs", "table days")
DATED = (
    "iso",
    "iso blank",
    "iso Z",
    "iso +02:00",
    "d.m.y",
    "d Mon y",
    "Mon d, y",
    "d-Mon-y",
    "d Month y",
    "date and clock",
    "y/m/d",
    "iso whole seconds",
    "y-m-d 12 h",
    "yyyymmddhhmmss",
    "d.m.yy",
    "iso commas",
    *(f"d Mon y, {language}" for language in ("de", "fr", "es", "it", "nl", "cs", "pl", "sv", "pt")),
)
FORMS = (*ELAPSED, "of day", "of day whole seconds", "hhmmss", *COUNTED, *DATED)


@dataclass(frozen=True)
class Clock:
    """Columns of time: which word heads each, its unit, its cells; what the stamps are rounded to. [s]"""

    sorts: tuple[str, ...]
    unit: str
    cells: tuple[tuple[str, ...], ...]
    step_s: float


def clock_of(log: SampleLog, form: str) -> Clock:
    """The log's clock in one of `FORMS`."""
    if form in ELAPSED:
        return _elapsed(log, form)
    start = log.start or INVENTED_START
    moments = [start + timedelta(microseconds=int(s * 10**6)) for s in log.seconds]
    if form in COUNTED:
        return _counted(moments, form)
    if form in ("of day", "of day whole seconds", "hhmmss"):
        whole = "whole" in form
        mark = "" if form == "hhmmss" else ":"
        cells = tuple(_time(m, "" if whole else ".", mark) for m in moments)
        return Clock(("clock",), "", (cells,), 1.0 if whole else 0.001)
    if form == "date and clock":
        return Clock(
            ("date", "clock"),
            "",
            (tuple(m.strftime("%Y-%m-%d") for m in moments), tuple(_time(m, ".") for m in moments)),
            0.001,
        )
    # a number of eighteen digits is read as a double, whose last places are worth 4 ms here (IEEE 754)
    step_s = 1.0 if "whole" in form else 0.004 if form == "yyyymmddhhmmss" else 0.001
    return Clock(("moment",), "", (tuple(_dated(m, form) for m in moments),), step_s)


def _elapsed(log: SampleLog, form: str) -> Clock:
    if form in ("s", "ms", "min"):
        size, digit = {"s": (1, "0.001"), "ms": (1000, "1"), "min": (Decimal(1) / 60, "0.000001")}[form]
        cells = tuple(str((s * size).quantize(Decimal(digit))) for s in log.seconds)
        return Clock(("elapsed",), form, (cells,), {"s": 0.001, "ms": 0.001, "min": 6e-5}[form])
    whole = form == "h:mm:ss"
    cells = []
    for s in log.seconds:
        minutes, second = divmod(s.quantize(Decimal("0.001")), 60)
        text = f"{int(second):02d}" if whole else f"{second:06.3f}"
        clock = f"{minutes:02.0f}" if form.startswith("mm") else f"{minutes // 60:.0f}:{minutes % 60:02.0f}"
        cells.append(f"{clock}:{text}")
    return Clock(("elapsed",), "", (tuple(cells),), 1.0 if whole else 0.001)


def _counted(moments: list[datetime], form: str) -> Clock:
    since = datetime(1970, 1, 1, tzinfo=UTC)
    thousandths = [(m.replace(tzinfo=UTC) - since) // timedelta(milliseconds=1) for m in moments]
    if form == "table days":
        days = [Decimal(t) / 86_400_000 + 25_569 for t in thousandths]
        return Clock(("moment",), "", (tuple(f"{d:.9f}" for d in days),), 0.0011)
    if form == "epoch µs":
        return Clock(("moment",), "µs", (tuple(f"{t}000" for t in thousandths),), 0.001)
    if form == "epoch ms":
        return Clock(("moment",), "ms", (tuple(map(str, thousandths)),), 0.001)
    return Clock(("moment",), "s", (tuple(f"{t // 1000}.{t % 1000:03d}" for t in thousandths),), 0.001)


def _time(moment: datetime, fraction: str, mark: str = ":") -> str:
    below = f"{fraction}{moment.microsecond // 1000:03d}" if fraction else ""
    return f"{moment:%H}{mark}{moment:%M}{mark}{moment:%S}{below}"


def _dated(moment: datetime, form: str) -> str:
    clock = _time(moment, ".")
    if form.startswith("d Mon y, "):
        named = _MONTHS_OF[form[-2:]].split()[moment.month - 1]
        return f"{moment.day}. {named} {moment.year} {clock}"
    month, long_month = _MONTHS[moment.month - 1], _LONG_MONTHS[moment.month - 1]
    if form == "iso Z":
        return f"{moment:%Y-%m-%d}T{clock}Z"
    if form == "iso +02:00":
        ahead = moment.replace(tzinfo=UTC).astimezone(timezone(timedelta(hours=2)))
        return f"{ahead:%Y-%m-%d}T{_time(ahead, '.')}+02:00"
    return {
        "iso": f"{moment:%Y-%m-%d}T{clock}",
        "iso blank": f"{moment:%Y-%m-%d} {clock}",
        "iso whole seconds": f"{moment:%Y-%m-%dT%H:%M:%S}",
        "d.m.y": f"{moment:%d.%m.%Y} {clock}",
        "y/m/d": f"{moment:%Y/%m/%d} {clock}",
        "y-m-d 12 h": f"{moment:%Y-%m-%d %I:%M:%S}.{clock[-3:]} {'PM' if moment.hour >= 12 else 'AM'}",
        "yyyymmddhhmmss": f"{moment:%Y%m%d%H%M%S}.{clock[-3:]}",
        "d.m.yy": f"{moment:%d.%m.%y} {clock}",
        "iso commas": f"{moment:%Y-%m-%d}, {clock}",
        "d Mon y": f"{moment.day} {month} {moment.year} {clock}",
        "d-Mon-y": f"{moment:%d}-{month}-{moment.year} {clock}",
        "Mon d, y": f"{month} {moment.day}, {moment.year} {clock}",
        "d Month y": f"{moment.day} {long_month} {moment.year} {clock}",
    }[form]
