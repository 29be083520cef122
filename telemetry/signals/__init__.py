"""One cleaned view of a flight, made once and handed to every analysis.

Which samples to believe (stuck, spiked, silent, restarted, charging) is decided here and nowhere else, each
time with its reason and its stretch.
"""

from telemetry.signals.bridges import Bridge
from telemetry.signals.cells import CellGroup
from telemetry.signals.cleaning import cleaned
from telemetry.signals.counter import Counter
from telemetry.signals.curve import Curve
from telemetry.signals.flow import Flow
from telemetry.signals.positions import in_sheet_terms
from telemetry.signals.rest import Rest
from telemetry.signals.view import Signals, signals_of
from telemetry.signals.zero import from_zero

__all__ = [
    "Bridge",
    "CellGroup",
    "Counter",
    "Curve",
    "Flow",
    "Rest",
    "Signals",
    "cleaned",
    "from_zero",
    "in_sheet_terms",
    "signals_of",
]
