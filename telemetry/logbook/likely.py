"""What is most likely true of a log about to be kept, and why: its owner only says where it is not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from telemetry.logbook.records import KeptFlight, in_order_flown
from telemetry.sentences import say
from telemetry.sheet import Sheet
from telemetry.signals.dates import date_of
from telemetry.trace import Trace


class Likely(NamedTuple):
    """An answer, "" for none or for the sheet as it stands, and why it is likely, as a clause."""

    answer: str
    reason: str


@dataclass(frozen=True, slots=True)
class LikelyAnswers:
    """What to offer for a flight's date, its configuration and its pack."""

    date: Likely
    configuration: Likely
    pack: Likely


def likely_answers(
    kept: Sequence[KeptFlight],
    trace: Trace,
    sheet: Sheet | None,
    *,
    written: str = "",
) -> LikelyAnswers:
    """What to offer for a log that is about to be kept.

    Parameters
    ----------
    kept : the logbook's flights.
    trace : the log.
    sheet : the one it is kept with; None without one.
    written : when the file was last written, ISO; "" where that is not known.

    Returns
    -------
    An answer each, with its reason.
    """
    ours = [f for f in in_order_flown(kept) if sheet is not None and f.aircraft == sheet.name]
    latest = ours[-1] if ours else None
    return LikelyAnswers(_date(trace, written), _configuration(sheet, latest), _pack(sheet, latest))


def _date(trace: Trace, written: str) -> Likely:
    found = date_of(trace)
    if not found.day and written:
        return Likely(written, say("likely", "written"))
    return Likely(found.text, found.reason)


def _configuration(sheet: Sheet | None, latest: KeptFlight | None) -> Likely:
    names = sheet.configuration_names if sheet is not None else ()
    if latest is not None and latest.configuration in ("", *names):
        return Likely(latest.configuration, say("likely", "latest", number=latest.id))
    return Likely("", say("likely", "as_it_stands"))


def pack_choices(sheet: Sheet | None) -> tuple[str, ...]:
    """The packs of a sheet to choose from, "" for a [pack] without a name; none where each motor has its own.

    Parameters
    ----------
    sheet : None for none.
    """
    if sheet is None or sheet.feeds:
        return ()
    return sheet.pack_names if sheet.tables.pack.name else ("", *sheet.pack_names)


def _pack(sheet: Sheet | None, latest: KeptFlight | None) -> Likely:
    choices = pack_choices(sheet)
    if not choices:
        return Likely("", say("likely", "no_pack"))
    if len(choices) == 1:
        return Likely(choices[0], say("likely", "only_pack"))
    if latest is not None:
        for name in (latest.pack, latest.pack_name):
            if name in choices:
                return Likely(name, say("likely", "latest", number=latest.id))
    return Likely(choices[0], say("likely", "first_pack"))
