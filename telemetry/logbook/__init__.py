"""The logbook: a folder of kept logs, with their traces and the facts of their flights.

Opening it loads the database library and everything that makes a review: import it inside the
command or page that needs it.
"""

from telemetry.logbook.fleet import Aircraft, Pack, SaidPack
from telemetry.logbook.folder import Edits
from telemetry.logbook.groups import numbers_of
from telemetry.logbook.likely import Likely, LikelyAnswers, likely_answers, pack_choices
from telemetry.logbook.records import Earlier, KeepOutcome, KeptFlight, in_order_flown
from telemetry.logbook.store import Logbook, default_folder

__all__ = [
    "Aircraft",
    "Earlier",
    "Edits",
    "KeepOutcome",
    "KeptFlight",
    "Likely",
    "LikelyAnswers",
    "Logbook",
    "Pack",
    "SaidPack",
    "default_folder",
    "in_order_flown",
    "likely_answers",
    "numbers_of",
    "pack_choices",
]
