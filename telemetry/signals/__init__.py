"""One cleaned view of a flight, made once and handed to every analysis.

Which samples to believe (stuck, spiked, silent, restarted, charging) is decided here and nowhere else, each
time with its reason and its stretch.
"""

from telemetry.signals.agreement import Agreement
from telemetry.signals.bridges import Bridge
from telemetry.signals.cells import CellGroup
from telemetry.signals.cleaning import cleaned
from telemetry.signals.counter import Counter
from telemetry.signals.curve import Curve
from telemetry.signals.flow import Flow
from telemetry.signals.level import level_of
from telemetry.signals.packs import in_terms_of_packs, of_the_aircraft, packs_of
from telemetry.signals.positions import in_sheet_terms
from telemetry.signals.rest import Rest
from telemetry.signals.view import Signals, signals_of

__all__ = [
    "Agreement",
    "Bridge",
    "CellGroup",
    "Counter",
    "Curve",
    "Flow",
    "Rest",
    "Signals",
    "cleaned",
    "in_sheet_terms",
    "in_terms_of_packs",
    "level_of",
    "of_the_aircraft",
    "packs_of",
    "signals_of",
]
