"""The same numbers written in other ways."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from functools import cache

from .units import finest


@cache
def rewritten(cells: tuple[str, ...], figures: str, unit: str, *, turned: bool) -> tuple[str, ...]:
    """A column's cells in one of `FIGURES`; `turned` with the other sign.

    Parameters
    ----------
    cells : with a decimal point.
    unit : of the column, for cells that carry it.
    """
    if not figures and not turned:
        return cells
    digit = finest(cells)
    known = {
        c: _written(Decimal(-1 if turned else 1) * Decimal(c), figures, digit, unit)
        for c in set(cells) - {""}
    }
    return tuple(known.get(c, "") for c in cells)


def _written(number: Decimal, figures: str, digit: Decimal, unit: str) -> str:
    number = number + 0 if number else abs(number).quantize(digit)
    text = f"{number:f}"
    if figures == "coarse":
        return f"{number.quantize(digit.scaleb(1) if digit < 1 else digit, ROUND_HALF_EVEN):f}"
    if figures == "zeros":
        return f"{text}000" if "." in text else f"{text}.000"
    if figures == "scientific":
        return f"{number:.9E}"
    if figures == "plus":
        return text if number < 0 else f"+{text}"
    if figures == "no leading zero":
        return text.replace("0.", ".", 1) if text.lstrip("-").startswith("0.") else text
    if figures == "grouped":
        return f"{number:,f}"
    if figures == "grouped by blanks":
        return f"{number:,f}".replace(",", "\u202f")
    if figures == "blanks around":
        return f"  {text} "
    if figures == "with unit":
        return f"{text} {unit}" if unit and unit != "0..1" else text
    return text
