"""Figures as they are written: digits that the interval supports, min:s, a thin space in thousands."""

from __future__ import annotations

import math
import re

from telemetry.estimate import Estimate

THIN = "\u202f"
HARD = "\u00a0"
MINUS = "\u2212"


def number(value: float, decimals: int = 0) -> str:
    """A number with a true minus sign and thin spaces from 1000 up."""
    text = f"{abs(value):,.{max(0, decimals)}f}".replace(",", THIN)
    negative = value < 0 and any(c in "123456789" for c in text)
    return MINUS + text if negative else text


def decimals_for(estimate: Estimate) -> int:
    """Decimals at which half the interval shows about two figures, at least none."""
    half = (estimate.high - estimate.low) / 2 * (1 + 1e-9)
    if half <= 0:
        return max(0, 3 - math.floor(math.log10(abs(estimate.value)))) if estimate.value else 0
    return max(
        0,
        min(
            6,
            1
            - math.floor(math.log10(half))
            - (1 if half / 10 ** math.floor(math.log10(half)) >= 2.9999 else 0),
        ),
    )


def signed(value: float, decimals: int = 0) -> str:
    """A number that always carries its sign, zero apart."""
    text = number(value, decimals)
    return text if text.startswith(MINUS) or not any(c in "123456789" for c in text) else f"+{text}"


_UNIT_AFTER = re.compile(r"(?<=\d) (?=(?:%|°C|(?:V|A|mAh|mΩ|min|s|W|N|g|kg|m|ppm|rpm|times)\b))")


def hard(text: str) -> str:
    """A sentence in which no figure is parted from its unit."""
    return _UNIT_AFTER.sub(HARD, text)


def clock(seconds: float) -> str:
    """min:s, as on a watch; above an hour still minutes. A part of a second is dropped to the nearest."""
    whole = round(abs(seconds))
    sign = MINUS if seconds < 0 and whole else ""
    return f"{sign}{whole // 60}:{whole % 60:02d}"


def spoken(seconds: float) -> str:
    """'4 min 15 s', '45 s', '6 min', kept on one line."""
    whole = round(seconds)
    minutes, rest = divmod(whole, 60)
    parts = ([f"{minutes}{HARD}min"] if minutes else []) + ([f"{rest}{HARD}s"] if rest or not minutes else [])
    return HARD.join(parts)


def unit(text: str, of: str) -> str:
    """A figure and its unit, kept on one line."""
    return f"{text}{HARD}{of}" if of else text


def interval(estimate: Estimate, decimals: int | None = None, *, plus: bool = False) -> str:
    """The limits as a sentence carries them, in brackets."""
    return f"({limits(estimate, decimals, plus=plus)})"


def limits(estimate: Estimate, decimals: int | None = None, *, plus: bool = False) -> str:
    """low–high, or 'to' where signs would clash."""
    places = decimals_for(estimate) if decimals is None else decimals
    write = signed if plus else number
    low, high = write(estimate.low, places), write(estimate.high, places)
    joint = " to " if plus or estimate.low < 0 else "–"
    return f"{low}{joint}{high}"
