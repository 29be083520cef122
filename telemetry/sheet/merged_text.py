"""The sheet as one flight was judged with it, after configuration and pack were merged, as text and back."""

from __future__ import annotations

from pydantic import TypeAdapter, ValidationError

from telemetry.errors import BadSheet
from telemetry.sheet.setup import Setup

_SETUP = TypeAdapter(Setup)
_WHERE_FROM = {"sheet", "sheet_sha256"}


def setup_text(setup: Setup) -> str:
    """Every value of a set-up as JSON, defaults included; the same text for the same values.

    The sheet's own name and hash are left out: two sheets that say the same give the same text.
    """
    return _SETUP.dump_json(setup, exclude=_WHERE_FROM).decode()


def setup_from_text(text: str) -> Setup:
    """The set-up in such a text; what a later version has besides takes its default.

    Raises
    ------
    BadSheet : the text is no set-up.
    """
    try:
        return _SETUP.validate_json(text)
    except ValidationError:
        raise BadSheet(
            "the kept set-up cannot be read", "Run sagline check --anew to make it anew."
        ) from None
